"""Which baud rate a port speaks: the usual ones are tried, and what can be read decides. Pure.

A receiver at another rate than the sender's samples other bits: what it hears is no ASCII, has no
line ends, or is no number; or it hears nothing. Lines with numbers, one after the other and next to
nothing else between them, come at the right rate only.
"""

import re

from chargeassist.session.wiring.arrived import Arrivals

SPEEDS = (9600, 115200, 19200, 38400, 57600, 4800, 2400, 1200, 230400)
"""Baud rates in the order in which they are tried; 9600 is where a port begins."""

LISTEN_S = 4.0
"""So long [s] a rate is listened to in the first round; twice as long in each that follows."""

LONGEST_S = 32.0
ENOUGH = 3
"""Readable lines that decide at once, and unreadable ones."""

SURE = 2
"""Readable lines without any other that decide when the time is over."""

_BAUD = re.compile(r"([?&]baud=)([^&]*)")
_BAUD_OPTION = re.compile(r"(?<=[?&])baud=[^&]*&?")


def speed_of(url: str) -> int:
    """Return the baud rate in a serial address; the usual one where it says none that can be."""
    return _said(url) or SPEEDS[0]


def _said(url: str) -> int | None:
    match = _BAUD.search(url)
    digits = match is not None and re.fullmatch(r"[0-9]{1,9}", match.group(2))
    return int(digits.group()) if digits else None


def names_speed(url: str) -> bool:
    """Return whether a serial address says a baud rate, be it one that cannot be."""
    return _BAUD.search(url) is not None


def at_speed(url: str, speed: int) -> str:
    """Return a serial address with another baud rate."""
    match = _BAUD.search(url)
    if match is None:
        return f"{url}{'&' if '?' in url else '?'}baud={speed}"
    return f"{url[: match.start()]}{match.group(1)}{speed}{url[match.end() :]}"


def at_next_speed(url: str) -> str:
    """Return a serial address with the next of `SPEEDS`."""
    now = _said(url) if names_speed(url) else SPEEDS[0]
    following = (SPEEDS.index(now) + 1) % len(SPEEDS) if now in SPEEDS else 0
    return at_speed(url, SPEEDS[following])


def same_port(one: str, other: str) -> bool:
    """Return whether two serial addresses differ in the baud rate at most."""
    bare = [_BAUD_OPTION.sub("", url).rstrip("?&") for url in (one, other)]
    return bare[0] == bare[1]


def judged(arrivals: Arrivals, listened_s: float, most_s: float = LISTEN_S) -> bool | None:
    """Return whether the rate is the right one; None while it is too early to say.

    Parameters
    ----------
    arrivals : Arrivals
        All that came at this rate.
    listened_s : float
        Since it has been listened to [s].
    most_s : float
        When a verdict is due [s].
    """
    readable = arrivals.readable
    others = arrivals.troubles + arrivals.count - readable
    if readable >= ENOUGH and readable >= 9 * others:
        return True
    if others >= ENOUGH and others > readable:
        return False
    if listened_s < most_s:
        return None
    return readable >= SURE and not others


class SpeedSearch:
    """Goes through the usual rates, in rounds that listen longer and longer, until one is right.

    Parameters
    ----------
    url : str
        Serial address; its rate is tried first.

    Attributes
    ----------
    url : str
        Address to listen at now.
    found : bool
        Whether that is the right one.
    """

    def __init__(self, url: str) -> None:
        self.url = url
        self.found = False
        self._tried = 0

    @property
    def place(self) -> str:
        """Which of how many is being tried."""
        return f"{self._tried % len(SPEEDS) + 1} of {len(SPEEDS)}"

    def look(self, arrivals: Arrivals, listened_s: float) -> bool:
        """Judge what came at `url`; return whether there is another `url` to listen at now."""
        most_s = min(LISTEN_S * 2.0 ** (self._tried // len(SPEEDS)), LONGEST_S)
        right = None if self.found else judged(arrivals, listened_s, most_s)
        self.found = self.found or right is True
        if right is not False:
            return False
        self._tried += 1
        self.url = at_next_speed(self.url)
        return True
