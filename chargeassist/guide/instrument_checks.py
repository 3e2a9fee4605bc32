"""Checks of the probes: temperature probes in ice water, the pressure probe at a cylinder.

Both check an instrument, not the unit, and may be made in any stage. The technician tells that a
temperature probe is in ice water; once its reading is steady it is compared with the ice point. The
liquid pressure probe is put on a cylinder that has rested and compared with saturation: a cylinder
holds nothing but refrigerant, so any difference is the probe's zero.
"""

from typing import Final

from chargeassist.guide.places_read import places_read
from chargeassist.guide.snapshot import Caution
from chargeassist.guide.stages.stage import NextMark, typed
from chargeassist.guide.standing import Standing, station_half_width_pa
from chargeassist.model.channels import TEMP_ROUNDING_K, Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import CheckJudged, CheckResult, Mark, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import KELVIN_AT_0_C, Quantity
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.standing_check import (
    ReadAtRest,
    StandingCheck,
    StandingVerdict,
    StandsOn,
    standing_check,
)
from chargeassist.physics.uncertainty import decide
from chargeassist.stream.facts import ChannelFacts, ChannelState, Facts
from chargeassist.stream.typed_readings import TYPED_SOURCE
from chargeassist.stream.windows import SLOPE_WINDOW_S

ICE_BATH: Final = "ice_bath:"
"""Prefix of the mark that tells a probe is in ice water; the channel's name follows."""

OFFERED_K: Final = 3.0
"""A temperature probe this close to the ice point is offered for the check [K]. Chosen to keep the
list short; any probe can be named."""

LOOKS_AFTER_S: Final = 15.0
"""A probe is looked at this long after it was put into the ice [s] (chosen): before, its slope may
still be that of the air it came from."""

BY_HAND: Final = "thermometer"
"""Stands for the channel of a thermometer that is read by hand."""

_RESULT: Final = {
    StandingVerdict.AGREES: CheckResult.PASS,
    StandingVerdict.AGREES_NOT_CERTAIN: CheckResult.PASS_NOT_CERTAIN,
    StandingVerdict.SHIFTED_NOT_CERTAIN: CheckResult.FAIL_NOT_CERTAIN,
    StandingVerdict.SHIFTED: CheckResult.FAIL,
    StandingVerdict.TOO_COARSE: CheckResult.TOO_COARSE,
    StandingVerdict.NOT_RESTED: CheckResult.NOT_JUDGED,
}
_CYLINDER: Final = (Entry.CYLINDER_PRESSURE, Entry.CYLINDER_TEMPERATURE, Entry.CYLINDER_RESTED)


class InstrumentChecks:
    """Makes the checks of one session.

    Parameters
    ----------
    job : Job

    Attributes
    ----------
    cautions : tuple of Caution
        One for each probe found off, until it is put right or found right.
    cylinder : Standing or None
        The check by which the pressure probe was found shifted, until it is put right.
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._refrigerant = refrigerant(job.refrigerant)
        self._tolerance = job.limit_or_usual(LimitKey.ICE_BATH_TOLERANCE)
        self._replace = job.limit_or_usual(LimitKey.ICE_BATH_REPLACE)
        self._bath = job.limit_or_usual(LimitKey.ICE_BATH_ACCURACY)
        self._waits = job.limit_or_usual(LimitKey.PROBE_SETTLING)
        self._rest = job.limit_or_usual(LimitKey.CYLINDER_REST)
        self._allowed = job.limit_or_usual(LimitKey.STANDING_ALLOWED)
        self._place = job.limit_or_usual(LimitKey.STANDING_PLACE)
        self._station_pa = job.limit_si(LimitKey.BAROMETER_ACCURACY)
        self._in_ice: dict[str, float] = {}
        self._thermometer: float | None = None
        self._lasts_s = job.limit_si(LimitKey.TYPED_LASTS)
        self._at_cylinder: dict[Entry, tuple[float, float]] = {}
        self._off: dict[str, Caution] = {}
        self._cylinder_probe = ""
        self.cylinder: Standing | None = None

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """A caution for each probe found off and not put right since."""
        return tuple(self._off.values())

    def cylinder_for(self, facts: Facts) -> Standing | None:
        """Return the check by which what reads the liquid pressure now was found shifted.

        A gauge read by hand in place of the probe has a zero of its own.
        """
        if self.cylinder is None or Role.LIQUID_PRESSURE not in facts.typed:
            return self.cylinder
        by_probe = any(
            item.channel.name == self._cylinder_probe and item.channel.source != TYPED_SOURCE
            for item in facts.channels
        )
        return None if by_probe else self.cylinder

    def marks(self, facts: Facts) -> tuple[NextMark, ...]:
        """Return a mark for each probe that reads as if it were in ice water."""
        found = [
            NextMark(
                kind=MarkKind.CONFIRMED,
                text=f"{ICE_BATH}{item.channel.name}",
                label=f"the {item.channel.role.label} probe is in ice water: check it",
            )
            for item in facts.channels
            if _is_thermometer(item)
            and item.value_si is not None
            and abs(item.value_si - KELVIN_AT_0_C) <= OFFERED_K
            and item.channel.name not in self._in_ice
        ]
        return tuple(found)

    def entries(self, facts: Facts) -> tuple[NextMark, ...]:
        """Return the marks for what can be typed: thermometer in ice water, cylinder, its rest."""
        entries = [] if any(map(_is_thermometer, facts.channels)) else [Entry.ICE_BATH]
        entries.append(Entry.CYLINDER_TEMPERATURE)
        if self._at_cylinder:
            entries += [Entry.CYLINDER_RESTED, Entry.CYLINDER_PRESSURE]
        return tuple(map(typed, entries))

    def take(self, mark: Mark) -> None:
        """Take a mark: a probe in ice water, a typed number, or a probe that was put right."""
        if mark.kind is MarkKind.CONFIRMED and mark.text.startswith(ICE_BATH):
            self._in_ice[mark.text.removeprefix(ICE_BATH)] = mark.t
        elif mark.kind is MarkKind.PROBE_SEEN_TO:
            self._off.pop(mark.text, None)
            if mark.text in {Role.LIQUID_PRESSURE.value, self._cylinder_probe}:
                self.cylinder = None
        elif mark.kind is MarkKind.ENTERED and mark.value_si is not None:
            entry = believed(mark.text, mark.value_si)
            if entry is Entry.ICE_BATH:
                self._thermometer = mark.value_si
            elif entry in _CYLINDER:
                self._at_cylinder[entry] = (mark.seen_t, mark.value_si)

    def tick(self, facts: Facts, stage: Stage) -> tuple[CheckJudged, ...]:
        """Return the checks that can be judged at this tick."""
        found = []
        if self._in_ice:
            found += self._look(facts, stage)
        if self._thermometer is not None:
            value_k, self._thermometer = self._thermometer, None
            found.append(self._ice(facts.t, stage, BY_HAND, "thermometer", BY_HAND, value_k))
        if self._at_cylinder:
            judged = self._cylinder(facts, stage)
            if judged is not None:
                found.append(judged)
        return tuple(found)

    def _look(self, facts: Facts, stage: Stage) -> list[CheckJudged]:
        channels = {item.channel.name: item for item in facts.channels}
        found = []
        for name, told_t in list(self._in_ice.items()):
            item = channels.get(name)
            if item is None or not _is_thermometer(item):
                del self._in_ice[name]
                continue
            role = item.channel.role
            since_s = facts.t - told_t
            if since_s < LOOKS_AFTER_S:
                continue
            if item.value_si is not None and item.state is ChannelState.SETTLED:
                del self._in_ice[name]
                found.append(self._ice(facts.t, stage, name, role.label, role.value, item.value_si))
            elif since_s > self._waits.value_si + SLOPE_WINDOW_S:
                # A slow probe, warm water or no signal: the reading says nothing.
                del self._in_ice[name]
                found.append(
                    CheckJudged(
                        t=facts.t,
                        stage=stage,
                        check=f"ice_bath_{role.value}",
                        result=CheckResult.NOT_JUDGED,
                        cause="ice_bath_moves",
                        figures={"limit_s": self._waits.value_si},
                        subject=role.label,
                        sources=(self._waits.told,),
                    )
                )
        return found

    def _ice(
        self, t: float, stage: Stage, name: str, label: str, key: str, value_k: float
    ) -> CheckJudged:
        off_k, tolerance_k = value_k - KELVIN_AT_0_C, self._tolerance.value_si
        most_k = tolerance_k + TEMP_ROUNDING_K
        decision = decide(off_k, self._bath.value_si, -most_k, most_k)
        cause = "ice_bath_agrees"
        if abs(off_k) > self._replace.value_si + TEMP_ROUNDING_K:
            cause = "ice_bath_replace"
        elif abs(off_k) > most_k:
            cause = "ice_bath_off"
        figures = {
            "off_k": off_k,
            "tolerance_k": tolerance_k,
            "replace_k": self._replace.value_si,
            "expanded_k": self._bath.value_si,
        }
        self._off.pop(name, None)
        if cause != "ice_bath_agrees":
            self._off[name] = Caution(cause="ice_bath_off", figures=figures, subject=label)
        return CheckJudged(
            t=t,
            stage=stage,
            check=f"ice_bath_{key}",
            result=CheckResult(decision.value),
            cause=cause,
            figures=figures,
            subject=label,
            sources=(self._tolerance.told, self._replace.told, self._bath.told),
        )

    def _cylinder(self, facts: Facts, stage: Stage) -> CheckJudged | None:
        """Judge once temperature, rest and pressure are known; the probe may give the pressure."""
        self._at_cylinder = {
            entry: typed
            for entry, typed in self._at_cylinder.items()
            if facts.t - typed[0] <= self._lasts_s
        }
        told = {entry: value for entry, (_, value) in self._at_cylinder.items()}
        temp_k, rest_s = told.get(Entry.CYLINDER_TEMPERATURE), told.get(Entry.CYLINDER_RESTED)
        pressure_pa = told.get(Entry.CYLINDER_PRESSURE)
        by_eye = pressure_pa is not None
        if not by_eye and Role.LIQUID_PRESSURE not in facts.typed:
            pressure_pa = facts.live(Role.LIQUID_PRESSURE)
        if temp_k is None or rest_s is None or pressure_pa is None:
            return None
        self._at_cylinder = {}
        read = ReadAtRest(
            pressure_pa_abs=pressure_pa + facts.station_pa_abs,
            temp_k=temp_k,
            temp_expanded_k=self._place.value_si,
            station_half_width_pa=station_half_width_pa(facts, self._station_pa, typed=by_eye),
            rest_s=rest_s,
            stands_on=StandsOn.CYLINDER,
        )
        found = self._check(read)
        figures = {"rest_s": rest_s, "needed_s": self._rest.value_si}
        result, cause, subject = CheckResult.NOT_JUDGED, "cylinder_no_value", ""
        if isinstance(found, NoValue):
            subject = found.reason
        else:
            result = _RESULT[found.verdict]
            cause = f"cylinder_{found.verdict.name.lower()}"
            figures |= {
                "offset_pa": found.offset_pa,
                "expanded_pa": found.expanded_pa,
                "limit_pa": found.limit_pa,
                "shift_k": found.subcooling_shift_k,
            }
            self._keep(facts, found)
        return CheckJudged(
            t=facts.t,
            stage=stage,
            check="cylinder_at_rest",
            result=result,
            cause=cause,
            figures=figures,
            subject=subject,
            sources=(self._rest.told, self._allowed.told, self._place.told),
        )

    def _check(self, read: ReadAtRest) -> StandingCheck | NoValue:
        slope = self._refrigerant.bubble_slope_k_per_pa(read.pressure_pa_abs)
        if isinstance(slope, NoValue):
            return slope
        limit_pa = self._allowed.value_si / slope
        needed_s = self._rest.value_si
        return standing_check(self._refrigerant, read, limit_pa=limit_pa, rest_needed_s=needed_s)

    def _keep(self, facts: Facts, found: StandingCheck) -> None:
        if found.verdict is StandingVerdict.NOT_RESTED:
            return
        shifted = found.verdict is StandingVerdict.SHIFTED
        read = places_read(facts).get(Role.LIQUID_PRESSURE)
        self._cylinder_probe = "" if read is None else read.channel.name
        told_by = StandsOn.CYLINDER.value
        self.cylinder = Standing(t=facts.t, told_by=told_by, check=found) if shifted else None


def _is_thermometer(item: ChannelFacts) -> bool:
    return (
        item.channel.role.quantity is Quantity.TEMPERATURE and item.channel.source != TYPED_SOURCE
    )
