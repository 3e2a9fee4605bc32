"""Vacuum rise test, watched live: dry and tight, moist, leaking, both, or not to be told yet.

After isolation the pressure equalises; from then on a leak rises in a straight line and what gives
off vapour levels off. What is called dry must level off below the limit; nothing is called so while
a leak or a higher level is still possible. A vacuum never replaces the pressure test.

Limits and holds are arguments; in print are 500 microns for 20 min, 250 to 700 in 15 min, 300 to
500 in 60 min, 250 to 1 000 in 10 min, and others.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from chargeassist.model.values import NoValue
from chargeassist.physics.rise_fit import Law, compare
from chargeassist.physics.rise_settings import RiseSettings
from chargeassist.physics.rise_water import at_saturation, ice_hides

SURE: Final = 0.95
"""Chance from which a cause is named; below it the test says "not yet"."""

LEAST_BLOCKS: Final = 12
MOST_BLOCKS: Final = 128
"""Means that are fitted, and that are kept; when there are more, neighbours are joined."""

FIRST_BLOCK_S: Final = 5.0
"""Length of the first means [s]; it doubles whenever they are joined."""

LEAST_BY_HAND: Final = 5
"""Fewer readings taken by hand are not judged: a leak beside moisture has four figures to find."""

APART_BY_HAND_S: Final = 20.0
"""A reading typed sooner than this after another is the same one again [s]."""

HELD_SKIPS: Final = 2.0
"""What a leak added before the fit begins, as its rise over so many times the equalisation: while
that lasted, and while the pump held against it (assumption)."""

NEWS_SHARE: Final = 0.02
"""The laws are compared anew when the test has grown by this share, or by one mean."""

STANDS_S: Final = 120.0
"""A cause must have been likelier than `SURE` for this long before it is named [s] (assumption)."""

FORECAST_S: Final = 86_400.0
"""How far ahead the causes are looked at coming apart [s]."""

LEAST_U_PA: Final = 1e-3
"""Standard uncertainty of a mean is never taken smaller, so that readings without scatter can be
fitted [Pa]."""

FALLS_SHARE: Final = 0.10
"""A shut circuit does not lose vapour: a fall by more than this share, and three times the scatter
of a reading, says that something still draws on it [1] (assumption; 3 K of cooling take 1 %)."""


class RiseVerdict(StrEnum):
    """What the rise test says; the values are fit for a screen."""

    NOT_YET = "not yet"
    DRY_TIGHT = "dry and tight: levels off below the limit"
    MOIST = "moist: levels off above the limit"
    LEAK = "leak: rises steadily"
    BOTH = "moist and leaking: do a nitrogen break and repeat"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """What is known at one moment.

    Attributes
    ----------
    verdict : RiseVerdict
    reason : str
        One clause: what is waited for, or what it rests on.
    elapsed_s, remaining_s : float
        Since isolation, and to the end of the hold [s].
    dry_probability, moist_probability, leak_probability : float
        That it ends below the limit without a leak; that it levels off above; that it rises
        steadily. The last two can both be so [-]. nan before there is a fit.
    level_pa_abs, level_expanded_pa : float
        Where it levels off, a leak left aside, with the spread of all laws still possible (k = 2).
    leak_pa_per_s, leak_expanded_pa_per_s : float
        Of the laws with a leak, with their spread (k = 2) [Pa/s].
    at_saturation : bool
        The level is that of water or ice at the coldest place.
    over_limit : bool
        The limit has been passed, by more than the gauge's uncertainty, within the hold.
    falls : bool
        It has fallen since isolation as no shut circuit does.
    needed_s : float or None
        Time still needed to tell the causes apart, hold included, as things stand; None where no
        end is in sight within a day [s].
    """

    verdict: RiseVerdict
    reason: str
    elapsed_s: float
    remaining_s: float
    dry_probability: float
    moist_probability: float
    leak_probability: float
    level_pa_abs: float
    level_expanded_pa: float
    leak_pa_per_s: float
    leak_expanded_pa_per_s: float
    at_saturation: bool
    over_limit: bool
    falls: bool
    needed_s: float | None


_NOTHING: Final = math.nan


class RiseTest:
    """One rise test from isolation on; feed it each tick.

    Parameters
    ----------
    settings : RiseSettings
    isolated_t : float
        When the valve was shut [s].

    Notes
    -----
    At most `MOST_BLOCKS` means of readings are kept; the laws are compared anew when one is
    complete. A gauge of the thermal kind reads water vapour up to 1.5 times too high, so a level is
    told from saturation only as well as that.
    """

    def __init__(self, settings: RiseSettings, isolated_t: float) -> None:
        self.settings = settings
        self.isolated_t = isolated_t
        self._width_s = FIRST_BLOCK_S
        self._blocks: list[tuple[int, float, float]] = []
        self._open: list[tuple[float, float]] = []
        self._laws: list[Law] = []
        self._span = 0.0
        self._over = False
        self._last_pa = self._now_pa = 0.0
        self._fitted_t = isolated_t
        self._since: dict[str, float] = {}
        self.too_soon_s: float | None = None
        """How soon after the last a reading by hand was typed that does not count [s]; None once
        one counts."""
        self.not_counted = 0
        """How many readings by hand were typed too soon."""
        self._stands = {"moist": False, "leak": False}

    def update(
        self, t: float, pressure_pa_abs: float, coldest_k: float | None = None
    ) -> Rise | NoValue:
        """Take in one tick and return what is known now.

        Parameters
        ----------
        t : float
            [s].
        pressure_pa_abs : float
            As the gauge reads, on the circuit and away from the pump [Pa absolute].
        coldest_k : float or None
            Coldest metal of the circuit, where it is known [K].

        Returns
        -------
        Rise or NoValue
            `NoValue` for a reading that is none; it leaves no trace.
        """
        if not 0.0 <= pressure_pa_abs < math.inf:
            return NoValue("no vacuum reading")
        s = self.settings
        if s.by_hand and self._blocks and t - self._blocks[-1][1] < APART_BY_HAND_S:
            self.too_soon_s = t - self._blocks[-1][1]
            self.not_counted += 1
            return NoValue("typed too soon after the last one")
        self.too_soon_s = None
        self._now_pa = pressure_pa_abs
        elapsed = t - self.isolated_t
        if elapsed >= s.skip_s:
            if elapsed <= s.hold_s and pressure_pa_abs - s.limit_pa_abs > s.gauge.expanded_pa(
                pressure_pa_abs
            ):
                self._over = True
            if self._open and t - self._open[-1][0] > self._width_s:
                # What was read before a silence is not mixed with what is read after it.
                self._close(self._open[-1][0])
            self._take(t, pressure_pa_abs)
        return self._say(elapsed, coldest_k)

    @property
    def readings(self) -> int:
        """Means, or readings taken by hand, that the test rests on."""
        return len(self._blocks)

    def _take(self, t: float, pressure: float) -> None:
        self._open.append((t, pressure))
        if t - self._open[0][0] >= self._width_s or self.settings.by_hand:
            self._close(t)

    def _close(self, t: float) -> None:
        """Take the mean of the open readings, the last of `t` [s], and compare the laws anew."""
        n = len(self._open)
        mean_t = math.fsum(row[0] for row in self._open) / n
        self._blocks.append((n, mean_t, math.fsum(row[1] for row in self._open) / n))
        self._open = []
        self._last_pa = self._blocks[-1][2]
        if len(self._blocks) > MOST_BLOCKS:
            self._width_s *= 2.0
            pairs = zip(self._blocks[::2], self._blocks[1::2], strict=False)
            self._blocks = [_joined(a, b) for a, b in pairs] + (
                [self._blocks[-1]] if len(self._blocks) % 2 else []
            )
        due = self._fitted_t + NEWS_SHARE * (t - self.isolated_t)
        least = LEAST_BY_HAND if self.settings.by_hand else LEAST_BLOCKS
        if len(self._blocks) >= least and (not self._laws or t >= due):
            self._fitted_t = t
            self._fit()

    def _fit(self) -> None:
        s = self.settings
        counts = np.array([block[0] for block in self._blocks], dtype=np.float64)
        times = np.array([block[1] for block in self._blocks])
        pressures = np.array([block[2] for block in self._blocks])
        us = np.array([s.gauge.scatter_pa(p) for p in pressures]) / np.sqrt(counts)
        # Steps of the display do not average out as scatter does.
        us = np.maximum(np.hypot(us, s.gauge.resolution_pa / math.sqrt(12.0) / 2.0), LEAST_U_PA)
        self._span = float(times[-1] - times[0])
        rise = float(pressures.max() - pressures.min())
        scale_pa = 2.0 * (rise + s.limit_pa_abs)
        self._laws = compare(times - times[0], pressures, us, scale_pa=scale_pa)

    def _say(self, elapsed: float, coldest_k: float | None) -> Rise:
        s = self.settings
        remaining = max(s.hold_s - elapsed, 0.0)
        if not self._laws:
            early = elapsed < s.skip_s
            return Rise(
                verdict=RiseVerdict.NOT_YET,
                reason="pressure is equalising" if early else "too few readings yet",
                elapsed_s=elapsed, remaining_s=remaining, dry_probability=_NOTHING,
                moist_probability=_NOTHING, leak_probability=_NOTHING, level_pa_abs=_NOTHING,
                level_expanded_pa=_NOTHING, leak_pa_per_s=_NOTHING,
                leak_expanded_pa_per_s=_NOTHING, at_saturation=False, over_limit=self._over,
                falls=False, needed_s=None,
            )  # fmt: skip
        dry = moist = leak = 0.0
        for law in self._laws:
            # The pump could not draw further down than a leak let it: that part of it is air.
            held = HELD_SKIPS * s.skip_s * max(law.slope, 0.0)
            above = _above(law.level - held, law.level_u, s.limit_pa_abs)
            steady = _above(law.slope, law.slope_u, s.steady_pa_per_s) if law.leaks else 0.0
            moist += law.weight * above
            leak += law.weight * steady
            dry += law.weight * (1.0 - above) * (1.0 - steady)
        self._note(elapsed, moist, leak)
        level, level_u = _mixed([(w.weight, w.level, w.level_u) for w in self._laws])
        leaking = [law for law in self._laws if law.leaks]
        slope, slope_u = _mixed([(w.weight, w.slope, w.slope_u) for w in leaking])
        at_level = at_saturation(level, level_u, coldest_k, s.gauge)
        verdict, reason = self._verdict(
            dry, moist, leak, remaining, coldest_k, at_saturation=at_level
        )
        needed: float | None = remaining
        if verdict is RiseVerdict.NOT_YET and not (remaining > 0.0 and max(dry, moist) > SURE):
            needed = self._needed_s(remaining)
        return Rise(
            verdict=verdict,
            reason=reason,
            elapsed_s=elapsed,
            remaining_s=remaining,
            dry_probability=dry,
            moist_probability=moist,
            leak_probability=leak,
            level_pa_abs=level,
            level_expanded_pa=2.0 * level_u,
            leak_pa_per_s=max(slope, 0.0) if leaking else 0.0,
            leak_expanded_pa_per_s=2.0 * slope_u if leaking else 0.0,
            at_saturation=at_level,
            over_limit=self._over,
            falls=self._falls,
            needed_s=needed,
        )

    @property
    def _falls(self) -> bool:
        """Whether the newest mean lies under the highest by more than a shut circuit explains."""
        high = max(block[2] for block in self._blocks)
        fall = high - self._last_pa
        return fall > FALLS_SHARE * high + 3.0 * self.settings.gauge.scatter_pa(high)

    @property
    def _unwatched(self) -> bool:
        """Whether the laws rest on nothing from the end of the hold."""
        s = self.settings
        least_s = (1.0 - 2.0 * NEWS_SHARE) * s.hold_s - 2.0 * self._width_s
        return self._fitted_t - self.isolated_t < least_s

    def _note(self, elapsed: float, moist: float, leak: float) -> None:
        """Keep for how long a cause has been likely; a forecast alone names none in the hold."""
        counts = self._last_pa > self.settings.limit_pa_abs or elapsed >= self.settings.hold_s
        for cause, chance in (("moist", moist), ("leak", leak)):
            if not (chance > SURE and counts):
                self._since.pop(cause, None)
            else:
                self._since.setdefault(cause, elapsed)
            since = self._since.get(cause)
            self._stands[cause] = since is not None and elapsed - since >= STANDS_S

    def _verdict(
        self,
        dry: float,
        moist: float,
        leak: float,
        remaining: float,
        coldest_k: float | None,
        *,
        at_saturation: bool,
    ) -> tuple[RiseVerdict, str]:
        if self._stands["moist"] and self._stands["leak"]:
            return RiseVerdict.BOTH, "bends, and goes on rising steadily"
        if self._stands["leak"]:
            more = "no bend in the rise" if moist < 1.0 - SURE else "moisture too is not excluded"
            return RiseVerdict.LEAK, more
        if self._stands["moist"]:
            if leak >= 1.0 - SURE:
                return RiseVerdict.MOIST, "a leak too is not excluded"
            where = "at water or ice of the coldest place" if at_saturation else "no steady rise"
            return RiseVerdict.MOIST, where
        if dry <= SURE:
            if self._over:
                return RiseVerdict.NOT_YET, "above the limit; leak or moisture cannot be told yet"
            return RiseVerdict.NOT_YET, "a leak or a higher level is still possible"
        if ice_hides(coldest_k, self.settings.limit_pa_abs):
            return RiseVerdict.NOT_YET, (
                "so cold that ice would stay below the limit: warm the circuit and repeat"
            )
        if self._over:
            return RiseVerdict.NOT_YET, "the limit was passed during the hold: repeat"
        if self._falls:
            return RiseVerdict.NOT_YET, "it falls: is the valve to the pump shut?"
        if remaining > 0.0:
            return RiseVerdict.NOT_YET, "the hold is not over"
        limit_pa, now_pa = self.settings.limit_pa_abs, self._now_pa
        if self._unwatched or now_pa - limit_pa > self.settings.gauge.expanded_pa(now_pa):
            return RiseVerdict.NOT_YET, "too few readings of the end of the hold"
        return RiseVerdict.DRY_TIGHT, "levels off below the limit, no steady rise"

    def _needed_s(self, remaining: float) -> float | None:
        """Return when the likeliest law of each side will have come apart [s from now]."""
        s = self.settings

        def side(law: Law) -> tuple[bool, bool]:
            return law.slope > s.steady_pa_per_s, law.level > s.limit_pa_abs

        first = self._laws[0]
        other = next((law for law in self._laws if side(law) != side(first)), None)
        if other is None:
            return remaining
        width = max(self._width_s, FIRST_BLOCK_S)
        t = self._span
        while t < self._span + FORECAST_S:
            t = t * 1.1 + width
            apart = abs(first.pressure(t) - other.pressure(t))
            if apart > 4.0 * s.gauge.scatter_pa(first.pressure(t)):
                return max(t - self._span, remaining)
        return None


def _joined(a: tuple[int, float, float], b: tuple[int, float, float]) -> tuple[int, float, float]:
    n = a[0] + b[0]
    return n, (a[0] * a[1] + b[0] * b[1]) / n, (a[0] * a[2] + b[0] * b[2]) / n


def _above(value: float, u: float, limit: float) -> float:
    """Return the chance that a normal quantity is above a limit."""
    return 0.5 * math.erfc((limit - value) / (max(u, 1e-12) * math.sqrt(2.0)))


def _mixed(rows: list[tuple[float, float, float]]) -> tuple[float, float]:
    """Return mean and standard deviation of a mixture of (weight, mean, u)."""
    total = math.fsum(weight for weight, _, _ in rows)
    if total <= 0.0:
        return math.nan, math.nan
    mean = math.fsum(w * m for w, m, _ in rows) / total
    variance = math.fsum(w * (u * u + (m - mean) ** 2) for w, m, u in rows) / total
    return mean, math.sqrt(variance)
