"""Whether two pieces of advice differ; advice that only repeats the last is not recorded."""

import re

from chargeassist.model.events import Advice
from chargeassist.model.judged import JUDGED

_NOT_TOLD_APART = frozenset(
    cause for each in JUDGED.values() for cause in (each.settling_cause, each.no_value_cause)
)
_NUMBER = re.compile(r"[-−]?\d+(\.\d+)?")


def differs(one: Advice, other: Advice) -> bool:
    """Return whether two pieces of advice say different things, leaving their figures aside.

    The reason why a reading still moves, or why it has no value, changes from tick to tick and does
    not count; nor do numbers inside a subject.
    """
    if one.cause == other.cause and one.cause in _NOT_TOLD_APART:
        return False
    if (one.action, one.cause, one.mass_kg) != (other.action, other.cause, other.mass_kg):
        return True
    if one.subject == other.subject:
        return False
    return _NUMBER.sub("", one.subject) != _NUMBER.sub("", other.subject)
