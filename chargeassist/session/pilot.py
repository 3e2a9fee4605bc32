"""A scripted technician: does what the advice says, with the hands of a calm person.

For demonstrations and tests. It sees snapshots only, as a person sees the screen, and answers with
marks; so a session it charges is the same at any speed.
"""

from typing import Protocol

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import Action, Mark, MarkKind
from chargeassist.model.hazards import Hazard
from chargeassist.model.limits import LimitKey

READS_FOR_S = 6.0
READS_CAUTION_FOR_S = 10.0
FLOW_KG_PER_S = 0.0011
"""Of liquid through the cylinder valve (assumption)."""

VALVE_S = 2.0
"""A hand needs so long for the cylinder valve [s] (assumption)."""

LOOKS_AT_STOP_FOR_S = 90.0


class Attendant(Protocol):
    """Someone at the unit who is part of the program; `Pilot` is one."""

    @property
    def finished(self) -> bool:
        """Whether the session can end."""
        ...

    def look(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        """Return what to do on seeing `snapshot`."""
        ...


class Pilot:
    """Follows the advice of one session.

    Attributes
    ----------
    finished : bool
        The charge has been inside its target, settled, long enough to pack up.
    """

    def __init__(self) -> None:
        self.finished = False
        self._since: tuple[str, float] | None = None
        self._shut_t: float | None = None
        self._mass_kg = 0.0
        self._caution: tuple[Hazard, float] | None = None

    def look(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        """Look at one snapshot and return what to do now; most often nothing."""
        return self._read(snapshot) + self._act(snapshot)

    def _read(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        """Read the cautions one after the other; the hands wait for none that is already read."""
        if not snapshot.unread:
            return ()
        hazard, t = snapshot.unread[0], snapshot.t
        if self._caution is None or self._caution[0] is not hazard:
            self._caution = (hazard, t)
        if t - self._caution[1] < READS_CAUTION_FOR_S:
            return ()
        return (Mark(t=t, kind=MarkKind.CAUTION_READ, text=hazard.value),)

    def _act(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        t, advice = snapshot.t, snapshot.advice
        if self._shut_t is not None:
            if t < self._shut_t:
                return ()
            self._shut_t = None
            mass = None if snapshot.scale_heard else self._mass_kg
            return (Mark(t=t, kind=MarkKind.STEP_ENDED, mass_kg=mass),)
        if self._since is None or self._since[0] != advice.cause:
            self._since = (advice.cause, t)
            return ()
        seen_s = t - self._since[1]
        if advice.action is Action.STOP:
            self.finished = seen_s >= LOOKS_AT_STOP_FOR_S
        if seen_s < READS_FOR_S:
            return ()
        if advice.action is Action.ADD and advice.mass_kg is not None:
            self._mass_kg = advice.mass_kg
            self._shut_t = t + VALVE_S + self._mass_kg / FLOW_KG_PER_S
            self._since = None
            return (Mark(t=t, kind=MarkKind.STEP_BEGUN, mass_kg=self._mass_kg),)
        if advice.action is Action.RECOVER and advice.mass_kg is not None:
            self._since = None
            return (Mark(t=t, kind=MarkKind.STEP_ENDED, mass_kg=-advice.mass_kg),)
        if advice.cause == "condition_filters_panels":
            self._since = None
            return (Mark(t=t, kind=MarkKind.CONFIRMED, text=LimitKey.FILTERS_PANELS.value),)
        if advice.cause in {"hold_missing", "hold_expired"} and "actual_hz" not in advice.figures:
            self._since = None
            hertz = advice.figures["required_hz"]
            return (Mark(t=t, kind=MarkKind.FREQUENCY_HELD, frequency_hz=hertz),)
        return ()
