"""The first charge by weight: what the plate and the line set ask for, and how much is in.

Refrigerant goes in through the ledger, as in charging: by the scale, or by the keys. The unit does
not run meanwhile, and nothing of it is judged.
"""

import math
from collections.abc import Iterator, Mapping

from chargeassist.guide.gates import mass_unknown
from chargeassist.guide.stages.line_charge import line_charge
from chargeassist.guide.stages.stage import (
    Instruction,
    Instruments,
    NextMark,
    StageRow,
    StageStep,
    say,
)
from chargeassist.model.channels import Channel, Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import (
    Action,
    Advice,
    CheckJudged,
    CheckResult,
    Mark,
    MarkKind,
    Stage,
)
from chargeassist.model.installation import Metering, SafetyGroup
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.cylinder import (
    FILLING_SHARE,
    CylinderContent,
    content,
    net_capacity_kg,
    specific_gravity,
)
from chargeassist.physics.flammable import HEIGHTS_M, LOWER_LIMITS, room_rule, safety_group
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.uncertainty import expanded_from_half_width
from chargeassist.physics.weigh_in import AdderSays, judge_adder, liquid_kg_per_m
from chargeassist.stream.facts import Facts, OpenStep

LIQUID_LINE_K = 308.15
"""Temperature of the liquid line assumed for the cross-check [K]: 35 °C, an ordinary running
condition; the mass of liquid changes by 0.4 % per kelvin."""

FLOW_ENDS_S = 30.0
"""So long without more than the scale's resolution, and nothing flows any more [s]: how soon it is
told, no more."""

_ADDER = (LimitKey.ADDER_LOW, LimitKey.ADDER_HIGH, LimitKey.ADDER_PARTLY)
ADDER_SOURCE = "what a line full of liquid holds, CoolProp's density at 35 °C"


_RUN_UP = NextMark(kind=MarkKind.STAGE_BEGUN, text=Stage.RUN_UP.value, label="begin the run-up")


class WeighInGuide:
    """Guides the first charge.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._fluid = refrigerant(job.refrigerant)
        self._line = line_charge(job)
        self._instruments = Instruments()
        self._channels: Mapping[Role, Channel] = {}
        self._gross_kg = job.cylinder.gross_kg
        self._told: tuple[int, float] | None = None
        self._flowed: tuple[float, float] | None = None
        self._ebbed_kg: float | None = None
        self._fixed_rows = self._make_rows(safety_group(job))

    @property
    def target_kg(self) -> float:
        """Mass the circuit should hold after the weigh-in, never above the job's limit [kg]."""
        allowance_kg = self._job.charge.allowance_kg
        if not allowance_kg and self._line.kg is not None:
            allowance_kg = self._line.kg
        full_kg, limit_kg = self._job.charge.plate_kg + allowance_kg, self._job.charge.limit_kg
        return full_kg if limit_kg is None else min(full_kg, limit_kg)

    def begin(self, t: float) -> None:
        """Do nothing: the stage goes on where it was left."""

    def take(self, mark: Mark) -> None:
        """Take a typed weight of the cylinder."""
        if mark.kind is not MarkKind.ENTERED:
            return
        if believed(mark.text, mark.value_si) is Entry.CYLINDER_GROSS:
            self._gross_kg = mark.value_si

    def tick(self, facts: Facts) -> StageStep:
        """Return how much still has to go in, with plate, line set and cylinder."""
        self._channels = self._instruments.of(facts)
        togo_kg = self.target_kg - facts.total_kg
        so_far_kg = 0.0 if facts.step_open is None else facts.step_open.so_far_kg or 0.0
        cylinder = self._cylinder(facts)
        rows = [
            StageRow(
                key="weighed",
                figures={"kg": facts.total_kg + so_far_kg, "target_kg": self.target_kg},
                state="now" if togo_kg - so_far_kg > self._resolution_kg else "done",
            ),
            *self._cylinder_rows(cylinder, togo_kg - so_far_kg),
            *self._fixed_rows,
        ]
        self._watch_flow(facts)
        advice, mark = self._advise(facts, togo_kg)
        return StageStep(
            advice=advice,
            rows=tuple(rows),
            checks=self._judge(facts),
            next_mark=mark,
            other_marks=(
                NextMark(
                    kind=MarkKind.ENTERED,
                    label="cylinder weight read from the scale",
                    entry=Entry.CYLINDER_GROSS,
                ),
            ),
        )

    @property
    def _resolution_kg(self) -> float:
        return self._job.charge.scale_resolution_kg

    def _watch_flow(self, facts: Facts) -> None:
        """See whether the open step has come to its end by itself: the pressures have met."""
        so_far = None if facts.step_open is None else facts.step_open.so_far_kg
        if so_far is None:
            self._flowed = None
            ebbed_kg = self._ebbed_kg
            if ebbed_kg is not None and facts.total_kg < ebbed_kg - 2.0 * self._resolution_kg:
                self._ebbed_kg = None  # what was in has been let out: it will flow again
            return
        if self._flowed is None or so_far > self._flowed[1] + self._resolution_kg:
            self._flowed, self._ebbed_kg = (facts.t, so_far), None
        elif so_far > self._resolution_kg and facts.t - self._flowed[0] >= FLOW_ENDS_S:
            self._ebbed_kg = facts.total_kg + so_far

    def _advise(self, facts: Facts, togo_kg: float) -> Instruction:
        if any(step.mass_kg is None for step in facts.ledger):
            return mass_unknown(facts), None
        figures = {"total_kg": facts.total_kg, "target_kg": self.target_kg}
        gone_kg = before_evacuation_kg(facts)
        if gone_kg > self._resolution_kg and facts.step_open is None:
            figures = {"total_kg": gone_kg}
            return say(facts.t, Action.FIX_FIRST, "weigh_in_evacuated", figures), None
        if facts.step_open is not None:
            return self._watching(facts, facts.step_open, togo_kg, figures), None
        if togo_kg > self._resolution_kg:
            return self._going_on(facts, togo_kg, figures)
        limit_kg = self._job.charge.limit_kg
        over_limit = limit_kg is not None and facts.total_kg > limit_kg + 1e-9
        slack_kg = max(self._resolution_kg, 2.0 * self._job.limit_si(LimitKey.SCALE_ACCURACY))
        if over_limit or -togo_kg > slack_kg:
            advice = Advice(
                t=facts.t,
                action=Action.RECOVER,
                cause="weigh_in_over",
                subject=self._limited_by,
                figures=figures,
                mass_kg=-togo_kg,
            )
            return advice, None
        done = say(facts.t, Action.DO, "weigh_in_done", figures, subject=self._limited_by)
        return done, _RUN_UP

    @property
    def _limited_by(self) -> str:
        """Where the limit was read that asks for less than plate and line set take; else empty."""
        charge = self._job.charge
        return charge.limit_source if charge.limit_kg == self.target_kg else ""

    def _watching(
        self, facts: Facts, step: OpenStep, togo_kg: float, figures: dict[str, float]
    ) -> Advice:
        """Return what there is to see while refrigerant flows in."""
        so_far_kg = step.so_far_kg
        if so_far_kg is not None:
            figures = {**figures, "so_far_kg": so_far_kg}
        if step.scale_lost:
            cause = "weigh_in_scale_lost"
        elif so_far_kg is not None and togo_kg - so_far_kg <= self._resolution_kg:
            cause = "weigh_in_full"
        else:
            cause = "weigh_in_open" if self._ebbed_kg is None else "weigh_in_ebbed"
        return say(facts.t, Action.WAIT, cause, figures, subject=self._limited_by)

    def _going_on(self, facts: Facts, togo_kg: float, figures: dict[str, float]) -> Instruction:
        """Return how the rest goes in: weighed in, or charged later if nothing flows any more."""
        if self._ebbed_kg is not None:
            return say(facts.t, Action.DO, "weigh_in_rest", figures), _RUN_UP
        cause = "weigh_in_to_go" if self._line.kg is not None else "weigh_in_plate_only"
        add = Advice(
            t=facts.t,
            action=Action.ADD,
            cause=cause,
            subject=self._limited_by,
            figures=figures,
            mass_kg=togo_kg,
        )
        # No scale tells that nothing flows any more: the one who sees it says so.
        unseen = facts.ledger and Role.CYLINDER_MASS not in self._channels
        return add, _RUN_UP if unseen else None

    def _judge(self, facts: Facts) -> tuple[CheckJudged, ...]:
        """Return the record of the weigh-in, made again after each step."""
        told = (len(facts.ledger), facts.total_kg)
        if not facts.ledger or facts.step_open is not None or told == self._told:
            return ()
        self._told = told
        # What went in is the difference of two weighings, each as far off as the scale may be.
        scale_kg = math.sqrt(2.0) * self._scale_expanded_kg(self.target_kg)
        expanded_kg = math.hypot(self._line.expanded_kg, scale_kg)
        return (
            CheckJudged(
                t=facts.t,
                stage=Stage.WEIGH_IN,
                check="weigh_in",
                result=CheckResult.RECORDED,
                cause="weighed_in",
                figures={
                    "kg": facts.total_kg,
                    "target_kg": self.target_kg,
                    "expanded_kg": expanded_kg,
                },
                sources=tuple(self._rests_on()),
            ),
        )

    def _rests_on(self) -> Iterator[str]:
        """Yield the sources of the amount and of its uncertainty."""
        if self._line.source:
            yield self._line.source
        if self._line.kg is not None:
            yield self._job.limit_or_usual(LimitKey.LINE_LENGTH_ACCURACY).told
        if self._limited_by:
            yield self._limited_by
        scale = self._channels.get(Role.CYLINDER_MASS)
        if scale is None or scale.accuracy is None:
            yield self._job.limit_or_usual(LimitKey.SCALE_ACCURACY).told

    def _scale_expanded_kg(self, weight_kg: float) -> float:
        """Return the expanded uncertainty (k = 2) of a weight on the scale [kg]."""
        scale = self._channels.get(Role.CYLINDER_MASS)
        if scale is not None and scale.accuracy is not None:
            return expanded_from_half_width(scale.accuracy.half_width(weight_kg))
        return expanded_from_half_width(self._job.limit_si(LimitKey.SCALE_ACCURACY))

    def _make_rows(self, group: SafetyGroup | None) -> tuple[StageRow, ...]:
        job = self._job
        rows = [StageRow(key="plate_charge", figures={"kg": job.charge.plate_kg})]
        rows += [self._line_row(), *self._pipe_row()]
        if job.charge.allowance_kg and not job.charge.allowance_source:
            rows.append(StageRow(key="allowance", figures={"kg": job.charge.allowance_kg}))
        if group is not None and group.burns:
            area = job.plate.room_area_m2
            rows.append(
                StageRow(
                    key="room_area",
                    figures={} if area is None else {"area_m2": area},
                    subject=group.value,
                    state="doubt" if area is None else "",
                    source=job.plate.source if area is not None else "",
                )
            )
            rows += self._annex_row(group)
        return tuple(rows)

    def _line_row(self) -> StageRow:
        """Return what the line set takes, and by which figures."""
        job, line = self._job, self._line
        figures: dict[str, float] = {}
        if line.kg is not None:
            figures["kg"] = line.kg
        if line.adder_kg_per_m is not None:
            figures["adder_kg_per_m"] = line.adder_kg_per_m
        if job.line_set is not None:
            figures["length_m"] = job.line_set.length_m
            if job.line_set.included_m is not None:
                figures["included_m"] = job.line_set.included_m
        return StageRow(
            key="line_charge",
            figures=figures,
            subject=line.why,
            state="doubt" if line.kg is None else "",
            source=line.source,
        )

    def _annex_row(self, group: SafetyGroup) -> list[StageRow]:
        """Return the smallest room by the annex formulas, as information that judges nothing.

        Of several published flammability limits the lowest is used; it gives the largest room.
        """
        limits = LOWER_LIMITS.get(self._job.refrigerant, ())
        if not limits or self.target_kg <= 0.0:
            return []
        limit = min(limits, key=lambda each: each.value_kg_per_m3)
        floor, wall = (
            room_rule(self.target_kg, limit.value_kg_per_m3, HEIGHTS_M[place], group=group)
            for place in ("floor", "wall")
        )
        figures = {"kg": self.target_kg, "unlimited_kg": floor.unlimited_kg}
        if floor.smallest_area_m2 > 0.0:
            figures |= {"floor_m2": floor.smallest_area_m2, "wall_m2": wall.smallest_area_m2}
        return [StageRow(key="annex_area", figures=figures, source=limit.said)]

    def _pipe_row(self) -> list[StageRow]:
        """Return the check of the adder against the liquid the pipe can hold."""
        line_set, adder = self._job.line_set, self._line.adder_kg_per_m
        if line_set is None or line_set.liquid_diameter_m is None or adder is None:
            return []
        full = liquid_kg_per_m(self._fluid, line_set.liquid_diameter_m, LIQUID_LINE_K)
        if isinstance(full, NoValue):
            return []
        low, high, partly = (self._job.limit_or_usual(key) for key in _ADDER)
        says = judge_adder(adder, full, (low.value_si, high.value_si), partly.value_si)
        right = {
            Metering.OUTDOOR: {AdderSays.PARTLY, AdderSays.FULL},
            Metering.INDOOR: {AdderSays.FULL},
            None: {AdderSays.PARTLY, AdderSays.FULL},
        }[line_set.metering]
        return [
            StageRow(
                key="pipe_check",
                figures={"full_kg_per_m": full, "adder_kg_per_m": adder},
                source="; ".join((ADDER_SOURCE, low.told, high.told)),
                subject=says.value,
                state="" if says in right else "doubt",
            )
        ]

    def _cylinder(self, facts: Facts) -> CylinderContent | NoValue | None:
        cylinder = self._job.cylinder
        on_scale = facts.live(Role.CYLINDER_MASS)
        gross_kg = on_scale if on_scale is not None else self._gross_kg
        if gross_kg is None or cylinder.tare_kg is None or cylinder.water_capacity_kg is None:
            return None
        gravity = specific_gravity(self._fluid)
        if isinstance(gravity, NoValue):
            return gravity
        share = self._job.limit_or_usual(LimitKey.CYLINDER_FILL).value_si
        capacity_kg = net_capacity_kg(cylinder.water_capacity_kg, gravity)
        capacity_kg *= min(1.0, share / FILLING_SHARE)
        scale_kg = self._scale_expanded_kg(gross_kg)
        return content(gross_kg, cylinder.tare_kg, capacity_kg, scale_expanded_kg=scale_kg)

    def _cylinder_rows(
        self, found: CylinderContent | NoValue | None, togo_kg: float
    ) -> list[StageRow]:
        if found is None:
            return []
        if isinstance(found, NoValue):
            return [StageRow(key="cylinder_wrong", subject=found.reason, state="doubt")]
        figures = {
            "net_kg": found.net_kg,
            "room_kg": found.room_kg,
            "expanded_kg": found.expanded_kg,
            "highest_gross_kg": found.highest_gross_kg,
        }
        state = "doubt" if found.net_kg < togo_kg or found.room_kg < 0.0 else ""
        subject = "overfull" if found.room_kg < 0.0 else "short" if found.net_kg < togo_kg else ""
        share = self._job.limit_or_usual(LimitKey.CYLINDER_FILL)
        source = (
            f"{share.as_written} of water capacity times specific gravity: {share.citation}; the "
            "cylinder's label comes first"
        )
        return [
            StageRow(key="cylinder", figures=figures, subject=subject, state=state, source=source)
        ]


def before_evacuation_kg(facts: Facts) -> float:
    """Return what the record has added in this session before the circuit was evacuated [kg].

    What was recovered is taken off, before and after. What was in before the session may be a
    factory charge behind shut valves, which a vacuum pump does not reach.
    """
    evacuated_t = facts.evacuated_t
    if evacuated_t is None:
        return 0.0
    told = [(step.begun_t, step.mass_kg) for step in facts.ledger if step.mass_kg is not None]
    return sum(mass_kg for t, mass_kg in told if mass_kg < 0.0 or t < evacuated_t)
