"""Readings by hand of the circuit under nitrogen: pressures put together with pipes."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.physics.standing_by_hand import HandReading
from chargeassist.stream.facts import Facts
from chargeassist.stream.typed_readings import CORRECTS_S

PIPES: Mapping[Entry, Role] = {
    Entry.LIQUID_PIPE: Role.LIQUID_TEMPERATURE,
    Entry.SUCTION_PIPE: Role.SUCTION_TEMPERATURE,
}
"""Typed pipe temperatures, and the probe that makes each unnecessary."""


@dataclass(frozen=True, slots=True)
class TypedValue:
    """One typed number: when it was read [s], what it is, and its value [SI]."""

    t: float
    entry: Entry
    value_si: float


@dataclass(slots=True)
class HandSet:
    """One reading, perhaps still incomplete: a pressure [Pa gauge] and its pipes [K]."""

    t: float
    pressure_pa: float
    pipes: dict[Entry, float] = field(default_factory=dict)

    def lacks(self, pipes: Iterable[Entry] = PIPES) -> list[Entry]:
        """Return which of `pipes` it has no temperature of."""
        return [pipe for pipe in pipes if pipe not in self.pipes]

    def reading(self, pipes: Sequence[Entry], station_pa_abs: float) -> HandReading:
        """Return it as what is judged, by the temperatures of `pipes` alone."""
        temps_k = tuple(self.pipes[pipe] for pipe in pipes)
        return HandReading(self.t, self.pressure_pa + station_pa_abs, temps_k)


class HandSets:
    """Puts typed pressures and pipe temperatures together; one per session.

    A pressure begins a set; a pipe temperature joins the newest set if it was read within
    `together_s` of it. Otherwise it begins a set of its own if a probe tells the pressure, or waits
    for the pressure that is typed after it.

    Parameters
    ----------
    together_s : float
        Pressure and temperatures read within this time of each other are one reading [s].
    """

    def __init__(self, together_s: float) -> None:
        self._together_s = together_s
        self._told: list[TypedValue] = []
        self._ahead: dict[Entry, TypedValue] = {}
        """Pipe temperatures that wait for their pressure."""
        self._sets: list[HandSet] = []
        self.pressure_pa: float | None = None
        """The pressure that was typed last [Pa gauge]."""
        self.changed = False
        """Whether a pressure was withdrawn or typed again since `sort_in` before."""
        self._shut_t = math.inf

    @property
    def has_readings(self) -> bool:
        """Whether there is a reading, complete or not."""
        return bool(self._sets)

    def take(self, mark: Mark) -> None:
        """Keep what was typed until it is sorted in at the next tick; forget what is withdrawn."""
        if mark.kind is MarkKind.WITHDRAWN:
            self._withdraw(mark.text)
        elif mark.kind not in {MarkKind.ENTERED, MarkKind.NOTE}:
            self._shut_t = mark.t if mark.kind is MarkKind.NITROGEN_OFF else math.inf
        if mark.kind is not MarkKind.ENTERED or mark.value_si is None:
            return
        entry = believed(mark.text, mark.value_si)
        if entry is not None and (entry is Entry.TEST_PRESSURE or entry in PIPES):
            self._told.append(TypedValue(mark.seen_t, entry, mark.value_si))

    def _withdraw(self, text: str) -> None:
        for at in reversed(range(len(self._told))):
            if self._told[at].entry == text:
                del self._told[at]
                return
        if text == Entry.TEST_PRESSURE and self._sets:
            last = self._sets.pop()
            # What was read beside it was not wrong: it waits for the pressure typed anew.
            for pipe, value_si in last.pipes.items():
                self._ahead[pipe] = TypedValue(last.t, pipe, value_si)
            self.pressure_pa = self._sets[-1].pressure_pa if self._sets else None
            self.changed = True
            return
        for pipe in (each for each in PIPES if each == text):
            having = next((each for each in reversed(self._sets) if pipe in each.pipes), None)
            if self._ahead.pop(pipe, None) is None and having is not None:
                del having.pipes[pipe]

    @property
    def typed(self) -> frozenset[Entry]:
        """What a standing reading has."""
        if not self._sets:
            return frozenset()
        return frozenset(pipe for each in self._sets for pipe in each.pipes) | {Entry.TEST_PRESSURE}

    def pressures_from(self, t: float) -> tuple[tuple[float, float], ...]:
        """Return time [s] and value [Pa gauge] of every pressure read from `t` [s] on."""
        return tuple((each.t, each.pressure_pa) for each in self._sets if each.t >= t)

    def _corrects(self, t: float) -> bool:
        """Whether a pressure read at `t` [s] is the last one, typed again after a slip."""
        if not self._sets or self._sets[-1].t < self._shut_t:
            return False  # nitrogen flows, or did since: it is another pressure
        return 0.0 <= t - self._sets[-1].t <= CORRECTS_S

    def sort_in(self, facts: Facts, live_pa: float | None) -> tuple[TypedValue, ...]:
        """Sort in what was typed since the last call; return the pressures among it.

        Parameters
        ----------
        facts : Facts
        live_pa : float or None
            Pressure by a probe, if only the temperatures are typed [Pa gauge].
        """
        told, self._told = self._told, []
        for each in told:
            if each.entry is Entry.TEST_PRESSURE:
                self._begin_set(each, facts)
            else:
                self._sort_in_pipe(each, live_pa)
        return tuple(each for each in told if each.entry is Entry.TEST_PRESSURE)

    def _begin_set(self, pressure: TypedValue, facts: Facts) -> None:
        self.pressure_pa = pressure.value_si
        if self._corrects(pressure.t):
            self._sets[-1].pressure_pa = pressure.value_si
            self.changed = True
            return
        pipes = self._pipes_beside(pressure, facts)
        self._sets.append(HandSet(pressure.t, pressure.value_si, pipes))

    def _sort_in_pipe(self, pipe: TypedValue, live_pa: float | None) -> None:
        if self._sets and self._are_together(pipe.t, self._sets[-1].t):
            self._sets[-1].pipes[pipe.entry] = pipe.value_si
        elif live_pa is not None:
            self._sets.append(HandSet(pipe.t, live_pa, {pipe.entry: pipe.value_si}))
        else:
            self._ahead[pipe.entry] = pipe

    def _pipes_beside(self, pressure: TypedValue, facts: Facts) -> dict[Entry, float]:
        """Return the pipe temperatures by probe, else as typed shortly before [K]."""
        waiting, self._ahead = self._ahead, {}
        found: dict[Entry, float] = {}
        for pipe, role in PIPES.items():
            live, typed = facts.live(role), waiting.get(pipe)
            if live is not None:
                found[pipe] = live
            elif typed is not None and self._are_together(pressure.t, typed.t):
                found[pipe] = typed.value_si
        return found

    def _are_together(self, t: float, other_t: float) -> bool:
        return abs(t - other_t) <= self._together_s

    def open_set(self, t: float, from_t: float = -math.inf) -> HandSet | None:
        """Return the newest reading, begun at `from_t` or later, while it can be added to [s]."""
        if not self._sets or self._sets[-1].t < from_t:
            return None
        return self._sets[-1] if self._is_open(self._sets[-1], t) else None

    def _is_open(self, each: HandSet, t: float) -> bool:
        return t - each.t <= self._together_s

    def pipes_at(self, t: float) -> list[Entry]:
        """Return the pipes of the reading that was begun at `t` [s]."""
        there = {pipe for each in self._sets if each.t == t for pipe in each.pipes}
        return [pipe for pipe in PIPES if pipe in there]

    def readings(self, t: float, from_t: float, station_pa_abs: float) -> list[HandReading]:
        """Return the readings from `from_t` [s] on that can be compared at `t` [s].

        They are compared by the pipes that both the first and the last one have; a reading in
        between that lacks one of these is left out. Without such a pipe nothing can be compared.
        """
        sets = self._begun_from(from_t, t)
        if not sets:
            return []
        pipes = sorted(sets[0].pipes.keys() & sets[-1].pipes.keys())
        if not pipes:
            return []
        return [each.reading(pipes, station_pa_abs) for each in sets if not each.lacks(pipes)]

    def _begun_from(self, from_t: float, t: float) -> list[HandSet]:
        """Return the sets with a pipe, less the newest while a pipe of the first may join it."""
        sets = [each for each in self._sets if each.t >= from_t and each.pipes]
        if sets and self._is_open(sets[-1], t) and sets[-1].lacks(sets[0].pipes):
            sets.pop()
        return sets
