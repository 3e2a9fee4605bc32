"""Keys of the dashboard in the guide's sentences, as a session of lines says them."""

import ast
import re
from pathlib import Path

import pytest

import chargeassist.guide
from chargeassist.cli.line_words import in_lines

KEY = re.compile(r"\bEnter\b|\b[a-z] (?:begins|ends|tells|goes on)\b|\bthen [a-z]\b(?! )")


def sentences() -> list[str]:
    """Return every text in the guide that names a key."""
    (place,) = chargeassist.guide.__path__
    found = []
    for path in sorted(Path(place).rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        texts = (n.value for n in ast.walk(tree) if isinstance(n, ast.Constant))
        found += [text for text in texts if isinstance(text, str) and KEY.search(text)]
    return found


def test_there_are_such_sentences() -> None:
    assert len(sentences()) > 8


@pytest.mark.parametrize("text", sentences())
def test_no_line_asks_for_a_key(text: str) -> None:
    assert not KEY.search(in_lines(text)), in_lines(text)


@pytest.mark.parametrize(
    ("told", "line"),
    [
        ("earth the system; Enter tells that it is read", "'caution' tells that it is read"),
        ("2 of 9 items are open; Enter tells that it is done", "'done' tells that it is done"),
        ("2 of 4 readings so far; Enter types it", "; type it"),
        ("in; a begins the step, e ends it", "'begin' begins the step, 'end' ends it"),
        ("shut the cylinder valve, then e", "then 'end'"),
    ],
)
def test_the_line_stands_where_the_key_stood(told: str, line: str) -> None:
    assert in_lines(told).endswith(line)


def test_a_sentence_without_a_key_stays() -> None:
    text = "Add 85 g: 3.1 ± 0.5 K settled, target is 4.2 to 5.8 K; about 2 steps, 10 min to go"
    assert in_lines(text) == text
