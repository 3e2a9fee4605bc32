"""A drill played through by keys; what the screen shows before its end holds no verdict."""

import threading
from dataclasses import replace
from pathlib import Path

import pytest
from textual.widgets import Input

from chargeassist.guide.snapshot import Caution
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import RecordError
from chargeassist.model.events import SessionStopped
from chargeassist.session.record.store import SessionWriter
from chargeassist.stream.facts import SettleState
from chargeassist.trainer.drill import Drill, find_exercise
from chargeassist.trainer.drill_session import DrillSession
from chargeassist.trainer.result import Result, read_result, write_result
from chargeassist.trainer.veil import veil
from chargeassist.tui.drill import DrillDashboard
from chargeassist.tui.preview import add, moving
from chargeassist.tui.screens.drill import Score
from chargeassist.tui.screens.failure import Failure
from tests.tui.running import HANGS_S, Clock, Drawn, closed, past, shows, text, until


def dashboard(place: str, folder: Path, speed: float | None = 60.0) -> DrillDashboard:
    drill = Drill(find_exercise(place, 3), speed=speed, record=folder / "one.session")

    def keep(result: Result) -> Path:
        write_result(result, folder / "one.drill.json")
        return folder / "one.drill.json"

    app = DrillDashboard(DrillSession(drill), keep, system=UnitSystem.SI, unicode=True)
    app._clock = Clock()
    return app


def no_verdict(shown: str) -> None:
    """Assert that nothing on the screen says what the tool makes of the readings."""
    for leak in ("settled:", "to go", "● settled", "nearly", "WAIT", "ADD", "STOP", "gain +"):
        assert leak not in shown, leak


async def test_a_drill_played_through_by_keys(tmp_path: Path, drawn: Drawn) -> None:
    app = dashboard("clean-charge", tmp_path, speed=10.0)
    async with app.run_test(size=(80, 24)) as pilot:
        await past(app, 60.0)
        shown = text(await shows(app, drawn, "DRILL"))
        assert "SIMULATED" in shown
        no_verdict(shown)
        app._drill.drill.session.rush_to(240.0)
        await past(app, 240.0)
        no_verdict(text(drawn(app)))
        await pilot.press("s")
        await shows(app, drawn, "You called it settled")
        await pilot.press("a")
        app.screen.query_one(Input).value = "110 g"
        await pilot.press("enter")
        no_verdict(text(await shows(app, drawn, "GOING IN")))
        await pilot.press("a")
        app.screen.query_one(Input).value = "5 g"
        await pilot.press("enter")
        await shows(app, drawn, "still open")
        app._drill.drill.session.rush_to(600.0)
        await past(app, 600.0)
        app.paint()
        await pilot.pause()
        no_verdict(text(drawn(app)))
        await pilot.press("f", "escape", "x", "g")
        await pilot.press("x", "x")
        await until(lambda: isinstance(app.screen, Score), lambda: "no score came")
        await shows(app, drawn, "of 100 points")
        await pilot.press("q")
        await closed(app)
    result = read_result(tmp_path / "one.drill.json")
    assert [call.kind for call in result.calls] == ["settled", "add", "stop"]
    assert result.truth == "plant"
    assert result.seed == 3


def test_a_veiled_moment_is_the_same_whatever_the_tool_makes_of_it() -> None:
    one, other = moving(), add()
    bare = replace(
        one,
        advice=other.advice,
        stage=other.stage,
        cautions=(Caution(cause="suspect", subject="gas", figures={"chance": 0.9}),),
        notes=((1.0, "it was the clamp"),),
        facts=replace(
            one.facts,
            settled=other.facts.settled,
            settled_superheat_k=7.0,
            settling=replace(one.facts.settling, state=SettleState.SETTLED, forecast=None),
            channels=tuple(
                replace(item, state=other_item.state, allowed_si_per_s=9.0)
                for item, other_item in zip(one.facts.channels, other.facts.channels, strict=True)
            ),
            ledger=tuple(replace(step, after_k=3.0) for step in one.facts.ledger),
        ),
    )
    assert veil(bare) == veil(one)
    assert veil(one).facts.reading == one.facts.reading


async def test_a_score_that_is_being_worked_out_is_not_left_by_a_slip(
    tmp_path: Path, drawn: Drawn, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = dashboard("clean-charge", tmp_path, speed=10.0)
    worked_out, go_on = app._drill.drill.result, threading.Event()

    def slowly() -> Result:
        go_on.wait(HANGS_S)
        return worked_out()

    monkeypatch.setattr(app._drill.drill, "result", slowly)
    async with app.run_test(size=(80, 24)) as pilot:
        await past(app, 60.0)
        await pilot.press("x", "x")
        await shows(app, drawn, "THE DRILL IS OVER")
        try:
            await pilot.press("q")
            await shows(app, drawn, "q again leaves without it")
        finally:
            go_on.set()
        await until(lambda: isinstance(app.screen, Score), lambda: "no score came")
        await pilot.press("q")
        await closed(app)
    assert (tmp_path / "one.drill.json").exists()


async def test_a_drill_on_a_full_disk_can_be_given_up(
    tmp_path: Path, drawn: Drawn, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_self: SessionWriter, _stopped: SessionStopped) -> bool:
        raise RecordError("the disk is full")

    app = dashboard("clean-charge", tmp_path, speed=10.0)
    monkeypatch.setattr(SessionWriter, "close", full)
    async with app.run_test(size=(80, 24)) as pilot:
        await past(app, 5.0)
        await pilot.press("x", "x")
        await shows(app, drawn, "q again")
        await pilot.press("q")
        await until(lambda: isinstance(app.screen, Failure), lambda: "it waits for the disk")
        await pilot.press("q")
        await closed(app)
    assert app.result is None
