"""What checks of the running unit are made from: numbers with their uncertainty, and verdicts.

A number comes from a probe, or was read off an instrument and typed. Without a declared accuracy a
check never passes or fails with certainty.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from chargeassist.guide.heat_balance import Balance
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckJudged, CheckResult, Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import Decision, expanded_from_half_width
from chargeassist.stream.facts import Facts

NO_VALUE = "check_no_value"
"""Cause of a check that could not be computed."""

_NOT_CERTAIN = {
    Decision.PASS: CheckResult.PASS_NOT_CERTAIN,
    Decision.FAIL: CheckResult.FAIL_NOT_CERTAIN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One measured number.

    Attributes
    ----------
    value : float
        [SI].
    expanded : float or None
        Expanded uncertainty (k = 2) [SI]; None if no accuracy was declared.
    live : bool
        Whether it comes from a probe; else it was typed.
    """

    value: float
    expanded: float | None
    live: bool = False

    @property
    def declared(self) -> bool:
        """Whether its uncertainty is known."""
        return self.expanded is not None

    @property
    def u(self) -> float:
        """The expanded uncertainty (k = 2) to compute with [SI]: 0 if none was declared."""
        return 0.0 if self.expanded is None else self.expanded

    def figure(self, name: str) -> dict[str, float]:
        """Return the uncertainty [SI] as a figure called `name`; empty if none was declared."""
        return {} if self.expanded is None else {name: self.expanded}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The running unit at one moment, as checks see it.

    Attributes
    ----------
    job : Job
    facts : Facts
    channels : mapping of Role to Channel
        The first channel of each role.
    stage : Stage
        The present stage.
    told : frozenset of Entry
        Typed since the last look.
    balance : Balance or None
        Airflow by heat balance, the newest.
    balance_why : str
        Why the last heat balance gave none; else empty.
    """

    job: Job
    facts: Facts
    channels: Mapping[Role, Channel]
    stage: Stage
    told: frozenset[Entry] = frozenset()
    balance: Balance | None = None
    balance_why: str = ""

    @property
    def typed_lasts_s(self) -> float:
        """How long a typed number counts beside others [s]."""
        return self.job.limit_or_usual(LimitKey.TYPED_LASTS).value_si

    def typed(
        self,
        entry: Entry,
        accuracy: Accuracy | None = None,
        *,
        lasts_s: float | None = None,
    ) -> Number | None:
        """Return a typed number; None if it is missing or older than `lasts_s`.

        Parameters
        ----------
        entry : Entry
        accuracy : Accuracy, optional
            Limits of error of the instrument it was read from.
        lasts_s : float, optional
            How long it counts [s]; by default the job's limit.
        """
        found = self.facts.entered.get(entry)
        if found is None:
            return None
        if self.facts.t - found.t > (self.typed_lasts_s if lasts_s is None else lasts_s):
            return None
        half_width = None if accuracy is None else accuracy.half_width(found.value_si)
        return Number(value=found.value_si, expanded=_expanded(half_width))

    def by_probe(self, role: Role) -> Number | None:
        """Return what a probe reads now; None without a probe or its signal."""
        value = self.facts.live(role)
        if value is None or role not in self.channels:
            return None
        half_width = self.channels[role].half_width(value)
        return Number(value=value, expanded=_expanded(half_width), live=True)

    def number(self, role: Role, entry: Entry, accuracy: Accuracy | None = None) -> Number | None:
        """Return what a probe reads, else what was typed; None without either."""
        return self.by_probe(role) or self.typed(entry, accuracy)

    def judged(
        self,
        check: str,
        result: CheckResult,
        cause: str,
        figures: Mapping[str, float],
        *sources: str,
        subject: str = "",
    ) -> CheckJudged:
        """Return a check as an event; empty and repeated sources are left out."""
        return CheckJudged(
            t=self.facts.t,
            stage=Stage.VERIFICATION,
            check=check,
            result=result,
            cause=cause,
            figures=dict(figures),
            subject=subject,
            sources=tuple(dict.fromkeys(each for each in sources if each)),
        )

    def no_value(self, check: str, why: NoValue) -> CheckJudged:
        """Return a check that could not be computed, with the reason."""
        return self.judged(check, CheckResult.NOT_JUDGED, NO_VALUE, {}, subject=why.reason)


def result_of(decision: Decision, number: Number) -> CheckResult:
    """Return the result of a check; without a declared accuracy it is never certain."""
    if number.declared:
        return CheckResult(decision.value)
    return _NOT_CERTAIN.get(decision, CheckResult(decision.value))


def cited(*limits: Limit | None) -> tuple[str, ...]:
    """Return the sources of those limits that are not None."""
    return tuple(limit.citation for limit in limits if limit is not None)


def _expanded(half_width: float | None) -> float | None:
    if half_width is None or not math.isfinite(half_width):
        return None
    return expanded_from_half_width(half_width)
