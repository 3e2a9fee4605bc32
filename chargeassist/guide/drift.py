"""A reading that has settled and then drifts: refrigerant leaks out, or a zero creeps.

A reading that has settled after the last change should stand. If subcooling falls steadily while
the liquid line warms by most of the fall and the condenser cools by the rest, refrigerant is
leaking out. If subcooling moves with the liquid pressure alone, and neither the liquid line nor the
amps follow, the zero of the pressure probe creeps. Weather and load move all of these, so nothing
is said while the air drifts.

On this project's physical plant the liquid line warms by 0.6 to 0.8 of what a leak takes from the
subcooling, for five refrigerants and both kinds of valve; a creeping zero does not move it.

Behind a fixed orifice a leak also raises superheat, by 0.7 to 0.9 of what it takes from the
subcooling (the line warms by 0.5 to 0.7 of it), and a creeping zero does not. There superheat is a
witness, and only a move the other way counts as an upset.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from operator import mul
from typing import Final

import numpy as np
from numpy.typing import NDArray

from chargeassist.model.channels import Role
from chargeassist.model.judged import SUBCOOLING, SUPERHEAT
from chargeassist.stream.facts import Facts, Measured, SettleState
from chargeassist.stream.settling_witness import AMPS_PER_K

BIN_S: Final = 10.0
"""Length of a mean [s]."""

LOOKS_EVERY_BINS: Final = 3
FEWEST_BINS: Final = 24
MOST_BINS: Final = 90
NEWEST_BINS: Final = (30, 54)
"""A look uses the last four to fifteen minutes, and also the newest five and nine alone."""

AFTER_SETTLED_S: Final = 30.0
"""Time left out after a reading has settled, for the rest of the change [s]."""

AFTER_START_S: Final = 420.0
"""Time left out after a start, while oil, shell and room air still warm up [s]. Assumption."""

AFTER_UPSET_S: Final = 600.0
UPSET_K: Final = 1.5
"""While the line holds liquid, neither a leak nor a zero moves superheat or evaporating
temperature. A change of either by more than `UPSET_K` [K] is an upset, and drift is looked for
again only `AFTER_UPSET_S` [s] later. Assumption."""

LEAST_K: Final = 0.45
LEAST_K_PER_S: Final = 0.03 / 60.0
Z: Final = 3.0
"""A drift amounts to at least `LEAST_K` [K] in all (1.5 times the usual settled band), is at least
`LEAST_K_PER_S` fast [K/s], and is `Z` standard errors from zero. Assumption."""

HALVES: Final = 0.6
"""Each half must drift at this share of the whole rate or more [1]; the tail of a transient dies
away."""

AIR_K_PER_S: Final = 0.12 / 60.0
"""Outdoor or return air that drifts faster than this explains the drift [K/s]."""

SURE: Final = 2.0
"""Standard errors between the liquid line's share and the limit of the other cause [1]. Gusts hide
the share for minutes, and a leak called a zero sends the technician to the wrong place."""

LOSS_SHARE: Final[tuple[float, ...]] = (0.4, 1.1)
ZERO_SHARE: Final = 0.4
"""Share of the drift that the liquid line makes, with opposite sign: between the two `LOSS_SHARE`
for a leak, and less than `ZERO_SHARE` either way for a creeping zero [1]."""

LIFTS_SUPERHEAT: Final = 0.3
"""Behind a fixed orifice a leak raises superheat by more than this share of what subcooling loses;
a zero moves it by less, either way [1]. Assumption: half of what the plant shows."""

AMPS_FOLLOW: Final = 0.6
"""A pressure is true, and no zero creeps, if the amps follow it by more than this share of what
they should [1]."""

GONE_K_PER_S: Final = 0.02 / 60.0
"""A reading that drifts more slowly than this, standard error included, stands again [K/s]."""

Table = NDArray[np.float64]
"""One row per mean, shape (n, 9): time [s], then the columns below [K; amps in A]."""

SUBCOOLING_LINE: Final = frozenset({SUBCOOLING.pressure, SUBCOOLING.temperature})
SUPERHEAT_LINE: Final = frozenset({SUPERHEAT.pressure, SUPERHEAT.temperature})
_OF_EITHER: Final = SUBCOOLING_LINE | SUPERHEAT_LINE

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
        When the stretch it was seen over begins [s].
    rate_k_per_s : float
        Rate of the subcooling [K/s].
    over_s : float
        Length of that stretch [s].
    """

    cause: DriftCause
    since_t: float
    rate_k_per_s: float
    over_s: float

    @property
    def alternatives(self) -> tuple[DriftCause, ...]:
        """Causes that cannot be excluded: gusts blur which of the two makes a reading fall."""
        if self.rate_k_per_s > 0.0:
            return ()
        return tuple(each for each in DriftCause if each is not self.cause)

    @property
    def figures(self) -> dict[str, float]:
        """The numbers for sentences about it [K/s], [s]."""
        return {"rate_k_per_s": self.rate_k_per_s, "over_s": self.over_s}

    @property
    def words(self) -> str:
        """Cause and alternatives: "refrigerant is leaking out, or pressure probe's ..."."""
        return ", or ".join(each.value for each in (self.cause, *self.alternatives))


@dataclass(frozen=True, slots=True)
class _Slope:
    """A rate and its standard error [K/s, or A/s for amps]."""

    rate: float
    sd: float


class DriftWatch:
    """Finds and withdraws drifts; call it once per tick.

    Parameters
    ----------
    orifice : bool
        Whether the unit meters by a fixed orifice, so that its charge is judged by superheat.

    Attributes
    ----------
    found : Drift or None
        The drift that stands.
    """

    def __init__(self, *, orifice: bool = False) -> None:
        self._orifice = orifice
        self.found: Drift | None = None
        self._since_s = 0.0
        self._begins_t = math.inf
        self._ends_t = math.inf
        self._rows: list[tuple[float | None, ...]] = []
        self._bins: list[tuple[float, ...]] = []
        self._unseen_bins = 0
        self._typed: frozenset[Role] = frozenset()

    def forget(self, cause: DriftCause | None = None) -> None:
        """Start over; with a cause, withdraw only a drift of that cause."""
        self._stop()
        if cause is None or (self.found is not None and self.found.cause is cause):
            self.found = None

    def tick(self, facts: Facts) -> Drift | None:
        """Return the drift that stands after this tick."""
        state, since_s = facts.settling.state, facts.settling.since_s
        changed = since_s < self._since_s or facts.step_open is not None or not facts.hold.held
        self._since_s = since_s
        typed = facts.typed & (_OF_EITHER if self._orifice else SUBCOOLING_LINE)
        if typed != self._typed or _half_typed(typed):
            changed, self._typed = True, typed
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
            self._close_bin()
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

    def _close_bin(self) -> None:
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
        self._unseen_bins += 1
        if len(self._bins) >= FEWEST_BINS and self._unseen_bins >= LOOKS_EVERY_BINS:
            self._unseen_bins = 0
            self._look()

    def _upset(self) -> bool:
        """Whether the low side has moved: a valve, a fan or the load has changed."""
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
        """Look at the newest parts and at all of it: a drift may have begun in between."""
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


def _half_typed(typed: frozenset[Role]) -> bool:
    """Whether of a line one place is typed, and stands until it is read again, and one is not."""
    return any(len(typed & line) == 1 for line in (SUBCOOLING_LINE, SUPERHEAT_LINE))


def _mean(values: tuple[float | None, ...]) -> float:
    """Return the mean; NaN if a value is missing."""
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if len(known) == len(values) else math.nan


def _drift(bins: list[tuple[float, ...]], *, orifice: bool) -> Drift | None:
    """Return the drift of a stretch; None if there is none, or if weather may explain it."""
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
    """Return the least-squares rate of the subcooling [K/s]; it rules out most stretches."""
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
    if not math.isnan(due) and due != 0.0:  # without amps there is nothing to compare
        moved = _slope(times, amps)
        if moved.rate / due > AMPS_FOLLOW + 2.0 * moved.sd / abs(due):
            return None
    return DriftCause.ZERO


def _borne_out(cause: DriftCause, times: Table, table: Table, slope: _Slope) -> bool:
    """Whether superheat behind a fixed orifice confirms the cause."""
    superheat = table[:, _SUPERHEAT]
    if np.isnan(superheat).any():
        return False
    lifted = -_slope(times, superheat).rate / slope.rate
    return lifted > LIFTS_SUPERHEAT if cause is DriftCause.LEAK else abs(lifted) < LIFTS_SUPERHEAT


def _slope(times: Table, values: Table, beside: Table | None = None) -> _Slope:
    """Fit a line; the standard error allows for autocorrelation of the residuals.

    What correlates with `beside`, such as gusts of outdoor air, is taken out first.
    """
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
