"""What a scenario says the advice will be, and whether a session said it.

``expect = "stop"``, ``expect = "fix first: low_superheat"``, or several, in the order they must
come: ``expect = ["recover", "stop"]``. After the action may stand the cause, and after that its
subject, with ": " between. The last one must have stood for more than half of the last `LAST_S`
seconds: what a session ends in is not the sentence that happened to come last. ``finds`` names the
faults that must stand at the end, by their words: ``finds = ["expansion valve hunts"]``; a name
that no fault has is refused.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from chargeassist.guide.fault_verdicts import FAULT_NAMES
from chargeassist.model.events import Action, Advice, Event, FaultJudged, SessionStopped
from chargeassist.model.text import plain
from chargeassist.session.job.toml_table import TomlTable, came

LAST_S: Final = 60.0
"""The end of a session, in which the last instruction must have stood [s]."""


@dataclass(frozen=True, slots=True)
class Expected:
    """One instruction that must come; empty where anything will do."""

    action: Action
    cause: str = ""
    subject: str = ""

    def met_by(self, advice: Advice) -> bool:
        """Return whether `advice` is that instruction."""
        return self.covers(Expected(advice.action, advice.cause, advice.subject))

    def covers(self, other: "Expected") -> bool:
        """Return whether `other` says at least as much."""
        return (
            other.action is self.action
            and self.cause in {"", other.cause}
            and self.subject in {"", other.subject}
        )

    def __str__(self) -> str:
        return ": ".join(filter(None, (self.action.value, self.cause, self.subject)))


def read_expected(top: TomlTable, *, optional: bool = False) -> tuple[Expected, ...]:
    """Return the ``expect`` of a scenario file; empty when optional and absent.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    value = top.get("expect")
    if value is None and optional:
        return ()
    texts = value if isinstance(value, list) else [value]
    if not texts or not all(isinstance(text, str) for text in texts):
        raise top.error(
            "expect",
            'expected a verdict such as "stop" or "fix first: low_superheat"',
            "nothing" if value is None else came(value),
        )
    return tuple(_expected(top, text) for text in texts)


def read_finds(top: TomlTable) -> tuple[str, ...]:
    """Return the ``finds`` of a scenario file: faults that must stand at the end.

    Raises
    ------
    ConfigError
        If a name is none of `FAULT_NAMES`: a typo could never be found, and would look like advice
        that fails.
    """
    names = top.texts("finds")
    for name in names:
        if name not in FAULT_NAMES:
            known = ", ".join(f'"{each}"' for each in FAULT_NAMES)
            raise top.error("finds", f"expected some of {known}", came(name, FAULT_NAMES))
    return names


def not_found(finds: tuple[str, ...], events: Iterable[Event]) -> str:
    """Return which fault of `finds` does not stand at the end, in words; empty when all do.

    One that stands among the alternatives of another counts: the readings cannot tell them apart.
    """
    standing: dict[str, tuple[str, ...]] = {}
    for event in events:
        if isinstance(event, FaultJudged) and event.found:
            standing[event.cause] = (event.cause, *event.alternatives)
        elif isinstance(event, FaultJudged):
            standing.pop(event.cause, None)
    stands = {cause for causes in standing.values() for cause in causes}
    missing = [cause for cause in finds if cause not in stands]
    if not missing:
        return ""
    came = ", ".join(sorted(stands)) or "nothing"
    return f"expected {missing[0]!r} to be found, there stands {came}"


def _expected(top: TomlTable, text: str) -> Expected:
    action, cause, subject = (*text.split(": ", 2), "", "")[:3]
    if action not in tuple(Action) or not re.fullmatch(r"[a-z_]*", cause):
        raise top.error(
            "expect",
            f"expected one of {', '.join(Action)}, and after a colon its cause",
            repr(plain(text, 60)),
        )
    return Expected(Action(action), cause, subject)


def ended_in(events: Iterable[Event]) -> dict[Expected, float]:
    """Return how long each instruction stood in the last `LAST_S` seconds [s], longest first."""
    said = [event for event in events if isinstance(event, Advice | SessionStopped)]
    end_t = said[-1].t if said else 0.0
    stood_s: dict[Expected, float] = {}
    for event, following in pairwise(said):
        if isinstance(event, Advice):
            key = Expected(event.action, event.cause, event.subject)
            lasted_s = following.t - max(event.t, end_t - LAST_S)
            stood_s[key] = stood_s.get(key, 0.0) + max(0.0, lasted_s)
    return dict(sorted(stood_s.items(), key=lambda item: -item[1]))


def missed(expected: tuple[Expected, ...], events: Iterable[Event]) -> str:
    """Return what did not come as expected, in words; empty when all did."""
    if not expected:
        return ""
    told = tuple(events)
    said = iter([event for event in told if isinstance(event, Advice)])
    for item in expected[:-1]:
        if not any(item.met_by(advice) for advice in said):
            return f"expected {str(item)!r} on the way, and it was not said"
    last, stood_s = expected[-1], ended_in(told)
    as_expected_s = sum(
        lasted_s for said_last, lasted_s in stood_s.items() if last.covers(said_last)
    )
    if as_expected_s > 0.5 * sum(stood_s.values()):
        return ""
    came = next(iter(stood_s), "nothing")
    return f"expected it to end in {str(last)!r}, it ended in {str(came)!r}"
