"""The second judge: charging jobs on the physical plant, read through its probes.

Nothing here knows what shapes the detector believes in. A machine, its valve, load, gusts and
probes come from `chargeassist.plant.random_units`; the truth is the same machine in still air,
without probes: where its subcooling stands after the step, and how far it is from there.
"""

import math
from dataclasses import replace

import numpy as np

from chargeassist.model.channels import Role
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.physics.saturation import refrigerant
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.random_units import random_job
from tests.benchmarks.settling.generator import BAND_K, SLOPE_K_PER_S, Job, Step

FREQUENCY_AT_S = 2
RUN_IN_S, HOLD_S, END_S = 900, 660, 60


def make_plant_job(seed: int, *, steps: int = 3) -> Job:
    """Make one job of the physical plant at 1 Hz, the same for the same arguments.

    Parameters
    ----------
    seed : int
        Of the machine, its weather and its probes.
    steps : int
        Number of equal charge steps that together fill it.

    Returns
    -------
    Job
        A step begins when the valve is shut; `opened_t` says when it was opened.
    """
    drawn = random_job(seed)
    probes = drawn.probes()
    gusty = drawn.plant()
    still = PhysicalPlant(replace(drawn.settings, gust_k=0.0))
    fluid = refrigerant(drawn.settings.refrigerant)
    mass_kg = (drawn.full_kg - drawn.settings.charge_kg) / steps
    feed_s = math.ceil(mass_kg / drawn.settings.flow_kg_per_s)
    opens = [RUN_IN_S + k * (feed_s + HOLD_S) for k in range(steps)]
    end = opens[-1] + feed_s + HOLD_S
    rows = []
    for second in range(1, end + 1):
        for plant in (gusty, still):
            if second == FREQUENCY_AT_S:
                plant.command_frequency()
            if second in opens:
                plant.begin_step(mass_kg)
            plant.run_until(float(second))
        probes.follow(gusty.truth(), 1.0)
        shown = probes.read()
        own = subcooling_k(fluid, shown[Role.LIQUID_PRESSURE], shown[Role.LIQUID_TEMPERATURE])
        other = superheat_k(fluid, shown[Role.SUCTION_PRESSURE], shown[Role.SUCTION_TEMPERATURE])
        rows.append(
            (
                float(second),
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
        final = float(truth[inside][-END_S:].mean())
        e = final - truth[inside]
        left[inside], asymptote[inside] = e, final
        outside = np.flatnonzero((np.abs(e) > BAND_K) | (np.abs(np.gradient(e)) > SLOPE_K_PER_S))
        settled_t = t0 + float(outside[-1] + 1) if outside.size else t0
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
        weather=drawn.settings.valve.value,
        family="physical plant",
        rate_hz=1.0,
        t=t,
        subcooling=subcooling,
        superheat=superheat,
        amps=amps,
        remaining_k=np.abs(left),
        asymptote_k=asymptote,
        steps=tuple(parts),
        announced_t=tuple(float(at) for pair in zip(opens, begins[1:], strict=True) for at in pair),
    )


def make_plant_jobs(seed: int, count: int) -> list[Job]:
    """Make a set of jobs, one machine each."""
    return [make_plant_job(seed * 1000 + k) for k in range(count)]
