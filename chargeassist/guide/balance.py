"""What left the cylinder against what the circuit shows of it: refrigerant that went elsewhere.

While one step follows another no reading stands long enough to be seen drifting. What is left is
the balance: each step has an amount, and each settled reading says what came of it.

1. Between two settled readings of a line with its seal, subcooling should have gained what was
   added times the gain. The gain is what was learnt before the first of the two, or the prior; its
   lower end is the mean times exp(-z sd / mean), for a gain is positive. Gained less than that, by
   more than two settled readings differ by chance, the rest of what was added is not there.
2. All that plate and line set take is in by the scale, and the line has no seal yet, while nothing
   else explains it.

Either a leak, at a hose or in the circuit, or a liquid pressure probe whose zero creeps down. A
reading that then stands without a step for some minutes is not leaking: the finding is withdrawn.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.drift import Drift, DriftCause, DriftWatch
from chargeassist.guide.expectation import amounts_known
from chargeassist.guide.step_size import (
    PRIOR_GAIN_K_PER_PLATE,
    STEP_NOISE_K,
    Gain,
    learnt_gain,
    unsealed_below_k,
)
from chargeassist.model.channels import Role
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.stream.facts import Facts
from chargeassist.stream.probe_findings import Severity

Z: Final = 2.33
"""Standard deviations that gain and readings are given: one in a hundred, each. Assumption."""

LEAST_OF_PLATE: Final = 0.03
"""Of less, nothing follows, and with so much less in the circuit it is as good as full: half of a
usual step [1]. Assumption."""

WEATHER_K: Final = 1.5
"""Outdoor air that changed by more between two readings explains a part of it [K]. Assumption."""

FULL_AFTER_S: Final = 65.0
"""A first reading at the full amount must stand so long: two rankings have looked at it then [s].
"""

STANDS_S: Final = 300.0
STANDS_K: Final = 0.3
"""A reading that stays within this for so long is not leaking. Assumption: the slowest leak that is
found, 0.03 K/min, moves it by half of that, and what a step showed was more."""

EVIDENCE: Final = ("more left the cylinder than subcooling shows",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall(Drift):
    """Refrigerant that was added and does not show.

    Attributes
    ----------
    added_kg, shown_kg : float
        What went in, and what the reading shows of it by the gain.
    """

    added_kg: float
    shown_kg: float

    @property
    def figures(self) -> dict[str, float]:
        """Its numbers, as every sentence about it takes them."""
        return {"added_kg": self.added_kg, "shown_kg": self.shown_kg}


@dataclass(slots=True)
class _Level:
    """A settled reading: as it was first, and as it is now [K]."""

    t: float
    steps: int
    total_kg: float
    first_k: float
    newest_k: float
    gain: Gain
    outdoor_k: float | None


class BalanceWatch:
    """Follows a session; nearly every tick does nothing.

    Parameters
    ----------
    job : Job

    Attributes
    ----------
    found : Shortfall or None
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._levels: list[_Level] = []
        self.found: Shortfall | None = None

    def forget(self) -> None:
        """Begin anew: a probe was seen to, or it is another filling."""
        self._levels.clear()
        self.found = None

    def tick(self, facts: Facts, *, unexplained: bool) -> Shortfall | None:
        """Return what stands at a tick.

        Parameters
        ----------
        facts : Facts
        unexplained : bool
            Whether no other fault stands that would explain it.
        """
        if facts.judged is not SUBCOOLING or not facts.hold.held or _doubted(facts):
            self._levels.clear()
            return self.found
        settled = facts.settled
        if settled is None or facts.step_open is not None:
            return self.found
        level = self._levels[-1] if self._levels else None
        if level is None or level.steps != len(facts.ledger):
            level = self._new_level(facts, settled.value_k, settled.expanded_k)
            if unexplained and self.found is None:
                self.found = self._unshown(facts, level, settled.expanded_k)
                if self.found is None and self._levels:
                    self.found = self._unsealed_at_full(facts, settled.value_k, settled.expanded_k)
            if self.found is not None:
                self._levels.clear()
            self._levels.append(level)
            return self.found
        level.newest_k = settled.value_k
        stood_s = facts.t - level.t
        if self.found is None:
            if unexplained and FULL_AFTER_S <= stood_s < FULL_AFTER_S + 5.0:
                self.found = self._unsealed_at_full(facts, settled.value_k, settled.expanded_k)
        elif stood_s >= STANDS_S and self._stands(level, settled.expanded_k):
            self.found = None
        return self.found

    def _new_level(self, facts: Facts, value_k: float, expanded_k: float | None) -> _Level:
        return _Level(
            t=facts.t,
            steps=len(facts.ledger),
            total_kg=facts.total_kg,
            first_k=value_k,
            newest_k=value_k,
            gain=learnt_gain(self._job.charge.plate_kg, facts.ledger, expanded_k),
            outdoor_k=facts.live(Role.OUTDOOR_AIR_TEMPERATURE),
        )

    def _stands(self, level: _Level, expanded_k: float | None) -> bool:
        """Whether a line with its seal has kept its reading; without one it stands whatever."""
        sealed = level.newest_k >= unsealed_below_k(expanded_k)
        return sealed and abs(level.newest_k - level.first_k) <= STANDS_K

    def _unshown(self, facts: Facts, level: _Level, expanded_k: float | None) -> Shortfall | None:
        """Return what does not show since an earlier reading; the earliest that tells."""
        for base in self._levels:
            added_kg = level.total_kg - base.total_kg
            if added_kg < LEAST_OF_PLATE * self._job.charge.plate_kg:
                continue
            if base.newest_k < unsealed_below_k(expanded_k) or _weather(base, level):
                continue
            if any(step.mass_kg is None for step in facts.ledger[base.steps :]):
                continue
            gain = base.gain
            low = gain.mean_k_per_kg * math.exp(-Z * gain.sd_k_per_kg / gain.mean_k_per_kg)
            gained_k = max(level.first_k, 0.0) - base.newest_k
            if low * added_kg - gained_k > Z * STEP_NOISE_K:
                over_s = level.t - base.t
                return Shortfall(
                    cause=DriftCause.LEAK,
                    since_t=base.t,
                    rate_k_per_s=(gained_k - gain.mean_k_per_kg * added_kg) / over_s,
                    over_s=over_s,
                    added_kg=added_kg,
                    shown_kg=max(0.0, gained_k / gain.mean_k_per_kg),
                )
        return None

    def _unsealed_at_full(
        self, facts: Facts, value_k: float, expanded_k: float | None
    ) -> Shortfall | None:
        """Return what is missing where all is in by the scale and the line has no seal."""
        charge, goal_k = self._job.charge, self._job.target.subcooling_k
        room_kg = charge.full_kg - facts.total_kg
        if goal_k is None or value_k >= unsealed_below_k(expanded_k):
            return None
        least_kg = LEAST_OF_PLATE * charge.plate_kg
        if room_kg >= least_kg or not amounts_known(self._job, facts):
            return None
        missing_kg = (goal_k - max(value_k, 0.0)) / PRIOR_GAIN_K_PER_PLATE * charge.plate_kg
        over_s = facts.t - (facts.running_since_t or 0.0)
        return Shortfall(
            cause=DriftCause.LEAK,
            since_t=facts.t - over_s,
            rate_k_per_s=-(goal_k - value_k) / max(over_s, 1.0),
            over_s=over_s,
            added_kg=facts.total_kg,
            shown_kg=max(0.0, facts.total_kg - missing_kg),
        )


class LossWatch:
    """Leak and creeping zero: by a reading that drifts, and by the balance of the steps.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._drifting = DriftWatch(orifice=job.target.judged is not SUBCOOLING)
        self._balance = BalanceWatch(job)

    def forget(self, cause: DriftCause | None = None) -> None:
        """Begin anew; of drifts, with a cause, withdraw only that."""
        self._drifting.forget(cause)
        self._balance.forget()

    def tick(self, facts: Facts, *, unexplained: bool) -> Drift | None:
        """Return what stands at a tick; what is seen to drift goes first."""
        short = self._balance.tick(facts, unexplained=unexplained)
        return self._drifting.tick(facts) or short


def _doubted(facts: Facts) -> bool:
    return bool(facts.findings) and any(
        each.severity is not Severity.NOTE and each.channel == item.channel.name
        for each in facts.findings
        for item in facts.channels
        if item.channel.role in {Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE}
    )


def _weather(one: _Level, other: _Level) -> bool:
    """Whether outdoor air has changed too much between two readings."""
    if one.outdoor_k is None or other.outdoor_k is None:
        return False
    return abs(one.outdoor_k - other.outdoor_k) > WEATHER_K
