"""What a job file says and lacks, stage by stage, before the work begins."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from chargeassist.guide.stages.line_charge import LineCharge, line_charge
from chargeassist.guide.stages.missing import Lack, lacking
from chargeassist.guide.stages.unjudged import unjudged
from chargeassist.model import display
from chargeassist.model.channels import Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.events import Stage
from chargeassist.model.installation import SafetyGroup
from chargeassist.model.job import Job, SourceSpec
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import Quantity
from chargeassist.model.usual_limits import USUAL
from chargeassist.physics.flammable import SAFETY_GROUPS
from chargeassist.session.job.overrides import set_here
from chargeassist.session.plugins import make_source

SIMULATOR = "simulator"
"""Scheme of addresses that name a scenario."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReport:
    """One stage of the job.

    Attributes
    ----------
    stage : Stage
    lacks : tuple of Lack
        What is needed first.
    """

    stage: Stage
    lacks: tuple[Lack, ...]

    @property
    def state(self) -> str:
        """Whether it can be worked on: "ready", "less" (judged with less) or "missing"."""
        if any(lack.needed for lack in self.lacks):
            return "missing"
        return "less" if self.lacks else "ready"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobReport:
    """What the check of a job file finds.

    Attributes
    ----------
    job : Job
    channels : tuple of Channel
        Of the job's probes; of a simulator that the job leaves to its scenario, the scenario's.
    stages : tuple of StageReport
        In the order of the job.
    line : LineCharge
        What the line set adds.
    group : SafetyGroup or None
        Of the refrigerant, by the shipped table.
    warnings : tuple of str
        What can be read and still deserves a second look.
    unknown : tuple of str
        Those of the warnings that tell why a source cannot be used on this machine.
    """

    job: Job
    channels: tuple[Channel, ...]
    stages: tuple[StageReport, ...]
    line: LineCharge
    group: SafetyGroup | None
    warnings: tuple[str, ...]
    unknown: tuple[str, ...] = ()

    @property
    def workable(self) -> bool:
        """Whether every stage has what it needs, and every source can be used here."""
        return not self.unknown and all(stage.state != "missing" for stage in self.stages)


def report_on(job: Job, today: date, base: Path) -> JobReport:
    """Return what `job` says and lacks.

    Parameters
    ----------
    job : Job
    today : date
        Calibrations are counted up to it.
    base : Path
        Folder that relative paths in the job's addresses start from.
    """
    group = SAFETY_GROUPS.get(job.refrigerant)
    channels, troubles = _channels_of(job, base)
    warnings = [
        _group_warning(job, group),
        _place_warning(job),
        _approach_warning(job),
        *_amount_warnings(job),
        *troubles,
    ]
    warnings += [calibration_warning(job, channel, today) for channel in channels]
    warnings += [accuracy_warning(job, channel) for channel in channels]
    return JobReport(
        job=job,
        channels=channels,
        stages=tuple(
            StageReport(stage=stage, lacks=lacking(job, stage, channels)) for stage in Stage
        ),
        line=line_charge(job),
        group=group,
        warnings=tuple(warning for warning in warnings if warning),
        unknown=tuple(troubles),
    )


_ACCURACY = {
    Role.LIQUID_PRESSURE: (LimitKey.LIQUID_PRESSURE_ACCURACY, 2.0e6),
    Role.SUCTION_PRESSURE: (LimitKey.SUCTION_PRESSURE_ACCURACY, 0.8e6),
    Role.LIQUID_TEMPERATURE: (LimitKey.TEMP_ACCURACY, 303.15),
    Role.SUCTION_TEMPERATURE: (LimitKey.TEMP_ACCURACY, 288.15),
}
"""What a profile asks of a probe, and an ordinary reading at which it is looked at [SI]."""


def accuracy_warning(job: Job, channel: Channel) -> str:
    """Return that a probe is declared coarser than a limit of the job allows; else empty."""
    found = _ACCURACY.get(channel.role)
    limit = None if found is None else job.limit(found[0])
    half_width = None if found is None else channel.half_width(found[1])
    if limit is None or half_width is None:
        return ""
    if half_width <= limit.value_si * (1.0 + 1e-9):
        return ""
    unit = "Pa" if channel.quantity is Quantity.PRESSURE else "K"
    return (
        f"{channel.name}: declared to {half_width:g} {unit}, {limit.as_written} are asked for "
        f"[{limit.citation}]"
    )


def _place_warning(job: Job) -> str:
    if job.site.place is not None:
        return ""
    return "site.place does not say where the unit stands: no caution about falling is shown"


def _amount_warnings(job: Job) -> Iterator[str]:
    """Yield which amounts of refrigerant cannot all be so: a slip of the unit, mostly."""
    charge, units = job.charge, UnitSystem(job.units or UnitSystem.SI)
    whole = display.mass(charge.full_kg, units)
    for name, amount_kg in (
        ("charge.weighed_in", charge.weighed_in_kg),
        ("charge.step_cap", charge.step_cap_kg),
    ):
        if amount_kg > charge.full_kg:
            amount = display.mass(amount_kg, units)
            yield f"{name}, {amount}, is more than the whole circuit takes, {whole}"
    if charge.limit_kg is not None and charge.limit_kg < max(charge.plate_kg, charge.weighed_in_kg):
        limit = display.mass(charge.limit_kg, units)
        named, least_kg = max(
            ("charge.plate", charge.plate_kg),
            ("charge.weighed_in", charge.weighed_in_kg),
            key=lambda pair: pair[1],
        )
        yield f"charge.limit, {limit}, is less than {named}, {display.mass(least_kg, units)}"


def _approach_warning(job: Job) -> str:
    """Return what a job says of an approach that has no target; empty where nothing is idle."""
    if job.target.approach_k is not None:
        return ""
    limit = job.limit(LimitKey.APPROACH_TOLERANCE)
    said = []
    if limit is not None and limit != USUAL[LimitKey.APPROACH_TOLERANCE]:
        said.append(f"a tolerance of the approach, {limit.as_written} [{limit.citation}]")
    if job.target.approach_source:
        said.append(f"a source of the approach, {job.target.approach_source!r}")
    if not said:
        return ""
    return f"{' and '.join(said)}, but no target.approach: nothing is cross-checked by it"


def is_scenarios(source: SourceSpec) -> bool:
    """Return whether the probes of a source are those of its scenario."""
    return source.scheme == SIMULATOR and not source.probes


def _channels_of(job: Job, base: Path) -> tuple[tuple[Channel, ...], list[str]]:
    """Return the channels of every probe of the job, and why a source of it cannot be used here.

    Nothing is opened: an adapter says without it what of an address or a ``select`` it refuses.
    """
    channels: list[Channel] = []
    troubles = []
    for source in job.sources:
        channels += [probe.channel for probe in source.probes]
        try:
            made = make_source(source, base)
        except ChargeAssistError as error:
            troubles.append(str(error))
            continue
        if is_scenarios(source):
            channels += made.channels
    return tuple(channels), troubles


def calibration_warning(job: Job, channel: Channel, today: date) -> str:
    """Return what is odd about a probe's calibration date; empty when nothing is."""
    if not channel.calibrated.strip():
        return ""
    try:
        calibrated = date.fromisoformat(channel.calibrated.strip())
    except ValueError:
        return (
            f"{channel.name}: its age cannot be counted from {channel.calibrated!r}; "
            'write the day as "2026-03-02"'
        )
    days = (today - calibrated).days
    if days < 0:
        return f"{channel.name}: calibrated on {calibrated}, which is still to come"
    limit = job.limit_or_usual(LimitKey.CALIBRATION_AGE)
    if days * 86_400.0 > limit.value_si:
        return (
            f"{channel.name}: calibrated {days} days ago, more than {limit.as_written} "
            f"[{limit.citation}]"
        )
    return ""


def as_data(report: JobReport) -> dict[str, object]:
    """Return the report as plain data for JSON; quantities in SI, the unit in the name."""
    job, line = report.job, report.line
    return {
        "name": job.name,
        "refrigerant": job.refrigerant,
        "profile": job.profile,
        "role": job.role,
        "target": {
            "method": job.target.method.value,
            "value_k": job.target.fixed_k,
            "tolerance_k": job.target.tolerance_k,
            "source": job.target.source,
            "tolerance_source": job.target.tolerance_source,
        },
        "safety_group": {
            "plate": None if job.plate.safety_group is None else job.plate.safety_group.value,
            "table": None if report.group is None else report.group.value,
        },
        "weigh_in": {
            "plate_kg": job.charge.plate_kg,
            "line_kg": line.kg,
            "total_kg": None if line.kg is None else job.charge.plate_kg + line.kg,
            "expanded_kg": line.expanded_kg,
            "source": line.source,
            "why": line.why,
        },
        "overrides": [
            {"limit": each.key.value, "as_written": each.as_written, "source": each.citation}
            for each in set_here(job.limits)
        ],
        "begins": {"stage": job.begins.value, "source": job.begins_source},
        "probes": [_probe(channel) for channel in report.channels],
        "not_judged": list(unjudged(job)),
        "warnings": list(report.warnings),
        "stages": [
            {
                "stage": stage.stage.value,
                "state": stage.state,
                "lacks": [
                    {"what": lack.what, "where": lack.where, "needed": lack.needed}
                    for lack in stage.lacks
                ],
            }
            for stage in report.stages
        ],
        "workable": report.workable,
    }


def _probe(channel: Channel) -> dict[str, object]:
    accuracy = channel.accuracy
    return {
        "name": channel.name,
        "role": channel.role.value,
        "unit": channel.unit,
        "source": channel.source,
        "accuracy_si": None if accuracy is None else accuracy.absolute_si,
        "accuracy_of_reading": None if accuracy is None else accuracy.relative,
        "serial": channel.serial,
        "calibrated": channel.calibrated,
    }


def _group_warning(job: Job, group: SafetyGroup | None) -> str:
    typed = job.plate.safety_group
    if typed is None or group is None or typed is group:
        return ""
    return (
        f"the plate's safety group is given as {typed.value}; {job.refrigerant} is {group.value} "
        "in the shipped table (ASHRAE 34, from memory): read the plate again"
    )
