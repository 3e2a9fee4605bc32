"""Jobs judged by superheat: what is said, with which sign steps go, what is refused."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from chargeassist.guide import wording
from chargeassist.guide.ahead import ahead
from chargeassist.guide.charging import Findings, advise
from chargeassist.guide.step_size import (
    PRIORS,
    STEP_SHAPE_RELATIVE_SD,
    aim_of,
    learnt_gain,
    level_sd_k,
    next_step_kg,
    steps_left,
)
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.judged import SUPERHEAT
from chargeassist.model.limits import Method
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import (
    ChargeStep,
    Facts,
    Forecast,
    Measured,
    SettleState,
    Settling,
    TargetFacts,
)
from tests.unit.guide.bare_facts import bare_facts

JOB = Job(
    name="invented",
    refrigerant="R-410A",
    target=Target(method=Method.SUPERHEAT, tolerance_k=25.0 / 9.0, source="invented"),
    charge=ChargeLimits(plate_kg=3.0, step_cap_kg=0.11, weighed_in_kg=2.3),
    site=Site(altitude_m=0.0),
)
TARGET = TargetFacts(
    value_k=7.0, tolerance_k=25.0 / 9.0, expanded_k=1.2, basis="published table",
    outdoor_k=KELVIN_AT_0_C + 30.0, wet_bulb_k=KELVIN_AT_0_C + 18.0, wet_bulb_told_by="probe",
    floor_k=20.0 / 9.0,
)  # fmt: skip


def settled(value_k: float, expanded_k: float | None = 0.6, **changes: object) -> Facts:
    """Return a tick at which all is well and superheat has settled; `changes` are made to it."""
    reading = Measured(value_k=value_k, expanded_k=expanded_k)
    facts = bare_facts(
        t=1000.0,
        subcooling=Measured(value_k=4.0, expanded_k=0.5),
        superheat=reading,
        liquid_saturation_k=312.0,
        suction_saturation_k=277.0,
        settling=Settling(state=SettleState.SETTLED, cause="settled", since_s=300.0),
        settled=reading,
        settled_superheat_k=value_k,
        settled_subcooling_k=4.0,
        total_kg=2.3,
        judged=SUPERHEAT,
        target=TARGET,
    )
    return replace(facts, **changes)  # type: ignore[arg-type]


def said(facts: Facts, previous: Advice | None = None) -> Advice:
    return advise(JOB, facts, previous, Findings())


def moving(cause: str) -> Facts:
    settling = Settling(state=SettleState.MOVING, cause=cause, since_s=100.0, slope_k_per_s=-0.01)
    return settled(12.0, settled=None, settling=settling)


CASES: dict[str, tuple[Action, Callable[[], Advice]]] = {
    "superheat_settling": (Action.WAIT, lambda: said(moving("falling"))),
    "superheat_over_target": (Action.ADD, lambda: said(settled(14.0))),
    "superheat_under_target": (Action.RECOVER, lambda: said(settled(3.0))),
    "no_superheat": (
        Action.FIX_FIRST,
        lambda: said(settled(9.0, superheat=NoValue("no probes"), settled=None)),
    ),
    "no_target": (
        Action.FIX_FIRST,
        lambda: said(settled(9.0, target=NoValue("the table has no value"))),
    ),
    "impossible_superheat": (Action.FIX_FIRST, lambda: said(settled(-4.0))),
    "restricted": (Action.FIX_FIRST, lambda: said(settled(14.0, settled_subcooling_k=12.0))),
    "overfed": (Action.FIX_FIRST, lambda: said(settled(3.0, settled_subcooling_k=0.2))),
}


@pytest.mark.parametrize("cause", sorted(CASES))
def test_each_cause_comes_from_its_facts_and_has_words(cause: str) -> None:
    action, make = CASES[cause]
    advice = make()
    assert (advice.action, advice.cause) == (action, cause)
    for system in UnitSystem:
        assert wording.sentence(advice, system)


def test_nothing_hunts_behind_a_fixed_orifice() -> None:
    words = wording.sentence(said(moving("hunting")), UnitSystem.SI)
    assert "superheat swings" in words
    assert "valve" not in words


def test_a_high_superheat_calls_for_refrigerant_and_a_low_one_for_less() -> None:
    high, low = said(settled(14.0)), said(settled(3.0))
    assert high.action is Action.ADD
    assert high.mass_kg is not None
    assert 0.0 < high.mass_kg <= JOB.charge.step_cap_kg
    assert low.action is Action.RECOVER
    assert low.mass_kg is not None
    assert 0.0 < low.mass_kg <= JOB.charge.step_cap_kg


def test_a_subcooling_whose_probe_has_just_fallen_silent_contradicts_nothing() -> None:
    """High superheat, and a subcooling within its uncertainty of the limit: a shortage."""
    facts = settled(12.0, settled_subcooling_k=JOB.target.subcooling_high_k + 0.3)
    assert said(facts).action is Action.ADD
    silent = replace(facts, subcooling=NoValue("no signal from liquid pressure"))
    assert said(silent).action is Action.ADD


def test_the_sentence_says_what_the_target_is_and_why() -> None:
    words = wording.sentence(said(settled(14.0)), UnitSystem.US)
    assert "superheat of 25.2 ± 1.1 °F settled, target is 7.6 to 17.6 °F" in words
    assert "(table: 86.0 °F outdoors, return wet bulb 64.4 °F)" in words


def test_inside_is_judged_with_the_uncertainty_of_the_target_as_well() -> None:
    sure = said(settled(7.0))
    assert (sure.action, sure.cause) == (Action.STOP, "inside")
    # 1.5 K from the edge: outside the reading's own U of 0.6 K, inside that of reading and target
    # together, hypot(0.6, 1.2) = 1.34 K; guarded acceptance of JCGM 106:2012, section 8.
    near = settled(7.0 + 25.0 / 9.0 - 1.0)
    assert said(near).cause == "inside_not_certain"
    by_number = replace(TARGET, expanded_k=0.0)
    assert said(replace(near, target=by_number)).cause == "inside"
    undeclared = replace(TARGET, expanded_k=None)
    assert said(settled(7.0, target=undeclared)).cause == "inside_undeclared"
    coarse = replace(TARGET, expanded_k=3.0)
    assert said(settled(7.0, target=coarse)).cause == "inside_too_coarse"


def test_less_superheat_than_protects_the_compressor_is_never_inside() -> None:
    low = replace(TARGET, value_k=3.0)  # 3.0 ± 2.8 K would reach down to 0.2 K
    advice = said(settled(1.5, target=low))
    assert (advice.action, advice.cause) == (Action.RECOVER, "superheat_under_target")
    assert "liquid may reach the compressor" in wording.sentence(advice, UnitSystem.SI)
    assert said(settled(3.0, target=low)).action is Action.STOP


def test_the_target_moving_with_the_weather_re_opens_a_stopped_charge() -> None:
    stopped = said(settled(8.0))
    assert stopped.action is Action.STOP
    cooler = replace(TARGET, value_k=12.0)
    assert said(settled(8.0, target=cooler), stopped).action is Action.RECOVER
    hotter = replace(TARGET, value_k=4.0)
    assert said(settled(8.0, target=hotter), stopped).action is Action.ADD


def test_a_proposed_amount_stays_while_it_is_read() -> None:
    first = said(settled(14.0))
    assert said(settled(13.95), first).mass_kg == first.mass_kg


def step(gain_k_per_kg: float, after_k: float = 10.0) -> ChargeStep:
    return ChargeStep(
        number=1, mass_kg=0.1, begun_t=1.0, ended_t=2.0, measured_by="scale",
        before_k=after_k - 0.1 * gain_k_per_kg, after_k=after_k,
        gain_k_per_kg=gain_k_per_kg, gain_over_kg=0.1,
    )  # fmt: skip


def test_the_gain_is_learnt_from_steps_that_lower_superheat() -> None:
    prior = learnt_gain(3.0, (), judged=SUPERHEAT)
    assert prior.mean_k_per_kg == pytest.approx(PRIORS[SUPERHEAT].gain_k_per_plate / 3.0)
    flat = learnt_gain(3.0, (step(-8.0), step(-8.0), step(-8.0)), judged=SUPERHEAT)
    assert 8.0 < flat.mean_k_per_kg < 12.0
    assert flat.sd_k_per_kg < prior.sd_k_per_kg
    # A step after which superheat rose teaches nothing about charging, nor one that ended flooded.
    assert learnt_gain(3.0, (step(8.0),), judged=SUPERHEAT) == prior
    assert learnt_gain(3.0, (step(-8.0, 0.5),), judged=SUPERHEAT) == prior


def test_a_flatter_unit_is_given_larger_steps_and_no_step_passes_the_middle() -> None:
    job = replace(JOB, charge=replace(JOB.charge, step_cap_kg=5.0))
    aim = aim_of(job, TARGET)
    steep = learnt_gain(3.0, tuple(step(-40.0) for _ in range(5)), judged=SUPERHEAT)
    flat = learnt_gain(3.0, tuple(step(-8.0) for _ in range(5)), judged=SUPERHEAT)
    assert next_step_kg(aim, flat, 14.0, 0.6) > next_step_kg(aim, steep, 14.0, 0.6) > 0.0
    for gain in (steep, flat):
        mass_kg = next_step_kg(aim, gain, 14.0, 0.6)
        assert 14.0 - gain.mean_k_per_kg * mass_kg >= TARGET.value_k - 0.1
    assert steps_left(aim_of(JOB, TARGET), flat, 14.0, 0.6) > 2


def test_a_moving_target_cannot_be_asked_of_the_job_alone() -> None:
    with pytest.raises(ValueError, match="moves"):
        aim_of(JOB)


def test_a_step_too_fine_for_the_scale_names_the_side_the_superheat_is_on() -> None:
    coarse = replace(JOB, charge=replace(JOB.charge, scale_resolution_kg=0.5))
    advice = advise(coarse, settled(10.5), None)
    assert (advice.action, advice.cause) == (Action.STOP, "step_too_fine")
    words = wording.reason(advice, UnitSystem.SI)
    assert words.startswith("10.5 ± 0.6 K is over 4.2 to 9.8 K")


def test_a_step_leaves_room_above_the_least_superheat_not_above_the_bare_tolerance() -> None:
    """The band of 5 ± 5 °F ends at 4 °F, which protects the compressor, and not at 0 °F.

    Among units and readings as uncertain as the advice assumes, no more than the limit's share
    come below the 4 °F (checked with random numbers).
    """
    goal = replace(TARGET, value_k=25.0 / 9.0)  # the table's least, 5 °F
    aim = aim_of(JOB, goal)
    gain = learnt_gain(JOB.charge.plate_kg, (), 0.6, SUPERHEAT)
    tight = replace(aim, cap_kg=10.0)
    start_k = goal.high_k + 0.3
    mass_kg = next_step_kg(tight, gain, start_k, 0.6)
    assert mass_kg > 0.0
    random = np.random.default_rng(7)
    gains = random.normal(gain.mean_k_per_kg, gain.sd_k_per_kg, 200_000)
    gains *= random.normal(1.0, STEP_SHAPE_RELATIVE_SD, gains.size)
    level_k = random.normal(0.0, level_sd_k(goal.tolerance_k, 0.6, SUPERHEAT), gains.size)
    below = np.mean(start_k - gains * mass_kg + level_k < goal.floor_k)
    assert below <= aim.overshoot_chance * 1.1


def test_a_forecast_under_the_least_superheat_is_said_to_pass_the_band() -> None:
    goal = replace(TARGET, value_k=25.0 / 9.0)
    forecast = Forecast(value_k=3.0, low_k=1.5, high_k=4.0, seconds=60.0)
    settling = Settling(state=SettleState.MOVING, cause="falling", since_s=100.0, forecast=forecast)
    found = ahead(JOB, settled(5.0, settled=None, settling=settling, target=goal))
    assert found is not None
    assert found.may_pass
