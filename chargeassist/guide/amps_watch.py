"""Whether the liquid pressure and the compressor's amps still go together.

A compressor draws what its pressures call for. Where the liquid pressure rises from one settled
reading to the next and the amps do not follow, it is the probe's zero that creeps, or the amps are
not those of before; subcooling shows it as nothing but a charge a little off. It is a caution: the
supply's voltage, where nobody measures it, moves the amps as well.

On this project's physical plant the logarithm of the amps follows the condensing temperature by
0.0225 for a kelvin, the boiling point by 0.0024 and superheat by 0.0019 (24 machines, five
refrigerants, 93 pairs of readings; what is left of it is 0.11 K of condensing temperature, 0.43 K
at the most); manuals' tables give 0.02 to 0.03 (from memory). Gas in the circuit does not show, for
the compressor works against its pressure, too.
"""

import math
from collections import deque
from dataclasses import dataclass
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.stream.facts import Facts, Measured

PER_CONDENSING_K: Final = 0.0225
PER_BOILING_K: Final = 0.0024
PER_SUPERHEAT_K: Final = 0.0019
"""What the logarithm of the amps changes by [1/K], as above."""

LEAST_K: Final = 0.7
UNSURE: Final = 0.25
UNSURE_BESIDE: Final = 0.35
"""Apart is more than the first [K] and these shares of what amps, and what boiling point and
superheat, account for: a supply that moves by 1.5 %, and compressors that differ. Assumption."""

MEAN_S: Final = 30.0
LOOK_EVERY_S: Final = 10.0
FEWEST: Final = 10
IN_A_ROW: Final = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class AmpsApart:
    """Pressure and amps that tell two stories.

    Attributes
    ----------
    since_t : float
        The earlier of the two settled readings [s].
    by_pressure_k, by_amps_k : float
        Change of the condensing temperature since then.
    """

    since_t: float
    by_pressure_k: float
    by_amps_k: float


@dataclass(frozen=True, slots=True)
class _Level:
    """Means of a settled reading."""

    t: float
    steps: int
    log_amps: float
    condensing_k: float
    boiling_k: float
    superheat_k: float


class AmpsWatch:
    """Follows a session; one call per tick.

    Attributes
    ----------
    found : AmpsApart or None
    """

    def __init__(self) -> None:
        self._seen: deque[tuple[float, float, float, float]] = deque(maxlen=int(MEAN_S))
        self._levels: list[_Level] = []
        self._next_t = 0.0
        self._apart = self._together = 0
        self.found: AmpsApart | None = None

    def forget(self) -> None:
        """Begin anew: a probe was seen to, or it is another filling."""
        self._seen.clear()
        self._levels.clear()
        self._apart = self._together = 0
        self.found = None

    def tick(self, facts: Facts) -> AmpsApart | None:
        """Return what stands at a tick."""
        if not facts.hold.held:
            self.forget()
            return None
        amps, superheat = facts.live(Role.COMPRESSOR_CURRENT), facts.superheat
        condensing_k, boiling_k = facts.liquid_saturation_k, facts.suction_saturation_k
        if (
            facts.step_open is not None
            or facts.by_hand is not None  # what is typed stands still, and at other times
            or amps is None
            or amps <= 0.0
            or condensing_k is None
            or boiling_k is None
            or not isinstance(superheat, Measured)
        ):
            self._seen.clear()
            return self.found
        volts = facts.live(Role.VOLTAGE_AB)
        power = amps if volts is None or volts <= 0.0 else amps * volts
        self._seen.append((power, condensing_k, boiling_k, superheat.value_k))
        if facts.settled is not None and facts.t >= self._next_t and len(self._seen) >= FEWEST:
            self._next_t = facts.t + LOOK_EVERY_S
            self._look(facts)
        return self.found

    def _look(self, facts: Facts) -> None:
        power, condensing_k, boiling_k, superheat_k = (
            sum(each) / len(self._seen) for each in zip(*self._seen, strict=True)
        )
        now = _Level(
            facts.t, len(facts.ledger), math.log(power), condensing_k, boiling_k, superheat_k
        )
        levels = self._levels
        apart = next((said for each in levels if (said := _apart(each, now, 1.0))), None)
        still = any(_apart(each, now, 0.5) for each in levels)
        self._apart = self._apart + 1 if apart is not None else 0
        self._together = 0 if still else self._together + 1
        if self._apart >= IN_A_ROW:
            self.found = apart
        elif self._together >= IN_A_ROW:
            self.found = None
        if not levels or levels[-1].steps != now.steps:
            levels.append(now)


def _apart(then: _Level, now: _Level, share: float) -> AmpsApart | None:
    """Return by what two settled readings differ, if it is more than this share of the limit."""
    beside = PER_BOILING_K * (now.boiling_k - then.boiling_k)
    beside += PER_SUPERHEAT_K * (now.superheat_k - then.superheat_k)
    by_pressure_k = now.condensing_k - then.condensing_k
    by_amps_k = (now.log_amps - then.log_amps - beside) / PER_CONDENSING_K
    limit_k = LEAST_K + UNSURE * abs(by_amps_k) + UNSURE_BESIDE * abs(beside) / PER_CONDENSING_K
    if abs(by_pressure_k - by_amps_k) <= share * limit_k:
        return None
    return AmpsApart(since_t=then.t, by_pressure_k=by_pressure_k, by_amps_k=by_amps_k)
