"""Numbers a recorded job may hold: a record comes from anywhere, its job went past no job file.

A period of a nanosecond would tick for years, a plate of 1e308 kg overflow what is computed from
it. The bounds are a little wider than those of job files, so that every job that was ever read from
one is inside.
"""

import dataclasses
import math
from collections.abc import Iterator, Mapping

from chargeassist.model.errors import RecordError
from chargeassist.model.job import Job
from chargeassist.model.limit_bounds import BOUNDS_SI, RANGES

LARGEST, SMALLEST = 1e10, 1e-12
"""Size of any number but 0, whatever it is [SI]."""

_BOUNDS: Mapping[str, tuple[float, float]] = {
    "charge.plate_kg": (0.01, 1000.0),
    "charge.step_cap_kg": (1e-4, 100.0),
    "charge.weighed_in_kg": (0.0, 2000.0),
    "charge.allowance_kg": (-1000.0, 1000.0),
    "charge.scale_resolution_kg": (1e-5, 10.0),
    "charge.limit_kg": (0.01, 2000.0),
    "processing.period_s": (0.1, 60.0),
    "processing.minimum_wait_s": (0.0, 86_400.0),
    "processing.settled_band_k": (0.01, 10.0),
    "target.tolerance_k": (0.01, 20.0),
    "target.subcooling_k": (0.0, 80.0),
    "target.superheat_k": (0.0, 80.0),
    "target.approach_tolerance_k": (0.01, 20.0),
    "performance.liquid_tolerance_pa": (1.0, 1e7),
    "performance.suction_tolerance_pa": (1.0, 1e7),
    "performance.discharge_tolerance_k": (0.01, 100.0),
    "performance.split_tolerance_k": (0.01, 100.0),
    "hold.required_hz": (1.0, 1000.0),
    "hold.tolerance_hz": (0.0, 1000.0),
    "site.altitude_m": (-1000.0, 10_000.0),
    "site.barometer_pa_abs": (20_000.0, 120_000.0),
    "site.outdoor_air_k": (200.0, 350.0),
}


def check_job(job: Job, where: str) -> Job:
    """Return `job`, or refuse it; `where` it was read stands in the error.

    Raises
    ------
    RecordError
        Naming the field, what was expected and what came.
    """
    beyond = beyond_bounds(job)
    if beyond:
        raise RecordError(f"{where}: job: {beyond}; no job file gives such a number")
    return job


def beyond_bounds(job: Job) -> str:
    """Return which number of `job` no record may hold, what was expected and what came.

    Empty where every number is inside. A job file is held to the same, so that nobody works by a
    job whose record cannot be opened afterwards.
    """
    for limit in job.limits:
        low, high = BOUNDS_SI.get(limit.key, (SMALLEST, LARGEST))
        if not low <= limit.value_si <= high:
            return f"limit {limit.key.value}: expected {low:g} to {high:g}, got {limit.value_si:g}"
    for name, value in _numbers(job, ""):
        low, high = _BOUNDS.get(name, (-LARGEST, LARGEST))
        small = 0.0 < abs(value) < SMALLEST
        if small or not low <= value <= high:
            expected = f"0, or a size from {SMALLEST:g} on" if small else f"{low:g} to {high:g}"
            return f"{name}: expected {expected}, got {value:g}"
    for least, most in RANGES:
        low, high = job.limit_si(least), job.limit_si(most)
        if low >= high:
            return f"limit {least.value}: expected less than {most.value}, {high:g}, got {low:g}"
    return ""


def _numbers(thing: object, name: str) -> Iterator[tuple[str, float]]:
    if isinstance(thing, bool):
        return
    if isinstance(thing, int | float):
        try:
            yield name, float(thing)
        except OverflowError:  # a whole number of hundreds of digits
            yield name, math.inf
    elif dataclasses.is_dataclass(thing):
        for field in dataclasses.fields(thing):
            inner = f"{name}.{field.name}" if name else field.name
            yield from _numbers(getattr(thing, field.name), inner)
    elif isinstance(thing, tuple | list):
        for item in thing:
            yield from _numbers(item, name)
    elif isinstance(thing, Mapping):
        for item in thing.values():
            yield from _numbers(item, name)
