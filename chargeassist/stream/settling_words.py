"""States, causes and clauses of the settling detector."""

from enum import StrEnum


class DetectorState(StrEnum):
    """State of the reading."""

    WAITING = "waiting for data"
    MOVING = "moving"
    NEARLY = "nearly settled"
    SETTLED = "settled"


class SettlingCause(StrEnum):
    """Reason for the state; screens choose their words by it."""

    NO_READING = "no reading yet"
    LOST = "reading lost"
    YOUNG_RUN = "run too young"
    YOUNG_STEP = "too soon after a change"
    UNANNOUNCED = "changed by itself"
    MOVING = "still moving"
    HUNTING = "valve hunting"
    UNPROVEN = "not proven yet"
    STEADY = "steady"


def clause(
    cause: SettlingCause,
    *,
    seconds: float,
    slope_k_per_s: float,
    remaining_k: float,
    remaining_sd_k: float,
    period_s: float | None,
) -> str:
    """Return one clause for a person, in kelvin.

    Parameters
    ----------
    cause : SettlingCause
        What to say.
    seconds : float
        Time since whatever the cause counts from [s].
    slope_k_per_s, remaining_k, remaining_sd_k : float
        Present slope [K/s], change still to come and its standard deviation [K].
    period_s : float or None
        Period of the valve's hunting [s].
    """
    left = f"{abs(remaining_k):.1f} K to go, give or take {remaining_sd_k:.1f} K"
    match cause:
        case SettlingCause.NO_READING:
            return "no subcooling reading yet"
        case SettlingCause.LOST:
            return f"no subcooling reading for {seconds:.0f} s"
        case SettlingCause.YOUNG_RUN:
            return f"too early: only {seconds:.0f} s of readings, valve hunting not ruled out"
        case SettlingCause.YOUNG_STEP:
            return f"too early: {seconds:.0f} s since the last change"
        case SettlingCause.UNANNOUNCED:
            return f"changed without a charge step, noticed {seconds:.0f} s ago"
        case SettlingCause.MOVING:
            way = "rising" if slope_k_per_s > 0.0 else "falling"
            rate = 60.0 * abs(slope_k_per_s)
            return f"still {way} about {rate:.1f} K/min, {abs(remaining_k):.1f} K to go"
        case SettlingCause.HUNTING:
            return f"valve hunting, period about {period_s or 0.0:.0f} s; {left}"
        case SettlingCause.UNPROVEN:
            return f"not proven yet: {left}"
        case SettlingCause.STEADY:
            return f"steady: {left}"
