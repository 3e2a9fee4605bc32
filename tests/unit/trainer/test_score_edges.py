"""Drills at the edges of the rule: what nobody could see, and what nobody did. All invented."""

from collections.abc import Callable
from pathlib import Path

import pytest

from chargeassist.model.events import Event, Mark, MarkKind, Settled, StepRecorded
from chargeassist.model.limits import Method
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.trainer.result import JudgedCall
from chargeassist.trainer.score import Reference, score
from chargeassist.trainer.truth import (
    NOTICED_S,
    Stretch,
    stretch_at,
    told_stretches,
    told_target_k,
    true_stretches,
    true_target_k,
)
from tests.unit.trainer.playing import by_rule, played

JOB = find_scenario("clean-charge", Path()).job
NOTHING: Callable[[float], frozenset[str]] = lambda t: frozenset()  # noqa: E731

UNIT = """
title = "One of our own"
about = "Invented."
expect = "stop"
lasts = "40 min"
seed = 7
technician = "script"
job = "library"

[plant]
charge = "{charge}"

[weather]
outdoor = "24 °C"
return_air = "24 °C"
return_wet_bulb = "17.2 °C"
gusts = "0 K"
"""
RESTRICTION = """
[[fault]]
kind = "liquid line restriction"
amount = "400 kPa"
at = "15 min"
"""


def scenario(tmp_path: Path, text: str) -> str:
    file = tmp_path / "own.toml"
    file.write_text(text, encoding="utf-8")
    return str(file)


def test_a_fault_that_comes_later_is_no_overshoot_of_who_added_before_it(tmp_path: Path) -> None:
    place = scenario(tmp_path, UNIT.format(charge="2.10 kg") + RESTRICTION)
    text = "6:30 settled\n6:40 add 60 g\n11:00 settled\n+2 min settled\n16:00 fix: restriction"
    result = played(place, text, tmp_path)
    assert result.faults == ("restriction",)
    assert by_rule(result.parts) == {}, "all of it was right"


def test_a_machine_emptied_until_it_stops_is_no_charge_that_is_right(tmp_path: Path) -> None:
    place = scenario(tmp_path, UNIT.format(charge="1.90 kg"))
    result = played(place, "6:40 recover 1.5 kg\n12:00 stop", tmp_path)
    assert by_rule(result.parts)["end"] == 20.0


def test_what_is_in_when_a_drill_ends_with_the_valve_open_is_overshot_too(tmp_path: Path) -> None:
    place = scenario(tmp_path, UNIT.format(charge="1.90 kg"))
    lost = by_rule(played(place, "6:40 add 4 kg\n25:00 stop", tmp_path).parts)
    assert lost["too much"] == 10.0
    assert lost["overshoot"] == 40.0
    assert lost["end"] == 20.0


def test_a_switch_that_opens_by_what_was_added_is_the_worst_overshoot() -> None:
    stretches = [Stretch(0.0, 200.0, 3.0), Stretch(300.0, None, None, over_pressure=True)]
    calls = (
        JudgedCall(t=290.0, kind="add", mass_kg=0.1),
        JudgedCall(t=500.0, kind="stop"),
    )
    reference = Reference(stretches=stretches, faults_at=NOTHING, end_t=500.0)
    assert by_rule(score(JOB, calls, reference)[1]) == {"overshoot": 40.0, "end": 20.0}


@pytest.mark.parametrize(("middle_k", "points"), [(5.3, 0.0), (3.0, 20.0), (None, 20.0)])
def test_of_a_machine_that_swings_the_middle_is_what_is_charged(
    middle_k: float | None, points: float
) -> None:
    reference = Reference(
        stretches=[Stretch(0.0, None, None, middle_k=middle_k)], faults_at=NOTHING, end_t=500.0
    )
    calls = (JudgedCall(t=500.0, kind="stop"),)
    assert by_rule(score(JOB, calls, reference)[1]).get("end", 0.0) == points


def test_a_target_read_from_the_table_can_be_missed_too(tmp_path: Path) -> None:
    result = played("fixed-orifice", "7:00 settled\n+5 s stop", tmp_path)
    assert result.judged == "superheat"
    assert by_rule(result.parts)["end"] == 20.0, "far short of charge"


def test_what_happens_by_itself_is_held_against_nobody_before_it_could_be_seen() -> None:
    stretches = [Stretch(0.0, 200.0, 5.0), Stretch(400.0, 600.0, 8.0, unseen_s=NOTICED_S)]
    there = frozenset({"restriction"})
    reference = Reference(
        stretches=stretches,
        faults_at=lambda t: there if t >= 400.0 else frozenset(),
        end_t=406.0,
    )
    calls = (
        JudgedCall(t=250.0, kind="settled", reading_k=5.0),
        JudgedCall(t=401.0, kind="settled", reading_k=5.0),
        JudgedCall(t=402.0, kind="add", mass_kg=0.05),
        JudgedCall(t=405.0, kind="stop"),
    )
    lost = by_rule(score(JOB, calls, reference)[1])
    assert "early" not in lost
    assert "too soon" not in lost
    assert "end" not in lost
    assert "wrong cure" not in lost
    assert stretch_at(stretches, 409.0) is stretches[0]
    assert stretch_at(stretches, 411.0) is stretches[1]


def test_refrigerant_added_in_the_moment_a_fault_begins_is_no_wrong_cure() -> None:
    there = frozenset({"restriction"})
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 3.0)],
        faults_at=lambda t: there if t >= 400.0 else frozenset(),
        end_t=700.0,
    )
    fixed = JudgedCall(t=700.0, kind="fix", fix="restriction")
    for t, points in ((403.0, 0.0), (420.0, 30.0)):
        calls = (JudgedCall(t=t, kind="add", mass_kg=0.05), fixed)
        assert by_rule(score(JOB, calls, reference)[1]).get("wrong cure", 0.0) == points


@pytest.mark.parametrize(
    ("told", "points"),
    [
        ((Stretch(0.0, 100.0, 3.0),), 6.0),  # 300 s after it settled, 120 s of them free
        ((Stretch(0.0, 320.0, 3.0),), 0.0),
        ((Stretch(0.0, None, None),), 0.0),
    ],
)
def test_where_nothing_is_called_the_tool_is_still_not_to_be_beaten(
    told: tuple[Stretch, ...], points: float
) -> None:
    # The stretch ends by itself, before anybody called anything.
    stretches = [Stretch(0.0, 100.0, 3.0), Stretch(400.0, 600.0, 5.0)]
    calls = (
        JudgedCall(t=610.0, kind="settled", reading_k=5.0),
        JudgedCall(t=620.0, kind="stop"),
    )
    reference = Reference(stretches=stretches, faults_at=NOTHING, end_t=620.0, told=told)
    assert by_rule(score(JOB, calls, reference)[1]).get("waiting", 0.0) == points


def test_a_stretch_at_another_frequency_says_nothing_of_the_charge() -> None:
    stretches = [
        Stretch(0.0, 200.0, 3.0),
        Stretch(300.0, 400.0, 5.0),
        Stretch(700.0, 800.0, 9.0, held=False),
    ]
    calls = (
        JudgedCall(t=290.0, kind="add", mass_kg=0.05),
        JudgedCall(t=410.0, kind="settled", reading_k=5.0),
        JudgedCall(t=720.0, kind="fix", fix="frequency"),
    )
    there = frozenset({"frequency"})
    reference = Reference(
        stretches=stretches,
        faults_at=lambda t: there if t >= 705.0 else frozenset(),
        end_t=720.0,
    )
    assert "overshoot" not in by_rule(score(JOB, calls, reference)[1])


@pytest.mark.parametrize(("t", "points"), [(405.0, 0.0), (420.0, 30.0)])
def test_what_has_just_gone_by_itself_may_still_be_called(t: float, points: float) -> None:
    there = frozenset({"frequency"})
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 5.0)],
        faults_at=lambda at: there if at < 400.0 else frozenset(),
        end_t=500.0,
    )
    calls = (JudgedCall(t=t, kind="fix", fix="frequency"), JudgedCall(t=500.0, kind="stop"))
    assert by_rule(score(JOB, calls, reference)[1]).get("wrong cure", 0.0) == points


def test_a_frequency_put_right_by_hand_is_not_disturbed_by_coming_right_by_itself() -> None:
    drop = find_scenario("frequency-drop", Path())
    assert drop.unit is not None
    dropped_s, back_s = (t for t, _ in drop.unit.commands[-2:])
    held = Mark(t=dropped_s + 10.0, kind=MarkKind.FREQUENCY_HELD)
    begins = [
        [each.begin_t for each in true_stretches(drop.unit, marks, back_s, drop.job)]
        for marks in ((), (held,))
    ]
    assert back_s in begins[0]
    assert back_s not in begins[1]
    assert dropped_s in begins[1]


def test_the_target_of_a_recording_is_what_the_tool_last_read_in_the_table() -> None:
    orifice = find_scenario("fixed-orifice", Path())
    assert orifice.unit is not None
    told = [
        Settled(t=t, superheat_k=9.0, judged=Method.SUPERHEAT, target_k=target_k)
        for t, target_k in ((100.0, 6.0), (200.0, 6.5))
    ]
    assert told_target_k(orifice.job, told) == 6.5
    assert told_target_k(orifice.job, []) is None
    assert told_target_k(JOB, told) == true_target_k(orifice.unit, JOB) == JOB.target.fixed_k


def test_an_amount_told_late_begins_no_stretch() -> None:
    """The ledger repeats a step under its number when its amount is told; nothing has moved."""
    told: list[Event] = [
        StepRecorded(
            t=70.0, number=1, mass_kg=None, begun_t=10.0, ended_t=70.0, measured_by="technician"
        ),
        Settled(t=300.0, subcooling_k=4.0),
        StepRecorded(
            t=400.0, number=1, mass_kg=0.1, begun_t=10.0, ended_t=70.0, measured_by="technician"
        ),
    ]
    assert [(s.begin_t, s.settled_t) for s in told_stretches(told)] == [(0.0, None), (70.0, 300.0)]
