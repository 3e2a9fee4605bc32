"""The pressure at rest: read from an idle circuit, or typed by the technician.

While the unit runs, gas that does not condense and a liquid pressure probe whose zero has shifted
look the same, and much like too much refrigerant. At rest the temperature alone gives the pressure,
which tells both from an overcharge.
"""

import math
from collections import deque
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

from chargeassist.guide.fault_terms import Cause
from chargeassist.guide.idle import compressor_stands
from chargeassist.guide.stages.stage import NextMark
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.standing_check import (
    REST_S,
    ReadAtRest,
    StandingCheck,
    StandingVerdict,
    StandsOn,
    standing_check,
)
from chargeassist.stream.facts import Facts

TECHNICIAN: Final = "technician"

STEADY_FOR_S: Final = 120.0
STEADY_PA: Final = 8e3
STEADY_K: Final = 0.3
"""The circuit is at rest if pressure [Pa] and temperature [K] of the two halves of this time [s]
differ by no more than this: the scatter of one-minute means with this project's simulated probes
and weather."""

LEFT_OVER_HALVES: Final = 3.0
"""Change an idle circuit still has to make after the middle of the later half, over its change
between the halves [1]. A hot coil approaches its air with a time constant of about 200 s (three
machines of this project's physical plant, R-32 and R-454B, ten minutes after stopping).
Assumption."""

LOOK_EVERY_S: Final = 5.0
"""Time between two checks of an idle circuit [s]."""

MOVED_KEPT: Final = 0.8
"""A zero that has moved is said to have until its shift is under this share of what is allowed [1]:
on the edge the finding would come and go with gusts."""

UNSEEN_S: Final = 60.0
"""After so long without a look the compressor may have run meanwhile [s]: another stage, a session
that was resumed."""

LIKELIHOOD: Final = {
    StandingVerdict.SHIFTED: 0.9,
    StandingVerdict.SHIFTED_NOT_CERTAIN: 0.7,
    StandingVerdict.AGREES_NOT_CERTAIN: 0.25,
    StandingVerdict.AGREES: 0.04,
}
"""Chance of each outcome if there is gas or a zero that reads high [1]; without either it is 1 less
this. Assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """How far the pressure at rest has moved since an earlier check.

    Attributes
    ----------
    offset_pa : float
        [Pa].
    shift_k : float
        The same as saturation temperature [K].
    """

    offset_pa: float
    shift_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One standing check.

    Attributes
    ----------
    t : float
        Time of the check [s].
    told_by : str
        "idle circuit" or `TECHNICIAN`.
    check : StandingCheck
    moved : Moved or None
        Change since the first check of the session, which agreed; None for no change. No gas enters
        a closed circuit under pressure, so it is the probe.
    spread_k : float
        Half the difference of outdoor and return air, where the pressure was compared with their
        mean [K]; 0 where the liquid can only be in one place.
    """

    t: float
    told_by: str
    check: StandingCheck
    moved: Moved | None = None
    spread_k: float = 0.0

    @property
    def decided(self) -> bool:
        """Whether it says anything about gas or the zero."""
        return self.check.verdict in LIKELIHOOD or self.moved is not None

    @property
    def shifted_chance(self) -> float:
        """Chance that the pressure at rest is off by more than is allowed [1]."""
        u = max(0.5 * self.check.expanded_pa, 1e-9)
        over = (abs(self.check.offset_pa) - self.check.limit_pa) / (u * math.sqrt(2.0))
        return 0.5 * (1.0 + math.erf(over))

    def likelihood(self) -> dict[Cause, float]:
        """Return the relative likelihood of the outcome for each cause [1]; 1 if it is undecided.

        Gas raises the pressure; a zero may shift either way.
        """
        chance = LIKELIHOOD.get(self.check.verdict)
        if chance is None:
            return dict.fromkeys(Cause, 1.0)
        shifted = self.check.verdict in {
            StandingVerdict.SHIFTED, StandingVerdict.SHIFTED_NOT_CERTAIN,
        }  # fmt: skip
        gas = chance if self.check.offset_pa > 0.0 or not shifted else 1.0 - chance
        found = dict.fromkeys(Cause, 1.0 - chance)
        # The zero may also be the suction probe's, which the liquid pressure does not show.
        found[Cause.ZERO_SHIFTED] = chance if shifted else 0.5
        found[Cause.NON_CONDENSABLES] = gas
        found[Cause.OTHER] = 0.5
        return found


def station_half_width_pa(facts: Facts, unknown_pa: float, *, typed: bool) -> float:
    """Return how well the air pressure is known that a pressure at rest was made absolute with.

    Parameters
    ----------
    facts : Facts
    unknown_pa : float
        Without a barometer of declared accuracy, plus or minus [Pa].
    typed : bool
        Whether the pressure was typed, which is gauge, and not read by the liquid line's probe.

    Returns
    -------
    float
        Plus or minus; 0 for a probe that counts from vacuum [Pa].
    """
    found = unknown_pa
    for item in facts.channels:
        channel = item.channel
        if channel.role is Role.LIQUID_PRESSURE and not typed:
            if channel.counted_from is Reference.ABSOLUTE:
                return 0.0
        elif channel.role is Role.BAROMETER and item.value_si is not None:
            declared = channel.half_width(facts.station_pa_abs)
            found = unknown_pa if declared is None else declared
    return found


_IN_ORDER: Final = frozenset({StandingVerdict.AGREES, StandingVerdict.AGREES_NOT_CERTAIN})


class StandingWatch:
    """Makes standing checks; call `tick` once per tick.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._refrigerant = refrigerant(job.refrigerant)
        self._allowed_k = job.limit_si(LimitKey.STANDING_ALLOWED)
        self._moved_k = job.limit_si(LimitKey.STANDING_MOVED)
        self._place_k = job.limit_si(LimitKey.STANDING_PLACE)
        self._stands_for_s = job.limit_si(LimitKey.STANDING_REST)
        self._equal_pa = job.limit_si(LimitKey.STANDING_EQUAL)
        self._cooled_k = job.limit_si(LimitKey.STANDING_COOLED)
        # An orifice never shuts: while the sides differ, liquid boils over and cools its side.
        self._orifice = job.target.judged is not SUBCOOLING
        self._station_pa = job.limit_si(LimitKey.BAROMETER_ACCURACY)
        self._idle_a = job.limit_si(LimitKey.IDLE_CURRENT)
        self._probe = Role.LIQUID_PRESSURE.value
        self._idle_t: float | None = None
        self._next_t = 0.0
        self._ticked_t = -math.inf
        self._seen: deque[_Rest] = deque()
        self._lasts_s = job.limit_si(LimitKey.TYPED_LASTS)
        self._typed: dict[Entry, tuple[float, float]] = {}
        self._held: Standing | None = None
        self._first: Standing | None = None

    @property
    def result(self) -> Standing | None:
        """The newest check; None before the first."""
        return self._held

    def forget(self) -> None:
        """Drop every check: the probe or the filling has changed."""
        self._held = self._first = None

    def take(self, mark: Mark) -> None:
        """Take a mark; once both numbers are typed, the next tick checks them."""
        probes = {Role.LIQUID_PRESSURE.value, self._probe}
        if mark.kind is MarkKind.PROBE_SEEN_TO and mark.text in probes:
            self.forget()  # its zero may have changed
        if mark.kind is not MarkKind.ENTERED or mark.value_si is None:
            return
        entry = believed(mark.text, mark.value_si)
        if entry in {Entry.STANDING_PRESSURE, Entry.STANDING_TEMPERATURE}:
            self._typed[entry] = (mark.seen_t, mark.value_si)

    def tick(self, facts: Facts) -> None:
        """Take one tick."""
        if len(self._typed) == 2:
            self._check_typed(facts)
        unseen_s, self._ticked_t = facts.t - self._ticked_t, facts.t
        if unseen_s > UNSEEN_S or not compressor_stands(facts, self._idle_a):
            self._idle_t = None
            self._seen.clear()
            return
        liquid, suction = facts.live(Role.LIQUID_PRESSURE), facts.live(Role.SUCTION_PRESSURE)
        outdoor = facts.live(Role.OUTDOOR_AIR_TEMPERATURE)
        if facts.typed & {Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE}:
            liquid = None  # a typed value stands still, whatever the circuit does
        if liquid is None or outdoor is None:
            self._idle_t = None
            self._seen.clear()
            return
        if self._idle_t is None:
            self._idle_t = facts.t
        returned = facts.live(Role.RETURN_AIR_TEMPERATURE)
        equal = suction is not None and abs(liquid - suction) <= self._equal_pa
        line = facts.live(Role.LIQUID_TEMPERATURE)
        if not equal and (self._orifice or line is None or abs(line - outdoor) > self._cooled_k):
            self._seen.clear()
            return
        # Liquid takes hours to boil over to the colder side; until then the pressure is between.
        middle = outdoor if returned is None else 0.5 * (outdoor + returned)
        self._seen.append(_Rest(facts.t, liquid, outdoor, middle, equal))
        while self._seen[0].t < facts.t - STEADY_FOR_S:
            self._seen.popleft()
        if facts.t - self._idle_t < self._stands_for_s or facts.t < self._next_t:
            return
        self._next_t = facts.t + LOOK_EVERY_S
        # Sides apart all the while: the indoor coil is behind the shut valve. At the edge of equal
        # they may be joined, and the liquid in either place.
        joined = any(each.equal for each in self._seen)
        steady = self._steady(facts.t, joined=joined)
        if steady is None:
            return
        gap_k = abs(outdoor - returned) if joined and returned is not None else 0.0
        pressure_pa, temp_k, left_pa = steady
        read = ReadAtRest(
            pressure_pa_abs=pressure_pa + facts.station_pa_abs,
            temp_k=temp_k,
            temp_expanded_k=math.hypot(self._place_k, 0.5 * gap_k),
            station_half_width_pa=station_half_width_pa(facts, self._station_pa, typed=False),
            rest_s=REST_S,  # it is steady
            stands_on=StandsOn.IDLE_CIRCUIT if joined else StandsOn.CYLINDER,
        )
        self._check(facts, StandsOn.IDLE_CIRCUIT.value, read, left_pa, 0.5 * gap_k)

    def _check_typed(self, facts: Facts) -> None:
        """Check the typed numbers; one that is much older than the other is dropped."""
        newest_t = max(t for t, _ in self._typed.values())
        told = {
            entry: value
            for entry, (t, value) in self._typed.items()
            if newest_t - t <= self._lasts_s
        }
        if len(told) < 2:
            self._typed = {entry: typed for entry, typed in self._typed.items() if entry in told}
            return
        self._typed.clear()
        read = ReadAtRest(
            pressure_pa_abs=told[Entry.STANDING_PRESSURE] + facts.station_pa_abs,
            temp_k=told[Entry.STANDING_TEMPERATURE],
            temp_expanded_k=self._place_k,
            station_half_width_pa=station_half_width_pa(facts, self._station_pa, typed=True),
            rest_s=REST_S,  # at rest by the technician's word
            stands_on=StandsOn.IDLE_CIRCUIT,
        )
        self._check(facts, TECHNICIAN, read)

    def _steady(self, t: float, *, joined: bool) -> tuple[float, float, float] | None:
        """Return pressure [Pa gauge], temperature [K] and the pressure change still to come [Pa].

        The pressure is the mean of the later half, the temperature that of outdoor air, or of both
        airs where the sides are `joined`. None while the circuit is not at rest.
        """
        if self._seen[0].t > t - STEADY_FOR_S + LOOK_EVERY_S:
            return None
        middle = t - 0.5 * STEADY_FOR_S
        early = [each for each in self._seen if each.t <= middle]
        late = [each for each in self._seen if each.t > middle]
        if not early or not late:
            return None
        was, now = _means(early, joined=joined), _means(late, joined=joined)
        if abs(now[0] - was[0]) > STEADY_PA or abs(now[1] - was[1]) > STEADY_K:
            return None
        return now[0], 0.5 * (was[1] + now[1]), LEFT_OVER_HALVES * (now[0] - was[0])

    def _check(
        self,
        facts: Facts,
        told_by: str,
        read: ReadAtRest,
        left_pa: float = 0.0,
        spread_k: float = 0.0,
    ) -> None:
        """Keep the outcome of a check; `left_pa` is the change still to come [Pa]."""
        for item in facts.channels:
            if item.channel.role is Role.LIQUID_PRESSURE:
                self._probe = item.channel.name
        pressure = read.pressure_pa_abs
        slope = self._refrigerant.bubble_slope_k_per_pa(pressure)
        if isinstance(slope, NoValue):
            return
        at_rest = self._refrigerant.bubble_pressure_pa_abs(read.temp_k)
        if not isinstance(at_rest, NoValue) and (pressure - at_rest) * left_pa < 0.0:
            pressure += left_pa  # on its way to saturation; away from it would not be cooling
        left_k = abs(left_pa) * slope
        expanded_k = math.hypot(read.temp_expanded_k, left_k)
        read = replace(read, pressure_pa_abs=pressure, temp_expanded_k=expanded_k)
        found = standing_check(self._refrigerant, read, limit_pa=self._allowed_k / slope)
        if not isinstance(found, NoValue):
            self._held = Standing(
                t=facts.t,
                told_by=told_by,
                check=found,
                moved=self._moved(found, left_k, spread_k),
                spread_k=spread_k,
            )
            if self._first is None and found.verdict in _IN_ORDER:
                self._first = self._held

    def _moved(self, now: StandingCheck, left_k: float, spread_k: float) -> Moved | None:
        """Return how far the probe's zero has moved since the first check; None if it has not.

        The change still to come is uncertain by half of itself, and liquid may have boiled over
        from one coil to the other since.
        """
        if self._first is None:
            return None
        then = self._first.check
        shift_k = now.subcooling_shift_k - then.subcooling_shift_k
        allowed_k = self._moved_k + 0.5 * left_k + spread_k + self._first.spread_k
        if self._held is not None and self._held.moved is not None:
            allowed_k *= MOVED_KEPT
        if abs(shift_k) <= allowed_k:
            return None
        return Moved(offset_pa=now.offset_pa - then.offset_pa, shift_k=shift_k)


def tellable(facts: Facts) -> tuple[NextMark, ...]:
    """Return what can be typed while charging: outdoor air if not measured, a standing check."""
    measured = any(
        item.channel.role is Role.OUTDOOR_AIR_TEMPERATURE and item.value_si is not None
        for item in facts.channels
    )
    entries = (Entry.STANDING_PRESSURE, Entry.STANDING_TEMPERATURE)
    return tuple(
        NextMark(kind=MarkKind.ENTERED, label=entry.label, entry=entry)
        for entry in (entries if measured else (Entry.OUTDOOR_AIR, *entries))
    )


class _Rest(NamedTuple):
    """An idle circuit at a tick: liquid [Pa gauge], outdoor air, the middle of both airs [K]."""

    t: float
    liquid_pa: float
    outdoor_k: float
    middle_k: float
    equal: bool
    """Whether both sides read the same pressure."""


def _means(seen: list[_Rest], *, joined: bool) -> tuple[float, float]:
    """Return mean pressure [Pa gauge] and air temperature [K]."""
    count = len(seen)
    return (
        math.fsum(each.liquid_pa for each in seen) / count,
        math.fsum(each.middle_k if joined else each.outdoor_k for each in seen) / count,
    )
