"""An instructor at a recording: keys that go about in it and keep notes beside it."""

import shutil
from pathlib import Path

import pytest
from textual.widgets import Input

from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Outcome
from chargeassist.trainer.replay_desk import ReplayDesk
from chargeassist.tui.app import Dashboard
from chargeassist.tui.screens.board import Board
from chargeassist.tui.screens.go_to import GoTo
from tests.tui.running import Clock, Drawn, closed, shows

RECORDING = Path(__file__).resolve().parents[2] / "recordings" / "quarry-road-bakery"


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return Path(shutil.copytree(RECORDING, tmp_path / "bakery"))


async def test_pace_pause_step_event_bookmark_and_note(recording: Path, drawn: Drawn) -> None:
    app = Dashboard(ReplayDesk(recording), system=UnitSystem.SI, unicode=True, clock=Clock())
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.press("space")
        lines = await shows(app, drawn, "PAUSED")
        assert "REPLAY" in lines[0]
        await pilot.press("plus", "plus", "minus", "plus")
        assert "5×" in (await shows(app, drawn, "5×"))[0]
        await pilot.press("1")
        await shows(app, drawn, "charge step 1 begins")
        await pilot.press("full_stop")
        lines = await shows(app, drawn, "At ")
        await pilot.press("b")
        await shows(app, drawn, "kept in bakery.notes.json")
        await pilot.press("n")
        app.screen.query_one(Input).value = "ask them why"
        await pilot.press("enter")
        await shows(app, drawn, "Note at")
        await pilot.press("j")
        lines = await shows(app, drawn, "note: ask them why")
        assert isinstance(app.screen, GoTo)
        await pilot.press("home", "enter")
        await shows(app, drawn, "the start")
        assert isinstance(app.screen, Board)
        await pilot.press("9")
        await shows(app, drawn, "no charge step 9")
        await pilot.press("q", "x")
        await pilot.pause()
    assert (recording.parent / "bakery.notes.json").exists()
    assert app.return_value is Outcome.ABANDONED


async def test_a_recording_at_its_end_is_left_without_a_question(
    recording: Path, drawn: Drawn
) -> None:
    app = Dashboard(ReplayDesk(recording, None), system=UnitSystem.SI, unicode=True, clock=Clock())
    async with app.run_test(size=(80, 24)) as pilot:
        await shows(app, drawn, "ENDED")
        await pilot.press("q")
        await closed(app)


async def test_a_long_moment_in_the_list_stays_beside_its_time(
    recording: Path, drawn: Drawn
) -> None:
    app = Dashboard(ReplayDesk(recording), system=UnitSystem.SI, unicode=True, clock=Clock())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("space")
        await shows(app, drawn, "PAUSED")
        await pilot.press("j", "home")
        lines = await shows(app, drawn, "the start")
        first = next(k for k, line in enumerate(lines) if "told: " in line)
        assert lines[first + 1].index(lines[first + 1].strip("│▊▎ ")) == lines[first].index("told:")
        await pilot.press("escape", "q", "x")
        await closed(app)
