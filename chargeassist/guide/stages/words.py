"""The form of a stage's words: each stage has its own table.

A stage's instruction has a headline ("Raise to 1500 kPa gauge") and a reason; its table has rows;
its checks have a sentence each. All are made from SI figures in the reader's units.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from chargeassist.model.display import UnitSystem

Figures = Mapping[str, float]
"""SI numbers of an instruction, a row or a check, by name with its unit."""

Phrase = Callable[[Figures, str, UnitSystem], str]
"""Makes a phrase from figures, subject and the reader's system of units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageWords:
    """The words of one stage, by cause, row key and name of check.

    Attributes
    ----------
    headlines : mapping of str to Phrase
        Headlines of instructions, by cause.
    reasons : mapping of str to Phrase
        Reasons of instructions, by cause.
    rows : mapping of str to (label, Phrase)
    checks : mapping of str to str
        Names of checks on screens and in reports.
    findings : mapping of str to Phrase
        What judged checks say, by cause.
    """

    headlines: Mapping[str, Phrase]
    reasons: Mapping[str, Phrase]
    rows: Mapping[str, tuple[str, Phrase]]
    checks: Mapping[str, str]
    findings: Mapping[str, Phrase]


_Value = TypeVar("_Value")


def noted(text: str, note: str) -> str:
    """Return `text` with what its limit is for; alone where the job file's own says nothing."""
    return f"{text}: {note}" if note else text


def merged(parts: tuple[StageWords, ...]) -> StageWords:
    """Return the words of all stages as one table.

    Raises
    ------
    ValueError
        If two stages use one key.
    """
    return StageWords(
        headlines=_together([part.headlines for part in parts]),
        reasons=_together([part.reasons for part in parts]),
        rows=_together([part.rows for part in parts]),
        checks=_together([part.checks for part in parts]),
        findings=_together([part.findings for part in parts]),
    )


def _together(tables: Iterable[Mapping[str, _Value]]) -> dict[str, _Value]:
    found: dict[str, _Value] = {}
    for table in tables:
        twice = found.keys() & table.keys()
        if twice:
            raise ValueError(f"two stages use one key: {', '.join(sorted(twice))}")
        found |= table
    return found
