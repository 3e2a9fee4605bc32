"""A whole job from typed readings alone, nitrogen to signature; no probe but the air's.

The circuits are invented; what is judged is what they truly are.
"""

import asyncio
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.model.channels import Accuracy
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    ChannelDeclared,
    CheckJudged,
    Event,
    FaultJudged,
    Mark,
    MarkKind,
    Settled,
    Stage,
    StageChanged,
    StepRecorded,
)
from chargeassist.model.job import Job
from chargeassist.model.stage_plan import ChargingPlan
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.qa.audit_rules import RULES, Policy
from chargeassist.qa.recompute import compare
from chargeassist.qa.report_content import report_of
from chargeassist.qa.report_trace import EVERY_S, Trace
from chargeassist.qa.rescore import rescore
from chargeassist.qa.verify import verify
from chargeassist.session.compare import VerdictComparison
from chargeassist.session.opening import open_replay
from chargeassist.session.record.package import open_record
from tests.scenarios.typist import Truth, WholeJob, work_by_hand

STATION_PA = 98_827.0  # 210 m


def by_eye(entry: Entry, so: Truth) -> float:
    """Digits of 5 kPa and 0.1 K, a clamp meter of 0.1 A, a micron gauge of 5 microns."""
    match entry:
        case Entry.TEST_PRESSURE:
            return round((so["pressure_pa_abs"] - STATION_PA) / 5e3) * 5e3
        case Entry.LIQUID_PIPE if "outdoor_pipe_k" in so:
            return round(so["outdoor_pipe_k"], 1)
        case Entry.SUCTION_PIPE if "indoor_pipe_k" in so:
            return round(so["indoor_pipe_k"], 1)
        case Entry.VACUUM:
            return (
                max(round(so["far_pa_abs"] / PASCAL_PER_MICRON / 5.0) * 5.0, 5.0)
                * PASCAL_PER_MICRON
            )
        case Entry.LIQUID_PRESSURE | Entry.SUCTION_PRESSURE:
            return round((so[f"{entry.value}_pa_abs"] - STATION_PA) / 5e3) * 5e3
        case Entry.LIQUID_PIPE:
            return round(so["liquid_temperature_k"], 1)
        case Entry.SUCTION_PIPE:
            return round(so["suction_temperature_k"], 1)
        case _:
            raise AssertionError(entry)


def declared(job: Job) -> Job:
    """Nothing is in the circuit yet; the hand gauges are good ones."""
    plan = replace(
        job.stages,
        tightness=replace(
            job.stages.tightness,
            gauge_accuracy=Accuracy(absolute_si=20e3),
            thermometer_accuracy=Accuracy(absolute_si=0.5),
        ),
        dryness=replace(job.stages.dryness, gauge_accuracy=Accuracy(relative=0.1)),
        charging=ChargingPlan(
            gauge_accuracy=Accuracy(absolute_si=10e3),
            suction_gauge_accuracy=Accuracy(absolute_si=10e3),
            thermometer_accuracy=Accuracy(absolute_si=0.3),
            source="data sheets of the hand gauges",
        ),
    )
    return replace(job, stages=plan, charge=replace(job.charge, weighed_in_kg=0.0))


def checks(events: list[Event], name: str) -> list[CheckJudged]:
    return [each for each in events if isinstance(each, CheckJudged) and each.check == name]


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Event], WholeJob]:
    path = tmp_path_factory.mktemp("job") / "job.session"
    technician = WholeJob(by_eye, Stage.TIGHTNESS, first_kg=1.9)
    place = "nitrogen-tight+vacuum-dry+millrace-lane-library"
    events = asyncio.run(
        work_by_hand("millrace-lane-library", technician, path, declared, place=place)
    )
    return path, events, technician


def test_every_stage_ends_in_its_verdict(
    job: tuple[Path, list[Event], WholeJob],
) -> None:
    _, events, technician = job
    assert technician.finished, technician.causes[-5:]
    stages = [each.stage.value for each in events if isinstance(each, StageChanged)]
    assert stages == [
        "tightness", "dryness", "weigh-in", "run-up", "charging", "verification", "close-out",
    ]  # fmt: skip
    assert [each.channel.role.value for each in events if isinstance(each, ChannelDeclared)] == [
        "outdoor_air_temperature"
    ]
    standing = checks(events, "standing_pressure")[-1]
    # Tight in moving weather, read again and again; what an hour by eye can see is said.
    assert (standing.result.value, standing.cause) == ("pass", "found_tight")
    assert standing.figures["readings"] >= 5.0
    assert standing.figures["smallest_pa_per_h"] > 10e3
    assert checks(events, "vacuum_rise")[-1].result.value == "pass"
    assert checks(events, "close_out")[-1].result.value == "recorded"
    assert checks(events, "cautions")[-1].cause == "cautions_read"
    assert not [each for each in events if isinstance(each, FaultJudged)]


def test_the_weigh_in_and_the_steps_are_those_typed(
    job: tuple[Path, list[Event], WholeJob],
) -> None:
    _, events, technician = job
    weighed = checks(events, "weigh_in")[-1]
    assert weighed.figures["kg"] == pytest.approx(1.9)
    # By a scale nobody declared: its half width is the program's own, and is said to be.
    assert any("scale" in each for each in weighed.sources)
    steps = [each for each in events if isinstance(each, StepRecorded)]
    assert {each.measured_by for each in steps} == {"technician"}
    total = sum(each.mass_kg or 0.0 for each in steps)
    assert total == pytest.approx(technician.truth["circuit_kg"], abs=0.05)


def test_what_settled_by_hand_is_what_is_true(
    job: tuple[Path, list[Event], WholeJob],
) -> None:
    _, events, technician = job
    settled = [each for each in events if isinstance(each, Settled)]
    assert settled
    assert all(each.by_hand is not None and each.by_hand >= 4 for each in settled)
    final = checks(events, "final_reading")[-1]
    assert final.result.value in {"pass", "pass, not certain"}
    # The plant's own truth, within the uncertainty that is claimed.
    off_k = final.figures["subcooling_k"] - technician.truth["subcooling_k"]
    assert abs(off_k) <= final.figures["expanded_k"]
    assert final.figures["by_hand"] >= 5.0
    assert "superheat_k" in final.figures


def test_audit_and_report_take_it_as_they_take_probes(
    job: tuple[Path, list[Event], WholeJob],
) -> None:
    path, events, _ = job
    trace = Trace()
    with open_record(path) as record:
        session = rescore(record, trace)
        report = report_of(session, verify(path), UnitSystem.SI)
    found = [each for rule in RULES.values() for each in rule(session, Policy())]
    assert {each.rule for each in found} <= {"simulated_as_field"}, found
    assert report.verdict.startswith("Final reading: pass")
    assert ", by hand, " in report.verdict
    tables = {table.title: table for table in report.tables}
    settled = [each for each in events if isinstance(each, Settled)]
    rows = tables["Settled readings"].rows
    assert len(rows) == len(settled)
    assert all(" by hand (" in row[1] for row in rows)
    hands = [row for row in tables["Instruments"].rows if row[0].endswith(", by hand")]
    assert [row[0] for row in hands] == [
        "liquid line pressure, by hand",
        "liquid line temperature, by hand",
        "suction line pressure, by hand",
        "suction line temperature, by hand",
    ]
    assert hands[0][2:] == ("± 10 kPa", "data sheets of the hand gauges")
    typed = [each for each in events if isinstance(each, Mark) and each.kind is MarkKind.ENTERED]
    assert len(tables["Readings taken by hand"].rows) == len(typed)
    # Pictures: a mark for each whole reading, and the stretch the final reading stood.
    runs_t = next(
        each.t for each in events if isinstance(each, StageChanged) and each.stage is Stage.RUN_UP
    )
    wholes = sum(each.text == Entry.LIQUID_PIPE.value and each.t > runs_t for each in typed)
    assert wholes - 2 <= len(trace.by_hand) <= wholes
    assert trace.t[-1] - trace.t[trace.settled.index(True)] > 60.0
    assert sum(trace.settled) * EVERY_S > 60.0


def test_replay_and_recompute_give_the_same_verdicts(
    job: tuple[Path, list[Event], WholeJob],
) -> None:
    path, _, _ = job
    with open_record(path) as record:
        assert record.verify().problems == ()
        again = compare(rescore(record))
    assert again.differences == ()
    comparison = VerdictComparison(path)
    opened = open_replay(path, speed=None, listeners=[comparison])
    asyncio.run(opened.session.run(lambda snapshot: None))
    assert comparison.differences() == ()
    assert list(comparison.problems) == []
    assert comparison.compared > 50
