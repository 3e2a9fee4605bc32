"""A whole charge at the keys from typed readings alone: from the first reading to the final one."""

from dataclasses import replace
from pathlib import Path

import pytest
from textual.widgets import Input

from chargeassist.guide.stages.final_reading import HELD
from chargeassist.model.channels import Accuracy, Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    Action,
    ChannelDeclared,
    CheckJudged,
    Event,
    Mark,
    MarkKind,
    Settled,
    StepRecorded,
)
from chargeassist.model.job import Job
from chargeassist.model.stage_plan import ChargingPlan
from chargeassist.model.values import NoValue
from chargeassist.physics.target_superheat import target_superheat
from chargeassist.session.record.package import open_record
from tests.tui.running import Drawn
from tests.tui.technician import Work, working
from tests.tui.test_by_hand import ONLY_AIR, same_when_replayed

LIBRARY_PA, BAKERY_PA = 98_827.0, 85_020.0  # 210 m, 1450 m
SCALE_KG = 0.005
GUST_K = 0.3
"""What a gust of the scenario moves the true superheat by while it is read."""
RUNS_ON_KG = 0.02
"""What a step takes in more while its amount is typed, the valve not yet said to be shut."""
WET_BULB_K = 291.21  # 64.5 °F, as the scenario has it


def by_eye(entry: Entry, so: dict[str, float], station_pa: float) -> str:
    """Digits of 5 kPa and 0.1 K, in the units of the screen."""
    if entry in {Entry.LIQUID_PRESSURE, Entry.SUCTION_PRESSURE}:
        gauge_pa = so[f"{entry.value}_pa_abs"] - station_pa
        return f"{round(gauge_pa / 5e3) * 5} kPag"
    if entry is Entry.OUTDOOR_AIR:
        return f"{so['outdoor_k'] - 273.15:.1f} C"
    if entry is Entry.RETURN_WET_BULB:
        return f"{WET_BULB_K - 273.15:.2f} C"
    place = "liquid" if entry is Entry.LIQUID_PIPE else "suction"
    return f"{so[f'{place}_temperature_k'] - 273.15:.1f} C"


def declared(job: Job) -> Job:
    """Hand gauges and a thermometer whose data sheets are at hand."""
    plan = ChargingPlan(
        gauge_accuracy=Accuracy(absolute_si=10e3),
        suction_gauge_accuracy=Accuracy(absolute_si=10e3),
        thermometer_accuracy=Accuracy(absolute_si=0.3),
        source="data sheets of the hand gauges",
    )
    return replace(job, stages=replace(job.stages, charging=plan))


async def charge(work: Work, station_pa: float, most_s: float = 7200.0) -> list[str]:
    """Charge by keys as the board says, typing every reading, until a final reading has stood."""
    start_t, began_kg, wanted_kg, causes = work.session.now, 0.0, 0.0, [""]
    while work.session.now < start_t + most_s:
        latest = work.app._latest
        assert latest is not None
        advice, mark, goes_s = latest.advice, latest.waits_for, 1.5
        if advice.cause != causes[-1]:
            causes.append(advice.cause)
        if any(check.cause in HELD for check in latest.checks):
            return causes
        if latest.unread:
            await work.press("enter")
        elif latest.facts.step_open is not None:
            if work.truth["circuit_kg"] - began_kg < wanted_kg - SCALE_KG:
                goes_s = 2.0
            else:
                await work.press("e")
                shown_g = 1e3 * (work.truth["circuit_kg"] - began_kg)
                work.app.screen.query_one(Input).value = f"{shown_g:.0f} g"
                await work.press("enter")
        elif advice.cause == "hold_missing":
            await work.press("f", "enter")
        elif advice.cause == "condition_filters_panels":
            await work.press("enter", "enter")
        elif advice.action is Action.ADD:
            began_kg, wanted_kg = work.truth["circuit_kg"], advice.mass_kg or 0.0
            await work.press("a")
        elif mark is not None and mark.entry is not None:
            await work.press("enter")
            work.app.screen.query_one(Input).value = by_eye(mark.entry, work.truth, station_pa)
            await work.press("enter")
            goes_s = 12.0  # to the next instrument
        else:
            goes_s = 20.0
        await work.go(goes_s)
    raise AssertionError("no final reading:\n" + "\n".join(work.drawn(work.app)))


async def test_a_machine_is_charged_by_typed_readings_from_the_first_to_the_final(
    tmp_path: Path, drawn: Drawn
) -> None:
    async with working(
        "millrace-lane-library", tmp_path, drawn, only=ONLY_AIR, change=declared
    ) as work:
        causes = await charge(work, LIBRARY_PA)
        shown = await work.reads("by hand, ")
        assert "final reading" in shown
        true_k = work.truth["subcooling_k"]
        in_kg = work.truth["circuit_kg"]
        await work.leave()
    assert {"hold_missing", "read_by_hand", "by_hand_waits", "below_target"} <= set(causes)
    assert causes.index("hold_missing") < causes.index("read_by_hand")
    assert causes[-1].startswith("inside")
    await same_when_replayed(tmp_path / "job.session")
    with open_record(tmp_path / "job.session") as record:
        events: list[Event] = list(record.events())
    probes = [each.channel.role for each in events if isinstance(each, ChannelDeclared)]
    assert probes == [Role.OUTDOOR_AIR_TEMPERATURE]
    steps = [each for each in events if isinstance(each, StepRecorded)]
    assert len(steps) >= 2
    assert 1.9 + sum(each.mass_kg or 0.0 for each in steps) == pytest.approx(
        in_kg, abs=len(steps) * RUNS_ON_KG
    )
    assert all(each.by_hand is not None for each in events if isinstance(each, Settled))
    (final,) = [e for e in events if isinstance(e, CheckJudged) and e.check == "final_reading"]
    assert final.cause.startswith("final_held")
    assert final.figures["by_hand"] >= 5.0
    # The plant's own truth, within the uncertainty that is claimed.
    assert abs(final.figures["subcooling_k"] - true_k) <= final.figures["expanded_k"]
    # The last reading is one of the end: nothing stands on what nobody has looked at.
    read = [e for e in events if isinstance(e, Mark) and e.kind is MarkKind.ENTERED]
    assert final.t - read[-1].seen_t <= 2.0


NO_PROBE_OF_THE_CIRCUIT = frozenset({Role.COMPRESSOR_CURRENT})


async def test_a_fixed_orifice_is_charged_by_hand_with_air_that_was_typed(
    tmp_path: Path, drawn: Drawn
) -> None:
    """Superheat by the published table: outdoor air and the return's wet bulb are typed."""
    async with working(
        "fixed-orifice", tmp_path, drawn, only=NO_PROBE_OF_THE_CIRCUIT, change=declared
    ) as work:
        await work.reads("Read the pressure of the suction line")
        causes = await charge(work, BAKERY_PA)
        shown = await work.reads("by hand, ")
        # The band is that of the published table, for the air that was typed.
        assert "return wet bulb 18.1 °C" in shown
        true_k, in_kg = work.truth["superheat_k"], work.truth["circuit_kg"]
        await work.leave()
    # What the target lacks is asked for by Enter as soon as there is a reading.
    assert causes.index("no_target") < causes.index("superheat_over_target")
    assert causes[-1].startswith("inside")
    await same_when_replayed(tmp_path / "job.session")
    with open_record(tmp_path / "job.session") as record:
        events: list[Event] = list(record.events())
    typed = [e.text for e in events if isinstance(e, Mark) and e.kind is MarkKind.ENTERED]
    # After half an hour they are asked for again: a day warms.
    asked = [typed.count(each.value) for each in (Entry.OUTDOOR_AIR, Entry.RETURN_WET_BULB)]
    assert all(times in {1, 2} for times in asked)
    steps = [each for each in events if isinstance(each, StepRecorded)]
    assert 2.35 + sum(each.mass_kg or 0.0 for each in steps) == pytest.approx(
        in_kg, abs=len(steps) * RUNS_ON_KG
    )
    (final,) = [e for e in events if isinstance(e, CheckJudged) and e.check == "final_reading"]
    assert final.cause.startswith("final_held")
    assert abs(final.figures["superheat_k"] - true_k) <= final.figures["expanded_k"] + GUST_K
    found = target_superheat(outdoor_k(events), WET_BULB_K)
    assert not isinstance(found, NoValue)
    assert final.figures["target_k"] == pytest.approx(found.value_k, abs=0.05)


def outdoor_k(events: list[Event]) -> float:
    """The outdoor air as it was typed last."""
    return [
        event.value_si or 0.0
        for event in events
        if isinstance(event, Mark) and event.text == Entry.OUTDOOR_AIR.value
    ][-1]
