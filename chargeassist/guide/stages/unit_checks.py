"""Electrical and air side of the running unit: checks beside the charge, from probes and typing.

They judge what was measured and ask for nothing: the instruction stays that of the charge. A check
is made when a number it needs is typed, and in the verification when the reading settles and once a
minute.
"""

from collections.abc import Callable, Mapping

from chargeassist.guide.heat_balance import HEATER_RUNS, HeatBalance
from chargeassist.guide.stages.air_checks import (
    airflow,
    airflow_by_heat,
    airflow_design,
    capacity,
    temperature_split,
)
from chargeassist.guide.stages.electrical_checks import (
    OVER_RATED,
    PHASE_ORDER,
    VOLTAGES,
    phase_order,
    running_amps,
    supply_voltage,
    unbalance,
)
from chargeassist.guide.stages.filters_panels import FILTERS_PANELS, filters_panels
from chargeassist.guide.stages.judging import Look
from chargeassist.guide.stages.stage import Instruments, NextMark
from chargeassist.guide.stages.unjudged import conditions_unjudged
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Advice, CheckJudged, Mark, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.stream.facts import Facts

LOOK_EVERY_S = 60.0
"""Time between two checks in the verification [s]."""

Check = Callable[[Look], CheckJudged | None]

_AIR: tuple[Check, ...] = (temperature_split, capacity)
_BY_ENTRY: Mapping[Entry, tuple[Check, ...]] = {
    **dict.fromkeys(VOLTAGES, (supply_voltage, unbalance)),
    Entry.CURRENT: (running_amps,),
    Entry.AIRFLOW: (airflow, airflow_design, capacity),
    Entry.RETURN_DRY_BULB: _AIR,
    Entry.RETURN_WET_BULB: (capacity,),
    Entry.SUPPLY_DRY_BULB: _AIR,
    Entry.SUPPLY_WET_BULB: (capacity,),
}
"""The checks that need each typed number."""

_LIVE: tuple[Check, ...] = (
    running_amps,
    supply_voltage,
    unbalance,
    phase_order,
    filters_panels,
    conditions_unjudged,
    temperature_split,
)
"""Checks that can be made by probes alone; the others change only when something is typed."""

_PROBES: Mapping[Entry, tuple[Role, ...]] = {
    **{entry: (role,) for entry, role in VOLTAGES.items()},
    Entry.CURRENT: (Role.COMPRESSOR_CURRENT,),
    Entry.RETURN_DRY_BULB: (Role.RETURN_AIR_TEMPERATURE,),
    Entry.RETURN_WET_BULB: (Role.RETURN_AIR_WET_BULB, Role.RETURN_AIR_HUMIDITY),
    Entry.SUPPLY_DRY_BULB: (Role.SUPPLY_AIR_TEMPERATURE,),
}
"""Probes that make typing unnecessary while they deliver."""


class UnitChecks:
    """Makes the checks of one session.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._instruments = Instruments()
        self._told: frozenset[Entry] = frozenset()
        self._asked: tuple[Check, ...] = ()
        self._looked_t: float | None = None
        self._settled = False
        self._said: dict[str, CheckJudged] = {}
        self._amps: CheckJudged | None = None
        three = job.plate.phases == 3
        self._entries = (
            *(VOLTAGES if three else (Entry.VOLTAGE_AB,)),
            Entry.CURRENT,
            Entry.AIRFLOW,
            Entry.RETURN_DRY_BULB,
            Entry.RETURN_WET_BULB,
            Entry.SUPPLY_DRY_BULB,
            Entry.SUPPLY_WET_BULB,
        )
        self._asks_order = three
        self.heat = HeatBalance(job)

    def tellable(self, facts: Facts) -> tuple[NextMark, ...]:
        """Return what can be typed or confirmed now, except what a probe delivers."""
        marks = [
            NextMark(kind=MarkKind.ENTERED, label=entry.label, entry=entry)
            for entry in self._entries
            if all(facts.live(role) is None for role in _PROBES.get(entry, ()))
        ]
        marks += self._heat_marks()
        # Last what goes away once it is told: the keys of the readings stay what they are.
        if self._asks_order and PHASE_ORDER not in facts.confirmed:
            marks.append(_PHASES)
        if FILTERS_PANELS not in facts.confirmed:
            marks.append(_READY)
        return tuple(marks)

    @staticmethod
    def next_mark(advice: Advice) -> NextMark | None:
        """Return the mark that answers `advice` about filter and panels; None for other advice."""
        return _READY if advice.cause == f"condition_{FILTERS_PANELS}" else None

    def _heat_marks(self) -> list[NextMark]:
        """Return the marks of a heat balance: first the heat, then the air it warms."""
        if not self.heat.waits:
            return [_HEAT if self.heat.needs_heat else _HEATER]
        return [
            NextMark(kind=MarkKind.ENTERED, label=entry.label, entry=entry)
            for entry in (Entry.AIR_BEFORE_HEAT, Entry.AIR_AFTER_HEAT)
        ]

    def over_rated_load(self, facts: Facts) -> Mapping[str, float] | None:
        """Return the figures of amps that exceed the rated load now [A]; None where they do not.

        Typed amps count as long as any typed reading; a clamp that reads says what is so now.
        """
        found = self._amps
        if found is None or OVER_RATED not in found.figures:
            return None
        now_a = facts.live(Role.COMPRESSOR_CURRENT)
        if now_a is None:
            lasts_s = self._job.limit_si(LimitKey.TYPED_LASTS)
            return found.figures if facts.t - found.t <= lasts_s else None
        over = now_a > found.figures["rated_load_a"]
        return {**found.figures, "amps_a": now_a} if over else None

    def take(self, mark: Mark) -> None:
        """Note what was typed or confirmed; the number comes with the facts."""
        self.heat.take(mark)
        if mark.kind is MarkKind.CONFIRMED and mark.text == PHASE_ORDER:
            self._ask(phase_order)
        elif mark.kind is MarkKind.CONFIRMED and mark.text == FILTERS_PANELS:
            self._ask(filters_panels)
        elif mark.kind is MarkKind.ENTERED:
            entry = believed(mark.text, mark.value_si)
            if entry is not None and entry in _BY_ENTRY:
                self._told |= {entry}
                self._ask(*_BY_ENTRY[entry])

    def tick(self, facts: Facts, stage: Stage) -> tuple[CheckJudged, ...]:
        """Make the checks that are due and return those whose statement is new."""
        settled = facts.settled is not None
        has_settled = settled and not self._settled
        self._settled = settled
        channels = self._instruments.of(facts)
        if self.heat.tick(facts, channels):
            self._ask(airflow_by_heat, airflow, airflow_design, capacity)
        due, anew = self._due(facts.t, stage, has_settled=has_settled)
        if not due:
            return ()
        look = Look(
            job=self._job,
            facts=facts,
            channels=channels,
            stage=stage,
            told=self._told,
            balance=self.heat.found,
            balance_why=self.heat.why,
        )
        self._told, self._asked = frozenset(), ()
        found = []
        for check in due:
            judged = check(look)
            if check is running_amps and judged is not None:
                self._amps = judged
            if judged is not None and self._is_news(judged, anew=check in anew):
                self._said[judged.check] = judged
                found.append(judged)
        return tuple(found)

    def _due(
        self, t: float, stage: Stage, *, has_settled: bool
    ) -> tuple[tuple[Check, ...], tuple[Check, ...]]:
        """Return the checks that are due, and those of them of which new figures count as news.

        What was asked for is due at once, what can be watched from the beginning of the
        verification on, each time the reading settles, and every `LOOK_EVERY_S`.
        """
        due = anew = self._asked
        if stage is not Stage.VERIFICATION:
            self._looked_t = None
            return due, anew
        begins = has_settled or self._looked_t is None
        if begins:
            anew = (*anew, *_LIVE)
        if begins or t - (self._looked_t or 0.0) >= LOOK_EVERY_S:
            due = (*due, *(check for check in _LIVE if check not in due))
            self._looked_t = t
        return due, anew

    def _ask(self, *checks: Check) -> None:
        self._asked += tuple(check for check in checks if check not in self._asked)

    def _is_news(self, judged: CheckJudged, *, anew: bool) -> bool:
        """Return whether a check says something new; with `anew`, new figures count as well."""
        before = self._said.get(judged.check)
        if before is None or _statement(before) != _statement(judged):
            return True
        return anew and (before.figures, before.subject) != (judged.figures, judged.subject)


_PHASES = NextMark(
    kind=MarkKind.CONFIRMED,
    text=PHASE_ORDER,
    label="phase order is right: no loud noise, the pressures part, amps are not low",
)

_HEAT = NextMark(kind=MarkKind.ENTERED, label=Entry.HEAT.label, entry=Entry.HEAT)
_HEATER = NextMark(
    kind=MarkKind.CONFIRMED,
    text=HEATER_RUNS,
    label="heater or furnace of the job file runs: compressor off, blower as for cooling",
)

_READY = NextMark(
    kind=MarkKind.CONFIRMED,
    text=FILTERS_PANELS,
    label="filter clean, registers open, every panel on",
)


def _statement(judged: CheckJudged) -> tuple[str, str, frozenset[str]]:
    """Return what a check says, without its numbers."""
    return judged.result.value, judged.cause, frozenset(judged.figures)
