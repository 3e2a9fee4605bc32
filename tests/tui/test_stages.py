"""The stages on the dashboard: real sessions over simulated circuits, driven by keys."""

from pathlib import Path

import pytest
from textual.widgets import Input

from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.errors import UnitError
from chargeassist.model.events import (
    CheckJudged,
    Mark,
    MarkKind,
    StageChanged,
    StepRecorded,
)
from chargeassist.session.record.package import open_record
from chargeassist.tui import answers
from tests.tui.running import Drawn
from tests.tui.technician import working

CAUTION_READ = MarkKind.CAUTION_READ


def no_reading(entry: Entry, so: dict[str, float]) -> str:
    raise AssertionError(f"{entry} is not asked for: there are probes")


async def test_from_vacuum_to_signature_by_keys(tmp_path: Path, drawn: Drawn) -> None:
    async with working("vacuum-dry", tmp_path, drawn) as work:
        await work.reads("SIMULATED")
        await work.press("s")
        shown = await work.reads("Stages of the job")
        assert "1 tightness" in shown
        await work.press("2")
        await work.reads("cannot be started while the circuit is under vacuum")
        await work.press("enter")
        await work.reads("this refrigerant burns")
        await work.press("enter")
        await work.reads("Start the pump")
        await work.press("enter")
        await work.reads("still falling: let the pump run", rush_s=120.0)
        shown = await work.reads("pull-down, Pa absolute")
        assert "target" in shown
        await work.reads("Shut the valve", rush_s=1150.0)
        await work.press("enter")
        await work.reads("Dry: go on", rush_s=1260.0)
        await work.reads("rise test, Pa absolute")
        await work.press("enter")
        await work.reads("no joint is loosened while there is pressure behind it")
        await work.press("enter")
        await work.reads("liquid refrigerant freezes skin")
        await work.press("enter")
        await work.reads("of 2.30 kg is in")
        await work.press("a")
        await work.reads("press e when the valve is shut")
        await work.type("e", "2.30 kg")
        await work.reads("Open the service valves")
        await work.press("s")
        await work.reads("6 close-out")
        await work.press("6")
        await work.reads("before a cover comes off: disconnect, lock, verify")
        await work.press("enter")
        await work.reads("Close up")
        await work.reads("5 of 5 acknowledged")
        await work.follow("close_out_done", no_reading)
        await work.reads("every item of the list")
        await work.leave()
    with open_record(tmp_path / "job.session") as record:
        events = list(record.events())
        assert record.verify().problems == ()
    stages = [each.stage.value for each in events if isinstance(each, StageChanged)]
    assert stages == ["dryness", "weigh-in", "close-out"]
    results = {each.check: each.result.value for each in events if isinstance(each, CheckJudged)}
    assert results == {
        "vacuum_rise": "pass",
        "weigh_in": "recorded",
        "final_reading": "not judged",  # the unit never ran
        "close_out": "recorded",
        "cautions": "recorded",
    }
    read = [each.text for each in events if isinstance(each, Mark) and each.kind is CAUTION_READ]
    assert read == ["vacuum", "ignition", "pressure", "refrigerant_burns", "electricity"]


async def test_a_stage_is_skipped_with_a_reason_by_keys(tmp_path: Path, drawn: Drawn) -> None:
    async with working("vacuum-dry", tmp_path, drawn) as work:
        await work.reads("SIMULATED")
        await work.press("s")
        await work.reads("x and a number skips one")
        await work.press("x")
        await work.reads("which is skipped? its number")
        await work.press("1")
        await work.reads("Why is tightness skipped?")
        await work.press("enter")
        await work.reads("nothing is written yet")
        work.app.screen.query_one(Input).value = "tested yesterday, sheet 3"
        await work.press("enter")
        await work.press("s")
        await work.reads("skipped at 0:")
        await work.reads("tested yesterday, sheet 3")
        await work.press("escape")
        await work.leave()
    with open_record(tmp_path / "job.session") as record:
        checks = [each for each in record.events() if isinstance(each, CheckJudged)]
    assert (checks[0].stage.value, checks[0].cause) == ("tightness", "stage_skipped")
    assert checks[0].subject == "tested yesterday, sheet 3"


async def test_nitrogen_by_keys(tmp_path: Path, drawn: Drawn) -> None:
    async with working("nitrogen-tight", tmp_path, drawn) as work:
        await work.reads("SIMULATED")
        await work.press("s")
        await work.reads("Stages of the job")
        await work.press("1")
        await work.reads("dry nitrogen only, never oxygen or air")
        await work.reads("standing test")
        await work.press("enter")
        await work.reads("never more than the plate states")
        await work.press("enter")
        await work.reads("Raise to 300 kPa gauge")
        await work.press("enter")
        await work.reads("an open one hides a leak", rush_s=30.0)
        await work.press("enter")
        await work.reads("for 3 min more")
        await work.reads("Raise to 1500 kPa gauge", rush_s=200.0)
        await work.follow("standing", no_reading)
        await work.reads("temperatures are settling after filling")
        await work.press("o")
        await work.reads("Tell what was done or read")
        await work.press("escape")
        shown = await work.reads("Let the nitrogen out", rush_s=3660.0)
        assert "an hour would have been seen" in shown
        await work.press("enter")
        await work.reads("Go on to dryness")
        await work.leave()


async def test_cautions_of_the_running_unit_stand_beside_live_values(
    tmp_path: Path, drawn: Drawn
) -> None:
    async with working("millrace-lane-library", tmp_path, drawn) as work:
        shown = await work.reads("caution, electricity and stored charge")
        assert "liquid line pressure" in shown
        assert "Enter: read" in shown
        await work.press("a")
        await work.reads("First read the caution, then Enter: electricity")
        await work.press("enter")
        await work.reads("caution, pressure: never more than the plate states")
        await work.press("enter")
        await work.reads("Recorded: caution read, pressure")
        await work.press("a")
        await work.reads("Charge step begun")
        await work.leave()
    with open_record(tmp_path / "job.session") as record:
        marks = [each for each in record.events() if isinstance(each, Mark)]
    told = [(each.kind, each.text) for each in marks]
    assert told[:2] == [(CAUTION_READ, "electricity"), (CAUTION_READ, "pressure")]
    assert told[2][0] is MarkKind.STEP_BEGUN


async def test_a_whole_job_from_nitrogen_to_signature_by_keys(tmp_path: Path, drawn: Drawn) -> None:
    """One session, one pair of hands: every stage of the demonstration's job, in its order."""

    place = "nitrogen-tight+vacuum-dry+millrace-lane-library"
    async with working("millrace-lane-library", tmp_path, drawn, place=place) as work:
        await work.reads("SIMULATED")
        await work.press("s")
        await work.reads("1 tightness")
        await work.press("1")
        await work.follow("tight", no_reading)
        await work.follow("tightness_over", no_reading)
        await work.press("enter")
        await work.reads("dryness")
        await work.follow("dry", no_reading)
        await work.press("enter")
        await work.follow("weigh_in_to_go", no_reading)
        await work.reads("of 2.30 kg is in")
        await work.press("a")
        await work.reads("more by the scale", rush_s=20.0)
        # Liquid goes in until the pressures have met; the scale tells when.
        await work.follow("weigh_in_ebbed", no_reading)
        await work.reads("nothing flows any more")
        await work.press("e")
        await work.reads("by the scale")
        await work.press("enter")
        await work.follow("weigh_in_rest", no_reading)
        weighed_kg = work.truth["circuit_kg"]
        await work.press("enter")
        await work.reads("run-up")
        await work.charge()
        await work.reads("the close-out comes next", rush_s=70.0)
        await work.press("enter")
        await work.reads("Close up")
        await work.follow("close_out_done", no_reading)
        await work.leave()
    with open_record(tmp_path / "job.session") as record:
        events = list(record.events())
        assert record.verify().problems == ()
    stages = [each.stage.value for each in events if isinstance(each, StageChanged)]
    assert stages == [
        "tightness", "dryness", "weigh-in", "run-up", "charging", "verification", "close-out",
    ]  # fmt: skip
    first = next(each for each in events if isinstance(each, StepRecorded))
    assert first.measured_by == "scale"
    assert first.mass_kg == pytest.approx(weighed_kg, abs=0.01)
    seen = next(
        each.t for each in events if isinstance(each, Mark) and each.text == "filters_panels"
    )
    charging = next(
        each.t
        for each in events
        if isinstance(each, StageChanged) and each.stage.value == "charging"
    )
    assert seen < charging
    results = {each.check: each.result.value for each in events if isinstance(each, CheckJudged)}
    assert results["standing_pressure"] == "pass"
    assert results["vacuum_rise"] == "pass"
    assert results["final_reading"] in {"pass", "pass, not certain"}
    assert results["close_out"] == "recorded"
    assert results["cautions"] == "recorded"


async def test_readings_are_typed_while_charging(tmp_path: Path, drawn: Drawn) -> None:
    async with working("millrace-lane-library", tmp_path, drawn) as work:
        await work.reads("SIMULATED")
        await work.reads(" o anything else")
        await work.press("o")
        shown = await work.reads("Tell what was done or read")
        assert "voltage, line to line" in shown
        assert "running amps" not in shown  # a clamp delivers them
        await work.type(shown.split(" indoor airflow")[0].split()[-1], "520 L/s")
        await work.press("o")
        await work.reads("Tell what was done or read")
        number = shown.split(" voltage, line")[0].split()[-1]
        await work.type(number, "214 V")
        await work.press("s")
        shown = await work.reads("supply voltage: pass, not certain: 214.0 V")
        assert "airflow: not judged: 520 L/s" in shown
        assert "by motor voltage table, after NEMA MG 1" in shown
        await work.press("escape")
        await work.leave()
    with open_record(tmp_path / "job.session") as record:
        events = list(record.events())
        assert record.verify().problems == ()
    results = {each.check: each.result.value for each in events if isinstance(each, CheckJudged)}
    assert results["supply_voltage"] == "pass, not certain"
    assert results["airflow"] == "not judged"


async def test_nitrogen_without_a_probe_by_keys(tmp_path: Path, drawn: Drawn) -> None:
    """Everything typed as it is read off a dial of 10 kPa and a thermometer of 0.1 K."""

    def reads(entry: Entry, so: dict[str, float]) -> str:
        if entry is Entry.TEST_PRESSURE:
            gauge_pa = so["pressure_pa_abs"] - 98_827.0  # 210 m
            return f"{round(gauge_pa / 1e4) * 10} kPag"
        pipe = "outdoor_pipe_k" if entry is Entry.LIQUID_PIPE else "indoor_pipe_k"
        return f"{so[pipe] - 273.15:.1f} C"

    only = frozenset({Role.OUTDOOR_AIR_TEMPERATURE})
    async with working("nitrogen-tight", tmp_path, drawn, only=only) as work:
        await work.reads("SIMULATED")
        await work.press("s")
        await work.reads("judged better with a pressure probe on the circuit")
        await work.press("1")
        await work.reads("dry nitrogen only, never oxygen or air")
        await work.follow("warm_from_filling", reads)
        await work.reads("filling has warmed the gas")
        # A slip of the key opens no cylinder onto the nitrogen.
        await work.press("a")
        await work.reads("No charge in this stage, tightness")
        await work.follow("read_second", reads)
        await work.reads("the suction line's pipe too, within 5 min: one pipe does not stand")
        await work.follow("standing_by_hand", reads)
        await work.reads("1 reading so far")
        await work.follow("tight", reads)
        shown = await work.reads("Let the nitrogen out")
        assert "by 2 readings taken by hand; nobody looked in between" in shown
        await work.leave()
    with open_record(tmp_path / "job.session") as record:
        events = list(record.events())
        assert record.verify().problems == ()
    (check,) = [each for each in events if isinstance(each, CheckJudged)]
    assert check.result.value == "pass, not certain"
    assert not [each for each in events if getattr(each, "kind", None) is MarkKind.STEP_BEGUN]


@pytest.mark.parametrize("entry", tuple(Entry))
@pytest.mark.parametrize("system", tuple(UnitSystem))
def test_an_example_of_each_entry_can_be_typed(entry: Entry, system: UnitSystem) -> None:
    text = answers.example(entry, system)
    low, high = entry.span_si
    assert low <= answers.entry(text, entry, system) <= high
    # A bare number is in the unit that is shown.
    assert answers.entry(text.split()[0], entry, system) == answers.entry(text, entry, system)
    with pytest.raises(UnitError):
        answers.entry("", entry, system)
    with pytest.raises(UnitError):
        answers.entry("1e9", entry, system)
