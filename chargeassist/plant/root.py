"""Find the pressure that a conserved energy asks for, starting from a good guess."""

from collections.abc import Callable
from typing import Final

CLOSE_J: Final = 20.0
"""Miss below which one more linear step ends the search [J]; its own miss is of second order."""

MOST_STEPS: Final = 45
LARGEST_STEP: Final = 0.05
"""Of the pressure, in one step of the search [1]."""


class PressureRoot:
    """Newton's method with the slope kept from call to call; one evaluation when little changed.

    Parameters
    ----------
    miss : callable
        Energy at a trial pressure less the conserved energy [J]; it also sets what else belongs
        to the trial pressure.
    slope_j_per_pa : float
        First guess of its slope, above 0 [J/Pa].
    low_pa_abs, high_pa_abs : float
        Pressures that may be tried [Pa absolute].
    """

    __slots__ = ("_high", "_low", "_miss", "_slope", "_slope_max", "_slope_min")

    def __init__(
        self,
        miss: Callable[[float], float],
        slope_j_per_pa: float,
        low_pa_abs: float,
        high_pa_abs: float,
    ) -> None:
        self._miss = miss
        self._low = low_pa_abs
        self._high = high_pa_abs
        self._slope = slope_j_per_pa
        self._slope_min = slope_j_per_pa * 0.01
        self._slope_max = slope_j_per_pa * 100.0

    def find(self, guess_pa_abs: float) -> tuple[float, bool]:
        """Return the pressure [Pa absolute] and whether the search came to an end."""
        miss, slope = self._miss, self._slope
        p = guess_pa_abs
        f = miss(p)
        if -CLOSE_J < f < CLOSE_J:
            return p - f / slope, True
        for _ in range(MOST_STEPS):
            step = -f / slope
            limit = LARGEST_STEP * p
            step = limit if step > limit else (-limit if step < -limit else step)
            p_next = p + step
            if p_next < self._low:
                p_next = self._low
            elif p_next > self._high:
                p_next = self._high
            step = p_next - p
            if step == 0.0:
                return p, False  # held at an end of the table
            f_next = miss(p_next)
            if f_next != f:
                secant = (f_next - f) / step
                if secant > 0.0:
                    slope = min(max(secant, self._slope_min), self._slope_max)
            p, f = p_next, f_next
            if -CLOSE_J < f < CLOSE_J:
                self._slope = slope
                return p - f / slope, True
        return p, False
