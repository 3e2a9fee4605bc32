"""Readings by hand of the circuit under nitrogen: pressures put together with pipes."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.physics.standing_by_hand import HandReading
from chargeassist.stream.facts import Facts

PIPES: Mapping[Entry, Role] = {
    Entry.LIQUID_PIPE: Role.LIQUID_TEMPERATURE,
    Entry.SUCTION_PIPE: Role.SUCTION_TEMPERATURE,
}
"""Typed pipe temperatures, and the probe that makes each unnecessary."""


@dataclass(slots=True)
class HandSet:
    """One reading, perhaps still incomplete: a pressure [Pa gauge] and its pipes [K]."""

    t: float
    pressure_pa: float
    pipes: dict[Entry, float] = field(default_factory=dict)


class HandSets:
    """Puts typed pressures and temperatures together; one per standing test.

    Parameters
    ----------
    together_s : float
        Pressure and temperatures typed within this time of each other are one reading [s].
    """

    def __init__(self, together_s: float) -> None:
        self._together_s = together_s
        self._told: list[tuple[float, Entry, float]] = []
        self._early: dict[Entry, tuple[float, float]] = {}
        self.sets: list[HandSet] = []
        self.newest: tuple[float, float] | None = None
        """Time [s] and value [Pa gauge] of the pressure typed last."""

    def take(self, mark: Mark) -> None:
        """Keep what was typed until the next tick."""
        if mark.kind is not MarkKind.ENTERED or mark.value_si is None:
            return
        entry = believed(mark.text, mark.value_si)
        if entry is not None and (entry is Entry.TEST_PRESSURE or entry in PIPES):
            self._told.append((mark.seen_t, entry, mark.value_si))

    def tick(self, facts: Facts, live_pa: float | None) -> tuple[tuple[float, float], ...]:
        """Sort in what was typed since the last tick; return time and value of each pressure.

        Parameters
        ----------
        facts : Facts
        live_pa : float or None
            Pressure by a probe, if only the temperatures are typed [Pa gauge].
        """
        told, self._told = self._told, []
        pressures = []
        for t, entry, value in told:
            if entry is Entry.TEST_PRESSURE:
                pressures.append((t, value))
                self.newest = (t, value)
                self.sets.append(HandSet(t, value, self._beside(t, facts)))
            elif self.sets and abs(t - self.sets[-1].t) <= self._together_s:
                self.sets[-1].pipes[entry] = value
            elif live_pa is not None:
                self.sets.append(HandSet(t, live_pa, {entry: value}))
            else:
                self._early[entry] = (t, value)
        return tuple(pressures)

    def _beside(self, t: float, facts: Facts) -> dict[Entry, float]:
        """Return the pipe temperatures by probe, else as typed shortly before [K]."""
        found: dict[Entry, float] = {}
        for entry, role in PIPES.items():
            live = facts.live(role)
            typed = self._early.pop(entry, None)
            if live is not None:
                found[entry] = live
            elif typed is not None and abs(t - typed[0]) <= self._together_s:
                found[entry] = typed[1]
        return found

    def readings(self, t: float, from_t: float, station_pa_abs: float) -> list[HandReading]:
        """Return the complete readings from `from_t` [s] on, all of the pipes of first and last.

        At `t` [s], the newest one is left out while a pipe that the first one has may still be
        typed for it.
        """
        whole = [each for each in self.sets if each.t >= from_t and each.pipes]
        if not whole:
            return []
        last = whole[-1]
        if t - last.t <= self._together_s and not set(whole[0].pipes) <= set(last.pipes):
            whole.pop()
        pipes = set(whole[0].pipes) & set(whole[-1].pipes)
        if not pipes:
            return []  # the pipe at the end is not the one at the beginning
        order = sorted(pipes)
        return [
            HandReading(
                each.t,
                each.pressure_pa + station_pa_abs,
                tuple(each.pipes[entry] for entry in order),
            )
            for each in whole
            if pipes <= set(each.pipes)
        ]
