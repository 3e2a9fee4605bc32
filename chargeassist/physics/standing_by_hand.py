"""A standing pressure test from a few readings taken by hand: begin, end, and what lies between.

The same question as `chargeassist.physics.tightness`, with far less to answer it: nobody watched
between the readings, so that every declared error counts in full at each of them, and what the
parts without a thermometer did is bounded by what the measured ones did. The uncertainty is wide,
and said.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from chargeassist.model.values import NoValue
from chargeassist.physics.nitrogen import (
    density_mol_per_m3,
    density_pressure_pa_abs,
    ideal_pressure_pa_abs,
    slope_pa_per_k,
)
from chargeassist.physics.tightness import DECISION_K, Tightness, verdict_of
from chargeassist.physics.tightness_settings import TightnessSettings
from chargeassist.physics.uncertainty import COVERAGE_FACTOR, rectangular_u

LEAST_READINGS: Final = 2
"""One at the begin of the hold and one at its end."""

LEAST_U_PA: Final = 1.0
"""Standard uncertainty of a reading by eye is never taken smaller, whatever is declared [Pa]
(assumption)."""

DETECTION_K: Final = 2.0
"""A leak counts as visible when 97 of 100 tests would call it falling (normal law): more than with
probes, for two readings show nothing of their own scatter."""

ONE_PIPE_SHARE: Final = 0.5
"""With one pipe measured, the rest of the circuit may have changed by as much more or less than it,
as a share of its change: standard uncertainty [-] (assumption)."""

ONE_PIPE_K: Final = 1.0
"""... and by so much even where that pipe did not change at all [K] (assumption)."""


@dataclass(frozen=True, slots=True)
class HandReading:
    """What was read off at one moment.

    Attributes
    ----------
    t : float
        [s].
    pressure_pa_abs : float
        Gauge reading plus the station pressure of then [Pa absolute].
    pipe_temps_k : tuple of float
        Always the same pipes in the same order [K].
    """

    t: float
    pressure_pa_abs: float
    pipe_temps_k: tuple[float, ...]


def judge_by_hand(
    readings: Sequence[HandReading], settings: TightnessSettings, isolated_t: float, now: float
) -> Tightness | NoValue:
    """Return what the readings say of the circuit.

    Parameters
    ----------
    readings : sequence of HandReading
        In the order of time, the first of them after the heat of filling has gone.
    settings : TightnessSettings
        `pressure_drift_half_width_pa` and `temp_drift_half_width_k` are what one reading of the
        gauge and of the thermometer may be off by.
    isolated_t, now : float
        When the supply was shut; the present [s].

    Returns
    -------
    Tightness or NoValue
        `NoValue` without two readings at two times, and for readings that are none. The hold counts
        from isolation to the last reading, but no longer than the time between the first and the
        last reading together with the time left to the heat of filling.

    Raises
    ------
    ValueError
        A reading has no pipe, or not as many as the others: an error of the program.

    Notes
    -----
    A straight line through the compensated pressures by least squares. Standard uncertainty of one
    of them: both declared limits as rectangles. One thermometer reads all pipes, so that its error
    does not average out among them. Added to that of the change: the atmosphere, gas that followed
    no pipe, and shares of the volume nobody knows.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7 (limits as rectangles), 5.1.2, 5.2.2 (one instrument for several
       quantities); H.3 (straight line).
    """
    pipes = {len(each.pipe_temps_k) for each in readings}
    if readings and (len(pipes) != 1 or 0 in pipes):
        raise ValueError(f"expected the same pipes, one or more, at each reading, came {pipes}")
    if len(readings) < LEAST_READINGS:
        return NoValue("a reading at the begin and one at the end are needed")
    first, last = readings[0], readings[-1]
    if not last.t > first.t:
        return NoValue("the last reading was taken no later than the first")
    compensated = []
    for each in readings:
        value = _compensated(each, first)
        if isinstance(value, NoValue):
            return value
        compensated.append(value)
    mean_k = math.fsum(first.pipe_temps_k) / len(first.pipe_temps_k)
    slope = slope_pa_per_k(first.pressure_pa_abs, mean_k)
    if isinstance(slope, NoValue):
        return slope
    rate, rate_u, span = _line(readings, compensated, slope, settings)
    smallest = (DECISION_K + DETECTION_K) * rate_u
    held = min(last.t - isolated_t, span + settings.settle_s)
    remaining = max(settings.hold_s - held, 0.0)
    needed = None
    if settings.leak_pa_per_s is not None:
        needed = max(span * (smallest / settings.leak_pa_per_s - 1.0), 0.0)
    verdict, reason = verdict_of(rate, rate_u, remaining, needed)
    now_k = math.fsum(last.pipe_temps_k) / len(last.pipe_temps_k)
    return Tightness(
        verdict=verdict,
        reason=f"{reason}; by {len(readings)} readings taken by hand",
        elapsed_s=now - isolated_t,
        remaining_s=remaining,
        compensated_pa_abs=compensated[-1],
        ideal_check_pa_abs=ideal_pressure_pa_abs(last.pressure_pa_abs, now_k, mean_k),
        change_pa=rate * span,
        expanded_pa=COVERAGE_FACTOR * rate_u * span,
        rate_pa_per_s=rate,
        rate_expanded_pa_per_s=COVERAGE_FACTOR * rate_u,
        smallest_leak_pa_per_s=smallest,
        needed_s=needed,
    )


def _compensated(reading: HandReading, first: HandReading) -> float | NoValue:
    """Return the pressure of the same gas at the temperatures of the first reading [Pa absolute].

    The gas is spread over the pipes in equal parts, as nobody knows better.
    """
    count = len(reading.pipe_temps_k)
    density = 0.0
    for temp in reading.pipe_temps_k:
        part = density_mol_per_m3(reading.pressure_pa_abs, temp)
        if isinstance(part, NoValue):
            return part
        density += part / count
    return density_pressure_pa_abs(density, math.fsum(first.pipe_temps_k) / count)


def _line(
    readings: Sequence[HandReading],
    compensated: Sequence[float],
    slope: float,
    settings: TightnessSettings,
) -> tuple[float, float, float]:
    """Return rate [Pa/s], its standard uncertainty, and the time from first to last reading [s]."""
    times = np.array([each.t for each in readings])
    values = np.array(compensated)
    span = float(times[-1] - times[0])
    away = times - times.mean()
    spread = float(away @ away)
    rate = float(away @ values) / spread
    pipes = len(readings[0].pipe_temps_k)
    one_u = math.hypot(
        rectangular_u(settings.pressure_drift_half_width_pa),
        settings.pressure_noise_pa,
        slope * rectangular_u(settings.temp_drift_half_width_k),
        LEAST_U_PA,
    )
    rest = values - values.mean() - rate * away
    freedom = len(values) - 2
    if freedom > 0:
        # Readings that lie further off the line than declared are worth less than declared.
        one_u *= max(1.0, math.sqrt(float(rest @ rest) / freedom) / one_u)
    moved = np.array(readings[-1].pipe_temps_k) - np.array(readings[0].pipe_temps_k)
    mean_moved = float(moved.mean())
    unseen_k = settings.unseen_share * mean_moved
    if pipes == 1:
        unseen_k = math.hypot(ONE_PIPE_SHARE * mean_moved, ONE_PIPE_K)
    apart_k = settings.volume_share_u * math.sqrt(float(np.sum((moved - mean_moved) ** 2)))
    change_u = math.hypot(
        slope * unseen_k, slope * apart_k, rectangular_u(settings.station_half_width_pa)
    )
    return rate, math.hypot(one_u / math.sqrt(spread), change_u / span), span
