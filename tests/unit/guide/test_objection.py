"""What speaks against recovering or stopping: each piece of advice is reached and worded."""

from dataclasses import replace
from typing import Any

import pytest

from chargeassist.guide import fault_wording, wording
from chargeassist.guide.cure import refrigerant_is_cure
from chargeassist.guide.diagnosis import Diagnosis, FeatureReading, diagnose
from chargeassist.guide.fault_found import Fault
from chargeassist.guide.fault_terms import Cause, Feature
from chargeassist.guide.objection import (
    before_recovering,
    instead_of_stopping,
    standing_shifted,
)
from chargeassist.guide.standing import Standing
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice, FaultJudged
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.physics.standing_check import StandingCheck, StandingVerdict
from chargeassist.stream.facts import ChargeStep, Facts, Measured
from tests.unit.guide.bare_facts import bare_facts

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=2.2),
    site=Site(altitude_m=0.0),
)


def facts(subcooling_k: float, total_kg: float = 2.2, *ledger: ChargeStep) -> Facts:
    measured = Measured(value_k=subcooling_k, expanded_k=0.7)
    return bare_facts(
        t=500.0,
        subcooling=measured,
        superheat=measured,
        settled=measured,
        settled_superheat_k=6.0,
        ledger=ledger,
        total_kg=total_kg,
        values={Role.OUTDOOR_AIR_TEMPERATURE: 305.0},
    )


def high_head() -> Diagnosis:
    """High head with high subcooling and normal superheat."""
    return diagnose(
        [
            FeatureReading(feature=feature, value_si=d, expected_si=0.0, tolerance_si=1.0)
            for feature, d in (
                (Feature.SUBCOOLING, 4.0), (Feature.CONDENSING, 3.0), (Feature.SUPERHEAT, 0.0),
            )
        ]
    )  # fmt: skip


def standing(verdict: StandingVerdict, offset_pa: float) -> Standing:
    check = StandingCheck(
        verdict=verdict, offset_pa=offset_pa, expanded_pa=2e4, limit_pa=4e4,
        subcooling_shift_k=offset_pa / 43e3,
    )  # fmt: skip
    return Standing(t=100.0, told_by="technician", check=check)


def worded(advice: Advice | None, cause: str) -> str:
    assert advice is not None
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, cause)
    for system in UnitSystem:
        text = wording.sentence(advice, system)
        assert text == " ".join(text.split())
        for never in ("perfect", "top off", "safe", "nan", "None", "{", "}"):
            assert never not in text
    return wording.sentence(advice, UnitSystem.SI)


def asked(of: Facts, check: Standing | None = None, diagnosis: Diagnosis | None = None) -> object:
    ranked = diagnosis or high_head()
    return before_recovering(JOB, of, ranked, refrigerant_is_cure(ranked), check)


def test_high_head_is_checked_at_rest_before_anything_is_recovered() -> None:
    advice = asked(facts(9.0))
    assert isinstance(advice, Advice)
    assert "stop the unit" in worded(advice, "check_standing")


def test_what_the_scale_explains_is_recovered() -> None:
    assert asked(facts(9.0, 2.6)) is None


def test_what_the_last_step_explains_is_recovered() -> None:
    def step(before_k: float) -> ChargeStep:
        return ChargeStep(
            number=1, mass_kg=0.1, begun_t=300.0, ended_t=400.0, measured_by="scale",
            before_k=before_k,
        )  # fmt: skip

    assert asked(facts(6.2, 2.2, step(5.0))) is None
    assert asked(facts(12.0, 2.2, step(3.0))) is not None


def given(number: int, before_k: float | None, mass_kg: float, **changes: Any) -> ChargeStep:
    step = ChargeStep(
        number=number, mass_kg=mass_kg, begun_t=300.0 * number, ended_t=300.0 * number + 60.0,
        measured_by="scale", before_k=before_k,
    )  # fmt: skip
    return replace(step, **changes)


def test_an_excess_that_was_there_before_the_last_step_is_not_explained_by_it() -> None:
    """9 K with gas in the circuit; recovered all the same, and hardly anything changed."""
    assert asked(facts(8.6, 2.15, given(1, 9.0, -0.05))) is not None
    assert asked(facts(8.2, 2.1, given(1, 9.0, -0.05), given(2, 8.6, -0.05))) is not None
    assert asked(facts(9.4, 2.25, given(1, 9.0, 0.05))) is not None


def test_an_excess_by_an_earlier_step_is_recovered_until_it_is_gone() -> None:
    """Overshot from 4 K by a tenth of a kilogram, and half of that recovered since."""
    over = given(1, 4.0, 0.1)
    assert asked(facts(7.0, 2.3, over)) is None
    assert asked(facts(6.3, 2.27, over, given(2, 7.0, -0.03))) is None
    # Several steps too quick to settle in between: together they explain it.
    assert asked(facts(8.0, 2.35, over, given(2, None, 0.05))) is None
    # Nothing before another probe compares with now.
    changed = replace(over, probe_changed=True)
    assert asked(facts(6.3, 2.27, changed, given(2, 7.0, -0.03))) is not None


@pytest.mark.parametrize(("offset_pa", "cause"), [(9e4, "standing_high"), (-9e4, "standing_low")])
def test_a_shifted_standing_pressure_forbids_judging(offset_pa: float, cause: str) -> None:
    text = worded(standing_shifted(facts(9.0), standing(StandingVerdict.SHIFTED, offset_pa)), cause)
    assert "90 kPa (2.1 K)" in text


def test_a_standing_pressure_that_agrees_forbids_nothing() -> None:
    agrees = standing(StandingVerdict.AGREES, 1e3)
    assert standing_shifted(facts(9.0), agrees) is None
    assert agrees.likelihood()[Cause.NON_CONDENSABLES] < 0.1
    assert agrees.likelihood()[Cause.OVERCHARGE] > 0.9
    assert not standing(StandingVerdict.TOO_COARSE, 1e3).decided


def test_a_fault_that_stands_comes_before_stopping() -> None:
    inside = Advice(
        t=1.0, action=Action.STOP, cause="inside",
        figures={"subcooling_k": 5.0, "expanded_k": 0.7, "target_k": 5.0, "tolerance_k": 0.8},
    )  # fmt: skip
    assert instead_of_stopping(facts(5.0), None, inside) is inside
    fault = Fault(
        cause=Cause.LOW_INDOOR_AIRFLOW, alternatives=(Cause.RESTRICTION,), chance=0.8, since_t=9.0
    )
    text = worded(instead_of_stopping(facts(5.0), fault, inside), "inside_but_fault")
    assert "indoor coil short of air or liquid line restricted" in text


def test_findings_are_worded() -> None:
    hunts = FaultJudged(
        t=1.0, found=True, cause="expansion valve hunts", next_check="check the bulb",
        figures={"period_s": 41.0, "swing_k": 9.0},
    )  # fmt: skip
    assert fault_wording.fault(hunts, UnitSystem.SI) == (
        "found: expansion valve hunts, period about 40 s, superheat by 9.0 K; next: check the bulb"
    )
    gone = FaultJudged(t=1.0, found=False, cause="indoor coil short of air", chance=0.1)
    assert fault_wording.fault(gone, UnitSystem.SI).startswith("no longer: indoor coil")


def test_without_outdoor_air_nobody_can_tell_that_the_head_is_high() -> None:
    assert asked(facts(9.0)) is not None
    assert asked(replace(facts(9.0), values={})) is None
