"""How much to add next: what a kilogram does to the judged value, and the largest prudent step.

Everything is counted in the direction of a rising charge. Subcooling, which rises with it, and
superheat, which falls, are then one calculation: a gain is positive, and the shortfall is how far a
reading is short of the middle of its band.
"""

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING, SUPERHEAT, JudgedQuantity
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.stream.facts import ChargeStep, TargetFacts

PRIOR_GAIN_K_PER_PLATE = 33.0
"""Subcooling per plate charge [K], expected before anything is learnt.

The virtual refrigerant charge sensor (Li and Braun; equation and constants from memory) gives
K_ch = T_sc,rated / ((1 - 0.75) 0.73), 30.6 K (55 °F) per 100 % of charge for 5.6 K (10 °F) rated
subcooling; a physical model of ours gives 36.7 K (66 °F). The middle is taken. The equation scales
with the rated subcooling and the physical model does not, so the target is left out of the mean.
"""

PRIOR_RELATIVE_SD = 0.4
"""Spread of that between units. Assumption: one standard deviation, 20 to 46 K, is what the
equation above gives for rated subcoolings from 3.6 to 8.4 K (6.5 to 15 °F), which plates ask for.
"""

STEP_NOISE_K = 0.25
"""Standard deviation of the change between two settled readings [K]: what the settling band leaves
open (0.3 K at about 97 %, twice). Assumption of this program, tested by simulation."""

PRIOR_SUPERHEAT_K_PER_PLATE = 60.0
"""The same for superheat behind a fixed orifice, which falls [K per plate charge].

The virtual charge sensor weighs superheat with 1/2.5 of subcooling (from memory): 76 K if all of a
change showed in the superheat, less by what subcooling takes. A physical model of ours gives 25 K
while the liquid line is sealed and 75 to 130 K while it is not yet.
"""

PRIOR_SUPERHEAT_RELATIVE_SD = 0.5
"""Wide, because the seal alone makes a factor of three between units and charges. Assumption."""

SUPERHEAT_STEP_NOISE_K = 0.5
"""`STEP_NOISE_K` of superheat: gusts at the condenser reach it undamped by a valve. Assumption."""

STEP_SHAPE_RELATIVE_SD = 0.15
"""Spread of the gain from step to step on one unit: the curve is not straight. Assumption."""

UNSEALED_K = 1.0
"""A settled reading less than this above zero may come from a line without a liquid seal, where
subcooling stays at zero however much is added [K]. This is the size of an ordinary probe set's
uncertainty; a larger declared uncertainty replaces it."""

OVERSHOOT_CHANCE = USUAL[LimitKey.OVERSHOOT_CHANCE].value_si
"""Chance of a step past the far end of the band, if the job's limits do not say [1]."""

PRIOR_CYCLE_S = 300.0
"""From opening the valve of one step to opening it for the next [s]: a minute or two to add, three
to four to settle and read (common practice, no published source)."""

MOST_STEPS_TOLD = 99
"""Steps are counted up to this."""


@dataclass(frozen=True, slots=True)
class StepPrior:
    """What a kilogram is expected to do before anything is learnt.

    Attributes
    ----------
    gain_k_per_plate : float
        Per plate charge, positive [K].
    relative_sd : float
        Spread of that between units.
    noise_k : float
        Standard deviation of the change between two settled readings [K].
    """

    gain_k_per_plate: float
    relative_sd: float
    noise_k: float


PRIORS: Final = {
    SUBCOOLING: StepPrior(PRIOR_GAIN_K_PER_PLATE, PRIOR_RELATIVE_SD, STEP_NOISE_K),
    SUPERHEAT: StepPrior(
        PRIOR_SUPERHEAT_K_PER_PLATE, PRIOR_SUPERHEAT_RELATIVE_SD, SUPERHEAT_STEP_NOISE_K
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """The band that steps lead to, and how large they may be.

    Attributes
    ----------
    judged : JudgedQuantity
    target_k, tolerance_k : float
        Middle of the band, and how far it reaches to the near end.
    far_k : float
        How far it reaches to the end that refrigerant drives to: less than the tolerance where
        superheat may not come lower for the compressor's sake.
    cap_kg, resolution_kg : float
        Largest step, and the resolution of the scale.
    overshoot_chance : float
        Highest chance of a step past the far end of the band [1].
    """

    judged: JudgedQuantity
    target_k: float
    tolerance_k: float
    far_k: float
    cap_kg: float
    resolution_kg: float
    overshoot_chance: float = OVERSHOOT_CHANCE

    @property
    def half_k(self) -> float:
        """Half the width of the band [K]."""
        return 0.5 * (self.tolerance_k + self.far_k)

    def shortfall_k(self, settled_k: float) -> float:
        """Return how far a reading is short of the middle of the band [K]; negative past it.

        A reading below zero counts as zero, the value of a line with liquid and vapour.
        """
        return self.judged.charge_sign * (self.target_k - max(0.0, settled_k))


def aim_of(job: Job, goal: TargetFacts | None = None) -> Aim:
    """Return the aim of a job at its present target.

    Raises
    ------
    ValueError
        Without `goal`, if the target moves with the weather.
    """
    target_k = job.target.middle_k if goal is None else goal.value_k
    tolerance_k = job.target.tolerance_k if goal is None else goal.tolerance_k
    floor_k = job.target.floor_k if goal is None else goal.floor_k
    return Aim(
        judged=job.target.judged,
        target_k=target_k,
        tolerance_k=tolerance_k,
        far_k=max(min(tolerance_k, target_k - floor_k), 0.0),
        cap_kg=job.charge.step_cap_kg,
        resolution_kg=job.charge.scale_resolution_kg,
        overshoot_chance=job.limit_si(LimitKey.OVERSHOOT_CHANCE),
    )


@dataclass(frozen=True, slots=True)
class Gain:
    """What a kilogram does to the settled value: normal, mean and standard deviation [K/kg].

    Positive: counted in the direction that refrigerant drives it.
    """

    mean_k_per_kg: float
    sd_k_per_kg: float


def unsealed_below_k(expanded_k: float | None) -> float:
    """Return the reading below which a line may hold both liquid and vapour [K].

    A liquid line then has no seal, and a suction line carries liquid to the compressor.

    Parameters
    ----------
    expanded_k : float or None
        Uncertainty of the reading (k = 2) [K].
    """
    return max(UNSEALED_K, expanded_k or 0.0)


def learnt_gain(
    plate_kg: float,
    ledger: Sequence[ChargeStep],
    expanded_k: float | None = None,
    judged: JudgedQuantity = SUBCOOLING,
) -> Gain:
    """Return the gain as learnt from the steps of this job.

    Parameters
    ----------
    plate_kg : float
        Plate charge, which scales the prior [kg].
    ledger : sequence of ChargeStep
        Steps without a measured gain are skipped.
    expanded_k : float or None
        Uncertainty of the judged value (k = 2) [K].
    judged : JudgedQuantity

    Notes
    -----
    Prior and observations are normal with known variances, so the posterior is the mean weighted by
    the inverse variances (Gelman et al., Bayesian Data Analysis, 3rd edition, section 2.5). A
    constant error of the instruments cancels in the gain of a step.

    A step that began or ended where the line may have held both liquid and vapour is left out:
    before a liquid line has its seal, part of a step fills the circuit and raises nothing. Its gain
    is too small by an unknown amount, and would make the next step too large. A gain of at most a
    tenth of the prior is left out, too.
    """
    expected = PRIORS[judged]
    prior = expected.gain_k_per_plate / plate_kg
    weight = 1.0 / (expected.relative_sd * prior) ** 2
    total = weight * prior
    sealed_k = unsealed_below_k(expanded_k)
    for step in ledger:
        learnt, mass_kg = step.gain_k_per_kg, step.gain_over_kg or step.mass_kg
        if learnt is None or not mass_kg:
            continue
        gain = judged.charge_sign * learnt
        if gain <= 0.1 * prior:
            continue
        if step.after_k is not None and step.after_k - max(0.0, learnt * mass_kg) < sealed_k:
            continue
        variance = (expected.noise_k / mass_kg) ** 2 + (STEP_SHAPE_RELATIVE_SD * gain) ** 2
        weight += 1.0 / variance
        total += gain / variance
    return Gain(total / weight, 1.0 / math.sqrt(weight))


def cautious_gain(plate_kg: float, gain: Gain, judged: JudgedQuantity = SUBCOOLING) -> Gain:
    """Return the gain to size a step by while the line has no liquid seal.

    How far the seal is cannot be read. Once it is there, the unit may follow the learnt gain or the
    prior; the larger of the two is used.
    """
    prior = learnt_gain(plate_kg, (), None, judged)
    return max(gain, prior, key=lambda each: each.mean_k_per_kg)


def level_sd_k(
    tolerance_k: float, expanded_k: float | None, judged: JudgedQuantity = SUBCOOLING
) -> float:
    """Return the standard deviation of the true value around what a step should lead to [K].

    It has two parts: what settled readings leave open, and the error of the instruments, which does
    not cancel when the unit itself, not the reading, must end inside the tolerance.

    Parameters
    ----------
    tolerance_k : float
        Half the band [K].
    expanded_k : float or None
        Uncertainty of the reading (k = 2) [K]; None: the reading counts as exact.
    judged : JudgedQuantity

    Notes
    -----
    An uncertainty wider than the whole band counts as the band. Such instruments cannot tell its
    lower end from its upper end (JCGM 106:2012, section 8: no acceptance interval is left), and the
    verdict says so. Smaller steps would not help, and could end the charge outside the band.
    """
    instruments_k = 0.5 * min(expanded_k or 0.0, 2.0 * tolerance_k)
    return math.hypot(PRIORS[judged].noise_k, instruments_k)


def prudent_mass_kg(
    gain: Gain, room_k: float, sd_k: float = STEP_NOISE_K, chance: float = OVERSHOOT_CHANCE
) -> float:
    """Return the largest mass [kg] that moves the value by more than `room_k` with `chance`.

    Parameters
    ----------
    gain : Gain
    room_k : float
        From the present settled reading to the far end of the tolerance [K].
    sd_k : float
        Standard deviation of the level reached, whatever the mass; see `level_sd_k` [K].
    chance : float
        Above 0, at most one half [1].

    Notes
    -----
    The rise of mass m is normal with mean g m and variance (s m)^2 + s_0^2, where s combines the
    uncertainty of the unit's gain and its spread from step to step. The mass sought is the smaller
    root of (room - g m)^2 = z^2 ((s m)^2 + s_0^2) with room - g m >= 0.

    Without a liquid seal a step raises less than g m, so the same mass is prudent there as well.
    """
    g, z = gain.mean_k_per_kg, statistics.NormalDist().inv_cdf(1.0 - chance)
    if room_k <= z * sd_k:
        return 0.0
    s = math.hypot(gain.sd_k_per_kg, STEP_SHAPE_RELATIVE_SD * g)
    a = g * g - (z * s) ** 2
    b = -2.0 * room_k * g
    c = room_k**2 - (z * sd_k) ** 2
    if abs(a) < 1e-9 * g * g:
        return -c / b
    root = math.sqrt(max(0.0, b * b - 4.0 * a * c))
    # For a < 0 the parabola opens downward and its only positive root is the same expression.
    return (-b - root) / (2.0 * a)


def largest_kg(aim: Aim, gain: Gain, settled_k: float, expanded_k: float | None = None) -> float:
    """Return the largest mass that may be proposed: the cap, or less if that is prudent [kg]."""
    room_k = aim.shortfall_k(settled_k) + aim.far_k
    sd_k = level_sd_k(aim.half_k, expanded_k, aim.judged)
    return min(aim.cap_kg, prudent_mass_kg(gain, room_k, sd_k, aim.overshoot_chance))


def next_step_kg(aim: Aim, gain: Gain, settled_k: float, expanded_k: float | None = None) -> float:
    """Return the step to propose [kg]: capped, prudent, not past the middle of the band.

    It is rounded down to the resolution of the scale; 0 if no step the scale can show is prudent.
    """
    to_middle = max(0.0, aim.shortfall_k(settled_k)) / gain.mean_k_per_kg
    mass_kg = min(largest_kg(aim, gain, settled_k, expanded_k), to_middle)
    return round_down(mass_kg, aim.resolution_kg)


def excess_kg(aim: Aim, gain: Gain, settled_k: float) -> float:
    """Return the mass to recover to return to the middle of the band [kg], capped and rounded."""
    mass_kg = -aim.shortfall_k(settled_k) / gain.mean_k_per_kg
    return max(aim.resolution_kg, round_down(min(mass_kg, aim.cap_kg), aim.resolution_kg))


def steps_left(aim: Aim, gain: Gain, settled_k: float, expanded_k: float | None = None) -> int:
    """Return how many steps it takes to reach the band, each as large as it will be proposed.

    At least 1. From a line without a liquid seal this is a lower bound, since nobody can read how
    far the seal is.
    """
    level_k = max(0.0, settled_k)
    count = 0
    while aim.shortfall_k(level_k) > aim.tolerance_k and count < MOST_STEPS_TOLD:
        mass_kg = next_step_kg(aim, gain, level_k, expanded_k)
        if mass_kg <= 0.0:
            break
        level_k += aim.judged.charge_sign * gain.mean_k_per_kg * mass_kg
        count += 1
    return max(1, count)


def seconds_left(ledger: Sequence[ChargeStep], steps: int) -> float:
    """Return how long further steps take, including the wait for the last reading [s].

    Parameters
    ----------
    ledger : sequence of ChargeStep
        Of this job.
    steps : int
        Number of further steps.

    Notes
    -----
    A step takes the median of the prior and of the times from the opening of one step to that of
    the next, so that one long pause of the technician does not count.
    """
    cycles_s = [
        later.begun_t - earlier.begun_t
        for earlier, later in itertools.pairwise(ledger)
        if earlier.after_k is not None and later.begun_t > earlier.begun_t
    ]
    return steps * statistics.median([*cycles_s, PRIOR_CYCLE_S])


def round_down(mass_kg: float, resolution_kg: float) -> float:
    """Return a mass rounded down to a multiple of the resolution [kg], free of binary rounding."""
    if resolution_kg <= 0.0:
        return mass_kg
    return round(math.floor(mass_kg / resolution_kg + 1e-9) * resolution_kg, 6)
