"""The examples in docstrings are run: one that shows what is no longer so is worse than none."""

import doctest
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FOLDERS = (ROOT / "chargeassist", ROOT / "adapters")

MODULES = sorted(
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removeprefix("adapters.")
    for folder in FOLDERS
    for path in folder.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


def test_there_are_examples() -> None:
    assert MODULES


@pytest.mark.parametrize("name", MODULES)
def test_an_example_shows_what_it_says(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name))
    assert found.attempted > 0
    assert found.failed == 0
