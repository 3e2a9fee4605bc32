"""Stages worked on from typed readings alone: real sessions over simulated circuits without probes.

The circuits are invented; what is judged is what they truly are.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.model.channels import Accuracy
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckJudged, CheckResult, Mark, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.session.record.package import open_record
from tests.scenarios.typist import Truth, Typist, work_by_hand

STATION_PA = 98_827.0  # 210 m


def by_eye(entry: Entry, so: Truth) -> float:
    """A dial of 10 kPa, a thermometer of 0.2 K, a micron gauge of 5 microns."""
    match entry:
        case Entry.TEST_PRESSURE:
            return round((so["pressure_pa_abs"] - STATION_PA) / 1e4) * 1e4
        case Entry.LIQUID_PIPE:
            return round(so["outdoor_pipe_k"] / 0.2) * 0.2
        case Entry.SUCTION_PIPE:
            return round(so["indoor_pipe_k"] / 0.2) * 0.2
        case Entry.VACUUM:
            return (
                max(round(so["far_pa_abs"] / PASCAL_PER_MICRON / 5.0) * 5.0, 5.0)
                * PASCAL_PER_MICRON
            )
        case _:
            raise AssertionError(entry)


def declared(job: Job) -> Job:
    plan = job.stages
    return replace(
        job,
        stages=replace(
            plan,
            tightness=replace(
                plan.tightness,
                gauge_accuracy=Accuracy(absolute_si=20e3),
                thermometer_accuracy=Accuracy(absolute_si=0.5),
            ),
            dryness=replace(plan.dryness, gauge_accuracy=Accuracy(absolute_si=0.0, relative=0.1)),
        ),
    )


def accuracy(*, known: bool) -> Callable[[Job], Job]:
    return declared if known else lambda job: job


def typed(events: Sequence[object], entry: Entry) -> int:
    return sum(
        isinstance(each, Mark) and each.kind is MarkKind.ENTERED and each.text == entry.value
        for each in events
    )


NITROGEN_ENDS = frozenset({"tightness_over", "nitrogen_leaks", "rising_alone", "tight_doubted"})


@pytest.mark.parametrize("known", [False, True])
async def test_nitrogen_is_raised_and_stands_by_typed_readings(
    tmp_path: Path, *, known: bool
) -> None:
    typist = Typist(Stage.TIGHTNESS, by_eye, NITROGEN_ENDS)
    change = accuracy(known=known)
    events = await work_by_hand("nitrogen-tight", typist, tmp_path / "job.session", change)
    (check,) = [each for each in events if isinstance(each, CheckJudged)]
    assert check.check == "standing_pressure"
    # Begin and end alone are never certain, whatever the gauge.
    assert (check.result, check.cause) == (CheckResult.PASS_NOT_CERTAIN, "found_tight")
    assert any("without declared accuracy" in each for each in check.sources) is not known
    assert check.figures["readings"] == 2.0
    assert check.figures["smallest_pa_per_h"] > 10e3  # an hour by eye sees no small leak
    assert typed(events, Entry.SUCTION_PIPE) == 2
    assert typist.causes[-1] == "tightness_over"
    assert {"nitrogen_reached", "nitrogen_hold", "read_after_hold", "warm_from_filling",
            "read_begin", "standing_by_hand", "read_end"} <= set(typist.causes)  # fmt: skip
    with open_record(tmp_path / "job.session") as record:
        assert record.verify().problems == ()


async def test_a_leak_too_small_for_the_eye_passes_with_what_could_have_been_seen(
    tmp_path: Path,
) -> None:
    """One per cent an hour, 38 kPa, is less than two readings by eye can tell."""
    typist = Typist(Stage.TIGHTNESS, by_eye, NITROGEN_ENDS)
    events = await work_by_hand("nitrogen-leak", typist, tmp_path / "job.session", declared)
    check = next(each for each in events if isinstance(each, CheckJudged))
    assert check.result is CheckResult.PASS_NOT_CERTAIN
    assert check.figures["smallest_pa_per_h"] > 2.0 * 38e3
    assert check.figures["change_pa"] < 0.0


@pytest.mark.parametrize(
    ("name", "known", "result", "cause"),
    [
        # A gauge whose accuracy nobody declared passes nothing for certain.
        ("vacuum-dry", True, CheckResult.PASS, "found_dry"),
        ("vacuum-dry", False, CheckResult.PASS_NOT_CERTAIN, "found_dry"),
        ("vacuum-moist", False, CheckResult.FAIL, "found_moist"),
        ("vacuum-ice", False, CheckResult.FAIL, "found_moist"),
        ("vacuum-leak", False, CheckResult.FAIL, "found_leak"),
    ],
)
async def test_a_vacuum_is_judged_by_typed_readings(
    tmp_path: Path, name: str, *, known: bool, result: CheckResult, cause: str
) -> None:
    ends = frozenset({"dry", "moist", "moist_and_leaking", "vacuum_leak"})
    shut = {"pull_stalled": MarkKind.VALVE_SHUT, "water_boils": MarkKind.VALVE_SHUT}
    typist = Typist(Stage.DRYNESS, by_eye, ends, before=shut, looks_every_s=150.0)
    events = await work_by_hand(name, typist, tmp_path / "job.session", accuracy(known=known))
    check = next(each for each in events if isinstance(each, CheckJudged))
    assert (check.result, check.cause) == (result, cause)
    assert check.figures["readings"] >= 5.0
    assert {"read_vacuum", "read_vacuum_rise", "rising_by_hand"} <= set(typist.causes)
