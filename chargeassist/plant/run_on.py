"""The settled truth of a plant: where it comes to rest if nothing more is done to it."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Final

from chargeassist.plant.physical import PhysicalPlant

LONGEST_S: Final = 1200.0
"""How long a plant is run on [s] (assumption: ten time constants of the slowest)."""

LAST_S: Final = 240.0
"""The settled value is the mean over this time at the end [s]: several periods of a hunting valve.
"""

LEAST_RISES: Final = 3
"""Times a value rises through its middle, for the length of its swings to be known."""


@dataclass(frozen=True, slots=True)
class SettledTruth:
    """What a machine comes to.

    Attributes
    ----------
    value_k : float
        Mean over the last `LAST_S` seconds [K].
    swing_k : float
        Between the lowest and the highest of them [K]; a hunting valve never settles.
    settled_t : float
        From this time on it stays inside the band around `value_k` [s].
    """

    value_k: float
    swing_k: float
    settled_t: float


def run_on(plant: PhysicalPlant) -> list[tuple[float, float, float]]:
    """Run a plant on for `LONGEST_S`, and return its course second by second.

    Parameters
    ----------
    plant : PhysicalPlant
        A twin in still air with nothing more to come; it is advanced.

    Returns
    -------
    list of (float, float, float)
        Time [s], subcooling and superheat without any probe's error [K].

    Raises
    ------
    PlantLimitError
        The machine reached a state that the model has no equations for.
    """
    course = []
    for _ in range(round(LONGEST_S)):
        plant.run_until(plant.t + 1.0)
        course.append((plant.t, plant.subcooling_k, plant.superheat_k))
    return course


def settled_truth(course: Sequence[tuple[float, float]], band_k: float) -> SettledTruth:
    """Return what a course of (time [s], value [K]) comes to and from when on.

    Parameters
    ----------
    course : sequence of (float, float)
        Long enough to have settled; at least one point.
    band_k : float
        Half width around the settled value.
    """
    end_t = course[-1][0]
    last = [value for t, value in course if t > end_t - LAST_S]
    value_k = statistics.fmean(last)
    outside = [t for t, value in course if abs(value - value_k) > band_k]
    settled_t = outside[-1] if outside else course[0][0]
    return SettledTruth(value_k, max(last) - min(last), settled_t)


def without_swings(course: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the middle of a course that swings: its mean over the last whole swing.

    Parameters
    ----------
    course : sequence of (float, float)
        Time [s] and value [K], second by second; swinging at its end.

    Returns
    -------
    list of (float, float)
        From the end of the first swing on; empty where there are not two swings in `LAST_S`.
    """
    tail = course[-round(LAST_S) :]
    middle = statistics.fmean(value for _, value in tail)
    rises = [t for (_, a), (t, b) in pairwise(tail) if a <= middle < b]
    if len(rises) < LEAST_RISES:
        return []
    length = max(1, round((rises[-1] - rises[0]) / (len(rises) - 1)))
    sums = list(accumulate((value for _, value in course), initial=0.0))
    return [
        (course[k - 1][0], (sums[k] - sums[k - length]) / length)
        for k in range(length, len(course) + 1)
    ]
