"""How a session ends on the screen: left, broken, refused by a disk, silent."""

import asyncio
from collections.abc import Callable

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.events import Outcome
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import add, moving, replay, step_open
from chargeassist.tui.screens.board import Board
from chargeassist.tui.screens.failure import Failure
from chargeassist.tui.screens.leave import Leave
from tests.tui.running import Clock, Drawn, closed, running, typed


@pytest.mark.parametrize(("key", "outcome"), [("c", Outcome.COMPLETE), ("x", Outcome.ABANDONED)])
async def test_leaving_is_confirmed_with_an_outcome(key: str, outcome: Outcome) -> None:
    session = CannedSession([add()])
    async with running(session) as (app, pilot):
        for first in ("q", "ctrl+q", "ctrl+c"):
            await typed(pilot, first)
            assert isinstance(app.screen, Leave), first
            await typed(pilot, "q", first)
            assert len(app.screen_stack) == 2
            await typed(pilot, "g")
            assert isinstance(app.screen, Board)
        assert session.outcome is None
        await typed(pilot, "q", key)
        await app.workers.wait_for_complete()
    assert session.outcome is outcome
    assert app.return_value is outcome


async def test_a_replay_cannot_be_left_as_complete() -> None:
    session = CannedSession([replay()])
    async with running(session) as (app, pilot):
        await typed(pilot, "q", "c")
        assert isinstance(app.screen, Leave)
        await typed(pilot, "x")
    assert session.outcome is Outcome.ABANDONED


async def test_an_open_step_is_mentioned_before_leaving(drawn: Drawn) -> None:
    async with running(CannedSession([step_open()])) as (app, pilot):
        await typed(pilot, "q")
        assert any("A charge step is still open" in line for line in drawn(app))


class Breaking(CannedSession):
    """A session that breaks off when it is told to."""

    def __init__(self, error: Exception) -> None:
        super().__init__([moving()])
        self.error = error
        self.broken = asyncio.Event()

    async def run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        """Show one snapshot, then raise."""
        on_snapshot(self.snapshots[0])
        await self.broken.wait()
        raise self.error


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError("no space left on device"), ("OSError: no space left on device",)),
        (
            ExceptionGroup("two", [ValueError("[red]first[/]"), ChargeAssistError("second\x1b")]),
            ("ValueError: [red]first[/]", "second·"),
        ),
    ],
)
async def test_a_session_that_breaks_says_so(
    error: Exception, words: tuple[str, ...], drawn: Drawn
) -> None:
    session = Breaking(error)
    async with running(session) as (app, pilot):
        await typed(pilot, "f")
        session.broken.set()
        await pilot.pause()
        await pilot.pause()
        assert isinstance(app.screen, Failure)
        text = "\n".join(drawn(app))
        for each in ("The session broke off", "demo/millrace-lane.session", *words):
            assert each in text
        assert app.failure is error
        await typed(pilot, "q")
    assert app.return_code == 1


class Stubborn(CannedSession):
    """A session whose record cannot be closed."""

    async def stop(self, outcome: Outcome) -> None:
        """Fail."""
        raise ChargeAssistError(f"cannot close the record as {outcome.value}")


class Refused(CannedSession):
    """A session whose disk refuses its end until it is given up."""

    def __init__(self) -> None:
        super().__init__([moving()])
        self.tell: Callable[[str], None] = print
        self.given_up = asyncio.Event()

    def wait_for_disk(self, tell: Callable[[str], None]) -> None:
        """Remember whom to tell."""
        self.tell = tell

    def give_up(self) -> None:
        """End."""
        self.given_up.set()

    async def stop(self, outcome: Outcome) -> None:
        """Wait for a disk."""
        self.tell("the disk is full: free some space")
        await self.given_up.wait()
        raise ChargeAssistError("not written, the disk is full")


async def test_a_disk_that_refuses_the_end_is_waited_for_until_it_is_given_up(
    drawn: Drawn,
) -> None:
    session = Refused()
    async with running(session) as (app, pilot):
        await typed(pilot, "q", "c")
        await pilot.pause()
        text = " ".join(drawn(app))
        assert "the disk is full: free some space" in text
        assert "q again" in text
        assert not isinstance(app.screen, Failure)
        await typed(pilot, "q")
        await pilot.pause()
        assert session.given_up.is_set()
        assert isinstance(app.screen, Failure)
        await typed(pilot, "q")


@pytest.mark.parametrize("keys", ["", "qc"], ids=["at once", "while it was being closed"])
async def test_a_program_told_to_end_does_not_wait_for_a_full_disk_for_ever(
    keys: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chargeassist.tui.app.UNATTENDED_S", 0.3)
    session = Refused()
    app = Dashboard(session, unicode=True, clock=Clock())
    async with app.run_test() as pilot:
        await pilot.pause()
        await typed(pilot, *keys)
        app.exit(return_code=143)  # as the handler of SIGTERM does
        await closed(app)
    assert session.given_up.is_set(), "it was not waited for"


async def test_a_record_that_cannot_be_closed_says_so(drawn: Drawn) -> None:
    async with running(Stubborn([moving()])) as (app, pilot):
        await typed(pilot, "q", "c")
        await pilot.pause()
        assert isinstance(app.screen, Failure)
        assert any("cannot close the record as complete" in line for line in drawn(app))


async def test_an_ended_session_stays_on_screen_and_takes_no_marks(drawn: Drawn) -> None:
    session = CannedSession([moving()])
    async with running(session) as (app, pilot):
        await session.stop(Outcome.COMPLETE)
        await pilot.pause()
        app.paint()
        await pilot.pause()
        assert "ENDED" in drawn(app)[0]
        await typed(pilot, "a")
        assert session.marks == []
        await typed(pilot, "q")
    assert app.return_code == 0
