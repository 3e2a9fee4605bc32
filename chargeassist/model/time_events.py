"""Where time was not as usual; part of `chargeassist.model.events`, apart for its length."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionResumed:
    """The program went on with a session file after a crash or a restart.

    Attributes
    ----------
    away_s : float
        Seconds between the last recorded event and this one, by the wall clock; None when the wall
        clock contradicts the record.
    """

    t: float
    away_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockSet:
    """The computer's wall clock was set; session time is by another clock and went on unchanged.

    Attributes
    ----------
    step_s : float
        By how much it was set forward; negative when it was set back.
    """

    t: float
    step_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramHeld:
    """The program did not run until now; what came meanwhile can no longer be dated.

    Attributes
    ----------
    held_s : float
        For how long.
    asleep : bool
        Whether the machine slept; otherwise the program was stopped or got no processor time.
    """

    t: float
    held_s: float
    asleep: bool
