"""How much to add next: what a kilogram does to subcooling, and the largest prudent step."""

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from chargeassist.model.job import Job
from chargeassist.stream.facts import ChargeStep

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

STEP_SHAPE_RELATIVE_SD = 0.15
"""Spread of the gain from step to step on one unit: the curve is not straight. Assumption."""

UNSEALED_K = 1.0
"""A settled reading less than this above zero may be that of a line still without a liquid seal,
where subcooling stays at zero however much is added [K]: the size of an ordinary probe set's
uncertainty. With a declared uncertainty that is larger, that counts."""

OVERSHOOT_CHANCE = 0.05
_Z_95 = 1.6448536269514722

PRIOR_CYCLE_S = 300.0
"""From opening the valve of one step to opening it for the next [s]: a minute or two to add, three
to four to settle and read (common practice, no published source)."""

MOST_STEPS_TOLD = 99


@dataclass(frozen=True, slots=True)
class Gain:
    """What a kilogram does to settled subcooling: normal, mean and standard deviation [K/kg]."""

    mean_k_per_kg: float
    sd_k_per_kg: float


def unsealed_below_k(expanded_k: float | None) -> float:
    """Return the reading under which the liquid line may lack its seal [K].

    Parameters
    ----------
    expanded_k : float or None
        Uncertainty of the reading (k = 2) [K].
    """
    return max(UNSEALED_K, expanded_k or 0.0)


def learnt_gain(
    plate_kg: float, ledger: Sequence[ChargeStep], expanded_k: float | None = None
) -> Gain:
    """Return the gain after the steps of this job.

    Parameters
    ----------
    plate_kg : float
        Plate charge, which scales the prior [kg].
    ledger : sequence of ChargeStep
        Steps without a gain of their own are passed over.
    expanded_k : float or None
        Uncertainty of subcooling (k = 2) [K].

    Notes
    -----
    Normal prior and normal observations of known variance, so the posterior is the mean weighted by
    the inverse variances (Gelman et al., Bayesian Data Analysis, 3rd edition, section 2.5). What is
    wrong with the instruments is the same before and after a step and cancels in its gain.

    A step that began or ended where the circuit may still have been short of a liquid seal is left
    out: a part of it filled the circuit and raised nothing, so its gain is too small by an unknown
    amount, and believing it would make the next step too large. So is a gain not above a tenth of
    the prior.
    """
    prior = PRIOR_GAIN_K_PER_PLATE / plate_kg
    weight = 1.0 / (PRIOR_RELATIVE_SD * prior) ** 2
    total = weight * prior
    sealed_k = unsealed_below_k(expanded_k)
    for step in ledger:
        gain, mass_kg = step.gain_k_per_kg, step.gain_over_kg or step.mass_kg
        if gain is None or not mass_kg or gain <= 0.1 * prior:
            continue
        if step.after_k is not None and step.after_k - max(0.0, gain * mass_kg) < sealed_k:
            continue
        variance = (STEP_NOISE_K / mass_kg) ** 2 + (STEP_SHAPE_RELATIVE_SD * gain) ** 2
        weight += 1.0 / variance
        total += gain / variance
    return Gain(total / weight, 1.0 / math.sqrt(weight))


def level_sd_k(tolerance_k: float, expanded_k: float | None) -> float:
    """Return the standard deviation of the truth around what a step is expected to lead to [K].

    Two parts: what settled readings leave open, and the error of the instruments, which does not
    cancel when the question is whether the machine, not the reading, ends above the tolerance.

    Parameters
    ----------
    tolerance_k : float
        Half the band [K].
    expanded_k : float or None
        Uncertainty of the reading (k = 2) [K]; without one the reading is taken at its word.

    Notes
    -----
    An uncertainty wider than the whole band counts as the band. Such instruments cannot tell its
    lower end from its upper one (JCGM 106:2012, section 8: no acceptance interval is left), which
    the verdict says in plain words; smaller steps would not cure it, and a charge stopped outside
    the band because of them would be no better.
    """
    instruments_k = 0.5 * min(expanded_k or 0.0, 2.0 * tolerance_k)
    return math.hypot(STEP_NOISE_K, instruments_k)


def prudent_mass_kg(gain: Gain, room_k: float, level_sd: float = STEP_NOISE_K) -> float:
    """Return the largest mass [kg] whose chance of raising subcooling by more than `room_k` is 5 %.

    Parameters
    ----------
    gain : Gain
    room_k : float
        From the present settled reading to the upper end of the tolerance [K].
    level_sd : float
        Of the level reached, whatever the mass; see `level_sd_k` [K].

    Notes
    -----
    The rise of mass m is normal with mean g m and variance (s m)^2 + s_0^2, where s holds both what
    is not known of the unit's gain and what one step differs from the next; the mass sought is the
    smaller root of (room - g m)^2 = z^2 ((s m)^2 + s_0^2) with room - g m >= 0.

    From a circuit without a liquid seal a step raises less than g m, so the same mass is prudent
    there and the step that crosses into the sealed range is no surprise.
    """
    if room_k <= _Z_95 * level_sd:
        return 0.0
    g, z = gain.mean_k_per_kg, _Z_95
    s = math.hypot(gain.sd_k_per_kg, STEP_SHAPE_RELATIVE_SD * g)
    a = g * g - (z * s) ** 2
    b = -2.0 * room_k * g
    c = room_k**2 - (z * level_sd) ** 2
    if abs(a) < 1e-9 * g * g:
        return -c / b
    root = math.sqrt(max(0.0, b * b - 4.0 * a * c))
    # For a < 0 the parabola opens downward and its only positive root is the same expression.
    return (-b - root) / (2.0 * a)


def largest_kg(job: Job, gain: Gain, settled_k: float, expanded_k: float | None = None) -> float:
    """Return the largest mass that may be proposed: the cap, or less where that is prudent [kg]."""
    target = job.target
    room_k = target.subcooling_k + target.tolerance_k - max(0.0, settled_k)
    prudent = prudent_mass_kg(gain, room_k, level_sd_k(target.tolerance_k, expanded_k))
    return min(job.charge.step_cap_kg, prudent)


def next_step_kg(job: Job, gain: Gain, settled_k: float, expanded_k: float | None = None) -> float:
    """Return the step to propose [kg]: capped, prudent, not past the middle of the band.

    A reading under zero counts as zero, for that is what a line without a seal has in truth.
    Rounded down to what the scale resolves; 0 when no step that the scale can show is prudent.
    """
    to_middle = max(0.0, job.target.subcooling_k - max(0.0, settled_k)) / gain.mean_k_per_kg
    mass_kg = min(largest_kg(job, gain, settled_k, expanded_k), to_middle)
    return round_down(mass_kg, job.charge.scale_resolution_kg)


def excess_kg(job: Job, gain: Gain, settled_k: float) -> float:
    """Return what to recover to come back to the middle of the band [kg], capped and rounded."""
    mass_kg = (settled_k - job.target.subcooling_k) / gain.mean_k_per_kg
    resolution = job.charge.scale_resolution_kg
    return max(resolution, round_down(min(mass_kg, job.charge.step_cap_kg), resolution))


def steps_left(job: Job, gain: Gain, settled_k: float, expanded_k: float | None = None) -> int:
    """Return how many steps it takes into the band, each as large as it will be proposed.

    At least 1. From a line without a liquid seal it is the least it can take: nobody can read how
    far the seal is.
    """
    level_k = max(0.0, settled_k)
    low_k = job.target.subcooling_k - job.target.tolerance_k
    count = 0
    while level_k < low_k and count < MOST_STEPS_TOLD:
        mass_kg = next_step_kg(job, gain, level_k, expanded_k)
        if mass_kg <= 0.0:
            break
        level_k += gain.mean_k_per_kg * mass_kg
        count += 1
    return max(1, count)


def minutes_left(ledger: Sequence[ChargeStep], steps: int) -> float:
    """Return the minutes that so many more steps take, the wait for the last reading included.

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
    return steps * statistics.median([*cycles_s, PRIOR_CYCLE_S]) / 60.0


def round_down(mass_kg: float, resolution_kg: float) -> float:
    """Return `mass_kg` rounded down to a multiple of `resolution_kg`, free of binary dust."""
    if resolution_kg <= 0.0:
        return mass_kg
    return round(math.floor(mass_kg / resolution_kg + 1e-9) * resolution_kg, 6)
