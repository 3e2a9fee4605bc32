"""The README names every key of the dashboard, and no other."""

import re
from pathlib import Path

from textual.binding import Binding

from chargeassist.tui.app import Dashboard
from chargeassist.tui.desk_keys import DeskKeys

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SIGNS = {"?": "question_mark", "Enter": "enter", "-": "minus", ".": "full_stop", ",": "comma"}
OF_TIME = {"space", "minus", "plus", "equals_sign"}
"""The sign = is the + of a keyboard whose + needs the shift key."""


def bound(*parts: type) -> set[str]:
    """Return the keys that classes of the dashboard bind themselves."""
    keys = set()
    for part in parts:
        for binding in part.__dict__.get("BINDINGS", ()):
            assert isinstance(binding, Binding)
            keys |= set(binding.key.split(","))
    return keys


def named(text: str) -> set[str]:
    return {SIGNS.get(key, key) for key in re.findall(r"`([^`]{1,5})`", text)}


def test_the_table_of_keys_is_that_of_the_dashboard() -> None:
    table = README.partition("| key | what it does |\n")[2].partition("\n\n")[0]
    ours = [part for part in Dashboard.__mro__ if part.__module__.startswith("chargeassist.")]
    assert named(table) == bound(*ours) - bound(DeskKeys) - OF_TIME
    assert "space pauses and `-` and `+`" in " ".join(README.split())


def test_the_keys_of_a_replay_are_named_where_the_record_is_told_of() -> None:
    section = README.partition("\nIn a replay ")[2].partition("\n\n")[0]
    told = {key for key in bound(DeskKeys) if key not in set("02345678")}  # "`1` to `9`", `0`
    assert told <= named(section)
