"""How much to add next: what a kilogram does to the judged value, and the largest prudent step.

Everything is counted in the direction of a rising charge, so that subcooling, which rises with it,
and superheat, which falls, are one calculation: a gain is positive, and the shortfall is how far a
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
"""Subcooling per plate charge [K], expected before anything was learnt.

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
"""The same of superheat behind a fixed orifice, which falls [K per plate charge].

The virtual charge sensor weighs superheat with 1/2.5 of subcooling (from memory): 76 K if all of a
change showed in the superheat, less by what subcooling takes. A physical model of ours gives 25 K
while the liquid line is sealed and 75 to 130 K while it is not yet.
"""

PRIOR_SUPERHEAT_RELATIVE_SD = 0.5
"""Wide, for the seal alone makes a factor of three between units and charges. Assumption."""

SUPERHEAT_STEP_NOISE_K = 0.5
"""`STEP_NOISE_K` of superheat: gusts at the condenser reach it undamped by a valve. Assumption."""

STEP_SHAPE_RELATIVE_SD = 0.15
"""Spread of the gain from step to step on one unit: the curve is not straight. Assumption."""

UNSEALED_K = 1.0
"""A settled reading less than this above zero may be that of a line still without a liquid seal,
where subcooling stays at zero however much is added [K]: the size of an ordinary probe set's
uncertainty. With a declared uncertainty that is larger, that counts."""

OVERSHOOT_CHANCE = USUAL[LimitKey.OVERSHOOT_CHANCE].value_si
"""Of a step past the far end of the band, where the job's limits do not say [1]."""

PRIOR_CYCLE_S = 300.0
"""From opening the valve of one step to opening it for the next [s]: a minute or two to add, three
to four to settle and read (common practice, no published source)."""

MOST_STEPS_TOLD = 99


@dataclass(frozen=True, slots=True)
class StepPrior:
    """What is expected of a kilogram before anything was learnt.

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
    """What steps are to lead to, and how large they may be.

    Attributes
    ----------
    judged : JudgedQuantity
    target_k, tolerance_k : float
        The band.
    cap_kg, resolution_kg : float
        Largest step, and what the scale shows.
    overshoot_chance : float
        Of a step past the far end of the band, at most [1].
    """

    judged: JudgedQuantity
    target_k: float
    tolerance_k: float
    cap_kg: float
    resolution_kg: float
    overshoot_chance: float = OVERSHOOT_CHANCE

    def shortfall_k(self, settled_k: float) -> float:
        """Return how far a reading is short of the middle of the band [K]; negative past it.

        A reading under zero counts as zero: that is what a line that holds liquid and vapour has.
        """
        return self.judged.charge_sign * (self.target_k - max(0.0, settled_k))


def aim_of(job: Job, goal: TargetFacts | None = None) -> Aim:
    """Return the aim of a job, at the target as it is now.

    Raises
    ------
    ValueError
        Without `goal`, if the target moves with the weather.
    """
    target_k = job.target.middle_k if goal is None else goal.value_k
    return Aim(
        judged=job.target.judged,
        target_k=target_k,
        tolerance_k=job.target.tolerance_k if goal is None else goal.tolerance_k,
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
    """Return the reading under which a line may hold both liquid and vapour [K].

    A liquid line then lacks its seal, and a suction line brings liquid to the compressor.

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
    """Return the gain after the steps of this job.

    Parameters
    ----------
    plate_kg : float
        Plate charge, which scales the prior [kg].
    ledger : sequence of ChargeStep
        Steps without a gain of their own are passed over.
    expanded_k : float or None
        Uncertainty of the judged value (k = 2) [K].
    judged : JudgedQuantity

    Notes
    -----
    Normal prior and normal observations of known variance, so the posterior is the mean weighted by
    the inverse variances (Gelman et al., Bayesian Data Analysis, 3rd edition, section 2.5). What is
    wrong with the instruments is the same before and after a step and cancels in its gain.

    A step that began or ended where the line may have held both liquid and vapour is left out. With
    the liquid line that is a circuit still short of its seal: a part of the step filled the circuit
    and raised nothing, so its gain is too small by an unknown amount, and believing it would make
    the next step too large. So is a gain not above a tenth of the prior.
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
    """Return the gain to size a step by from a reading that is no level.

    Nobody knows how far the liquid seal is; once it is there the unit may do what was learnt of it,
    or what the plate lets one expect, and the larger of the two is reckoned with.
    """
    prior = learnt_gain(plate_kg, (), None, judged)
    return max(gain, prior, key=lambda each: each.mean_k_per_kg)


def level_sd_k(
    tolerance_k: float, expanded_k: float | None, judged: JudgedQuantity = SUBCOOLING
) -> float:
    """Return the standard deviation of the truth around what a step is expected to lead to [K].

    Two parts: what settled readings leave open, and the error of the instruments, which does not
    cancel when the question is whether the machine, not the reading, ends above the tolerance.

    Parameters
    ----------
    tolerance_k : float
        Half the band [K].
    expanded_k : float or None
        Uncertainty of the reading (k = 2) [K]; without one the reading is taken at its word.
    judged : JudgedQuantity

    Notes
    -----
    An uncertainty wider than the whole band counts as the band. Such instruments cannot tell its
    lower end from its upper one (JCGM 106:2012, section 8: no acceptance interval is left), which
    the verdict says in plain words; smaller steps would not cure it, and a charge stopped outside
    the band because of them would be no better.
    """
    instruments_k = 0.5 * min(expanded_k or 0.0, 2.0 * tolerance_k)
    return math.hypot(PRIORS[judged].noise_k, instruments_k)


def prudent_mass_kg(
    gain: Gain, room_k: float, level_sd: float = STEP_NOISE_K, chance: float = OVERSHOOT_CHANCE
) -> float:
    """Return the largest mass [kg] that moves the value by more than `room_k` with `chance`.

    Parameters
    ----------
    gain : Gain
    room_k : float
        From the present settled reading to the far end of the tolerance [K].
    level_sd : float
        Of the level reached, whatever the mass; see `level_sd_k` [K].
    chance : float
        Above 0, at most one half [1].

    Notes
    -----
    The rise of mass m is normal with mean g m and variance (s m)^2 + s_0^2, where s holds both what
    is not known of the unit's gain and what one step differs from the next; the mass sought is the
    smaller root of (room - g m)^2 = z^2 ((s m)^2 + s_0^2) with room - g m >= 0.

    From a circuit without a liquid seal a step raises less than g m, so the same mass is prudent
    there and the step that crosses into the sealed range is no surprise.
    """
    g, z = gain.mean_k_per_kg, statistics.NormalDist().inv_cdf(1.0 - chance)
    if room_k <= z * level_sd:
        return 0.0
    s = math.hypot(gain.sd_k_per_kg, STEP_SHAPE_RELATIVE_SD * g)
    a = g * g - (z * s) ** 2
    b = -2.0 * room_k * g
    c = room_k**2 - (z * level_sd) ** 2
    if abs(a) < 1e-9 * g * g:
        return -c / b
    root = math.sqrt(max(0.0, b * b - 4.0 * a * c))
    # For a < 0 the parabola opens downward and its only positive root is the same expression.
    return (-b - root) / (2.0 * a)


def largest_kg(aim: Aim, gain: Gain, settled_k: float, expanded_k: float | None = None) -> float:
    """Return the largest mass that may be proposed: the cap, or less where that is prudent [kg]."""
    room_k = aim.shortfall_k(settled_k) + aim.tolerance_k
    sd_k = level_sd_k(aim.tolerance_k, expanded_k, aim.judged)
    return min(aim.cap_kg, prudent_mass_kg(gain, room_k, sd_k, aim.overshoot_chance))


def next_step_kg(aim: Aim, gain: Gain, settled_k: float, expanded_k: float | None = None) -> float:
    """Return the step to propose [kg]: capped, prudent, not past the middle of the band.

    A reading under zero counts as zero, for that is what a line without a seal has in truth.
    Rounded down to what the scale resolves; 0 when no step that the scale can show is prudent.
    """
    to_middle = max(0.0, aim.shortfall_k(settled_k)) / gain.mean_k_per_kg
    mass_kg = min(largest_kg(aim, gain, settled_k, expanded_k), to_middle)
    return round_down(mass_kg, aim.resolution_kg)


def excess_kg(aim: Aim, gain: Gain, settled_k: float) -> float:
    """Return what to recover to come back to the middle of the band [kg], capped and rounded."""
    mass_kg = -aim.shortfall_k(settled_k) / gain.mean_k_per_kg
    return max(aim.resolution_kg, round_down(min(mass_kg, aim.cap_kg), aim.resolution_kg))


def steps_left(aim: Aim, gain: Gain, settled_k: float, expanded_k: float | None = None) -> int:
    """Return how many steps it takes into the band, each as large as it will be proposed.

    At least 1. From a line without a liquid seal it is the least it can take: nobody can read how
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
    """Return how long so many more steps take, the wait for the last reading included [s].

    Parameters
    ----------
    ledger : sequence of ChargeStep
        Of this job; how long its steps took, from the opening of one to that of the next, counts
        beside the prior.
    steps : int

    Notes
    -----
    The median of what was seen and the prior: one long pause of the technician does not count.
    """
    cycles_s = [
        later.begun_t - earlier.begun_t
        for earlier, later in itertools.pairwise(ledger)
        if earlier.after_k is not None and later.begun_t > earlier.begun_t
    ]
    return steps * statistics.median([*cycles_s, PRIOR_CYCLE_S])


def round_down(mass_kg: float, resolution_kg: float) -> float:
    """Return `mass_kg` rounded down to a multiple of `resolution_kg`, free of binary dust."""
    if resolution_kg <= 0.0:
        return mass_kg
    return round(math.floor(mass_kg / resolution_kg + 1e-9) * resolution_kg, 6)
