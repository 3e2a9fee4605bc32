"""Decisions about the band: add, stop, recover, how much, and what keeps a verdict back."""

import math
from dataclasses import replace
from typing import Any

import pytest

from chargeassist.guide import wording
from chargeassist.guide.charging import Findings, _figures, advise
from chargeassist.guide.conditions import ConditionState
from chargeassist.guide.cure import Remedy
from chargeassist.guide.fault_found import Fault
from chargeassist.guide.fault_terms import Cause
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Measured, TargetFacts
from tests.unit.guide.charging_facts import (
    COARSE_SCALE,
    JOB,
    condition,
    cure,
    said,
    settled,
    step,
)


@pytest.mark.parametrize(
    ("value_k", "expanded_k", "cause"),
    [
        (4.601, 0.4, "inside"),
        (5.399, 0.4, "inside"),
        (4.59, 0.4, "inside_not_certain"),
        (5.41, 0.4, "inside_not_certain"),
        (4.2, 0.4, "inside_not_certain"),
        (5.8, 0.4, "inside_not_certain"),
        (5.0, 0.799, "inside"),
        (5.0, 0.81, "inside_too_coarse"),
        (4.3, 5.0, "inside_too_coarse"),
        (5.8, None, "inside_undeclared"),
        (4.19, 0.4, "below_target"),
        (5.81, 0.4, "above_target"),
        (4.19, 5.0, "below_target"),
    ],
)
def test_decisions_about_the_band(value_k: float, expanded_k: float | None, cause: str) -> None:
    # JCGM 106:2012, section 8: accepted with certainty only a guard band U inside the limits.
    assert said(settled(value_k, expanded_k)).cause == cause


def test_conformance_is_shown_with_an_uncertain_stop() -> None:
    advice = said(settled(4.2, 0.4))
    # On the limit, with the other limit 8 u away, half the probability lies inside.
    assert advice.figures["conformance"] == pytest.approx(0.5, abs=1e-6)
    assert "but not certainly (50 % likely)" in wording.sentence(advice, UnitSystem.SI)
    # Half a standard uncertainty inside: 0.6915 of the normal law (printed in any table of it).
    for value_k in (4.3, 5.7):
        found = said(settled(value_k, 0.4)).figures["conformance"]
        assert found == pytest.approx(0.6915, abs=5e-5)


def test_the_figures_of_a_reading_name_what_its_target_was_looked_up_with() -> None:
    goal = TargetFacts(
        value_k=6.0,
        tolerance_k=2.8,
        floor_k=2.2,
        expanded_k=0.6,
        outdoor_k=308.0,
        wet_bulb_k=292.0,
    )
    every = {
        "subcooling_k": 5.0,
        "target_k": 6.0,
        "tolerance_k": 2.8,
        "expanded_k": 0.4,
        "floor_k": 2.2,
        "outdoor_k": 308.0,
        "wet_bulb_k": 292.0,
        "target_expanded_k": 0.6,
    }

    def figures(**changed: Any) -> dict[str, float]:
        facts = settled(5.0)
        assert facts.settled is not None
        return _figures(facts, facts.settled, replace(goal, **changed))

    assert figures() == every
    unknown = every.copy()
    del unknown["target_expanded_k"]
    assert figures(expanded_k=None) == unknown
    del unknown["outdoor_k"], unknown["wet_bulb_k"]
    assert figures(outdoor_k=None) == figures(wet_bulb_k=None) == unknown
    del unknown["floor_k"]
    assert figures(outdoor_k=None, floor_k=-math.inf) == unknown


def test_what_leaves_no_room_is_named_with_its_source() -> None:
    plate_kg = JOB.charge.plate_kg
    charge = replace(JOB.charge, limit_kg=plate_kg - 0.1, limit_source="A2L: room of 12 m2")
    over = said(settled(1.0, total_kg=plate_kg - 0.1), job=replace(JOB, charge=charge))
    assert (over.cause, over.subject) == ("up_to_limit", "A2L: room of 12 m2")
    assert over.figures == {"total_kg": plate_kg - 0.1, "full_kg": plate_kg - 0.1}
    wide = replace(charge, limit_kg=plate_kg + 0.1)
    full = said(settled(1.0, total_kg=plate_kg), job=replace(JOB, charge=wide))
    assert (full.cause, full.subject) == ("over_full", "")
    assert full.figures == {"total_kg": plate_kg, "full_kg": plate_kg}
    assert "conformance" not in said(settled(4.5, None)).figures


def test_coarse_instruments_are_named_as_such() -> None:
    text = wording.sentence(said(settled(5.0, 1.4)), UnitSystem.US)
    assert text == (
        "Stop: 9.0 ± 2.5 °F is inside 7.6 to 10.4 °F, but these instruments are too coarse to "
        "judge it"
    )


def test_a_stopped_charge_stays_stopped_on_the_edge_and_is_not_called_inside() -> None:
    previous = said(settled(4.3))
    for value_k in (4.25, 4.15, 4.05, 4.25, 4.01):
        previous = said(settled(value_k), previous)
        assert (previous.action, previous.cause) == (Action.STOP, "inside_not_certain")
        inside = " is inside " in wording.sentence(previous, UnitSystem.SI)
        assert inside is (value_k >= 4.2)
    assert said(settled(3.99), previous).action is Action.ADD
    assert said(settled(5.99), previous).action is Action.STOP
    assert said(settled(6.01), previous).action is Action.RECOVER


def test_a_fault_on_the_edge_of_the_band_does_not_flicker_with_the_reading() -> None:
    fault = Fault(cause=Cause.RESTRICTION, alternatives=(), chance=0.8, since_t=1.0)
    found = Findings(fault=fault)
    inside = advise(JOB, settled(4.25), None, found)
    assert inside.cause == "inside_but_fault"
    assert advise(JOB, settled(4.15), inside, found).cause == "inside_but_fault"
    assert advise(JOB, settled(3.9), inside, found).cause == "below_target"


def test_a_stop_that_never_was_inside_does_not_become_inside() -> None:
    previous = said(settled(4.1), job=COARSE_SCALE)
    assert previous.cause == "step_too_fine"
    assert said(settled(4.1), previous, COARSE_SCALE).cause == "step_too_fine"


def test_the_amount_does_not_flicker_with_the_reading() -> None:
    previous: Advice | None = None
    amounts = []
    for i in range(60):
        previous = said(settled(4.0 + (0.04 if i % 2 else -0.04)), previous)
        amounts.append(previous.mass_kg)
    assert len(set(amounts)) <= 2
    assert len(set(amounts[2:])) == 1


def test_a_kept_amount_shrinks_when_the_reading_drifts_up() -> None:
    previous = said(settled(1.0))
    assert previous.mass_kg == 0.11
    for i in range(31):
        value_k = 1.0 + 0.1 * i
        previous = said(settled(value_k), previous)
        fresh = said(settled(value_k))
        assert previous.mass_kg is not None
        assert fresh.mass_kg is not None
        # Never more than what the model calls prudent now: half as much again, at most, of what
        # would be proposed afresh, which also stops at the middle of the band.
        assert previous.mass_kg <= max(fresh.mass_kg * 1.5, fresh.mass_kg + 0.02)
    assert previous.mass_kg is not None
    assert previous.mass_kg < 0.09


def test_the_amount_never_passes_what_plate_and_line_set_leave() -> None:
    assert said(settled(1.0, total_kg=2.263)).mass_kg == 0.035
    assert said(settled(1.0, total_kg=2.296)).cause == "over_full"


def test_a_line_set_allowance_makes_room() -> None:
    job = replace(JOB, charge=replace(JOB.charge, allowance_kg=0.2))
    assert said(settled(1.0, total_kg=2.3), job=job).cause == "below_target"


def test_an_unknown_amount_does_not_stand_in_the_way_of_stopping_or_recovering() -> None:
    ledger = (step(None),)
    assert said(settled(5.0, ledger=ledger)).action is Action.STOP
    assert said(settled(7.0, ledger=ledger)).action is Action.RECOVER


@pytest.mark.parametrize(
    ("reading_k", "expanded_k", "refused"),
    [(-3.5, None, True), (-2.5, None, False), (-3.5, 1.0, False), (-4.5, 1.0, True)],
)
def test_a_reading_is_called_impossible_only_where_its_probes_cannot_explain_it(
    reading_k: float, expanded_k: float | None, *, refused: bool
) -> None:
    """By this program's default a line is another one from 3 K under zero on."""
    facts = settled(reading_k, subcooling=Measured(value_k=reading_k, expanded_k=expanded_k))
    assert (said(facts).cause == "impossible_subcooling") is refused


@pytest.mark.parametrize(
    ("value_k", "superheat_k", "cause"),
    [
        (1.5, 20.0, "below_target"),  # short of charge: both agree
        (3.5, 20.0, "not_the_charge"),  # a shortage shows superheat only without subcooling
        (5.0, 20.0, "not_the_charge"),
        (7.0, 20.0, "not_the_charge"),  # never recover against a restriction
        (3.0, 1.0, "low_superheat"),  # never add to a flooding evaporator
        (7.0, 1.0, "low_superheat"),
        (5.0, 14.3, "inside"),  # 13.9 K + 0.5 K of uncertainty
        (3.0, 1.9, "below_target"),
    ],
)
def test_superheat_that_contradicts(value_k: float, superheat_k: float, cause: str) -> None:
    assert said(settled(value_k, settled_superheat_k=superheat_k)).cause == cause


def test_superheat_on_its_limit_does_not_flicker() -> None:
    previous: Advice | None = None
    causes = []
    for i in range(20):
        superheat_k = 20.0 / 9.0 - 0.5 + (0.2 if i % 2 else -0.2)
        previous = said(settled(3.0, settled_superheat_k=superheat_k), previous)
        causes.append(previous.cause)
    assert set(causes) == {"low_superheat"}


def test_without_superheat_the_charge_is_judged_alone() -> None:
    facts = settled(3.0, settled_superheat_k=None, superheat=NoValue("no probes"))
    assert said(facts).cause == "below_target"


@pytest.mark.parametrize("superheat_k", [1.9, 14.2])
def test_a_superheat_whose_probe_has_just_fallen_silent_contradicts_nothing(
    superheat_k: float,
) -> None:
    """Its mean outlives it by half a minute, and nothing says any more how uncertain that is."""
    facts = settled(5.0, settled_superheat_k=superheat_k)
    assert said(facts).cause == "inside"
    silent = replace(facts, superheat=NoValue("no signal from suction pressure"))
    assert said(silent, said(facts)).cause == "inside"


@pytest.mark.parametrize("value_k", [3.0, 5.0, 7.0])
def test_an_unmet_condition_keeps_every_verdict_back(value_k: float) -> None:
    found = condition(LimitKey.OUTDOOR_LOW, ConditionState.UNMET, 285.9, 284.0)
    assert advise(JOB, settled(value_k), None, found).cause == "condition_outdoor_low"


@pytest.mark.parametrize("state", [ConditionState.MET, ConditionState.UNKNOWN])
def test_charging_goes_on_while_no_condition_is_known_to_be_broken(state: ConditionState) -> None:
    found = condition(LimitKey.OUTDOOR_LOW, state, 285.9)
    assert advise(JOB, settled(3.0), None, found).action is Action.ADD
    assert advise(JOB, settled(7.0), None, found).action is Action.RECOVER


def test_a_met_condition_lets_the_verdict_pass_and_an_open_one_does_not() -> None:
    for value_k in (5.0, 4.5):
        met = condition(LimitKey.AIRFLOW_LOW, ConditionState.MET, 4e-5)
        assert advise(JOB, settled(value_k), None, met).cause in {"inside", "inside_not_certain"}
        open_ = condition(LimitKey.AIRFLOW_LOW, ConditionState.UNKNOWN, 4e-5)
        advice = advise(JOB, settled(value_k), None, open_)
        assert (advice.cause, advice.subject) == ("inside_conditions_open", "airflow low")
        assert "no verdict while open: airflow low" in wording.reason(advice, UnitSystem.SI)
        # Coarse or undeclared probes are the graver reason and stay the one that is named.
        assert advise(JOB, settled(5.0, 1.3), None, open_).cause == "inside_too_coarse"
        assert advise(JOB, settled(5.0, None), None, open_).cause == "inside_undeclared"


def test_the_edge_of_the_band_is_kept_with_open_conditions_too() -> None:
    found = condition(LimitKey.AIRFLOW_LOW, ConditionState.UNKNOWN, 4e-5)
    previous = advise(JOB, settled(4.3), None, found)
    assert previous.cause == "inside_conditions_open"
    assert advise(JOB, settled(4.05), previous, found).action is Action.STOP
    assert advise(JOB, settled(4.05), None, found).action is Action.ADD


@pytest.mark.parametrize("remedy", list(Remedy))
def test_only_another_fault_keeps_a_short_charge_from_being_added_to(remedy: Remedy) -> None:
    advice = advise(JOB, settled(3.0), None, Findings(cure=cure(remedy)))
    assert (advice.cause == "not_the_cure") is (remedy is Remedy.FIX)
    if remedy is Remedy.FIX:
        assert advice.subject == Cause.RESTRICTION.value
        assert advice.figures == {"chance": 0.83}
    else:
        assert advice.action is Action.ADD


@pytest.mark.parametrize(("value_k", "cause"), [(5.0, "inside"), (7.0, "above_target")])
def test_a_diagnosis_does_not_speak_where_nothing_is_to_be_added(
    value_k: float, cause: str
) -> None:
    found = Findings(cure=cure(Remedy.FIX))
    assert advise(JOB, settled(value_k), None, found).cause == cause
