"""What the tool's verdicts in a recording say is wrong, by the words of a trainee's calls."""

import math
from collections.abc import Iterable
from typing import Final

from chargeassist.model.events import Advice, Event, FaultJudged
from chargeassist.trainer.calls import FIXES
from chargeassist.trainer.showing import PATIENCE_S

_OF_THE_FREQUENCY: Final = frozenset({"hold_missing", "hold_expired", "hold_ramp_long"})
_OF_A_FAULT: Final = frozenset({"not_the_cure", "inside_but_fault"})
_LEAKING: Final = "refrigerant is leaking out"
"""As a drift is called (`chargeassist.guide.drift`)."""


class ToldFaults:
    """What was wrong in a recording, as far as its verdicts know.

    Parameters
    ----------
    events : iterable of Event
        Of the whole recording, by time.
    """

    def __init__(self, events: Iterable[Event]) -> None:
        self._said: list[tuple[float, frozenset[str]]] = [(0.0, frozenset())]
        self._found: list[tuple[float, float, frozenset[str]]] = []
        open_t: dict[str, tuple[float, frozenset[str]]] = {}
        for event in events:
            if isinstance(event, Advice):
                self._said.append((event.t, _of_advice(event)))
            elif isinstance(event, FaultJudged):
                if event.cause in open_t:
                    begun_t, words = open_t.pop(event.cause)
                    self._found.append((begun_t, event.t, words))
                if event.found:
                    words = _of_words((event.cause, *event.alternatives))
                    open_t[event.cause] = (event.t, words)
        self._found += [(begun_t, math.inf, words) for begun_t, words in open_t.values()]

    def standing_at(self, t: float) -> frozenset[str]:
        """Return what the instruction that stood at `t` [s] says is to be put right."""
        return [words for at_t, words in self._said if at_t <= max(t, 0.0)][-1]

    def named_by(self, t: float) -> frozenset[str]:
        """Return what may be called at `t` [s].

        That is what the instruction says then, or says within the patience that the tool itself is
        given (`PATIENCE_S`): who sees a fault before the tool does is not wrong. So is what the
        tool has found beside the charge, or finds within that time.
        """
        said = [words for at_t, words in self._said if t < at_t <= t + PATIENCE_S]
        found = [w for begun_t, gone_t, w in self._found if begun_t - PATIENCE_S <= t < gone_t]
        return self.standing_at(t).union(*said, *found)


def _of_advice(advice: Advice) -> frozenset[str]:
    if advice.cause in _OF_THE_FREQUENCY:
        return frozenset({"frequency"})
    if advice.cause == "probe_trouble":
        pressures = (role for role in FIXES["zero"].roles)
        wrong = any(advice.subject.startswith(role.label) for role in pressures)
        return frozenset({"zero" if wrong else "clamp"})
    return _of_words((advice.subject,)) if advice.cause in _OF_A_FAULT else frozenset()


def _of_words(subjects: Iterable[str]) -> frozenset[str]:
    """Return the calls for what stands in a verdict, which may name several faults."""
    found = set()
    for subject in subjects:
        found |= {word for word, fix in FIXES.items() if fix.words in subject}
        found |= {word for word, fix in FIXES.items() if fix.cause and fix.cause.value in subject}
        if _LEAKING in subject:
            found.add("leak")
    return frozenset(found)
