"""Typed readings through the keys: an evacuation by hand, and a charge's first readings."""

from dataclasses import replace
from pathlib import Path

from textual.widgets import Input

from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, CheckJudged, Mark, MarkKind, Stage
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.session.compare import VerdictComparison
from chargeassist.session.opening import open_replay
from chargeassist.session.record.package import open_record
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession
from tests.tui.running import Clock, Drawn, text
from tests.tui.technician import Work, working
from tests.unit.guide.stages.conftest import Work as HandWork
from tests.unit.guide.stages.conftest import make_job

NITROGEN = """
[plate]
high_side = "4.2 MPa(g)"
low_side = "2.4 MPa(g)"
source = "unit plate"
[tightness]
steps = ["2.0 MPa(g) for 20 min"]
source = "installation sheet 2"
"""
ONLY_AIR = frozenset({Role.OUTDOOR_AIR_TEMPERATURE})


async def same_when_replayed(path: Path) -> None:
    """The record is whole, and its marks give its verdicts."""
    with open_record(path) as record:
        assert record.verify().problems == ()
    comparison = VerdictComparison(path)
    await open_replay(path, speed=None, listeners=[comparison]).session.run(lambda snapshot: None)
    assert comparison.differences() == ()
    assert comparison.compared > 5


def micron(work: Work) -> str:
    """The gauge, to 5 microns."""
    shown = round(work.truth["far_pa_abs"] / PASCAL_PER_MICRON / 5.0) * 5
    return f"{max(shown, 5)} micron"


async def evacuate(work: Work, ends: str) -> None:
    """Do what the board says until it says `ends`; where it waits, read every two minutes."""
    for _ in range(60):
        latest = work.app._latest
        assert latest is not None
        if latest.advice.cause == ends:
            return
        mark = latest.waits_for
        assert mark is not None, latest.advice
        await work.press("enter")
        if mark.entry is not None:
            work.app.screen.query_one(Input).value = micron(work)
            await work.press("enter")
        waits = latest.advice.action is Action.WAIT and mark.entry is not None
        await work.reads("dryness", rush_s=120.0 if waits else 3.0)
    raise AssertionError(f"{ends} did not come")


async def test_an_evacuation_without_a_gauge_that_is_read_live(
    tmp_path: Path, drawn: Drawn
) -> None:
    place = "vacuum-dry+millrace-lane-library"  # which lasts long enough
    async with working("vacuum-dry", tmp_path, drawn, only=ONLY_AIR, place=place) as work:
        await work.reads("SIMULATED")
        await work.press("s")
        await work.reads("2 dryness")
        await work.press("2")
        await work.go(1.0)
        await evacuate(work, "isolate")
        await work.reads("Shut the valve")
        before_t = work.session.now - 10.0
        await work.press("enter")
        # The circuit levels off first; a reading of the pull-down that is typed only now stays one.
        await work.reads("0 of at least 5 readings", rush_s=20.0)
        await work.press("o")
        await work.reads("Tell what was done or read")
        ago_s = work.session.now - before_t
        await work.type("1", f"9 Pa, {ago_s:.0f} s ago")
        await work.reads("0 of at least 5 readings", rush_s=5.0)
        await evacuate(work, "dry")
        shown = await work.reads("Dry: go on")
        assert "dry and tight" in shown
        await work.leave()
    await same_when_replayed(tmp_path / "job.session")
    with open_record(tmp_path / "job.session") as record:
        events = list(record.events())
    typed = [each for each in events if isinstance(each, Mark) and each.kind is MarkKind.ENTERED]
    assert {each.text for each in typed} == {Entry.VACUUM.value}
    (late,) = [each for each in typed if each.read_t is not None]
    assert late.read_t is not None
    (shut,) = [
        each for each in events if isinstance(each, Mark) and each.kind is MarkKind.VALVE_SHUT
    ]
    assert late.read_t < shut.t < late.t
    (check,) = [each for each in events if isinstance(each, CheckJudged)]
    assert check.check == "vacuum_rise"
    assert check.result.value == "pass, not certain"  # a gauge nobody declared
    after = [each for each in typed if each.seen_t > shut.t]
    assert 5 <= check.figures["readings"] <= len(after)


async def test_a_charge_is_read_by_hand_at_the_keys(tmp_path: Path, drawn: Drawn) -> None:
    def reads(entry: Entry, so: dict[str, float]) -> str:
        if entry in {Entry.LIQUID_PRESSURE, Entry.SUCTION_PRESSURE}:
            gauge_pa = so[f"{entry.value}_pa_abs"] - 98_827.0  # 210 m
            return f"{round(gauge_pa / 5e3) * 5}"  # kPa gauge, as shown
        place = "liquid" if entry is Entry.LIQUID_PIPE else "suction"
        return f"{so[f'{place}_temperature_k'] - 273.15:.1f} C"

    async with working("millrace-lane-library", tmp_path, drawn, only=ONLY_AIR) as work:
        await work.reads("SIMULATED")
        await work.reads("not held at 72 Hz")  # what is read before that counts no more after it
        await work.press("enter")
        await work.go(1.0)  # the next caution is shown before it can be read
        await work.press("enter")
        await work.press("f", "enter")
        shown = await work.reads("Read the pressure of the liquid line")
        assert "by hand, 0 of at least 4 readings" in shown
        await work.follow("by_hand_waits", reads)
        await work.follow("below_target", reads)
        shown = await work.reads("by hand, ")
        assert "■ by hand" in shown
        # What cannot be is refused where it is typed, and nothing is lost.
        await work.press("o")
        await work.reads("Tell what was done or read")
        await work.press("1")
        work.app.screen.query_one(Input).value = "2000, 3 h ago"
        await work.press("enter")
        await work.reads("that was before the session began")
        latest = work.app._latest
        assert latest is not None
        before_s = latest.t - latest.facts.entered[Entry.LIQUID_PRESSURE].t + 60.0
        work.app.screen.query_one(Input).value = f"2000, {before_s:.0f} s ago"
        await work.press("enter")
        await work.reads("the last one was read at")
        work.app.screen.query_one(Input).value = "2000 at 14:05"
        await work.press("enter")
        await work.reads("session's time is not that of the clock")
        # A reading of the other line is asked about once, and kept by a second Enter.
        work.app.screen.query_one(Input).value = "600"
        await work.press("enter")
        await work.reads("that is not above")
        await work.press("escape")
        await work.leave()
    await same_when_replayed(tmp_path / "job.session")


async def test_a_fast_second_enter_asks_for_the_next_reading_not_for_the_same_again() -> None:
    """The board is a second behind the keys: what it still asks for is answered already."""
    work = HandWork(make_job(NITROGEN, probes=(("outdoor_air_temperature", "K", "0.3 K"),)))
    work.begin(Stage.TIGHTNESS)
    work.mark(MarkKind.NITROGEN_ON)
    asks_pressure = work.run(1)
    assert asks_pressure.waits_for is not None
    assert asks_pressure.waits_for.entry is Entry.TEST_PRESSURE
    work.enter(Entry.TEST_PRESSURE, 2.0e6)
    work.run(1)
    work.mark(MarkKind.NITROGEN_OFF)
    work.run(301)
    work.enter(Entry.TEST_PRESSURE, 2.0e6)
    asks_pipe = work.run(1)
    assert asks_pipe.waits_for is not None
    assert asks_pipe.waits_for.entry is Entry.LIQUID_PIPE
    session = CannedSession([replace(asks_pressure, t=asks_pipe.t - 1.0)])
    app = Dashboard(session, system=UnitSystem.SI, unicode=True, clock=Clock())
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.press("enter")
        app.screen.query_one(Input).value = "2000"
        await pilot.press("enter")
        assert [mark[3] for mark in session.marks] == [Entry.TEST_PRESSURE.value]
        await pilot.press("enter")  # the picture has not come yet
        assert not app.screen.query(Input)
        session.feed(asks_pipe)
        await pilot.pause()
        app.screen.query_one(Input).value = "24"
        await pilot.press("enter")
        assert [mark[3] for mark in session.marks] == [
            Entry.TEST_PRESSURE.value, Entry.LIQUID_PIPE.value,
        ]  # fmt: skip


async def test_a_test_pressure_that_has_mostly_gone_is_asked_about(drawn: Drawn) -> None:
    work = HandWork(make_job(NITROGEN, probes=(("outdoor_air_temperature", "K", "0.3 K"),)))
    work.begin(Stage.TIGHTNESS)
    work.mark(MarkKind.NITROGEN_ON)
    work.enter(Entry.TEST_PRESSURE, 1.9e6)
    session = CannedSession([work.run(1)])
    app = Dashboard(session, system=UnitSystem.SI, unicode=True, clock=Clock())
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.press("enter")
        app.screen.query_one(Input).value = "24"
        await pilot.press("enter")
        assert session.marks == []
        assert "less than half of 1900 kPa" in text(drawn(app))
        await pilot.press("enter")
        assert len(session.marks) == 1
