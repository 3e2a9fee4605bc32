"""What the board and the box of key e show while a charge step is open: what the scale shows."""

from dataclasses import replace

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import MarkKind
from chargeassist.stream.facts import ChannelState, ChargeStep, OpenStep
from chargeassist.tui import charge_words
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import step_open
from chargeassist.tui.screens.ask import Ask
from chargeassist.tui.screens.board import Board
from tests.tui.running import Drawn, running, text, typed


def showing(step: OpenStep | None, *, scale: bool = True) -> Snapshot:
    base = step_open()
    channels = base.facts.channels
    if not scale:
        channels = tuple(
            replace(c, value_si=None, state=ChannelState.NO_SIGNAL)
            if c.channel.role.value == "cylinder_mass"
            else c
            for c in channels
        )
    return replace(base, facts=replace(base.facts, step_open=step, channels=channels))


def opened(kg: float | None, *, lost: bool = False) -> OpenStep:
    return OpenStep(begun_t=1340.0, so_far_kg=kg, scale_lost=lost)


@pytest.mark.parametrize(
    ("step", "total", "part"),
    [
        # 2.245 kg are in by the steps before, and the full charge is 2.45 kg.
        (None, "2.25 kg of 2.45", ""),
        (opened(0.055), "2.30 kg of 2.45", "55 g of it in the open step"),
        (opened(0.0), "2.25 kg of 2.45", "0 g of it in the open step"),
        (opened(None), "at least 2.25 kg of 2.45", "the open step not counted"),
        (
            opened(0.055, lost=True),
            "at least 2.30 kg of 2.45",
            "55 g of it in the open step, then the scale fell silent",
        ),
    ],
)
def test_what_is_in_the_circuit_follows_the_scale(
    step: OpenStep | None, total: str, part: str
) -> None:
    snapshot = showing(step)
    assert charge_words.in_circuit(snapshot, UnitSystem.SI).startswith(total)
    assert charge_words.in_open_step(snapshot, UnitSystem.SI) == part


async def test_the_board_and_the_box_follow_the_scale(drawn: Drawn) -> None:
    session = CannedSession([showing(opened(0.055))])
    async with running(session, size=(100, 50)) as (app, pilot):
        assert "2.30 kg of 2.45 kg, 55 g of it in the open step" in text(drawn(app))
        await typed(pilot, "e", text="6")
        assert "(so far 55 g)" in text(drawn(app))
        session.feed(showing(opened(0.061)))
        app.paint()
        await pilot.pause()
        shown = text(drawn(app))
        assert "(so far 61 g)" in shown
        assert "so far 55 g)" not in shown
        assert isinstance(app.screen, Ask)
        await typed(pilot, text="1 g")
        await typed(pilot, "enter")
    ((kind, mass_kg, *_),) = session.marks
    assert kind is MarkKind.STEP_ENDED
    assert mass_kg == pytest.approx(0.061)


async def test_a_scale_that_falls_silent_meanwhile_gives_no_amount(drawn: Drawn) -> None:
    session = CannedSession([showing(opened(0.055))])
    async with running(session, size=(100, 50)) as (app, pilot):
        await typed(pilot, "e")
        session.feed(showing(opened(0.055, lost=True), scale=False))
        app.paint()
        await typed(pilot, "enter")
        shown = text(drawn(app))
        assert "take it from the scale" not in shown
        assert "no scale reads this" in shown
        assert session.marks == []


async def test_a_step_that_the_scale_ends_meanwhile_is_left_as_it_is(drawn: Drawn) -> None:
    session = CannedSession([showing(opened(0.055))])
    async with running(session, size=(100, 50)) as (app, pilot):
        await typed(pilot, "e")
        over = showing(None)
        done = ChargeStep(
            number=3, mass_kg=0.062, begun_t=1340.0, ended_t=1361.0, measured_by="scale",
            before_k=3.7,
        )  # fmt: skip
        ended = replace(over, facts=replace(over.facts, ledger=(*over.facts.ledger, done)))
        session.feed(ended)
        app.paint()
        await pilot.pause()
        assert "The scale has ended the step at 62 g" in text(drawn(app))
        await typed(pilot, "enter")
        assert isinstance(app.screen, Board)
        assert session.marks == [], "no step of nothing after it"
        await typed(pilot, "escape")
