"""Profiles of limits: every limit with its value, its source, its edition and its rank.

Honest sources give different numbers, so a limit is never a constant of the program. The order of
authority is: equipment instructions, adopted local code, standard, rule of thumb. A limit that was
written down from memory says so, and is a default to be replaced, never "what the standard says".
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final

from chargeassist.model.limit_key import Kind, LimitKey
from chargeassist.model.stage_plan import PressureStep

__all__ = ["Authority", "Kind", "Limit", "LimitKey", "Method", "Profile", "resolve"]


class Authority(IntEnum):
    """Rank of a source; the higher one wins."""

    RULE_OF_THUMB = 1
    STANDARD = 2
    LOCAL_CODE = 3
    EQUIPMENT = 4

    @property
    def words(self) -> str:
        """The rank as written in profile files and shown on screens."""
        return _AUTHORITY_WORDS[self]


_AUTHORITY_WORDS: Final = {
    Authority.EQUIPMENT: "equipment instructions",
    Authority.LOCAL_CODE: "adopted local code",
    Authority.STANDARD: "standard",
    Authority.RULE_OF_THUMB: "rule of thumb",
}


class Method(StrEnum):
    """Methods of judging a charge; a profile can forbid some."""

    SUBCOOLING = "subcooling"
    SUPERHEAT = "superheat"
    APPROACH = "approach"
    WEIGH_IN = "weigh-in"


_SAME: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit.

    Attributes
    ----------
    key : LimitKey
    value_si : float
        In the SI unit of ``key.kind`` [K, Pa, s, Hz, kg, A, 1 or m3/s per W].
    as_written : str
        The value with its unit, as in the source.
    source, edition, address : str
        Document, its edition or year, and where it was read.
    authority : Authority
    from_memory : bool
        Whether it was written down without reading the document.
    strict : bool
        Whether a value equal to the limit fails ("more than 300 cfm/ton").
    note : str
    """

    key: LimitKey
    value_si: float
    as_written: str
    source: str
    edition: str
    authority: Authority
    address: str = ""
    from_memory: bool = False
    strict: bool = False
    note: str = ""

    @property
    def lowest_si(self) -> float:
        """Smallest value that passes a lower limit [SI].

        A margin of one in a billion either way keeps rounding from deciding: 300 cfm/ton that came
        through other units must not pass or fail by its last digit.
        """
        return self.value_si * (1.0 + _SAME if self.strict else 1.0 - _SAME)

    @property
    def citation(self) -> str:
        """The source in one line for a screen or a record."""
        parts = [self.source, *([self.edition] if self.edition else [])]
        text = f"{', '.join(parts)} ({self.authority.words})"
        return f"{text}, from memory" if self.from_memory else text

    @property
    def told(self) -> str:
        """The limit with its value and source, as a check lists it among its sources."""
        return f"{self.key.words} {self.as_written}: {self.citation}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A named set of limits.

    Attributes
    ----------
    name : str
        Short, for files: "a-z 0-9 -".
    title, note : str
    limits : mapping of LimitKey to Limit
        A key that is missing is not limited by this profile.
    forbids : frozenset of Method
        Methods of judging the charge that the source rules out.
    role : str
        Whose limits these are, if a source gives several: "installer", "verifier".
    raises : tuple of PressureStep
        Steps of a staged raise of the test pressure, before the plate's own.
    """

    name: str
    title: str
    limits: Mapping[LimitKey, Limit]
    note: str = ""
    forbids: frozenset[Method] = frozenset()
    role: str = ""
    raises: tuple[PressureStep, ...] = ()

    def limit(self, key: LimitKey) -> Limit | None:
        """Return the limit of `key`; None if the profile has none."""
        return self.limits.get(key)

    @property
    def fingerprint(self) -> str:
        """SHA-256 over everything that decides a verdict: 64 hexadecimal digits."""
        rows = [
            (key.value, repr(limit.value_si), limit.strict, limit.citation)
            for key, limit in sorted(self.limits.items())
        ]
        steps = [(repr(s.pressure_pa_gauge), repr(s.hold_s), s.source) for s in self.raises]
        text = json.dumps([self.name, rows, sorted(self.forbids), steps], ensure_ascii=True)
        return hashlib.sha256(text.encode("ascii")).hexdigest()


def resolve(profiles: Iterable[Profile], key: LimitKey) -> Limit | None:
    """Return the limit of the highest authority; of equals, that of the earliest profile.

    Parameters
    ----------
    profiles : iterable of Profile
        In order of preference, for example the job's profile, then the program's default.
    key : LimitKey

    Returns
    -------
    Limit or None
        None if no profile has the limit.
    """
    found = [limit for profile in profiles if (limit := profile.limit(key)) is not None]
    return max(found, key=lambda limit: limit.authority, default=None)
