"""The proposed step: what is learnt, what is prudent, and the chance of overshoot by simulation."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargeassist.guide.step_size import (
    OVERSHOOT_CHANCE,
    PRIOR_GAIN_K_PER_PLATE,
    PRIOR_RELATIVE_SD,
    STEP_NOISE_K,
    STEP_SHAPE_RELATIVE_SD,
    Gain,
    aim_of,
    excess_kg,
    largest_kg,
    learnt_gain,
    level_sd_k,
    next_step_kg,
    prudent_mass_kg,
    round_down,
    seconds_left,
    steps_left,
)
from chargeassist.guide.wording import sentence
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.stream.facts import ChargeStep

PLATE_KG = 2.3
JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=PLATE_KG, step_cap_kg=0.11),
    site=Site(altitude_m=0.0),
)
DRAWS = 100_000


def step(gain: float | None, mass_kg: float | None = 0.1, over: float | None = None) -> ChargeStep:
    return ChargeStep(
        number=1,
        mass_kg=mass_kg,
        begun_t=0.0,
        ended_t=1.0,
        measured_by="scale",
        gain_k_per_kg=gain,
        gain_over_kg=over,
    )


LEARNT = {
    "nothing": (),
    "one": (step(14.0),),
    "three alike": (step(14.0), step(13.0), step(15.0)),
    "six large": tuple(step(25.0) for _ in range(6)),
    "three small steps": tuple(step(9.0, 0.02) for _ in range(3)),
}


def test_before_any_step_the_prior_stands() -> None:
    gain = learnt_gain(PLATE_KG, ())
    assert gain.mean_k_per_kg == pytest.approx(PRIOR_GAIN_K_PER_PLATE / PLATE_KG)
    assert gain.sd_k_per_kg == pytest.approx(PRIOR_RELATIVE_SD * gain.mean_k_per_kg)


def test_one_step_gives_the_posterior_of_two_normals() -> None:
    # Gelman et al., Bayesian Data Analysis, 3rd edition, section 2.5, equation 2.10.
    prior, prior_var = 33.0 / PLATE_KG, (0.4 * 33.0 / PLATE_KG) ** 2
    seen, seen_var = 20.0, (STEP_NOISE_K / 0.1) ** 2 + (STEP_SHAPE_RELATIVE_SD * 20.0) ** 2
    gain = learnt_gain(PLATE_KG, (step(20.0),))
    weight = 1 / prior_var + 1 / seen_var
    assert gain.mean_k_per_kg == pytest.approx((prior / prior_var + seen / seen_var) / weight)
    assert gain.sd_k_per_kg == pytest.approx(weight**-0.5)


def test_steps_narrow_the_gain_and_pull_it_to_what_was_seen() -> None:
    spreads = [learnt_gain(PLATE_KG, tuple(step(20.0) for _ in range(n))) for n in range(6)]
    assert all(b.sd_k_per_kg < a.sd_k_per_kg for a, b in itertools.pairwise(spreads))
    assert all(b.mean_k_per_kg > a.mean_k_per_kg for a, b in itertools.pairwise(spreads))


@pytest.mark.parametrize(
    "useless",
    [step(None), step(14.0, None), step(14.0, 0.0), step(0.5), step(-14.0), step(0.0)],
)
def test_steps_that_teach_nothing_change_nothing(useless: ChargeStep) -> None:
    assert learnt_gain(PLATE_KG, (useless,)) == learnt_gain(PLATE_KG, ())


def test_a_gain_counts_by_the_mass_it_was_learnt_over() -> None:
    # The last of several steps without settling between may have been empty.
    together = learnt_gain(PLATE_KG, (step(14.0, 0.0, over=0.1),))
    assert together == learnt_gain(PLATE_KG, (step(14.0, 0.1),))


@pytest.mark.parametrize("name", sorted(LEARNT))
@pytest.mark.parametrize("room_k", [0.45, 0.8, 1.6, 3.0, 6.0])
def test_overshoot_by_simulation(name: str, room_k: float) -> None:
    """The prudent mass overshoots in 5 % of draws from the model its docstring states."""
    gain = learnt_gain(PLATE_KG, LEARNT[name])
    mass_kg = prudent_mass_kg(gain, room_k)
    rng = np.random.default_rng(20_260_504)
    unit = rng.normal(gain.mean_k_per_kg, gain.sd_k_per_kg, DRAWS)
    this_step = unit + rng.normal(0.0, STEP_SHAPE_RELATIVE_SD * gain.mean_k_per_kg, DRAWS)
    rise_k = this_step * mass_kg + rng.normal(0.0, STEP_NOISE_K, DRAWS)
    chance = float(np.mean(rise_k > room_k))
    # Four standard deviations of the count.
    assert chance == pytest.approx(OVERSHOOT_CHANCE, abs=4 * (0.05 * 0.95 / DRAWS) ** 0.5)


@pytest.mark.parametrize("name", sorted(LEARNT))
@pytest.mark.parametrize("settled_k", [1.0, 3.0, 4.0, 4.19])
def test_what_is_proposed_overshoots_no_more_often(name: str, settled_k: float) -> None:
    gain = learnt_gain(PLATE_KG, LEARNT[name])
    job = replace(JOB, charge=replace(JOB.charge, step_cap_kg=10.0))
    mass_kg = next_step_kg(aim_of(job), gain, settled_k)
    assert mass_kg > 0.0
    rng = np.random.default_rng(7)
    spread = np.hypot(gain.sd_k_per_kg, STEP_SHAPE_RELATIVE_SD * gain.mean_k_per_kg)
    rise_k = rng.normal(gain.mean_k_per_kg, spread, DRAWS) * mass_kg
    rise_k += rng.normal(0.0, STEP_NOISE_K, DRAWS)
    assert float(np.mean(settled_k + rise_k > 5.8)) <= OVERSHOOT_CHANCE + 0.003


@pytest.mark.parametrize("off", [0.0, 1e-13, -1e-13, 1e-6, -1e-6])
def test_where_the_quadratic_loses_its_square_the_mass_is_the_same(off: float) -> None:
    # A relative spread of 1 / 1.645 makes the coefficient of m^2 vanish.
    relative = ((1.0 / 1.6448536269514722) ** 2 - STEP_SHAPE_RELATIVE_SD**2) ** 0.5 + off
    mass_kg = prudent_mass_kg(Gain(10.0, 10.0 * relative), 3.0)
    expected = (3.0**2 - (1.6448536269514722 * STEP_NOISE_K) ** 2) / (2.0 * 3.0 * 10.0)
    assert mass_kg == pytest.approx(expected, rel=1e-4)


def test_no_room_is_no_step() -> None:
    gain = learnt_gain(PLATE_KG, ())
    for room_k in (-5.0, 0.0, 0.41):
        assert prudent_mass_kg(gain, room_k) == 0.0


@given(
    mean=st.floats(0.5, 500.0),
    relative_sd=st.floats(0.0, 3.0),
    room_k=st.floats(-1.0, 30.0),
)
def test_prudent_mass_is_the_root_it_says(mean: float, relative_sd: float, room_k: float) -> None:
    gain = Gain(mean, relative_sd * mean)
    mass_kg = prudent_mass_kg(gain, room_k)
    assert 0.0 <= mass_kg * mean <= max(0.0, room_k)
    if mass_kg > 0.0:
        sd = np.hypot(gain.sd_k_per_kg, STEP_SHAPE_RELATIVE_SD * mean) * mass_kg
        reach = mean * mass_kg + 1.6448536269514722 * np.hypot(sd, STEP_NOISE_K)
        assert reach == pytest.approx(room_k, rel=1e-6)


@given(
    settled_k=st.floats(-3.0, 4.2),
    cap_kg=st.floats(0.01, 2.0),
    resolution_kg=st.sampled_from([0.001, 0.002, 0.005, 0.01, 0.05, 0.02834952]),
    gains=st.lists(st.floats(-5.0, 60.0), max_size=5),
)
def test_a_proposal_is_capped_and_a_multiple_of_the_scales_step(
    settled_k: float, cap_kg: float, resolution_kg: float, gains: list[float]
) -> None:
    job = replace(
        JOB,
        charge=replace(JOB.charge, step_cap_kg=cap_kg, scale_resolution_kg=resolution_kg),
    )
    gain = learnt_gain(PLATE_KG, tuple(step(g) for g in gains))
    mass_kg = next_step_kg(aim_of(job), gain, settled_k)
    assert 0.0 <= mass_kg <= cap_kg + 1e-6
    assert mass_kg / resolution_kg == pytest.approx(round(mass_kg / resolution_kg), abs=1e-3)
    assert settled_k + gain.mean_k_per_kg * mass_kg <= 5.0 + 1e-3
    out_kg = excess_kg(aim_of(job), gain, 6.0 - settled_k)
    assert out_kg <= max(cap_kg, resolution_kg) + 1e-6


def test_rounding_down_leaves_no_binary_dust() -> None:
    assert round_down(0.11, 0.005) == 0.11
    assert round_down(0.3, 0.1) == 0.3
    assert round_down(0.1149, 0.005) == 0.11
    assert round_down(0.004, 0.005) == 0.0
    assert round_down(0.0123, 0.0) == 0.0123


def test_a_recovery_brings_back_to_the_middle_and_is_never_nothing() -> None:
    gain = Gain(15.0, 1.0)
    assert excess_kg(aim_of(JOB), gain, 6.05) == 0.07
    assert excess_kg(aim_of(JOB), gain, 9.0) == 0.11
    assert excess_kg(aim_of(JOB), gain, 5.01) == 0.005


def truths_k(
    gain: Gain, reading_k: float, mass_kg: float, expanded_k: float
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Draw where the machine ends, the zero of the instruments drawn with it."""
    rng = np.random.default_rng(11)
    spread = np.hypot(gain.sd_k_per_kg, STEP_SHAPE_RELATIVE_SD * gain.mean_k_per_kg)
    before_k = reading_k - rng.normal(0.0, expanded_k / 2.0, DRAWS)
    rise_k = rng.normal(gain.mean_k_per_kg, spread, DRAWS) * mass_kg
    return before_k + rise_k + rng.normal(0.0, STEP_NOISE_K, DRAWS)


@pytest.mark.parametrize("expanded_k", [0.0, 0.4, 0.9, 1.3, 1.6])
@pytest.mark.parametrize("settled_k", [1.0, 3.0, 4.19])
def test_the_machine_not_only_the_reading_stays_under_the_upper_end(
    settled_k: float, expanded_k: float
) -> None:
    gain = learnt_gain(PLATE_KG, LEARNT["three alike"])
    job = replace(JOB, charge=replace(JOB.charge, step_cap_kg=10.0))
    largest = largest_kg(aim_of(job), gain, settled_k, expanded_k)
    assert largest > 0.0
    chance = float(np.mean(truths_k(gain, settled_k, largest, expanded_k) > 5.8))
    assert chance == pytest.approx(OVERSHOOT_CHANCE, abs=4 * (0.05 * 0.95 / DRAWS) ** 0.5)
    proposed = next_step_kg(aim_of(job), gain, settled_k, expanded_k)
    assert 0.0 < proposed <= largest
    chance = float(np.mean(truths_k(gain, settled_k, proposed, expanded_k) > 5.8))
    assert chance <= OVERSHOOT_CHANCE + 0.003


def test_worse_instruments_make_smaller_steps_but_never_stop_a_charge_under_its_band() -> None:
    gain = learnt_gain(PLATE_KG, ())
    job = replace(JOB, charge=replace(JOB.charge, step_cap_kg=10.0))
    masses = [largest_kg(aim_of(job), gain, 4.19, u) for u in (0.0, 0.4, 0.8, 1.2, 1.6, 3.0, 9.0)]
    assert masses[:5] == sorted(masses[:5], reverse=True)
    assert masses[4] == masses[5] == masses[6] > job.charge.scale_resolution_kg
    assert largest_kg(aim_of(job), gain, 4.19, None) == masses[0]
    assert level_sd_k(0.8, None) == STEP_NOISE_K


def sealed_later(seal_kg: float, slope: float, charge_kg: float) -> float:
    """Return subcooling of a machine that shows none until its liquid line is sealed [K]."""
    return max(0.0, slope * (charge_kg - seal_kg))


@pytest.mark.parametrize("zero_k", [-0.6, 0.0, 0.6])
@pytest.mark.parametrize("slope", [10.0, 14.0, 20.0])
def test_crossing_into_the_sealed_range_does_not_overshoot(slope: float, zero_k: float) -> None:
    """Steps from the flat part, over its end wherever that lies, to the band; no noise."""
    job = replace(JOB, charge=replace(JOB.charge, step_cap_kg=10.0))
    for seal_kg in np.linspace(0.0, 0.5, 26).tolist():
        charge_kg = 0.0
        ledger: tuple[ChargeStep, ...] = ()
        before_k = zero_k + sealed_later(seal_kg, slope, charge_kg)
        counted = 0
        while before_k < 4.2 and counted < 30:
            gain = learnt_gain(PLATE_KG, ledger, 1.2)
            mass_kg = next_step_kg(aim_of(job), gain, before_k, 1.2)
            assert mass_kg > 0.0
            charge_kg += mass_kg
            after_k = zero_k + sealed_later(seal_kg, slope, charge_kg)
            assert after_k - zero_k <= 5.8
            # What the ledger would say: a gain wherever both readings are over its own limit.
            learnt = (after_k - before_k) / mass_kg if before_k >= 1.0 else None
            ledger = (*ledger, replace(step(learnt, mass_kg), after_k=after_k))
            before_k, counted = after_k, counted + 1
        assert counted <= 12


@pytest.mark.parametrize(
    ("before_k", "expanded_k", "teaches"),
    [(1.1, None, True), (0.9, None, False), (1.1, 0.5, True), (1.1, 1.3, False), (1.4, 1.3, True)],
)
def test_a_step_from_where_the_seal_may_be_missing_teaches_nothing(
    before_k: float, expanded_k: float | None, *, teaches: bool
) -> None:
    seen = replace(step(8.0, 0.1), after_k=before_k + 0.8)
    known = learnt_gain(PLATE_KG, (seen,), expanded_k)
    assert (known != learnt_gain(PLATE_KG, (), expanded_k)) is teaches
    taken_out = replace(step(8.0, -0.1), after_k=before_k)
    known = learnt_gain(PLATE_KG, (taken_out,), expanded_k)
    assert (known != learnt_gain(PLATE_KG, (), expanded_k)) is teaches


def test_steps_left() -> None:
    gain = Gain(10.0, 1.0)
    assert steps_left(aim_of(JOB), gain, 4.0) == 1
    assert steps_left(aim_of(JOB), gain, 3.0) == 2  # 1.1 K a step: 4.1 K, just short of 4.2 K
    assert steps_left(aim_of(JOB), gain, 3.2) == 1
    assert steps_left(aim_of(JOB), gain, 0.0) == 4
    assert steps_left(aim_of(JOB), gain, -1.0) == 4
    assert steps_left(aim_of(JOB), gain, 5.0) == 1
    coarse = replace(JOB, charge=replace(JOB.charge, scale_resolution_kg=1.0))
    assert steps_left(aim_of(coarse), gain, 1.0) == 1
    grains = replace(JOB, charge=replace(JOB.charge, step_cap_kg=1e-6, scale_resolution_kg=1e-6))
    assert steps_left(aim_of(grains), gain, 1.0) == 99


def begun(begun_t: float, after_k: float | None = 3.0) -> ChargeStep:
    return replace(step(14.0), begun_t=begun_t, ended_t=begun_t + 60.0, after_k=after_k)


def test_seconds_left_go_by_the_prior_and_by_what_steps_took() -> None:
    assert seconds_left((), 2) == 600.0
    assert seconds_left((begun(0.0),), 1) == 300.0
    assert seconds_left((begun(0.0), begun(400.0)), 1) == 350.0
    quick = tuple(begun(200.0 * n) for n in range(4))
    assert seconds_left(quick, 3) == 600.0
    # One long pause changes little, and a step that never settled says nothing.
    pause = (*quick, begun(5000.0))
    assert seconds_left(pause, 3) == 600.0
    assert seconds_left((begun(0.0, None), begun(20.0)), 1) == 300.0


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"steps_left": 1.0, "minutes_s": 290.0}, "; about 1 step, 5 min to go"),
        ({"steps_left": 3.0, "minutes_s": 900.0}, "; about 3 steps, 15 min to go"),
        ({"steps_left": 2.0, "minutes_s": 10.0}, "; about 2 steps, 1 min to go"),
        (
            {"steps_left": 2.0, "minutes_s": 600.0, "unsealed_below_k": 1.0},
            "; at least 2 steps, 10 min to go",
        ),
        ({"steps_left": 2.0}, "; about 2 steps to go"),
        ({}, "5.8 K"),
    ],
)
def test_what_is_left_is_said(figures: dict[str, float], words: str) -> None:
    reading = {"subcooling_k": 3.0, "target_k": 5.0, "tolerance_k": 0.8}
    advice = Advice(
        t=1.0, action=Action.ADD, cause="below_target", figures=reading | figures, mass_kg=0.1
    )
    assert sentence(advice, UnitSystem.SI).endswith(words)
