"""Whether two pieces of advice say different things: what is said again is recorded once."""

import re

from chargeassist.model.events import Advice
from chargeassist.model.judged import JUDGED

_NOT_TOLD_APART = frozenset(
    cause for each in JUDGED.values() for cause in (each.settling_cause, each.no_value_cause)
)
_NUMBER = re.compile(r"[-−]?\d+(\.\d+)?")


def differs(one: Advice, other: Advice) -> bool:
    """Whether two pieces of advice say different things, their figures aside.

    Why a reading is still moving, and which pressure it is that has no boiling point, change from
    tick to tick and are not told apart; nor are the numbers inside a reason.
    """
    if one.cause == other.cause and one.cause in _NOT_TOLD_APART:
        return False
    if (one.action, one.cause, one.mass_kg) != (other.action, other.cause, other.mass_kg):
        return True
    if one.subject == other.subject:
        return False
    return _NUMBER.sub("", one.subject) != _NUMBER.sub("", other.subject)
