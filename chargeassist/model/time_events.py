"""Events about interruptions of time; part of `chargeassist.model.events`."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionResumed:
    """The program resumed a session file after a crash or a restart.

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
    """The computer's wall clock was set; session time uses another clock and is not affected.

    Attributes
    ----------
    step_s : float
        Seconds it was set forward; negative if it was set back.
    """

    t: float
    step_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramHeld:
    """The program did not run for a while; what arrived meanwhile cannot be dated.

    Attributes
    ----------
    held_s : float
        How long it did not run.
    asleep : bool
        Whether the machine slept; else the program was stopped or got no processor time.
    """

    t: float
    held_s: float
    asleep: bool
