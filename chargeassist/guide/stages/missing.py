"""What a job file lacks for each stage, so that it is said before the work begins."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import Quantity
from chargeassist.stream.typed_readings import hand_accuracy


@dataclass(frozen=True, slots=True, kw_only=True)
class Lack:
    """Something a stage lacks.

    Attributes
    ----------
    what : str
        In words: "the plate's test pressures".
    where : str
        Key of the job file, or role of a probe, that would give it.
    needed : bool
        Whether the stage judges nothing without it; else it judges with less.
    """

    what: str
    where: str
    needed: bool = True


@dataclass(frozen=True, slots=True)
class Known:
    """A job and its channels.

    Attributes
    ----------
    job : Job
    channels : tuple of Channel
        Those declared in the session, or those of the job file.
    """

    job: Job
    channels: tuple[Channel, ...]

    @property
    def roles(self) -> frozenset[Role]:
        """Roles that have a probe."""
        return frozenset(channel.role for channel in self.channels)


def lacking(job: Job, stage: Stage, channels: Iterable[Channel] | None = None) -> tuple[Lack, ...]:
    """Return what is lacking for `stage`, the needed first.

    Parameters
    ----------
    job : Job
    stage : Stage
    channels : iterable of Channel, optional
        Those of the session; by default those of the job file.
    """
    if channels is None:
        channels = (probe.channel for source in job.sources for probe in source.probes)
    found = _LACKS[stage](Known(job, tuple(channels))) if stage in _LACKS else []
    return tuple(sorted(found, key=lambda lack: not lack.needed))


def _probe(known: Known, *roles: Role, what: str, needed: bool = True) -> list[Lack]:
    if known.roles.intersection(roles):
        return []
    return [Lack(what=what, where=f"probe: {roles[0].value}", needed=needed)]


def _limit(job: Job, key: LimitKey, what: str, where: str, *, needed: bool = True) -> list[Lack]:
    return [] if job.limit(key) is not None else [Lack(what=what, where=where, needed=needed)]


def _typed(value: object, what: str, where: str, *, needed: bool = False) -> list[Lack]:
    return [Lack(what=what, where=where, needed=needed)] if value in (None, "", 0) else []


def _tightness(known: Known) -> list[Lack]:
    job = known.job
    plate, plan = job.plate, job.stages.tightness
    found = _probe(
        known,
        Role.LIQUID_PRESSURE,
        Role.SUCTION_PRESSURE,
        what="a pressure probe on the circuit: pressures are read off and typed",
        needed=False,
    )
    if found:
        found += _typed(
            plan.gauge_accuracy, "the accuracy of that gauge", "tightness.gauge_accuracy"
        )
    if not plan.steps:
        pressures = (plate.high_side_pa_gauge, plate.low_side_pa_gauge)
        if not any(pressures):
            found.append(
                Lack(what="the plate's test pressures", where="plate.high_side, plate.low_side")
            )
        found.append(
            Lack(
                what="how long the test pressure is held",
                where='tightness.steps, or a profile such as "tightness-one-hour"',
            )
        )
    pipes = {Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE} & known.roles
    if len(pipes) < 2:
        found.append(
            Lack(
                what="temperatures of two pipes: one does not stand for the whole circuit",
                where="probe: liquid_temperature and suction_temperature",
                needed=False,
            )
        )
    if not pipes:
        found += _typed(
            plan.thermometer_accuracy,
            "the accuracy of the thermometer they are typed from",
            "tightness.thermometer_accuracy",
        )
    found += _resolution(known)
    return found + _typed(plan.volume_m3, "the circuit's volume", "tightness.volume")


def _resolution(known: Known) -> list[Lack]:
    """Return that the gauge's resolution is not declared although a limit asks for it."""
    if known.job.limit(LimitKey.TIGHTNESS_RESOLUTION) is None:
        return []
    gauges = [c for c in known.channels if c.role is Role.LIQUID_PRESSURE]
    if not gauges or gauges[0].resolution_si is not None:
        return []
    return [
        Lack(
            what="the smallest step of the liquid pressure probe",
            where="resolution of that probe",
            needed=False,
        )
    ]


def _dryness(known: Known) -> list[Lack]:
    job = known.job
    found = _probe(
        known,
        Role.VACUUM,
        what="a vacuum gauge that is read live: it is read off and typed",
        needed=False,
    )
    if found:
        found += _typed(
            job.stages.dryness.gauge_accuracy,
            "the accuracy of that gauge",
            "dryness.gauge_accuracy",
        )
    for key, what, where in (
        (LimitKey.VACUUM_TARGET, "how deep to evacuate", "target"),
        (LimitKey.VACUUM_RISE_LIMIT, "what the rise test may reach", "rise_limit"),
        (LimitKey.VACUUM_RISE_TIME, "how long the rise test lasts", "rise_time"),
    ):
        where = f'dryness.{where}, or a profile such as "evacuation-500-20"'
        found += _limit(job, key, what, where)
    if not known.roles & {
        Role.OUTDOOR_AIR_TEMPERATURE, Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE,
    }:  # fmt: skip
        found += _typed(
            job.stages.dryness.coldest_k,
            "the temperature of the coldest part of the circuit",
            "dryness.coldest, or a temperature probe",
        )
    return found


def _weigh_in(known: Known) -> list[Lack]:
    job = known.job
    line = job.line_set
    found = _typed(line, "the line set", "line_set.length")
    if line is not None:
        found += _typed(
            line.included_m, "the length the plate charge includes", "line_set.included"
        )
        found += _typed(
            line.liquid_diameter_m, "the liquid line's diameter", "line_set.liquid_diameter"
        )
    found += _probe(known, Role.CYLINDER_MASS, what="a scale under the cylinder", needed=False)
    found += _typed(job.cylinder.tare_kg, "the cylinder's tare", "cylinder.tare")
    found += _typed(job.cylinder.water_capacity_kg, "its water capacity", "cylinder.water_capacity")
    group = job.plate.safety_group
    found += _typed(group, "the refrigerant's safety group", "plate.safety_group")
    if group is not None and group.burns:
        found += _typed(job.plate.room_area_m2, "the plate's minimum room area", "plate.room_area")
    return found


_CONDITIONS: Mapping[LimitKey, str] = {
    LimitKey.OUTDOOR_LOW: "the least outdoor temperature the test is good for",
    LimitKey.INDOOR_LOW: "the least return air temperature it is good for",
    LimitKey.AIRFLOW_LOW: "the least indoor airflow it is good for",
    LimitKey.FILTERS_PANELS: "whether filter, registers and panels are to be looked at",
}


def _run_up(known: Known) -> list[Lack]:
    job = known.job
    found = _typed(job.hold.required_hz, "the frequency of the test", "frequency.required")
    if job.hold.required_hz is not None:
        found += _typed(job.hold.lasts_s, "how long the unit holds it", "frequency.hold_lasts")
        found += _limit(
            job,
            LimitKey.RAMP_LONGEST,
            "how long the unit takes to that frequency",
            "profile, or conditions.ramp_longest",
            needed=False,
        )
    for key, what in _CONDITIONS.items():
        found += _limit(job, key, what, "profile, or [conditions]", needed=False)
    return found


def _charging(known: Known) -> list[Lack]:
    job = known.job
    found: list[Lack] = []
    judged, witness = job.target.judged, job.target.witness
    for role in (judged.pressure, judged.temperature):
        by_hand = _probe(
            known, role, what=f"the {role.label} probe: it is read off and typed", needed=False
        )
        if by_hand and hand_accuracy(job, role)[0] is None:
            pressure = role.quantity is Quantity.PRESSURE
            found.append(
                Lack(
                    what=f"the accuracy of what the {role.label} is read by hand with",
                    where=f"charging.{'gauge' if pressure else 'thermometer'}_accuracy",
                    needed=False,
                )
            )
        found += by_hand
    for role in (witness.pressure, witness.temperature):
        found += _probe(known, role, what=f"the {role.label} probe", needed=False)
    found += _air_of_target(known)
    found += [
        Lack(
            what=f"the accuracy of the {channel.role.label} probe",
            where="accuracy of that probe",
            needed=False,
        )
        for channel in known.channels
        if channel.accuracy is None and channel.role in _JUDGED
    ]
    found += _typed(
        job.guards.liquid_pressure_high_pa_gauge,
        "the highest liquid pressure",
        "limits.liquid_pressure_high",
    )
    return found


def _air_of_target(known: Known) -> list[Lack]:
    """Return what is lacking of the air: a target of the published table moves with it."""
    job, outdoor = known.job, Role.OUTDOOR_AIR_TEMPERATURE
    if job.target.fixed_k is not None:
        return _probe(known, outdoor, what=f"the {outdoor.label} probe", needed=False)
    lasts = job.limit_or_usual(LimitKey.TYPED_AIR_LASTS).as_written
    typed = f"the table needs it: it is read off and typed, and counts for {lasts}"
    found = _probe(known, outdoor, what=f"the {outdoor.label} probe; {typed}", needed=False)
    wet, dry = Role.RETURN_AIR_WET_BULB, Role.RETURN_AIR_TEMPERATURE
    if wet in known.roles or job.target.return_wet_bulb_k is not None:
        return found
    if Role.RETURN_AIR_HUMIDITY in known.roles:
        what = f"the {dry.label} probe; humidity alone gives no wet bulb, and {typed}"
        return found + _probe(known, dry, what=what, needed=False)
    where = f"probe: {wet.value}, or target.return_wet_bulb"
    return [*found, Lack(what=f"the {wet.label} probe; {typed}", where=where, needed=False)]


_JUDGED = frozenset(
    {
        Role.LIQUID_PRESSURE,
        Role.LIQUID_TEMPERATURE,
        Role.SUCTION_PRESSURE,
        Role.SUCTION_TEMPERATURE,
    }
)


def _verification(known: Known) -> list[Lack]:
    job = known.job
    plan, plate = job.stages, job.plate
    found = _probe(known, Role.COMPRESSOR_CURRENT, what="an amp clamp", needed=False)
    found += _typed(plan.electrical.amps_a, "the maker's amps at that frequency", "electrical.amps")
    found += _typed(plate.rated_load_a, "the rated-load amps", "plate.rated_load")
    found += _typed(plate.voltage_v, "the rated voltage", "plate.voltage")
    found += _typed(plate.phases, "how many phases", "plate.phases")
    found += _typed(plate.capacity_w, "the nominal capacity", "plate.capacity")
    found += _limit(
        job,
        LimitKey.VOLTAGE_TOLERANCE,
        "the tolerance of the voltage",
        'profile "supply-and-cylinder"',
        needed=False,
    )
    for role in (Role.RETURN_AIR_TEMPERATURE, Role.SUPPLY_AIR_TEMPERATURE):
        found += _probe(known, role, what=f"the {role.label} probe", needed=False)
    return found


def _close_out(known: Known) -> list[Lack]:
    job = known.job
    found = _typed(job.crew.certificate, "the crew's certificate number", "crew.certificate")
    found += _typed(job.equipment.model, "the unit's model", "equipment.model")
    found += _typed(job.equipment.serial, "the unit's serial number", "equipment.serial")
    bare = [channel for channel in known.channels if not (channel.serial and channel.calibrated)]
    if bare:
        names = ", ".join(channel.role.label for channel in bare)
        what = f"serial number and calibration date of the probes ({names})"
        found.append(Lack(what=what, where="serial, calibrated", needed=False))
    return found


_LACKS: Mapping[Stage, Callable[[Known], list[Lack]]] = {
    Stage.TIGHTNESS: _tightness,
    Stage.DRYNESS: _dryness,
    Stage.WEIGH_IN: _weigh_in,
    Stage.RUN_UP: _run_up,
    Stage.CHARGING: _charging,
    Stage.VERIFICATION: _verification,
    Stage.CLOSE_OUT: _close_out,
}
