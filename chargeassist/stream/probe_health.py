"""Whether the probes can be believed: stuck, loose, noisy, still creeping, jumping, out of range.

Every limit here is common practice with no published source unless one is named beside it, and was
set by trial on invented and simulated readings. A finding is a reason to look at a probe; it is no
verdict about the unit.

A single channel tells little; each is judged beside its neighbours: a pipe temperature that moves
while pressure, amps and frequency stay still tells of its clamp; with them it tells of the unit.
"""

import math
from collections.abc import Callable, Mapping
from typing import Final

from chargeassist.model.channels import VOLTAGE_ROLES, Channel, Quality, Role
from chargeassist.model.events import Reading
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Measured
from chargeassist.stream.probe_creep import BEGINS_K, creeping
from chargeassist.stream.probe_creep import WINDOW_S as CREEP_WINDOW_S
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity
from chargeassist.stream.probe_neighbours import PARTNER, PAST_AIR_K, ProbeNeighbours
from chargeassist.stream.probe_watch import SLOT_S, SLOTS, ProbeWatch

STUCK_S: Final = 60.0
"""A value unchanged for less than this is never called stuck [s]."""

WINDOW_S: Final = 120.0
LOOSE_FLOOR_K: Final = {
    Role.LIQUID_TEMPERATURE: 2.0,
    Role.SUCTION_TEMPERATURE: 3.0,
    Role.DISCHARGE_TEMPERATURE: 8.0,
}
LOOSE_SHARE: Final = 0.25
"""A clamp counts as loose after moving alone, in `WINDOW_S` [s], by this much [K] and by this share
of its distance to outdoor air [1]."""

TIME_CONSTANT_AFTER_S: Final = 40.0
"""A time constant is fitted this long after the finding [s], so that none of the 80 s it is taken
from lies before the fault."""

RECOVERED: Final = 0.5
"""A loose clamp counts as mended once it has gone back by this share of its way [1]."""

NOISY_RATIO: Final = 4.0
NOISY_OVER: Final = 2.0
"""A channel is noisy from `NOISY_RATIO` times its usual noise on, until below `NOISY_OVER` [1]."""

NOISY_SLOTS: Final = 3
ALONE_SLOTS: Final = 2
"""Slots in a row that must agree before it is said."""

NOISY_SIGMA_SI: Final = {
    Role.LIQUID_PRESSURE: 15e3,
    Role.SUCTION_PRESSURE: 15e3,
    Role.LIQUID_TEMPERATURE: 0.5,
    Role.SUCTION_TEMPERATURE: 0.5,
}
"""More noise than this counts as noisy even if it was there from the beginning [Pa], [K]."""

JUMP_SHOWN_S: Final = 60.0
OUT_SAMPLES: Final = 3
"""How long a jump is shown [s]; how many samples in a row must be out of range to be told."""

_NEVER_STUCK: Final = frozenset(
    {Role.CYLINDER_MASS, Role.COMPRESSOR_FREQUENCY, Role.BAROMETER, Role.VACUUM, *VOLTAGE_ROLES}
)
"""These stand still for good reason: a shut valve, a held speed, steady weather, a dry circuit, a
strong supply."""

_CIRCUIT: Final = frozenset(
    {
        Role.LIQUID_PRESSURE,
        Role.LIQUID_TEMPERATURE,
        Role.SUCTION_PRESSURE,
        Role.SUCTION_TEMPERATURE,
        Role.DISCHARGE_TEMPERATURE,
        Role.COMPRESSOR_CURRENT,
    }
)


class ProbeHealth:
    """Checks all probes of a session; pure, and the same for the same calls.

    Each sample costs the same whatever came before; every `SLOT_S` the channels are compared.

    Parameters
    ----------
    idle_a, settling_s : float
        Current below which the compressor stands [A]; longest time a sound clamp creeps [s].
    """

    def __init__(
        self,
        idle_a: float = USUAL[LimitKey.IDLE_CURRENT].value_si,
        settling_s: float = USUAL[LimitKey.PROBE_SETTLING].value_si,
    ) -> None:
        self._near = ProbeNeighbours(idle_a)
        self._settling_s = settling_s
        self._watches = self._near.watches
        self._next_t = SLOT_S
        self._findings: dict[tuple[str, ProbeTrouble], ProbeFinding] = {}
        self._levels: dict[str, tuple[float, float, float]] = {}  # loose: before, since, found at
        self._pressed_on: dict[str, tuple[float, float, float]] = {}  # before, loose, given until
        self._in_a_row: dict[tuple[str, ProbeTrouble], int] = {}
        self._marked: set[str] = set()  # channels with a finding, or on the way to one
        self._ceilings: dict[str, float] = {}
        self._pipes: set[str] = set()
        self._shown: tuple[ProbeFinding, ...] = ()

    def declare(self, channel: Channel) -> ProbeWatch:
        """Begin to watch a channel and return its watch; declared again, it starts anew."""
        watch = self._near.declare(channel)
        self._forget(channel.name)
        self._pressed_on.pop(channel.name, None)
        self._ceilings[channel.name] = NOISY_SIGMA_SI.get(channel.role, math.inf)
        if channel.role in PARTNER:
            self._pipes.add(channel.name)
        return watch

    def take(self, reading: Reading) -> None:
        """Take one reading; a broker's last known value is no sample."""
        watch = self._watches.get(reading.channel)
        if watch is None:
            return
        if reading.quality is Quality.GOOD:
            watch.take(reading.t, reading.value)
        elif reading.quality is Quality.RANGE:
            watch.out_of_range(reading.t, reading.value)

    def disturbed(self, t: float) -> None:
        """Tell of a charge step or another change at `t` [s]: pipes move for good reason."""
        self._near.disturbed_t = t

    def acknowledge(self, channel: str) -> None:
        """Drop what was found about a channel: the technician has seen to the probe.

        A clamp pressed on again takes its time to come back to where it was, which is no letting
        go; one that has not gone back half of its way by then is as loose as it was.
        """
        levels = self._levels.get(channel)
        self._forget(channel)
        if (watch := self._watches.get(channel)) is not None:
            watch.forget_jumps()
        if levels is not None:
            self._pressed_on[channel] = (*levels[:2], self._next_t + self._settling_s)
            self._near.forget(self._watches[channel])
        self._show()

    def tick(
        self, t: float, superheat: Measured | NoValue | None = None
    ) -> tuple[ProbeFinding, ...]:
        """Return what is found at `t` [s], channels in the order of their declaration.

        Channels are compared once every `SLOT_S`; in between the last answer is returned. Superheat
        tells a line cooled by liquid from a loose clamp.
        """
        if t >= self._next_t:
            # Slots of a long silence are closed empty, so that a slot is always `SLOT_S`.
            self._next_t = max(self._next_t, t - SLOTS * SLOT_S)
            self._near.superheat_k = superheat.value_k if isinstance(superheat, Measured) else None
            while t >= self._next_t:
                self._near.close_slot(self._next_t)
                self._next_t += SLOT_S
            for name, watch in self._watches.items():
                if (
                    name in self._marked
                    or name in self._pressed_on
                    or self._suspicious(t, name, watch)
                ):
                    self._judge(t, watch)
            if self._marked or self._shown:
                self._show()
        return self._shown

    def _suspicious(self, t: float, name: str, watch: ProbeWatch) -> bool:
        """Whether a closer look could find anything; quick, for it is asked for every slot."""
        if (
            watch.out_samples
            or watch.last_t - watch.same_t >= STUCK_S
            or (watch.jumps and t - watch.jump_t <= JUMP_SHOWN_S)
            or watch.noise_ratio > NOISY_OVER
            or watch.fast_sigma > self._ceilings[name]
        ):
            return True
        return name in self._pipes and self._near.moved(watch, BEGINS_K, CREEP_WINDOW_S, WINDOW_S)

    def _judge(self, t: float, watch: ProbeWatch) -> None:
        self._judge_range(watch)
        self._judge_jumps(t, watch)
        self._judge_stuck(t, watch)
        self._judge_noise(t, watch)
        if watch.channel.role in PARTNER:
            self._judge_alone(t, watch)
        name = watch.channel.name
        if any((name, k) in self._findings or self._in_a_row.get((name, k)) for k in ProbeTrouble):
            self._marked.add(name)
        else:
            self._marked.discard(name)

    def _judge_range(self, watch: ProbeWatch) -> None:
        bad = watch.out_samples >= OUT_SAMPLES
        self._set(
            watch,
            ProbeTrouble.OUT_OF_RANGE,
            Severity.UNUSABLE if bad else None,
            watch.out_t,
            lambda: {"value_si": watch.out_si},
        )

    def _judge_jumps(self, t: float, watch: ProbeWatch) -> None:
        recent = watch.jumps > 0 and t - watch.jump_t <= JUMP_SHOWN_S
        self._set(
            watch,
            ProbeTrouble.JUMPING,
            Severity.CAUTION if recent else None,
            watch.jump_t,
            lambda: {
                "change_si": watch.jump_si,
                "change_si_per_s": watch.jump_si_per_s,
                "times": float(watch.jumps),
            },
        )

    def _judge_stuck(self, t: float, watch: ProbeWatch) -> None:
        same_s = watch.last_t - watch.same_t
        stuck = (
            same_s >= STUCK_S
            and watch.channel.role not in _NEVER_STUCK
            and t - watch.last_t <= watch.channel.max_age_s
            and (watch.stands_beyond_chance or self._near.left_behind(watch))
        )
        if not stuck and watch.same_samples and self._has(watch, ProbeTrouble.STUCK):
            return  # stays until the value changes
        self._set(
            watch,
            ProbeTrouble.STUCK,
            Severity.UNUSABLE if stuck else None,
            watch.same_t,
            lambda: {"value_si": watch.last_si, "seconds_s": same_s},
        )

    def _judge_noise(self, t: float, watch: ProbeWatch) -> None:
        ratio = watch.noise_ratio
        ceiling = self._ceilings[watch.channel.name]
        has = self._has(watch, ProbeTrouble.NOISY)
        over = NOISY_OVER if has else NOISY_RATIO
        loud = ratio > over or (ratio > 0.0 and watch.fast_sigma > ceiling)
        if loud and not has and not self._loudest(watch):
            loud = False
        slots = self._count(watch, ProbeTrouble.NOISY, so=loud)
        self._set(
            watch,
            ProbeTrouble.NOISY,
            Severity.CAUTION if slots >= NOISY_SLOTS else None,
            t - slots * SLOT_S,
            lambda: {
                "sigma_si": watch.fast_sigma,
                "usual_si": max(watch.slow_sigma, watch.noise_floor),
            },
        )

    def _loudest(self, watch: ProbeWatch) -> bool:
        """Whether no other channel of the circuit is restless too; if so, it is the unit."""
        if watch.channel.role not in _CIRCUIT:
            return True
        return all(
            other is watch
            or role not in _CIRCUIT
            or (
                other.noise_ratio <= NOISY_OVER
                and other.fast_sigma <= NOISY_SIGMA_SI.get(role, math.inf)
            )
            for role, other in self._near.by_role.items()
        )

    def _judge_alone(self, t: float, watch: ProbeWatch) -> None:
        """Tell a clamp that lets go, or one still warming up, by its moving alone."""
        now = self._near.back(watch, 0.0)
        if (pressed := self._pressed_on.get(watch.channel.name)) is not None:
            held, loose, until_t = pressed
            if t < until_t or now is None:
                return
            del self._pressed_on[watch.channel.name]
            if abs(now - held) > RECOVERED * abs(loose - held):
                self._levels[watch.channel.name] = (held, now, t)
                figures = {"change_k": now - held}
                self._set(watch, ProbeTrouble.LOOSE, Severity.CAUTION, t, lambda: figures)
        if self._has(watch, ProbeTrouble.LOOSE) and now is not None:
            self._follow_loose(t, watch, now)
        air = self._near.by_role.get(Role.OUTDOOR_AIR_TEMPERATURE)
        air_k = self._near.back(air, 0.0) if air is not None else None
        if now is None or air_k is None or self._has(watch, ProbeTrouble.LOOSE):
            self._clear(watch, ProbeTrouble.LAGGING)
            return
        was = self._near.back(watch, WINDOW_S)
        lets_go = was is not None and self._lets_go(t, watch, now, was, air_k)
        if not lets_go:
            before = self._near.far_alone(watch, air_k)
            lets_go, was = before is not None, was if before is None else before
        slots = self._count(watch, ProbeTrouble.LOOSE, so=lets_go)
        if was is None or slots < ALONE_SLOTS:
            self._judge_creep(t, watch, air_k)
            return
        self._levels[watch.channel.name] = (was, now, t)
        figures = {"change_k": now - was, "outdoor_k": air_k}
        self._clear(watch, ProbeTrouble.LAGGING)
        self._set(watch, ProbeTrouble.LOOSE, Severity.CAUTION, t - WINDOW_S, lambda: figures)

    def _follow_loose(self, t: float, watch: ProbeWatch, now: float) -> None:
        """Keep a loose clamp loose until half of its way is gone back; learn its time constant."""
        name = watch.channel.name
        before, farthest, found_t = self._levels[name]
        if abs(now - before) > abs(farthest - before):
            self._levels[name] = (before, now, found_t)
        elif abs(now - before) <= RECOVERED * abs(farthest - before):
            self._clear(watch, ProbeTrouble.LOOSE)
            return
        known = self._findings[name, ProbeTrouble.LOOSE]
        if "tau_s" in known.figures or t - found_t < TIME_CONSTANT_AFTER_S:
            return
        tau_s = self._near.time_constant_s(watch)
        if tau_s is not None:
            figures = {**known.figures, "change_k": now - before, "tau_s": tau_s}
            self._set(watch, ProbeTrouble.LOOSE, known.severity, known.since_t, lambda: figures)

    def _lets_go(self, t: float, watch: ProbeWatch, now: float, was: float, air_k: float) -> bool:
        gap = air_k - was
        change = now - was
        needed = max(LOOSE_FLOOR_K[watch.channel.role], LOOSE_SHARE * abs(gap))
        toward = change * gap > 0.0 and abs(change) <= abs(gap) + PAST_AIR_K
        return toward and abs(change) >= needed and self._near.alone(t, watch, WINDOW_S)

    def _judge_creep(self, t: float, watch: ProbeWatch, air_k: float) -> None:
        if watch.channel.role is Role.DISCHARGE_TEMPERATURE:
            return  # the shell's own heat makes it creep alone for minutes
        known = self._findings.get((watch.channel.name, ProbeTrouble.LAGGING))
        found = creeping(self._near, t, watch, air_k, known, self._settling_s)
        if found is None:
            self._clear(watch, ProbeTrouble.LAGGING)
            return
        so, since_t, severity, figures = found
        slots = self._count(watch, ProbeTrouble.LAGGING, so=so)
        shown = severity if slots >= ALONE_SLOTS else None
        self._set(watch, ProbeTrouble.LAGGING, shown, since_t, lambda: figures)

    def _count(self, watch: ProbeWatch, kind: ProbeTrouble, *, so: bool) -> int:
        """Return for how many slots in a row it has been so."""
        key = (watch.channel.name, kind)
        self._in_a_row[key] = self._in_a_row.get(key, 0) + 1 if so else 0
        return self._in_a_row[key]

    def _has(self, watch: ProbeWatch, kind: ProbeTrouble) -> bool:
        return (watch.channel.name, kind) in self._findings

    def _clear(self, watch: ProbeWatch, kind: ProbeTrouble) -> None:
        self._findings.pop((watch.channel.name, kind), None)

    def _set(
        self,
        watch: ProbeWatch,
        kind: ProbeTrouble,
        severity: Severity | None,
        since_t: float,
        figures: Callable[[], Mapping[str, float]],
    ) -> None:
        """Begin, keep or end a finding; its beginning stays what it was."""
        key = (watch.channel.name, kind)
        known = self._findings.get(key)
        if severity is None:
            if known is not None:
                del self._findings[key]
            return
        self._findings[key] = ProbeFinding(
            channel=key[0],
            kind=kind,
            severity=severity,
            figures=figures(),
            since_t=max(since_t, 0.0) if known is None else known.since_t,
        )

    def _forget(self, channel: str) -> None:
        for kind in ProbeTrouble:
            self._findings.pop((channel, kind), None)
            self._in_a_row.pop((channel, kind), None)
        self._levels.pop(channel, None)
        self._marked.discard(channel)

    def _show(self) -> None:
        self._shown = tuple(
            self._findings[name, kind]
            for name in self._watches
            for kind in ProbeTrouble
            if (name, kind) in self._findings
        )
