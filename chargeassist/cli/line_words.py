"""The guide's sentences name the dashboard's keys; a session of lines is told by words instead."""

import re
from typing import Final

_INSTEAD: Final = tuple(
    (re.compile(key), words)
    for key, words in (
        (r"\bEnter tells that it is read\b", "'caution' tells that it is read"),
        (r"\bEnter tells\b", "'done' tells"),
        (r"\bEnter asks, and there x goes on without it\b", "'checked filters_panels' tells it"),
        (r"\bEnter asks for it\b", "type it"),
        (r"\bEnter asks what\b", "type what"),
        (r"\bEnter types it\b", "type it"),
        (r"\ba begins the step, e ends it\b", "'begin' begins the step, 'end' ends it"),
        (r"\be ends the step\b", "'end' ends the step"),
        (r"\bthen e\b", "then 'end'"),
        (r"\bq ends the session\b", "'finish' ends the session"),
    )
)
"""What a sentence says of a key, and what of the line that does the same."""


def in_lines(sentence: str) -> str:
    """Return a sentence of the guide with lines to type in the place of keys to press."""
    for key, words in _INSTEAD:
        sentence = key.sub(words, sentence)
    return sentence
