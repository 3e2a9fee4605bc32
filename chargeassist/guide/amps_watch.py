"""Whether the liquid pressure and the compressor's amps still agree.

The pressures determine what a compressor draws. If the liquid pressure rises from one settled
reading to the next and the amps do not, the probe's zero creeps or something else changes the amps.
Subcooling alone would show no more than a charge that is slightly off. It is only a caution: where
nobody measures the supply's voltage, a change of it moves the amps too.

On this project's physical plant the logarithm of the amps rises by 0.0225 per kelvin of condensing
temperature, 0.0024 per kelvin of evaporating temperature and 0.0019 per kelvin of superheat (24
machines, five refrigerants, 93 pairs of readings; the residual is worth 0.11 K of condensing
temperature, 0.43 K at most). Makers' tables give 0.02 to 0.03 for the first (from memory). Gas in
the circuit does not show: the compressor works against its pressure as well.
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
"""Change of the logarithm of the amps [1/K], as above."""

LEAST_K: Final = 0.7
UNSURE: Final = 0.25
UNSURE_BESIDE: Final = 0.35
"""Allowed difference: `LEAST_K` [K], plus `UNSURE` of the change that the amps show, plus
`UNSURE_BESIDE` of what evaporating temperature and superheat account for [1]. Leaves room for 1.5 %
of voltage and for compressors that differ. Assumption."""

MOST_TICKS: Final = 30
FEWEST_TICKS: Final = 10
"""How many ticks a mean is made of."""

LOOK_EVERY_S: Final = 10.0
IN_A_ROW: Final = 2
"""So many looks in a row must agree, each after this time [s]."""


AMPS_GO_WITH: Final = frozenset(
    {
        Role.LIQUID_PRESSURE,
        Role.SUCTION_PRESSURE,
        Role.SUCTION_TEMPERATURE,
        Role.COMPRESSOR_CURRENT,
        Role.VOLTAGE_AB,
    }
)
"""What is compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AmpsApart:
    """Liquid pressure and amps that disagree.

    Attributes
    ----------
    since_t : float
        The earlier of the two settled readings [s].
    by_pressure_k, by_amps_k : float
        Change of the condensing temperature since then [K].
    """

    since_t: float
    by_pressure_k: float
    by_amps_k: float


@dataclass(frozen=True, slots=True)
class _Level:
    """Means of a settled reading.

    The current is multiplied by the voltage if `by_power`.
    """

    t: float
    steps: int
    by_power: bool
    log_current: float
    condensing_k: float
    boiling_k: float
    superheat_k: float


class AmpsWatch:
    """Compares each settled reading with those before it; call it once per tick.

    Attributes
    ----------
    found : AmpsApart or None
    """

    def __init__(self) -> None:
        self._seen: deque[tuple[float, float, float, float]] = deque(maxlen=MOST_TICKS)
        self._by_power = False
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
        """Return the finding that stands after this tick."""
        if not facts.hold.held:
            self.forget()
            return None
        amps, superheat = facts.live(Role.COMPRESSOR_CURRENT), facts.superheat
        condensing_k, boiling_k = facts.liquid_saturation_k, facts.suction_saturation_k
        if (
            facts.step_open is not None
            or facts.by_hand is not None  # typed readings are old, and not simultaneous
            or amps is None
            or amps <= 0.0
            or condensing_k is None
            or boiling_k is None
            or not isinstance(superheat, Measured)
        ):
            self._seen.clear()
            return self.found
        volts = facts.live(Role.VOLTAGE_AB)
        by_power = volts is not None and volts > 0.0
        if by_power is not self._by_power:
            self._by_power = by_power
            self._seen.clear()
        current = amps * volts if volts is not None and by_power else amps
        self._seen.append((current, condensing_k, boiling_k, superheat.value_k))
        if (
            facts.settled is not None
            and facts.t >= self._next_t
            and len(self._seen) >= FEWEST_TICKS
        ):
            self._next_t = facts.t + LOOK_EVERY_S
            self._look(facts)
        return self.found

    def _look(self, facts: Facts) -> None:
        current, condensing_k, boiling_k, superheat_k = (
            sum(each) / len(self._seen) for each in zip(*self._seen, strict=True)
        )
        now = _Level(
            t=facts.t,
            steps=len(facts.ledger),
            by_power=self._by_power,
            log_current=math.log(current),
            condensing_k=condensing_k,
            boiling_k=boiling_k,
            superheat_k=superheat_k,
        )
        levels = self._levels
        alike = [each for each in levels if each.by_power is now.by_power]
        apart = next((said for each in alike if (said := _apart(each, now, 1.0))), None)
        still = any(_apart(each, now, 0.5) for each in alike)
        self._apart = self._apart + 1 if apart is not None else 0
        if alike:
            self._together = 0 if still else self._together + 1
        if self._apart >= IN_A_ROW:
            self.found = apart
        elif self._together >= IN_A_ROW:
            self.found = None
        if not alike or alike[-1].steps != now.steps:
            levels.append(now)


def _apart(then: _Level, now: _Level, share: float) -> AmpsApart | None:
    """Return how two settled readings disagree, if by more than this share of the limit."""
    beside = PER_BOILING_K * (now.boiling_k - then.boiling_k)
    beside += PER_SUPERHEAT_K * (now.superheat_k - then.superheat_k)
    by_pressure_k = now.condensing_k - then.condensing_k
    by_amps_k = (now.log_current - then.log_current - beside) / PER_CONDENSING_K
    limit_k = LEAST_K + UNSURE * abs(by_amps_k) + UNSURE_BESIDE * abs(beside) / PER_CONDENSING_K
    if abs(by_pressure_k - by_amps_k) <= share * limit_k:
        return None
    return AmpsApart(since_t=then.t, by_pressure_k=by_pressure_k, by_amps_k=by_amps_k)
