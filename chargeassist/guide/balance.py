"""Refrigerant that left the cylinder and does not show in the circuit.

While step follows step, no reading stands long enough for a drift to be seen. A balance still
works, because each step has an amount and each settled reading shows its effect. Refrigerant is
missing if:

1. between two settled readings with liquid in the line, subcooling gained less than the amount
   added times the gain. The gain is the one learnt before the first reading, or the prior, at its
   lower end ``mean exp(-z sd / mean)``; the difference must exceed the scatter of settled readings.
2. everything that plate and line set take is in by the scale, the line still holds vapour, and
   nothing else explains it.

The cause is a leak, at a hose or in the circuit, or a liquid pressure probe whose zero creeps down.
If a reading then stands still for some minutes without a step, nothing leaks, and the finding is
withdrawn.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.drift import SUBCOOLING_LINE, Drift, DriftCause, DriftWatch
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
"""Standard deviations allowed for gain and for readings: one in a hundred exceeds each [1].
Assumption."""

LEAST_OF_PLATE: Final = 0.03
"""Least share of the plate charge that is judged; a circuit lacking less counts as full [1]. Half a
usual step. Assumption."""

WEATHER_K: Final = 1.5
"""A larger change of outdoor air between two readings may explain the difference [K].
Assumption."""

FULL_AFTER_S: Final = 65.0
"""A first reading at the full amount must stand this long [s]: two rankings have then seen it."""

STANDS_S: Final = 300.0
STANDS_K: Final = 0.3
"""A reading that moves by no more than `STANDS_K` [K] in `STANDS_S` [s] is not leaking. Assumption:
the slowest leak that drift can find, 0.03 K/min, moves it by half of that; a leak found by the
balance is faster."""

EVIDENCE: Final = ("more left the cylinder than subcooling shows",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall(Drift):
    """Refrigerant that was added and does not show.

    Attributes
    ----------
    added_kg, shown_kg : float
        What went in, and how much of it the reading shows, by the gain [kg].
    """

    added_kg: float
    shown_kg: float

    @property
    def figures(self) -> dict[str, float]:
        """The numbers for sentences about it [kg]."""
        return {"added_kg": self.added_kg, "shown_kg": self.shown_kg}


@dataclass(slots=True)
class _Level:
    """A settled reading: its first and its newest value [K]."""

    t: float
    steps: int
    first_k: float
    newest_k: float
    gain: Gain
    outdoor_k: float | None


class BalanceWatch:
    """Keeps the balance of a session; call it once per tick.

    Parameters
    ----------
    job : Job

    Attributes
    ----------
    found : Shortfall or None
        The finding that stands.
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._levels: list[_Level] = []
        self._typed: frozenset[Role] = frozenset()
        self.found: Shortfall | None = None

    def forget(self) -> None:
        """Start over: a probe was seen to, or the circuit was evacuated."""
        self._levels.clear()
        self.found = None

    def tick(self, facts: Facts, *, unexplained: bool) -> Shortfall | None:
        """Return the finding that stands after this tick.

        Parameters
        ----------
        facts : Facts
        unexplained : bool
            Whether no other fault explains it.
        """
        if facts.judged is not SUBCOOLING or not facts.hold.held or _doubted(facts):
            self._levels.clear()
            return self.found
        settled = facts.settled
        if settled is None or facts.step_open is not None:
            return self.found
        typed = facts.typed & SUBCOOLING_LINE
        if typed != self._typed:  # another instrument: what the one before it read compares no more
            self._levels.clear()
            self._typed = typed
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
            first_k=value_k,
            newest_k=value_k,
            gain=learnt_gain(self._job.charge.plate_kg, facts.ledger, expanded_k),
            outdoor_k=facts.live(Role.OUTDOOR_AIR_TEMPERATURE),
        )

    def _stands(self, level: _Level, expanded_k: float | None) -> bool:
        """Whether a line that holds liquid has kept its reading; with vapour it always does."""
        sealed = level.newest_k >= unsealed_below_k(expanded_k)
        return sealed and abs(level.newest_k - level.first_k) <= STANDS_K

    def _unshown(self, facts: Facts, level: _Level, expanded_k: float | None) -> Shortfall | None:
        """Return what does not show since the earliest reading that proves it; else None."""
        for base in self._levels:
            since = facts.ledger[base.steps :]
            # By the ledger as it is now: the amount of an earlier step may have been told since.
            added_kg = math.fsum(step.mass_kg or 0.0 for step in since)
            if added_kg < LEAST_OF_PLATE * self._job.charge.plate_kg:
                continue
            if base.newest_k < unsealed_below_k(expanded_k) or _weather_changed(base, level):
                continue
            if any(step.mass_kg is None for step in since):
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
        """Return what is missing if all is in by the scale and the line still holds vapour."""
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
    """Leaks and creeping zeros: by the drift of a reading, and by the balance of the steps.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._drifting = DriftWatch(orifice=job.target.judged is not SUBCOOLING)
        self._balance = BalanceWatch(job)

    def forget(self) -> None:
        """Start over: it is another filling."""
        self._drifting.forget()
        self._balance.forget()

    def seen_to(self, roles: frozenset[Role]) -> None:
        """Withdraw what probes of these places may have feigned: they were seen to."""
        if roles & SUBCOOLING_LINE:
            self._drifting.forget(DriftCause.ZERO)
            self._balance.forget()

    def tick(self, facts: Facts, *, unexplained: bool) -> Drift | None:
        """Return the finding that stands after this tick; a drift comes first."""
        short = self._balance.tick(facts, unexplained=unexplained)
        return self._drifting.tick(facts) or short


def _doubted(facts: Facts) -> bool:
    """Whether there is a finding against a probe of the liquid line."""
    return bool(facts.findings) and any(
        each.severity is not Severity.NOTE and each.channel == item.channel.name
        for each in facts.findings
        for item in facts.channels
        if item.channel.role in SUBCOOLING_LINE
    )


def _weather_changed(one: _Level, other: _Level) -> bool:
    """Whether outdoor air has changed too much between two readings."""
    if one.outdoor_k is None or other.outdoor_k is None:
        return False
    return abs(one.outdoor_k - other.outdoor_k) > WEATHER_K
