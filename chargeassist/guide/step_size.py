"""How much to add next: what a kilogram does to subcooling, and the largest prudent step."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from chargeassist.model.job import Job
from chargeassist.stream.facts import ChargeStep

PRIOR_GAIN_K_PER_PLATE = 33.0
"""Subcooling per plate charge [K], expected before anything was learnt.

The virtual refrigerant charge sensor (Li and Braun; equation and constants from memory) gives
K_ch = T_sc,rated / ((1 - 0.75) 0.73), 30.6 K (55 °F) per 100 % of charge for 5.6 K (10 °F) rated
subcooling; a physical model of ours gives 36.7 K (66 °F). The middle is taken.
"""

PRIOR_RELATIVE_SD = 0.4
"""Spread of that between units. Assumption, no published source."""

STEP_NOISE_K = 0.25
"""Standard deviation of the change between two settled readings [K]: what the settling band leaves
open (0.3 K at about 97 %, twice). Assumption of this program, tested by simulation."""

STEP_SHAPE_RELATIVE_SD = 0.15
"""Spread of the gain from step to step on one unit: the curve is not straight. Assumption."""

OVERSHOOT_CHANCE = 0.05
_Z_95 = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class Gain:
    """What a kilogram does to settled subcooling: normal, mean and standard deviation [K/kg]."""

    mean_k_per_kg: float
    sd_k_per_kg: float


def learnt_gain(plate_kg: float, ledger: Sequence[ChargeStep]) -> Gain:
    """Return the gain after the steps of this job.

    Parameters
    ----------
    plate_kg : float
        Plate charge, which scales the prior [kg].
    ledger : sequence of ChargeStep
        Steps without a gain of their own are passed over.

    Notes
    -----
    Normal prior and normal observations of known variance, so the posterior is the mean weighted by
    the inverse variances (Gelman et al., Bayesian Data Analysis, 3rd edition, section 2.5). A
    gain not above a tenth of the prior is no gain of liquid stacking up in the condenser and is
    left out: it comes from a circuit that was still short of a liquid seal.
    """
    prior = PRIOR_GAIN_K_PER_PLATE / plate_kg
    weight = 1.0 / (PRIOR_RELATIVE_SD * prior) ** 2
    total = weight * prior
    for step in ledger:
        gain, mass_kg = step.gain_k_per_kg, step.gain_over_kg or step.mass_kg
        if gain is None or not mass_kg or gain <= 0.1 * prior:
            continue
        variance = (STEP_NOISE_K / mass_kg) ** 2 + (STEP_SHAPE_RELATIVE_SD * gain) ** 2
        weight += 1.0 / variance
        total += gain / variance
    return Gain(total / weight, 1.0 / math.sqrt(weight))


def prudent_mass_kg(gain: Gain, room_k: float) -> float:
    """Return the largest mass [kg] whose chance of raising subcooling by more than `room_k` is 5 %.

    Parameters
    ----------
    gain : Gain
    room_k : float
        From the present settled reading to the upper end of the tolerance [K].

    Notes
    -----
    The rise of mass m is normal with mean g m and variance (s m)^2 + s_0^2, where s holds both what
    is not known of the unit's gain and what one step differs from the next; the mass sought is the
    smaller root of (room - g m)^2 = z^2 ((s m)^2 + s_0^2) with room - g m >= 0.
    """
    if room_k <= _Z_95 * STEP_NOISE_K:
        return 0.0
    g, z = gain.mean_k_per_kg, _Z_95
    s = math.hypot(gain.sd_k_per_kg, STEP_SHAPE_RELATIVE_SD * g)
    a = g * g - (z * s) ** 2
    b = -2.0 * room_k * g
    c = room_k**2 - (z * STEP_NOISE_K) ** 2
    if abs(a) < 1e-9 * g * g:
        return -c / b
    root = math.sqrt(max(0.0, b * b - 4.0 * a * c))
    # For a < 0 the parabola opens downward and its only positive root is the same expression.
    return (-b - root) / (2.0 * a)


def next_step_kg(job: Job, gain: Gain, settled_k: float) -> float:
    """Return the step to propose [kg]: capped, prudent, not past the middle of the band.

    Rounded down to what the scale resolves; 0 when no step that the scale can show is prudent.
    """
    target = job.target
    prudent = prudent_mass_kg(gain, target.subcooling_k + target.tolerance_k - settled_k)
    to_middle = max(0.0, target.subcooling_k - settled_k) / gain.mean_k_per_kg
    mass_kg = min(job.charge.step_cap_kg, prudent, to_middle)
    return round_down(mass_kg, job.charge.scale_resolution_kg)


def excess_kg(job: Job, gain: Gain, settled_k: float) -> float:
    """Return what to recover to come back to the middle of the band [kg], capped and rounded."""
    mass_kg = (settled_k - job.target.subcooling_k) / gain.mean_k_per_kg
    resolution = job.charge.scale_resolution_kg
    return max(resolution, round_down(min(mass_kg, job.charge.step_cap_kg), resolution))


def steps_left(job: Job, gain: Gain, settled_k: float, step_kg: float) -> int:
    """Return how many steps of `step_kg` the middle of the band is away, at least 1."""
    if step_kg <= 0.0:
        return 1
    to_middle = (job.target.subcooling_k - settled_k) / gain.mean_k_per_kg
    return max(1, math.ceil(to_middle / step_kg - 0.25))


def round_down(mass_kg: float, resolution_kg: float) -> float:
    """Return `mass_kg` rounded down to a multiple of `resolution_kg`, free of binary dust."""
    if resolution_kg <= 0.0:
        return mass_kg
    return round(math.floor(mass_kg / resolution_kg + 1e-9) * resolution_kg, 6)
