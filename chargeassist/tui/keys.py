"""The keys in sight: which there are depends on what is on the screen."""

from typing import Final, NamedTuple


class Key(NamedTuple):
    """One key: what is pressed, the action of the application, its label and a shorter one.

    Where the shorter label is empty, the next key's stands for both.
    """

    key: str
    action: str
    label: str
    short: str | None = None


_TIME: Final = (
    Key("space", "pause", "pause"),
    Key("-", "slower", "slower", ""),
    Key("+", "faster", "faster", "speed"),
)
_SEEING: Final = (
    Key("c", "checks", "conditions", "cond"),
    Key("s", "stages", "stages", "stage"),
    Key("w", "why", "why"),
    Key("u", "units", "units", "unit"),
)
_LAST: Final = (Key("?", "help", "help"), Key("q", "leave", "quit"))

_MARKS: Final = (
    Key("a", "begin_step", "step begins", "begin"),
    Key("e", "end_step", "step ends", "end"),
    Key("r", "recovered", "recovered", "recover"),
    Key("f", "frequency_held", "frequency held", "held"),
    Key("g", "frequency_left", "no longer held", "lost"),
    Key("o", "others", "anything else", "else"),
    Key("n", "note", "note"),
)

CAUTION: Final = Key("enter", "done", "caution read", "read")
"""While a caution of the running unit waits to be acknowledged."""

LIVE: Final = (*_MARKS, *_SEEING, *_LAST)
"""A session with probes."""

SIMULATED: Final = (*_MARKS, *_SEEING, *_TIME, *_LAST)
"""One with a simulated unit, whose time can be steered."""

REPLAY: Final = (*_SEEING, *_TIME, *_LAST)
"""A recording that is only played."""

DRILL: Final = (
    Key("s", "settled", "settled"),
    Key("a", "add", "add"),
    Key("r", "recover", "recover"),
    Key("x", "stop_charging", "stop"),
    Key("f", "fix", "fix first", "fix"),
    *_TIME,
    Key("u", "units", "units", "unit"),
    *_LAST,
)
"""A trainee's calls."""

DESK: Final = (
    *_TIME,
    Key(",", "moment_before", "back"),
    Key(".", "next_moment", "next event", "next"),
    Key("j", "go_to", "go to"),
    Key("b", "bookmark", "bookmark", "mark"),
    Key("n", "note", "note"),
    *_SEEING,
    *_LAST,
)
"""A recording that can be moved about in."""

STAGE: Final = (
    Key("enter", "done", "done"),
    Key("o", "others", "anything else", "else"),
    Key("n", "note", "note"),
    Key("c", "checks", "conditions", "cond"),
    Key("s", "stages", "stages", "stage"),
    Key("u", "units", "units", "unit"),
    *_TIME,
    *_LAST,
)
"""A stage in which the unit does not run; "done" says what it tells."""
