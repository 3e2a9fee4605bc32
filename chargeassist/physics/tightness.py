"""Standing nitrogen pressure test, watched live: tight, as far as this test can see, or not.

What falls is told from what cools. Each reading becomes the pressure that the same gas would have
at the temperatures of the start (real nitrogen at constant amount); what is left is fitted by a
straight line in time beside what unknown volume shares and unmeasured parts could do, whose size is
bounded beforehand. The uncertainty of the line says which leak this test could have seen.

Limits (hold, pressures, the leak to be seen) are arguments: sources disagree (a maker asks 24 h,
the ASHRAE Journal of January 2021, p. 40, one hour and bubbles, a US guide 2 h or 24 h by piping).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from chargeassist.model.values import NoValue
from chargeassist.physics.nitrogen import (
    density_mol_per_m3,
    density_pressure_pa_abs,
    ideal_pressure_pa_abs,
    slope_pa_per_k,
)
from chargeassist.physics.tightness_fit import FloatArray, columns, smoothed
from chargeassist.physics.tightness_settings import TightnessSettings
from chargeassist.physics.uncertainty import COVERAGE_FACTOR, rectangular_u

DECISION_K: Final = 2.576
"""Falling or rising is said beyond so many standard uncertainties: 0.5 % wrong either way at one
look (normal law)."""

DETECTION_K: Final = 1.645
"""A leak counts as visible when it would be called falling in 95 of 100 tests (normal law; the two
quantiles add as in ISO 11843-1, capability of detection; from memory)."""

LEAST_BLOCKS: Final = 12
MOST_BLOCKS: Final = 192
"""Means of readings that the line is fitted to; when there are more, neighbours are joined."""

LEAST_NOISE_PA: Final = 1e-3
"""Scatter of a mean is never taken smaller, so that readings without any can be fitted [Pa]."""

LEAST_NOISE_K: Final = 1e-4
"""The same of a temperature [K]."""


class TightVerdict(StrEnum):
    """What the standing test says; the values are fit for a screen."""

    NOT_YET = "not yet"
    TIGHT = "tight, as far as this test can see"
    FALLING = "falling"
    RISING = "rising"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tightness:
    """What is known at one moment.

    Attributes
    ----------
    verdict, reason : TightVerdict, str
        And in one clause what is waited for, or what it rests on.
    elapsed_s, remaining_s : float
        Since isolation, and to the end of the hold, 0 once over [s]. A hold that nobody watched to
        its end, or from its beginning, is not over: the time without readings counts only where
        readings lie on both sides of it.
    compensated_pa_abs : float
        Pressure that the gas would have at the temperatures of the start [Pa absolute].
    ideal_check_pa_abs : float
        The same by the ideal gas, at the mean temperature: the check, not the result.
    change_pa : float
        Fitted change of the compensated pressure since the reference [Pa]; nan before there is any.
    expanded_pa : float
        Its expanded uncertainty, k = 2 [Pa].
    rate_pa_per_s, rate_expanded_pa_per_s : float
        As a rate; negative where it falls [Pa/s].
    smallest_leak_pa_per_s : float
        Smallest leak this test could have seen so far [Pa/s]; inf before there is any.
    needed_s : float or None
        Time still needed to see `leak_pa_per_s` of the settings as things stand; 0 when it can be
        seen now, None without one [s].
    """

    verdict: TightVerdict
    reason: str
    elapsed_s: float
    remaining_s: float
    compensated_pa_abs: float
    ideal_check_pa_abs: float
    change_pa: float
    expanded_pa: float
    rate_pa_per_s: float
    rate_expanded_pa_per_s: float
    smallest_leak_pa_per_s: float
    needed_s: float | None


@dataclass(slots=True)
class _Block:
    """Mean of some readings."""

    count: int
    t: float
    pressure: float
    temps: FloatArray  # pipes, then ambient if there is one


class TightnessTest:
    """One standing test from isolation on; feed it each tick.

    Parameters
    ----------
    settings : TightnessSettings
    isolated_t : float
        When the nitrogen supply was shut [s].

    Notes
    -----
    Work per reading is bounded: at most `MOST_BLOCKS` means are kept, and the line is fitted anew
    when one is complete.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 and F.1.1.2 (declared limits), 4.2 (scatter).
    .. [2] ASHRAE Journal, January 2021, p. 40: about 1 psi per °F at 500 psig; a smaller rise than
       expected is a leak too.
    """

    def __init__(self, settings: TightnessSettings, isolated_t: float) -> None:
        self.settings = settings
        self.isolated_t = isolated_t
        self._blocks: list[_Block] = []
        self._open: list[tuple[float, float, FloatArray]] = []
        self._opened_t = isolated_t
        self._first_t: float | None = None
        self._fitted_t = isolated_t
        self._width_s = max(settings.hold_s / MOST_BLOCKS, 5.0)
        self._reference: FloatArray | None = None
        self._fit: tuple[float, float, float] | None = None
        self._slope = 0.0
        self._reference_pa = 0.0

    def update(
        self,
        t: float,
        pressure_pa_abs: float,
        pipe_temps_k: Sequence[float],
        ambient_k: float | None = None,
    ) -> Tightness | NoValue:
        """Take in one tick and return what is known now.

        Parameters
        ----------
        t : float
            [s], not before the last one.
        pressure_pa_abs : float
            Of the circuit, gauge reading plus the station pressure of now [Pa absolute].
        pipe_temps_k : sequence of float, shape (n,)
            Shaded pipe surfaces, always the same probes in the same order; two or more unless the
            circuit is in one place [K].
        ambient_k : float or None
            Air where most of the circuit is, on all ticks or on none [K].

        Returns
        -------
        Tightness or NoValue
            `NoValue` for readings that are none; they leave no trace.

        Raises
        ------
        ValueError
            The number of probes has changed: an error of the program.
        """
        temps = [*pipe_temps_k, *([] if ambient_k is None else [ambient_k])]
        if not pipe_temps_k:
            return NoValue("a standing test needs at least one pipe temperature")
        self._check_shape(len(pipe_temps_k), len(temps))
        now = np.array(temps)
        probes = len(pipe_temps_k)
        reference = now if self._reference is None else self._reference
        compensated = self._compensated(pressure_pa_abs, now, reference, probes)
        if isinstance(compensated, NoValue):
            return compensated
        elapsed = t - self.isolated_t
        if elapsed >= self.settings.settle_s:
            self._take(t, pressure_pa_abs, now, probes)
        mean, mean_0 = (float(self._shares(probes) @ v[:probes]) for v in (now, reference))
        return self._say(t, compensated, ideal_pressure_pa_abs(pressure_pa_abs, mean, mean_0))

    def _check_shape(self, probes: int, width: int) -> None:
        shares = self.settings.volume_shares
        if shares is not None and len(shares) != probes:
            raise ValueError(f"expected {len(shares)} pipe temperatures, came {probes}")
        if self._reference is not None and len(self._reference) != width:
            raise ValueError(f"expected {len(self._reference)} temperatures, came {width}")

    def _shares(self, probes: int) -> FloatArray:
        shares = self.settings.volume_shares
        return np.full(probes, 1.0 / probes) if shares is None else np.array(shares)

    def _compensated(
        self, pressure: float, now: FloatArray, reference: FloatArray, probes: int
    ) -> float | NoValue:
        """Return the pressure of the same gas at the reference temperatures [Pa absolute]."""
        density = 0.0
        for share, temp in zip(self._shares(probes), now[:probes], strict=True):
            part = density_mol_per_m3(pressure, float(temp))
            if isinstance(part, NoValue):
                return part
            density += float(share) * part
        mean_k = float(self._shares(probes) @ reference[:probes])
        return density_pressure_pa_abs(density, mean_k)

    def _take(self, t: float, pressure: float, now: FloatArray, probes: int) -> None:
        if self._first_t is None:
            self._first_t = t
        if self._open and t - self._open[-1][0] > self._width_s:
            # What was read before a silence is not mixed with what is read after it.
            self._close(probes)
        if not self._open:
            self._opened_t = t
        self._open.append((t, pressure, now))
        if t - self._opened_t >= self._width_s:
            self._close(probes)

    def _close(self, probes: int) -> None:
        """Take the mean of the open readings, and fit the line anew."""
        count, last_t = len(self._open), self._open[-1][0]
        self._blocks.append(
            _Block(
                count,
                math.fsum(row[0] for row in self._open) / count,
                math.fsum(row[1] for row in self._open) / count,
                np.mean([row[2] for row in self._open], axis=0),
            )
        )
        self._open = []
        if len(self._blocks) > MOST_BLOCKS:
            self._join()
        if self._reference is None and len(self._blocks) >= 2:
            first = self._blocks[0]
            self._reference = first.temps
            mean_k = float(self._shares(probes) @ first.temps[:probes])
            slope = slope_pa_per_k(first.pressure, mean_k)
            reference = self._compensated(first.pressure, first.temps, first.temps, probes)
            if isinstance(slope, NoValue) or isinstance(reference, NoValue):  # pragma: no cover
                return  # the readings were inside the equation when they came
            self._slope, self._reference_pa = slope, reference
        if self._reference is not None and len(self._blocks) >= LEAST_BLOCKS:
            self._fit, self._fitted_t = self._fitted(self._reference, probes), last_t

    def _join(self) -> None:
        joined = []
        for a, b in zip(self._blocks[::2], self._blocks[1::2], strict=False):
            n = a.count + b.count
            wa, wb = a.count / n, b.count / n
            joined.append(
                _Block(n, wa * a.t + wb * b.t, wa * a.pressure + wb * b.pressure,
                       wa * a.temps + wb * b.temps)
            )  # fmt: skip
        if len(self._blocks) % 2:
            joined.append(self._blocks[-1])
        self._blocks = joined
        self._width_s *= 2.0

    def _fitted(self, reference: FloatArray, probes: int) -> tuple[float, float, float] | None:
        """Return rate [Pa/s], its standard uncertainty, and the time from first to last mean."""
        s = self.settings
        times = np.array([block.t for block in self._blocks])
        span = float(times[-1] - times[0])
        values = []
        for block in self._blocks:
            one = self._compensated(block.pressure, block.temps, reference, probes)
            if isinstance(one, NoValue):
                return None
            values.append(one - self._reference_pa)
        raw_y = np.array(values)
        raw_moved = np.array([block.temps for block in self._blocks]) - reference
        # All alike: scatter of a temperature is in the compensated pressure too, and would pass for
        # gas that follows none; a swing flattened on one side, for another volume share; a leak
        # across a gap in time, for gas that follows none.
        smooth = smoothed(np.column_stack([times, raw_y, raw_moved]))
        t, y, moved = np.split(smooth, [1, 2], axis=1)
        shares = self._shares(probes)
        x, raw_x = columns(t[:, 0], moved, shares), columns(times, raw_moved, shares)
        widths = self._widths(moved.shape[1], probes)
        bounds = np.array([0.0, 0.0, *(1.0 / max(w, 1e-12) for w in widths)])
        noise = max(s.pressure_noise_pa, LEAST_NOISE_K * self._slope, LEAST_NOISE_PA)
        u_change = noise
        solution = np.zeros(x.shape[1])
        for _ in range(4):
            normal = x.T @ x / noise**2 + np.diag(bounds**2)
            inverse = np.linalg.inv(normal)
            solution = inverse @ (x.T @ y[:, 0]) / noise**2
            rest = raw_y - raw_x @ solution
            freedom = max(len(y) - 2 - int(np.sum(np.array(widths) > 0.0)), 4)
            scatter = float(rest @ rest) / freedom
            echo = float(rest[1:] @ rest[:-1]) / max(float(rest @ rest), 1e-30)
            # Neighbouring means that err alike are worth fewer; at most a tenth of their number.
            worth = min(max((1.0 + echo) / (1.0 - min(echo, 0.99)), 1.0), 10.0)
            floor = s.pressure_noise_pa / math.sqrt(self._blocks[0].count)
            noise = math.sqrt(max(scatter, floor**2, LEAST_NOISE_PA**2) * worth)
            u_change = math.sqrt(float(inverse[1, 1]))
        drift = math.hypot(
            math.sqrt(2.0) * rectangular_u(s.pressure_drift_half_width_pa),
            math.sqrt(2.0 / probes) * self._slope * rectangular_u(s.temp_drift_half_width_k),
            rectangular_u(s.station_half_width_pa),
        )
        few = 1.0 + 1.5 / max(len(y) - x.shape[1], 2)  # Student's t for few means, near enough
        return float(solution[1]) / span, math.hypot(u_change * few, drift) / span, span

    def _widths(self, temps: int, probes: int) -> list[float]:
        """Return how large the coefficient of each unknown can be, as standard uncertainties."""
        s = self.settings
        shared = self._slope * s.volume_share_u
        unseen = self._slope * s.unseen_share
        apart = [shared if i < probes and probes > 1 else unseen for i in range(temps)]
        return [unseen, *apart]

    def _unwatched_s(self) -> float:
        """Return how much of the hold lies outside the first and the last reading fitted [s]."""
        if self._first_t is None or self._fit is None:
            return 0.0
        # The newest readings wait for their mean to be complete.
        watched_s = self._fitted_t - self._first_t + 2.0 * self._width_s
        return self.settings.hold_s - self.settings.settle_s - watched_s

    def _say(self, t: float, compensated: float, ideal: float) -> Tightness:
        s = self.settings
        elapsed = t - self.isolated_t
        remaining = max(s.hold_s - elapsed, self._unwatched_s(), 0.0)
        if self._fit is None:
            rate = rate_u = change = math.nan
            smallest, needed = math.inf, None if s.leak_pa_per_s is None else math.inf
            verdict, reason = TightVerdict.NOT_YET, "temperatures are settling after filling"
            if elapsed >= s.settle_s:
                reason = "too few readings yet"
        else:
            rate, rate_u, span = self._fit
            change = rate * span
            smallest = (DECISION_K + DETECTION_K) * rate_u
            needed = None
            if s.leak_pa_per_s is not None:
                # The uncertainty of the change is taken to stay as it is now.
                needed = max(span * (smallest / s.leak_pa_per_s - 1.0), 0.0)
            verdict, reason = verdict_of(rate, rate_u, remaining, needed)
        return Tightness(
            verdict=verdict,
            reason=reason,
            elapsed_s=elapsed,
            remaining_s=remaining,
            compensated_pa_abs=compensated,
            ideal_check_pa_abs=ideal,
            change_pa=change,
            expanded_pa=COVERAGE_FACTOR * rate_u * (self._fit[2] if self._fit else math.nan),
            rate_pa_per_s=rate,
            rate_expanded_pa_per_s=COVERAGE_FACTOR * rate_u,
            smallest_leak_pa_per_s=smallest,
            needed_s=needed,
        )


def verdict_of(
    rate: float, rate_u: float, remaining: float, needed: float | None
) -> tuple[TightVerdict, str]:
    """Return the verdict on a rate, and what it rests on or waits for.

    Parameters
    ----------
    rate, rate_u : float
        Change of the compensated pressure with its standard uncertainty [Pa/s].
    remaining : float
        Of the hold [s].
    needed : float or None
        Until the leak that is asked for can be seen [s]; None where none is asked for.
    """
    if rate < -DECISION_K * rate_u:
        return TightVerdict.FALLING, "more than temperatures and probes explain"
    if rate > DECISION_K * rate_u:
        return TightVerdict.RISING, (
            "more than temperatures and probes explain: is the supply shut, is a part warming "
            "where no probe is?"
        )
    if remaining > 0.0:
        return TightVerdict.NOT_YET, "the hold is not over"
    if needed is not None and needed > 0.0:
        return TightVerdict.NOT_YET, "the leak to be seen could not be seen yet"
    return TightVerdict.TIGHT, "no change beyond what temperatures and probes explain"
