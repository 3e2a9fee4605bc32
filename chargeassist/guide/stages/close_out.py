"""Close-out: what to do at the unit, and what record and label should contain.

The lists come from published forms and rules, each with its source; local code says which of them
is binding. Items the record answers are ticked by themselves, the others by the technician.
"""

from chargeassist.guide.stages.required_items import CLOSING_ITEMS, RequiredItem, required_items
from chargeassist.guide.stages.stage import NextMark, StageRow, StageStep
from chargeassist.model.channels import Role
from chargeassist.model.events import (
    Action,
    Advice,
    CheckJudged,
    CheckResult,
    Mark,
    MarkKind,
    Stage,
)
from chargeassist.model.job import Job
from chargeassist.model.values import NoValue
from chargeassist.physics.flammable import safety_group
from chargeassist.physics.table import shipped_table
from chargeassist.physics.warming_potential import EDITION, blend_gwp, co2_equivalent_kg
from chargeassist.stream.facts import Facts

_GAUGES = frozenset({Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE})
_THERMOMETERS = frozenset({Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE})
_READINGS = _GAUGES | _THERMOMETERS | {Role.OUTDOOR_AIR_TEMPERATURE, Role.RETURN_AIR_TEMPERATURE}
"""What the readings at the end consist of; an instrument nobody declares is not in the record."""

PREFIX = "close_out_"
"""Prefix of the mark that confirms an item; the item's key follows."""


class CloseOutGuide:
    """Guides the list of closing items.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        group = safety_group(job)
        self._items = required_items(a2l=group is not None and group.burns)
        self._known = _known(job)
        self._told: set[str] = set()
        self._judged: int | None = None
        self._gwp = blend_gwp(shipped_table().entries[job.refrigerant].composition)

    def begin(self, t: float) -> None:
        """Go on where the list was left, but for what is done at the unit.

        Since then it may have been worked on, with its hoses on and its panels off.
        """
        self._told -= {item.key for item in CLOSING_ITEMS}

    def take(self, mark: Mark) -> None:
        """Take the confirmation of an item."""
        if mark.kind is MarkKind.CONFIRMED and mark.text.startswith(PREFIX):
            self._told.add(mark.text.removeprefix(PREFIX))

    def tick(self, facts: Facts) -> StageStep:
        """Return the list with the next open item."""
        recorded = self._known | _in_record(facts)
        done = [item for item in self._items if item.key in recorded | self._told]
        # At the unit first: what is forgotten there costs another visit.
        waiting = sorted(
            (item for item in self._items if item not in done),
            key=lambda item: item not in CLOSING_ITEMS,
        )
        rows = []
        for item in (*waiting, *done):
            if item in done:
                state, word = "done", "in the record" if item.key in recorded else "said to be done"
            else:
                state, word = ("now", "asked for now") if item is waiting[0] else ("open", "open")
            rows.append(_row(item, state, word, self._co2(item, facts)))
        figures = {"open": float(len(waiting)), "items": float(len(self._items))}
        if not waiting:
            advice = Advice(t=facts.t, action=Action.STOP, cause="close_out_done", figures=figures)
            marks: tuple[NextMark, ...] = ()
        else:
            advice = Advice(
                t=facts.t,
                action=Action.DO,
                cause="close_out_item",
                subject=waiting[0].text,
                figures=figures,
            )
            marks = tuple(_mark(item) for item in waiting)
        return StageStep(
            advice=advice,
            rows=tuple(rows),
            checks=self._judge(facts.t, len(waiting)),
            next_mark=marks[0] if marks else None,
            other_marks=marks[1:10],
        )

    def _co2(self, item: RequiredItem, facts: Facts) -> dict[str, float]:
        """Return the CO2 equivalent of the charge, for the item that requires it; else nothing."""
        gwp = self._gwp
        if item.key != "co2" or isinstance(gwp, NoValue) or facts.total_kg <= 0.0:
            return {}
        co2_kg = co2_equivalent_kg(facts.total_kg, gwp)
        return {"kg": facts.total_kg, "gwp": gwp.value, "co2_kg": co2_kg}

    def _judge(self, t: float, open_items: int) -> tuple[CheckJudged, ...]:
        if open_items == self._judged:
            return ()
        self._judged = open_items
        done = open_items == 0
        return (
            CheckJudged(
                t=t,
                stage=Stage.CLOSE_OUT,
                check="close_out",
                result=CheckResult.RECORDED if done else CheckResult.NOT_JUDGED,
                cause="close_out_done" if done else "close_out_open",
                figures={"open": float(open_items), "items": float(len(self._items))},
                sources=tuple(dict.fromkeys(item.source for item in self._items)),
            ),
        )


def _in_record(facts: Facts) -> set[str]:
    """Return the keys of the items that the record of the session answers."""
    found = set()
    known = all(step.mass_kg is not None for step in facts.ledger)
    if facts.ledger and known and facts.step_open is None:
        found.add("added")
    heard = {item.channel.role for item in facts.channels if item.age_s is not None}
    if heard >= _READINGS:
        found.add("readings")
    return found


def _row(item: RequiredItem, state: str, word: str, co2: dict[str, float]) -> StageRow:
    source = f"{item.source}, from memory" if item.from_memory else item.source
    if co2:
        source += f"; {EDITION}"
    return StageRow(
        key="close_out_co2" if co2 else "close_out",
        figures=co2,
        subject=f"{item.text}: {word}",
        state=state,
        source=source,
    )


def _mark(item: RequiredItem) -> NextMark:
    return NextMark(kind=MarkKind.CONFIRMED, text=PREFIX + item.key, label=f"done: {item.text}")


def _known(job: Job) -> frozenset[str]:
    """Return the keys of the items that the job file answers."""
    probes = [probe.channel for source in job.sources for probe in source.probes]
    roles = {channel.role for channel in probes}
    there = {
        "site": bool(job.name),
        "unit": bool(job.equipment.model and job.equipment.serial),
        "capacity": job.plate.capacity_w is not None,
        "refrigerant": True,
        "method": True,
        "person": bool(job.crew.certificate),
        "company": bool(job.crew.company and job.crew.certificate),
        "calibration": bool(
            roles & _GAUGES and roles & _THERMOMETERS and Role.CYLINDER_MASS in roles
        )
        and all(channel.calibrated for channel in probes),
        "line_set": job.line_set is not None,
    }
    return frozenset(key for key, known in there.items() if known)
