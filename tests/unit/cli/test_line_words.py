"""What is answered, and by which key or line: the guide says the first, each surface the second."""

import ast
import re
from pathlib import Path

import pytest

import chargeassist.guide
from chargeassist.cli import line_words
from chargeassist.guide.stages.caution_words import PREFIX
from chargeassist.guide.stages.choice import WORDS
from chargeassist.guide.wording import ADVICE
from chargeassist.model.hazards import Hazard
from chargeassist.tui import key_words

KEY = re.compile(r"\bEnter\b|\b[a-z] (?:begins|ends|tells|goes on)\b|\bthen [a-z]\b(?! )")
HAS_DOC = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
CAUTION = PREFIX + Hazard.PRESSURE.value


def test_no_sentence_of_the_guide_names_a_key() -> None:
    """They stand in records, reports and before onlookers, who have none."""
    (place,) = chargeassist.guide.__path__
    for path in sorted(Path(place).rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        docs = {ast.get_docstring(n, clean=False) for n in ast.walk(tree) if isinstance(n, HAS_DOC)}
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                assert node.value in docs or not KEY.search(node.value), (path.name, node.value)


def test_keys_and_lines_answer_the_same_instructions_and_no_other() -> None:
    assert key_words._KEYS.keys() == line_words._LINES.keys()
    assert key_words._KEYS.keys() <= {*ADVICE, *WORDS.reasons}


@pytest.mark.parametrize("cause", [*key_words._KEYS, CAUTION])
def test_keys_stand_on_the_dashboard_and_lines_in_lines(cause: str) -> None:
    # "type it" and its like name no key, but no line either.
    assert not KEY.search(line_words.line_for(cause))
    assert re.search(r"\bEnter\b|\b[aefqsx]\b", key_words.keys_for(cause))


def test_what_is_no_question_has_no_answer() -> None:
    assert key_words.keys_for("below_target") == line_words.line_for("below_target") == ""
