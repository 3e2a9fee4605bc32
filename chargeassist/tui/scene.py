"""All a panel draws from; a panel that is shown the same scene twice draws the same twice."""

from dataclasses import dataclass, field

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import SessionMode
from chargeassist.model.job import Job
from chargeassist.tui.keys import Key
from chargeassist.tui.pen import Pen
from chargeassist.tui.trend import Trend


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One moment of the screen.

    Attributes
    ----------
    snapshot : Snapshot or None
        None before the first one.
    recorded_to : str or None
        Path of the record; None when nothing is being recorded.
    paused, can_pause, ended : bool
        Of the session.
    speed : float or None
        Its pace, where it has one: session seconds per second.
    veiled : bool
        A drill: the snapshot holds no verdict, and no place for one is drawn.
    keys : tuple of Key
        What the keys do now.
    silent_s : float or None
        Wall seconds since the last snapshot where it is overdue; what is shown is that old.
    notice : str
        Answer to the last key, for a few seconds.
    """

    job: Job
    mode: SessionMode
    replayed: bool
    snapshot: Snapshot | None = None
    system: UnitSystem = UnitSystem.SI
    pen: Pen = field(default_factory=Pen)
    trend: Trend = field(default_factory=Trend)
    recorded_to: str | None = None
    paused: bool = False
    can_pause: bool = False
    speed: float | None = None
    keys: tuple[Key, ...] = ()
    veiled: bool = False
    ended: bool = False
    step_open: bool = False
    silent_s: float | None = None
    notice: str = ""
