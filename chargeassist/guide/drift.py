"""A reading that has settled and then drifts: refrigerant leaking out, or a zero that creeps.

What has settled after the last change should stand. Subcooling that falls on and on, while the
liquid line warms by most of it and the condenser cools by the rest, has less and less refrigerant
behind it. Subcooling that moves with the liquid pressure alone, while neither the liquid line nor
the amps follow, is the pressure probe's doing. Weather and load move all of it, so nothing is said
while the air drifts.

On this project's physical plant the liquid line takes 0.6 to 0.8 of what a loss takes from the
subcooling, for five refrigerants and both kinds of valve; of a zero it takes nothing.

Behind a fixed orifice a loss lifts the superheat as well, by 0.7 to 0.9 of what it takes from the
subcooling (0.5 to 0.7 of it in the line), and a zero of the liquid pressure leaves it alone. So
there superheat is a witness, and only what moves it the other way begins another start.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from operator import mul
from typing import Final

import numpy as np
from numpy.typing import NDArray

from chargeassist.model.channels import Role
from chargeassist.stream.facts import Facts, Measured, SettleState

BIN_S: Final = 10.0
LOOKS_EVERY_BINS: Final = 3
FEWEST_BINS: Final = 24
MOST_BINS: Final = 90
NEWEST_BINS: Final = (30, 54)
"""Four to fifteen minutes of ten-second means; and the newest five and nine."""

AFTER_SETTLED_S: Final = 30.0
"""What may still come when a reading is called settled is over soon after [s]."""

AFTER_START_S: Final = 420.0
"""A start has a tail of its own: oil warms, the shell, the rooms' air [s]. Assumption."""

AFTER_UPSET_S: Final = 600.0
UPSET_K: Final = 1.5
"""Neither a leak nor the liquid pressure's zero moves superheat or the boiling point while the line
has its seal; what does begins another start [K]. Assumption."""

LEAST_K: Final = 0.45
LEAST_K_PER_S: Final = 0.03 / 60.0
Z: Final = 3.0
"""A drift has come to this much in all, is no slower than this, and differs from none by so many
standard errors. Assumption: half as much again as the band a reading settles in."""

HALVES: Final = 0.6
"""Both halves drift the same way, the weaker by this share of the whole: a tail dies away."""

AIR_K_PER_S: Final = 0.12 / 60.0
"""Outdoor or return air that drifts faster explains it."""

SURE: Final = 2.0
"""Standard errors the liquid line's part must be away from the other cause's: gusts hide it for
minutes, and a leak called a zero sends the technician to the wrong place."""

LOSS_SHARE: Final[tuple[float, ...]] = (0.4, 1.1)
ZERO_SHARE: Final = 0.4
"""Part of the drift the liquid line takes, the other way round, under a loss; and, either way, at
the most, while a zero creeps [1]."""

LIFTS_SUPERHEAT: Final = 0.3
"""Part of a loss that superheat behind a fixed orifice rises by at least [1]; a zero moves it by
less, either way. Assumption: half of what the plant does."""

AMPS_PER_K: Final = 0.02
AMPS_FOLLOW: Final = 0.6
"""Amps follow a true change of the condensing temperature by this share [1/K]; a zero moves them
by less than this part of it."""

GONE_K_PER_S: Final = 0.02 / 60.0
"""A reading that drifts by less, its standard error included, stands again."""

Table = NDArray[np.float64]
"""Means of `BIN_S`, one row each: when [s], and what is in the columns below [K, A]."""

_SUBCOOLING, _SATURATION, _LINE, _AMPS, _OUTDOOR, _RETURN, _SUPERHEAT, _BOILING = range(1, 9)


class DriftCause(StrEnum):
    """What drifts; the values are fit for a screen."""

    LEAK = "refrigerant is leaking out"
    ZERO = "pressure probe's zero shifted"


NEXT_CHECK: Final = {
    DriftCause.LEAK: (
        "add nothing before the leak is found: look at service valves, hoses, flares and brazed "
        "joints with a leak detector"
    ),
    DriftCause.ZERO: "open the probe to the air and read its zero; let it warm up to the air",
}
"""Common practice, no published source."""

EVIDENCE: Final = {
    DriftCause.LEAK: ("subcooling falls on and on", "the liquid line warms by most of it"),
    DriftCause.ZERO: ("the liquid pressure drifts alone", "the liquid line does not follow"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """One drift.

    Attributes
    ----------
    cause : DriftCause
    since_t : float
        Beginning of the time it was seen over [s].
    rate_k_per_s : float
        Of the subcooling.
    over_s : float
        How long it was seen [s].
    """

    cause: DriftCause
    since_t: float
    rate_k_per_s: float
    over_s: float

    @property
    def alternatives(self) -> tuple[DriftCause, ...]:
        """What cannot be told from it: gusts blur which of the two makes a reading fall."""
        if self.rate_k_per_s > 0.0:
            return ()
        return tuple(each for each in DriftCause if each is not self.cause)

    @property
    def figures(self) -> dict[str, float]:
        """Its numbers, as every sentence about it takes them."""
        return {"rate_k_per_s": self.rate_k_per_s, "over_s": self.over_s}

    @property
    def words(self) -> str:
        """Cause and alternatives: "refrigerant is leaking out, or pressure probe's ..."."""
        return ", or ".join(each.value for each in (self.cause, *self.alternatives))


@dataclass(frozen=True, slots=True)
class _Slope:
    rate: float
    sd: float


class DriftWatch:
    """Finds and withdraws; one call per tick, nearly all of which only add up.

    Parameters
    ----------
    orifice : bool
        The unit meters by a fixed orifice, and superheat is what its charge is judged by.

    Attributes
    ----------
    found : Drift or None
    """

    def __init__(self, *, orifice: bool = False) -> None:
        self._orifice = orifice
        self.found: Drift | None = None
        self._since_s = 0.0
        self._begins_t = math.inf
        self._ends_t = math.inf
        self._rows: list[tuple[float | None, ...]] = []
        self._bins: list[tuple[float, ...]] = []

    def forget(self, cause: DriftCause | None = None) -> None:
        """Begin anew; with a cause, withdraw only that."""
        self._stop()
        if cause is None or (self.found is not None and self.found.cause is cause):
            self.found = None

    def tick(self, facts: Facts) -> Drift | None:
        """Return the drift that stands at a tick."""
        state, since_s = facts.settling.state, facts.settling.since_s
        changed = since_s < self._since_s or facts.step_open is not None or not facts.hold.held
        self._since_s = since_s
        if changed or state is SettleState.NO_SIGNAL:
            self._stop()
            return self.found
        if self._begins_t == math.inf:
            if state is SettleState.SETTLED:
                run_s = math.inf if facts.running_since_t is None else facts.running_since_t
                self._begins_t = max(facts.t + AFTER_SETTLED_S, run_s + AFTER_START_S)
                self._ends_t = self._begins_t + BIN_S
            return self.found
        if facts.t < self._begins_t:
            return self.found
        if facts.t >= self._ends_t:
            self._close()
        self._add(facts)
        return self.found

    def _stop(self) -> None:
        if self._begins_t != math.inf:
            self._begins_t = self._ends_t = math.inf
            self._rows.clear()
            self._bins.clear()

    def _add(self, facts: Facts) -> None:
        subcooling, saturation_k = facts.subcooling, facts.liquid_saturation_k
        live = facts.live
        line_k = live(Role.LIQUID_TEMPERATURE)
        if not isinstance(subcooling, Measured) or saturation_k is None or line_k is None:
            return
        superheat = facts.superheat
        self._rows.append(
            (
                subcooling.value_k,
                saturation_k,
                line_k,
                live(Role.COMPRESSOR_CURRENT),
                live(Role.OUTDOOR_AIR_TEMPERATURE),
                live(Role.RETURN_AIR_TEMPERATURE),
                superheat.value_k if isinstance(superheat, Measured) else None,
                facts.suction_saturation_k,
            )
        )

    def _close(self) -> None:
        self._ends_t += BIN_S
        if not self._rows:
            return
        middle_t = self._ends_t - 1.5 * BIN_S
        self._bins.append((middle_t, *map(_mean, zip(*self._rows, strict=True))))
        self._rows.clear()
        if self._upset():
            self._bins.clear()
            self._begins_t = self._ends_t + AFTER_UPSET_S
            self._ends_t = self._begins_t + BIN_S
            return
        del self._bins[:-MOST_BINS]
        if len(self._bins) >= FEWEST_BINS and len(self._bins) % LOOKS_EVERY_BINS == 0:
            self._look()

    def _upset(self) -> bool:
        """Whether the low side is not where it was: a valve, a fan or a load has changed."""
        first, newest = self._bins[0], self._bins[-1]
        if self._orifice:
            return any(
                sign * (newest[column] - first[column]) > UPSET_K
                for column, sign in ((_SUPERHEAT, -1.0), (_BOILING, 1.0))
            )
        return any(
            abs(newest[column] - first[column]) > UPSET_K for column in (_SUPERHEAT, _BOILING)
        )

    def _look(self) -> None:
        """Look at all of it, and at the newest part: a drift may have begun meanwhile."""
        bins = self._bins
        if self.found is not None:
            table = np.array(bins)
            slope = _slope(table[:, 0] - table[0, 0], table[:, _SUBCOOLING])
            if abs(slope.rate) + slope.sd < GONE_K_PER_S:
                self.found = None
        for count in NEWEST_BINS:
            if count < len(bins):
                found = _drift(bins[-count:], orifice=self._orifice)
                if found is not None:
                    self.found = found
                    return
        self.found = _drift(bins, orifice=self._orifice) or self.found


def _mean(values: tuple[float | None, ...]) -> float:
    """Return the mean; NaN where one is missing."""
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if len(known) == len(values) else math.nan


def _drift(bins: list[tuple[float, ...]], *, orifice: bool) -> Drift | None:
    """Return the drift a stretch shows; None for none, or for one that weather may explain."""
    whole_s = bins[-1][0] - bins[0][0] + BIN_S
    rate = _rate(bins)
    if abs(rate) < LEAST_K_PER_S or abs(rate) * whole_s < LEAST_K:
        return None
    table = np.array(bins)
    times = table[:, 0] - table[0, 0]
    slope = _slope(times, table[:, _SUBCOOLING])
    if abs(slope.rate) < Z * slope.sd:
        return None
    half = len(times) // 2
    for part in (slice(None, half), slice(half, None)):
        if _slope(times[part], table[part, _SUBCOOLING]).rate / slope.rate < HALVES:
            return None
    for column in (_OUTDOOR, _RETURN):
        air = table[:, column]
        if not np.isnan(air).any() and abs(_slope(times, air).rate) > AIR_K_PER_S:
            return None
    cause = _cause(times, table, slope)
    if cause is None or (orifice and not _borne_out(cause, times, table, slope)):
        return None
    return Drift(cause=cause, since_t=float(table[0, 0]), rate_k_per_s=slope.rate, over_s=whole_s)


def _rate(bins: list[tuple[float, ...]]) -> float:
    """Return the least-squares rate of the subcooling [K/s]; most stretches are done with it."""
    begun_t = bins[0][0]
    times, values = [row[0] - begun_t for row in bins], [row[_SUBCOOLING] for row in bins]
    middle = sum(times) / len(times)
    along: float = sum(map(mul, times, values)) - middle * sum(values)
    spread: float = sum(map(mul, times, times)) - middle * sum(times)
    return along / spread


def _cause(times: Table, table: Table, slope: _Slope) -> DriftCause | None:
    air = table[:, _OUTDOOR]
    gusts = None if np.isnan(air).any() else air
    saturation, line = (
        _slope(times, table[:, _SATURATION], gusts),
        _slope(times, table[:, _LINE], gusts),
    )
    share, unsure = -line.rate / slope.rate, SURE * line.sd / abs(slope.rate)
    if slope.rate < 0.0 and saturation.rate < saturation.sd:
        low, high = LOSS_SHARE
        if low < share - unsure and share < high:
            return DriftCause.LEAK
    if abs(share) + unsure >= ZERO_SHARE:
        return None
    amps = table[:, _AMPS]
    due = AMPS_PER_K * saturation.rate * float(amps.mean())
    if not math.isnan(due) and due != 0.0:  # a clamp that shows no amps says nothing
        moved = _slope(times, amps)
        if moved.rate / due > AMPS_FOLLOW + 2.0 * moved.sd / abs(due):
            return None
    return DriftCause.ZERO


def _borne_out(cause: DriftCause, times: Table, table: Table, slope: _Slope) -> bool:
    """Whether superheat behind a fixed orifice goes the way of the cause."""
    superheat = table[:, _SUPERHEAT]
    if np.isnan(superheat).any():
        return False
    lifted = -_slope(times, superheat).rate / slope.rate
    return lifted > LIFTS_SUPERHEAT if cause is DriftCause.LEAK else abs(lifted) < LIFTS_SUPERHEAT


def _slope(times: Table, values: Table, beside: Table | None = None) -> _Slope:
    """Fit a line, less what goes with `beside`; its error reckons with points being alike."""
    t = times - times.mean()
    values = values - values.mean()
    if beside is not None:
        other = beside - beside.mean()
        other = other - (float(t @ other) / float(t @ t)) * t
        squares = float(other @ other)
        if squares > 0.0:
            values = values - (float(other @ values) / squares) * other
    spread = float(t @ t)
    rate = float(t @ values) / spread
    rest = values - rate * t
    squares = float(rest @ rest)
    phi = 0.3
    if squares > 0.0:
        phi = min(max(phi, float(rest[1:] @ rest[:-1]) / squares), 0.9)
    variance = squares / max(len(times) - 2, 1) / spread * (1.0 + phi) / (1.0 - phi)
    return _Slope(rate, math.sqrt(variance))
