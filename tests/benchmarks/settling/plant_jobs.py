"""The second judge: charging jobs on the physical plant, read through its probes.

Nothing here knows what shapes the detector believes in. A machine, its valve, load, gusts and
probes come from `tests.benchmarks.plant.random_units`; the truth is the same machine in still air,
without probes: where its subcooling stands eleven minutes after the step (fifteen after the start),
and how far it is from there. Band, slope and score are those of the invented jobs. A valve that
still swings the reading by more than the band at the end hunts: as in the invented jobs, what
counts is the mean it swings about. A ring that dies away counts as a deviation.
"""

import math
from collections import deque
from dataclasses import replace

import numpy as np

from chargeassist.model.channels import Role
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.physics.saturation import refrigerant
from chargeassist.plant.physical import PhysicalPlant
from tests.benchmarks.plant.random_units import random_job
from tests.benchmarks.settling.generator import BAND_K, SLOPE_K_PER_S, Floats, Job, Step

FREQUENCY_AT_S = 2
RUN_IN_S, HOLD_S, END_S = 900, 660, 60
SLOPE_OVER_S = 10.0
HUNTS_OVER_S = 180.0
RATES_HZ = (0.2, 0.5, 1.0, 2.0, 4.0)
"""Rates the machines are read at in turn; the plant is computed four times a second [Hz]."""


def make_plant_job(seed: int, *, steps: int = 3, rate_hz: float = 1.0) -> Job:
    """Make one job of the physical plant, the same for the same arguments.

    Parameters
    ----------
    seed : int
        Of the machine, its weather and its probes.
    steps : int
        Number of equal charge steps that together fill it; 0: the start alone.
    rate_hz : float
        How often the probes are read [Hz].

    Returns
    -------
    Job
        The first step is the start: low frequency to the required one, which nobody announces. A
        charge step begins when the valve is shut; that is announced, and the opening too.
    """
    drawn = random_job(seed)
    probes = drawn.probes()
    gusty = drawn.plant()
    still = PhysicalPlant(replace(drawn.settings, gust_k=0.0))
    fluid = refrigerant(drawn.settings.refrigerant)
    mass_kg = (drawn.full_kg - drawn.settings.charge_kg) / max(steps, 1)
    feed_s = math.ceil(mass_kg / drawn.settings.flow_kg_per_s)
    opens = [RUN_IN_S + k * (feed_s + HOLD_S) for k in range(steps)]
    end = opens[-1] + feed_s + HOLD_S if opens else RUN_IN_S
    rows = []
    period_s = 1.0 / rate_hz
    acts = deque([(FREQUENCY_AT_S, False), *((at, True) for at in opens)])
    for k in range(1, round(end * rate_hz) + 1):
        now = k * period_s
        while acts and acts[0][0] <= now:
            at, opening = acts.popleft()
            for plant in (gusty, still):
                plant.run_until(float(at))
                if opening:
                    plant.begin_step(mass_kg)
                else:
                    plant.command_frequency()
        for plant in (gusty, still):
            plant.run_until(now)
        probes.follow(gusty.truth(), period_s)
        shown = probes.read()
        own = subcooling_k(fluid, shown[Role.LIQUID_PRESSURE], shown[Role.LIQUID_TEMPERATURE])
        other = superheat_k(fluid, shown[Role.SUCTION_PRESSURE], shown[Role.SUCTION_TEMPERATURE])
        rows.append(
            (
                now,
                own if isinstance(own, float) else math.nan,
                other if isinstance(other, float) else math.nan,
                shown[Role.COMPRESSOR_CURRENT],
                still.subcooling_k,
            )
        )
    t, subcooling, superheat, amps, truth = np.array(rows).T
    begins = [0.0, *(float(at + feed_s) for at in opens)]
    ends = [*(float(at) for at in opens), float(end) + 1.0]
    left, asymptote = np.zeros(t.size), truth.copy()
    parts = []
    for t0, t1 in zip(begins, ends, strict=True):
        inside = (t >= t0) & (t < t1)
        course = _swings_about(t[inside], truth[inside])
        final = float(course[t[inside] > t1 - END_S].mean())
        e = final - course
        left[inside], asymptote[inside] = e, final
        slope = np.abs(_slope(t[inside], e))
        outside = np.flatnonzero((np.abs(e) > BAND_K) | (slope > SLOPE_K_PER_S))
        settled_t = float(t[inside][outside[-1]]) + period_s if outside.size else t0
        parts.append(
            Step(
                t0=t0,
                t1=t1,
                change_k=float(e[0]),
                settled_k=final,
                settled_t=settled_t,
            )
        )
    return Job(
        weather=f"{drawn.settings.valve.value} valve",
        family=f"{drawn.grade} probes",
        rate_hz=rate_hz,
        t=t,
        subcooling=subcooling,
        superheat=superheat,
        amps=amps,
        remaining_k=np.abs(left),
        asymptote_k=asymptote,
        steps=tuple(parts),
        announced_t=tuple(float(at) for pair in zip(opens, begins[1:], strict=True) for at in pair),
    )


def _swings_about(t: Floats, value: Floats) -> Floats:
    """Return the mean over one period of a value that hunts to its end; else the value itself."""
    late = t > t[-1] - HUNTS_OVER_S
    away = value[late] - value[late].mean()
    last = away[-(away.size // 2) :]
    if min(float(last.max()), -float(last.min())) <= BAND_K:
        return value
    rises = np.flatnonzero((away[:-1] < 0.0) & (away[1:] >= 0.0))
    if rises.size < 3:
        return value
    half = 0.5 * (rises[-1] - rises[0]) / (rises.size - 1) * float(t[1] - t[0])
    summed = np.concatenate(([0.0], np.cumsum(value)))
    first, after = np.searchsorted(t, t - half), np.searchsorted(t, t + half)
    course: Floats = (summed[after] - summed[first]) / (after - first)
    return course


def _slope(t: Floats, value: Floats) -> Floats:
    """Return the slope [K/s] over 10 s about each time: the solver's last digits do not count."""
    half = 0.5 * SLOPE_OVER_S
    early, late = np.maximum(t - half, t[0]), np.minimum(t + half, t[-1])
    slope: Floats = (np.interp(late, t, value) - np.interp(early, t, value)) / (late - early)
    return slope


def make_plant_jobs(seed: int, count: int, *, steps: int = 3) -> list[Job]:
    """Make a set of jobs, one machine each, which goes round the rates."""
    return [
        make_plant_job(seed * 1000 + k, steps=steps, rate_hz=RATES_HZ[k % len(RATES_HZ)])
        for k in range(count)
    ]
