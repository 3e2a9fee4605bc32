"""A typed reading with the time it was read: "248 psi, 2 min ago", at 14:05 or at 2:05 pm."""

import datetime as dt
import re
from dataclasses import dataclass

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import Quantity, parse

_AGO = re.compile(r"(.*?)[\s,;]+([\d.,]+\s*[a-z]+)\s+ago", re.IGNORECASE)
_AT = re.compile(
    r"(.*?)[\s,;]+(?:at\s+)?(\d{1,2}):(\d{2})(?::(\d{2}))?(?:\s*([ap])\.?m\.?)?", re.IGNORECASE
)

_HALF_DAY_S = 43_200.0


@dataclass(frozen=True, slots=True)
class Now:
    """The present moment.

    Attributes
    ----------
    t : float
        Session time [s].
    wall : datetime or None
        This moment by the clock on the wall, with any zone; None where session time runs at
        another pace.
    zone : tzinfo or None
        Where times of day are read, with its changes to and from summer time; None: this machine's.
    """

    t: float
    wall: dt.datetime | None = None
    zone: dt.tzinfo | None = None


def split_read_time(text: str, now: Now) -> tuple[str, float | None]:
    """Return what was typed without its time, and the session time it was read at [s].

    Parameters
    ----------
    text : str
    now : Now

    Returns
    -------
    str, float or None
        None: it says no time, and was read as it is typed.

    Raises
    ------
    ConfigError
        If the time is none, or is yet to come.
    """
    typed = text.strip()
    ago = _AGO.fullmatch(typed)
    if ago is not None:
        if "," in ago.group(2):
            with_point = ago.group(2).replace(",", ".")
            raise ConfigError(f"write a point, not a comma: {with_point} ago")
        return ago.group(1), now.t - parse(ago.group(2), Quantity.DURATION)
    at = _AT.fullmatch(typed)
    if at is None:
        return text, None
    hours, minutes, seconds, half = (at.group(number) for number in (2, 3, 4, 5))
    return at.group(1), now.t - _since_s(hours, minutes, seconds, half, now)


def _since_s(hours: str, minutes: str, seconds: str | None, half: str | None, now: Now) -> float:
    """Return how long ago a time of the clock was [s]; `half` of the day is "a", "p" or None."""
    said = f"{hours}:{minutes}" + (f":{seconds}" if seconds else "")
    said += f" {half.lower()}m" if half else ""
    if now.wall is None:
        raise ConfigError(
            f"this session's time is not that of the clock: say how long ago it was, such as "
            f"2 min ago, not {said}"
        )
    try:
        time = dt.time(_hour(int(hours), half), int(minutes), int(seconds or 0))
    except ValueError as error:
        raise ConfigError(f"expected a time of day such as 14:05, got {said}") from error
    wall = now.wall.astimezone(now.zone)
    since_s = _ages_s(time, wall.date(), now)
    if since_s and max(since_s) < -_HALF_DAY_S:
        since_s = _ages_s(time, wall.date() - dt.timedelta(days=1), now)  # read before midnight
    if not since_s:
        raise ConfigError(f"there was no {said}: the clocks were put forward over it")
    past_s = [age_s for age_s in since_s if age_s >= 0.0]
    if not past_s:
        raise ConfigError(f"{said} is yet to come: it is {wall:%H:%M:%S}")
    return min(past_s)


def _hour(hour: int, half: str | None) -> int:
    """Return the hour of the day; ValueError for one that no clock of twelve hours has."""
    if half is None:
        return hour
    if not 1 <= hour <= 12:
        raise ValueError(hour)
    return hour % 12 + (12 if half.lower() == "p" else 0)


def _ages_s(time: dt.time, day: dt.date, now: Now) -> list[float]:
    """Return how long ago it was `time` on `day` [s].

    Twice in the hour that clocks are put back over, never in the one they are put forward over.
    """
    assert now.wall is not None  # noqa: S101 - asked by the caller
    ages_s = []
    for fold in (0, 1):
        on_day = dt.datetime.combine(day, time, now.zone).replace(fold=fold)
        moment = on_day.astimezone(dt.UTC)
        if moment.astimezone(now.zone).time() == time:
            ages_s.append((now.wall - moment).total_seconds())
    return ages_s
