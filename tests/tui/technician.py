"""A technician at the keys of a real session over simulated circuits.

Simulated time stands while keys are pressed and goes on only where the technician lets it: however
busy the machine is, the same keys meet the same board.
"""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

from textual.pilot import Pilot
from textual.widgets import Input

from chargeassist.guide.assistant import Assistant
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    Action,
    MarkKind,
    Outcome,
    SessionMode,
)
from chargeassist.model.job import Job, ProbeSpec
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.session.opening import started_now
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.runner import Session
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.tui.app import Dashboard
from chargeassist_adapters.simulator import SimulatorSource
from tests.tui.running import Clock, Drawn, closed, past, text

FILTERS_PANELS = Limit(
    key=LimitKey.FILTERS_PANELS, value_si=1.0, as_written="yes", source="invented sheet 9",
    edition="", authority=Authority.EQUIPMENT,
)  # fmt: skip
"""The demonstration's whole job asks for them before it charges."""

RUSH_S, LONGEST_RUSH_S = 20.0, 160.0
"""The least and the most simulated time that goes by between two looks at the board."""

FILLS_S = 5.0
"""Simulated time between two looks at the gauge while nitrogen flows in."""

COMES_WITHIN = 400
"""What has not come within so many looks at the board, a second apart, does not come."""

Reads = Callable[[Entry, dict[str, float]], str]


class Work:
    """A technician at the keys."""

    def __init__(self, app: Dashboard, pilot: Pilot[Outcome], session: Session, drawn: Drawn):
        self.app, self.pilot, self.session, self.drawn = app, pilot, session, drawn
        self.truth: dict[str, float] = {}

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.pilot.pause()

    async def type(self, key: str, words: str) -> None:
        await self.press(key)
        self.app.screen.query_one(Input).value = words
        await self.press("enter")

    async def go(self, seconds: float) -> None:
        """Let simulated time go on, and the board with it."""
        t = self.session.now + seconds
        self.session.rush_to(t)
        period_s = self.session.job.processing.period_s
        await past(self.app, t // period_s * period_s)

    async def reads(self, words: str, *, rush_s: float = 0.0) -> str:
        """Return the screen once `words` stand on it, after `rush_s` at the earliest."""
        if rush_s:
            await self.go(rush_s)
        for _ in range(COMES_WITHIN):
            self.app.paint()
            shown = text(self.drawn(self.app))
            if words in shown:
                return shown
            await self.go(1.0)
        raise AssertionError(f"{words!r} did not come:\n" + "\n".join(self.drawn(self.app)))

    async def follow(self, cause: str, reads: Reads, most_s: float = 7200.0) -> None:
        """Do by keys what the board says until it says `cause`, rushing while it waits."""
        start_t = self.session.now
        said, rush_s = "", RUSH_S
        while self.session.now < start_t + most_s:
            latest = self.app._latest
            assert latest is not None
            if latest.advice.cause == cause:
                return
            # What is waited for long may take hours: look at the board less and less often.
            rush_s = min(2.0 * rush_s, LONGEST_RUSH_S) if latest.advice.cause == said else RUSH_S
            said = latest.advice.cause
            mark = latest.waits_for
            if mark is not None and mark.kind is MarkKind.NITROGEN_OFF and said == "nitrogen_raise":
                await self.go(FILLS_S)  # the cylinder stays open until the pressure is there
                continue
            reading = mark is not None and mark.kind is MarkKind.CAUTION_READ
            if mark is None or (latest.advice.action is Action.WAIT and not reading):
                await self.go(rush_s)
                continue
            await self.press("enter")
            if mark.entry is not None:
                self.app.screen.query_one(Input).value = reads(mark.entry, self.truth)
                await self.press("enter")
            await self.go(FILLS_S if said == "nitrogen_reached" else 1.0)
        raise AssertionError(f"{cause} did not come:\n" + "\n".join(self.drawn(self.app)))

    async def charge(self, most_s: float = 3600.0) -> None:
        """Charge by keys as the advice says, until it says stop."""
        start_t = self.session.now
        while self.session.now < start_t + most_s:
            latest = self.app._latest
            assert latest is not None
            advice, goes_s = latest.advice, 1.0
            if advice.action is Action.STOP:
                return
            if latest.unread:
                await self.press("enter")
            elif advice.cause == "hold_missing":
                await self.press("f", "enter")
            elif advice.cause == "condition_filters_panels":
                await self.press("enter", "enter")
            elif advice.action is Action.ADD:
                await self.press("a")
            elif advice.cause == "step_full":
                await self.press("e", "enter")  # by the scale
            else:
                goes_s = 3.0 if advice.cause == "step_open" else 20.0
            await self.go(goes_s)
        raise AssertionError("no stop:\n" + "\n".join(self.drawn(self.app)))

    async def leave(self) -> None:
        await self.press("q", "c")
        await closed(self.app)


@asynccontextmanager
async def working(
    name: str,
    folder: Path,
    drawn: Drawn,
    only: frozenset[Role] | None = None,
    place: str | None = None,
    change: Callable[[Job], Job] = lambda job: job,
) -> AsyncIterator[Work]:
    """Open the dashboard over a scenario, with `only` some of its probes, or over several.

    Where a `place` names several, nothing is in the circuit before. `change` has the last word on
    the job.
    """
    scenario = find_scenario(name, Path(), 7)
    (spec,) = scenario.job.sources
    described = scenario.unit or scenario.stage_unit
    assert described is not None
    if only is not None:
        channels = described.probes.channels(spec.name)
        probes = tuple(ProbeSpec(channel=each) for each in channels if each.role in only)
        spec = replace(spec, probes=probes)
    job = scenario.job
    if place is not None:
        spec = replace(spec, url=f"simulator:{place}?seed=7")
        job = replace(
            job,
            sources=(spec,),
            charge=replace(job.charge, weighed_in_kg=0.0),
            limits=(*job.limits, FILTERS_PANELS),
        )
    else:
        # It must not end while a slow machine is still at the keys.
        spec = replace(spec, url=f"{spec.url}{'&' if '?' in spec.url else '?'}length=8h")
        job = replace(job, sources=(spec,))
    job = change(job)
    source = SimulatorSource.from_spec(spec, scenario.folder)
    started = started_now(job, SessionMode.SIMULATED)
    session = Session(
        Assistant(job, SessionMode.SIMULATED),
        [source],
        recorder=SessionWriter.create(folder / "job.session", started),
    )
    session.toggle_pause()
    app = Dashboard(session, system=UnitSystem.SI, unicode=True, clock=Clock())
    async with app.run_test(size=(110, 40)) as pilot:
        work = Work(app, pilot, session, drawn)
        source.tell_truth(lambda t, so: work.truth.update(so))
        await work.go(1.0)  # keys mean nothing before the first picture
        yield work
