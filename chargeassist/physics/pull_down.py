"""Pull-down of a vacuum watched live: still falling, done, or stalled, and on what.

A stall at the saturation pressure of water (or, below the triple point, of ice) at the coldest
place of the circuit is water: it boils or sublimes as fast as the pump takes it away. A stall
anywhere else is gas that comes in, or a pump that can do no more. Thermal gauges read water vapour
high, so that the mark of water is a band, not a line.
"""

import math
from collections import deque
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics import water_vapour
from chargeassist.physics.vacuum_gauge import GaugeLimits

WINDOW_S: Final = 300.0
"""The fall is taken over this time [s] (assumption)."""

STALL_SHARE: Final = USUAL[LimitKey.VACUUM_STALL].value_si
"""A fall by less than this share in the window is a stall, where the job's limits do not say [1].
"""

EVERY_S: Final = 5.0
"""Time between readings of a probe that are looked at [s]."""

APART_BY_HAND_S: Final = 60.0
"""Two readings taken by hand tell a pace when they are this far apart [s] (assumption)."""

WATER_BAND: Final = (0.5, 1.1)
"""A stall on water reads between these shares of its saturation pressure, the upper one times what
the gauge shows too much: evaporating water is colder than its metal [1] (assumption)."""


class PullState(StrEnum):
    """Where the pull-down stands."""

    FALLING = "falling"
    WATER = "stalled at the pressure of water at the coldest place"
    ICE = "stalled at the pressure of ice at the coldest place"
    STALLED = "stalled: ice, gas that comes in, or a pump that can do no more"
    DEEP = "at the target"


@dataclass(frozen=True, slots=True, kw_only=True)
class PullDown:
    """What is known at one moment.

    Attributes
    ----------
    state : PullState
    fall_per_min : float or None
        Share of the pressure lost in a minute, of the last minutes; None for want of readings.
    seconds_to_target : float or None
        At this pace; None where it stalls.
    water_pa_abs : float or None
        Saturation pressure at the coldest place, over ice below the triple point [Pa absolute].
    """

    state: PullState
    fall_per_min: float | None
    seconds_to_target: float | None
    water_pa_abs: float | None


class PullDownWatch:
    """Watches one pull-down; feed it each tick while the pump draws on the circuit.

    Parameters
    ----------
    target_pa_abs : float
        To be reached before the rise test [Pa absolute].
    gauge : GaugeLimits
    by_hand : bool
        Readings are typed, minutes apart: the last one and the one before it that is old enough
        tell the pace.
    stall_share : float
        A fall by less than this share of the pressure in the window is a stall [1].
    """

    def __init__(
        self,
        target_pa_abs: float,
        gauge: GaugeLimits,
        *,
        by_hand: bool = False,
        stall_share: float = STALL_SHARE,
    ) -> None:
        self._stall_per_s = -math.log1p(-stall_share) / WINDOW_S
        self.target_pa_abs = target_pa_abs
        self._gauge = gauge
        self._by_hand = by_hand
        self._points: deque[tuple[float, float]] = deque()

    def restart(self) -> None:
        """Forget what was: the circuit was opened, broken with nitrogen, or isolated."""
        self._points.clear()

    def update(self, t: float, pressure_pa_abs: float, coldest_k: float | None) -> PullDown:
        """Take in one tick and return what is known now.

        Parameters
        ----------
        t : float
            [s].
        pressure_pa_abs : float
            As the gauge reads [Pa absolute].
        coldest_k : float or None
            Coldest metal of the circuit, where it is known [K].
        """
        points = self._points
        every_s = 0.0 if self._by_hand else EVERY_S
        if pressure_pa_abs > 0.0 and (not points or t - points[-1][0] >= every_s):
            points.append((t, math.log(pressure_pa_abs)))
            while self._is_spent(t):
                points.popleft()
        slope = self._slope()
        water = self._water(coldest_k)
        if pressure_pa_abs <= self.target_pa_abs:
            state = PullState.DEEP
        elif slope is None or slope < -self._stall_per_s:
            state = PullState.FALLING
        else:
            state = self._stalled_on(pressure_pa_abs, water)
        seconds = None
        if slope is not None and slope < -self._stall_per_s and state is PullState.FALLING:
            seconds = math.log(pressure_pa_abs / self.target_pa_abs) / -slope
        return PullDown(
            state=state,
            fall_per_min=None if slope is None else -math.expm1(60.0 * slope),
            seconds_to_target=seconds,
            water_pa_abs=water,
        )

    def _is_spent(self, t: float) -> bool:
        """Return whether the oldest point no longer tells the pace at `t` [s]."""
        points = self._points
        if self._by_hand:
            return len(points) > 2 and t - points[1][0] >= APART_BY_HAND_S
        return t - points[0][0] > WINDOW_S

    def _slope(self) -> float | None:
        """Return the slope of the logarithm [1/s], None before the window is full."""
        points = self._points
        if self._by_hand:
            if not points or points[-1][0] - points[0][0] < APART_BY_HAND_S:
                return None
            (t0, y0), (t1, y1) = points[0], points[-1]
            return (y1 - y0) / (t1 - t0)
        if not points or points[-1][0] - points[0][0] < 0.9 * WINDOW_S:
            return None
        n = len(points)
        mean_t = math.fsum(t for t, _ in points) / n
        mean_y = math.fsum(y for _, y in points) / n
        over = math.fsum((t - mean_t) * (y - mean_y) for t, y in points)
        return over / math.fsum((t - mean_t) ** 2 for t, _ in points)

    @staticmethod
    def _water(coldest_k: float | None) -> float | None:
        if coldest_k is None:
            return None
        water = water_vapour.saturation_pressure_pa_abs(coldest_k)
        return None if isinstance(water, NoValue) else water

    def _stalled_on(self, pressure: float, water: float | None) -> PullState:
        # Ice may end far below: then nothing but a rise test tells it from a leak.
        least, most = WATER_BAND
        top = self._gauge.water_most * most
        if water is not None and least * water <= pressure <= top * water:
            return PullState.WATER if pressure > water_vapour.TRIPLE_POINT_PA_ABS else PullState.ICE
        return PullState.STALLED
