"""Answers as a job file: the tree they stand for, its TOML, and what the readers say of it."""

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from chargeassist.model.channels import Role
from chargeassist.model.limits import LimitKey, Method
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.errors import error_of, stand_in
from chargeassist.session.job.overrides import OVERRIDES, listed
from chargeassist.session.job.toml_table import TomlTable

Answers = Mapping[str, str]
TABLE_WORD: Final = "table"
BY_HAND: Final = "by hand"
"""Instead of an adapter: no probe at all, every reading is typed."""

MORE: Final = "more"
"""Key of the question whether to go on asking; no key of a job file."""

CHANGE: Final = "change"
"""Key of the question whether the job sets limits itself; no key of a job file either."""

LONGEST_ANSWER: Final = 500
_WHERE: Final = "your answer"

COMMENTS: Final = {
    "": "The job. Values behind a # are examples, none of them is of this unit.",
    "site": "Air pressure at the site, gauge readings are counted from it; where the unit stands.",
    "target": "What the charge is judged by, and where that was read.",
    "charge": "Masses.",
    "equipment": "The unit, as typed.",
    "plate": "What the unit's plate says.",
    "frequency": "The compressor frequency at which a reading counts; none for fixed speed.",
    "limits": "Limits of plate and instructions that call for something other than refrigerant.",
    "conditions": "What must be so for a reading to count, by the unit's instructions.",
    "line_set": "The pipes between the units.",
    "cylinder": "The refrigerant cylinder on the scale.",
    "tightness": "The nitrogen test; without steps those of plate and profile.",
    "dryness": "The evacuation; without numbers those of the profile.",
    "charging": "What readings of the charge are typed from.",
    "electrical": "The maker's amps.",
    "air": "The air side.",
    "performance": "One column of the maker's performance table.",
    "crew": "Who answers for the work.",
    "processing": "How readings become verdicts.",
    OVERRIDES: "Limits set in this job, in the place of those of profile and program.",
}
"""One line for each table of the file; the empty name is the file itself."""

SOURCE_COMMENT: Final = "Where probes are read."

_COMPANIONS: Final[dict[str, tuple[str, ...]]] = {
    "plate": ("source",),
    "tightness": ("source",),
    "dryness": ("source",),
    "electrical": ("source",),
    "air": ("source", "heat_source"),
    "conditions": ("source",),
    "charge": ("limit_source",),
    OVERRIDES: ("source",),
    "line_set": ("adder_source",),
}
"""Asked for after the number they belong to; until then a stand-in takes their place."""


_NEEDS_NO_REASON: Final = "tightness"
_COLUMN_STAND_IN: Final = {"source": "stand-in", "outdoor": "85 °F", "return_air": "80 °F"}
_LAST_READING: Final = "performance.air_split"


def adapter_of(answers: Answers, number: int) -> str:
    """Return how source `number` is read; empty when it is not."""
    return answers.get(f"source.{number}.adapter", "")


def tree_of(answers: Answers) -> dict[str, Any]:
    """Return what a job file of these answers holds; a blank answer is no key."""
    tree: dict[str, Any] = {}
    for key, text in answers.items():
        table, _, name = key.rpartition(".")
        from_table = key == "target.superheat" and text == TABLE_WORD
        if not text or key.startswith("source.") or from_table or key in (MORE, CHANGE):
            continue
        if table.startswith(f"{OVERRIDES}."):
            if key.endswith(".value"):
                tree.setdefault(OVERRIDES, {})[answers[f"{table}.limit"]] = text
            continue
        place = tree.setdefault(table, {}) if table else tree
        place[name] = _value(key, text)
    sources = []
    number = 1
    if adapter_of(answers, number) == BY_HAND:
        return tree | {"by_hand": True}
    while adapter_of(answers, number):
        sources.append(_source(answers, f"source.{number}"))
        number += 1
    if sources:
        tree["source"] = sources
    return tree


def _value(key: str, text: str) -> object:
    if key == "plate.phases" and text in ("1", "3"):
        return int(text)
    if key in ("profile", "tightness.steps"):
        parts = [part.strip() for part in text.split("," if key == "profile" else ";")]
        return [part for part in parts if part] or [text]
    return text


def _source(answers: Answers, at: str) -> dict[str, Any]:
    source: dict[str, Any] = {}
    for name in ("url", "format"):
        if answers.get(f"{at}.{name}"):
            source[name] = answers[f"{at}.{name}"]
    probes = []
    for role in Role:
        prefix = f"{at}.{role.value}."
        said = {
            key.removeprefix(prefix): _factor(text) if key.endswith((".scale", ".offset")) else text
            for key, text in answers.items()
            if key.startswith(prefix) and text
        }
        if said:
            probes.append({"role": role.value, **said})
    if probes:
        source["probe"] = probes
    return source


def _factor(text: str) -> float | str:
    """Return a plain decimal as a number; what is none stays text, for the reader to refuse."""
    return float(text) if re.fullmatch(r"-?\d{1,9}(\.\d{1,9})?", text, re.ASCII) else text


def refusal(answers: Answers, path: str = "") -> str:
    """Return what the readers of the job file say against the answers so far; else nothing.

    What has not been asked yet is taken by a stand-in, so that the error is one of the answers.

    Parameters
    ----------
    answers : mapping of str to str
    path : str
        Of the job file to be written: profiles of one's own lie beside it.
    """
    for text in answers.values():
        if len(text) > LONGEST_ANSWER:
            return f"expected at most {LONGEST_ANSWER} characters, got {len(text)}"
        if any("\ud800" <= letter <= "\udfff" for letter in text):
            return "expected text in UTF-8, got bytes that are none"
    tree = tree_of(answers)
    whole = stand_in(Method(answers.get("target.method") or Method.SUBCOOLING))
    for table, names in _COMPANIONS.items():
        if table in tree:
            whole[table] = {**dict.fromkeys(names, "stand-in"), **whole.get(table, {})}
    if "performance" in tree:
        whole["performance"] = dict(_COLUMN_STAND_IN)
    if tree.get("begins", _NEEDS_NO_REASON) != _NEEDS_NO_REASON:
        whole["begins_source"] = "stand-in"
    if "return_wet_bulb" in tree.get("target", {}):
        whole["target"]["return_wet_bulb_source"] = "stand-in"
    for key, text in answers.items():
        table, _, name = key.rpartition(".")
        if (
            table in whole
            and table != "site"
            and isinstance(whole[table], dict)
            and text in ("", TABLE_WORD)
        ):
            whole[table].pop(name, None)
    if "performance" in tree and _LAST_READING not in answers:
        whole["performance"]["air_split"] = "10 K"  # a column needs one reading at least
    for name, value in tree.items():
        if name == "site":  # altitude or barometer, never one beside the stand-in's
            whole[name] = value
        elif isinstance(value, dict):
            whole[name] = {**whole.get(name, {}), **value}
        elif name == "source":
            whole[name] = [{"url": "simulator:stand-in", **source} for source in value]
        else:
            whole[name] = value
    where = str(Path(path).parent / _WHERE)
    return error_of(TomlTable(where, "", whole)).removeprefix(f"{where}: ")


def toml_of_answers(answers: Answers, examples: Mapping[str, str]) -> str:
    """Return the answers as a commented job file.

    Parameters
    ----------
    answers : mapping of str to str
    examples : mapping of str to str
        By key: written as a comment where the answer is blank.
    """
    return "\n".join(_lines(answers, examples)) + "\n"


def _lines(answers: Answers, examples: Mapping[str, str]) -> Iterator[str]:
    tree = tree_of(answers)
    for table, comment in COMMENTS.items():
        keys = [key for key in answers if key.rpartition(".")[0] == table]
        keys = [key for key in keys if key not in (MORE, CHANGE) and table != OVERRIDES]
        if not keys:
            continue
        if table:
            yield ""
        yield f"# {comment}"
        if table:
            yield f"[{table}]"
        for key in keys:
            name = key.rpartition(".")[2]
            value = (tree.get(table, {}) if table else tree).get(name)
            if value is None:
                yield f"# {name} = {toml_value(_value(key, examples.get(key, '')))}"
            else:
                yield f"{name} = {toml_value(value)}"
        if not table and tree.get("by_hand"):
            yield "by_hand = true"
    yield from _overrides(tree.get(OVERRIDES, {}))
    for source in tree.get("source", []):
        yield from ("", f"# {SOURCE_COMMENT}", "[[source]]")
        yield from (f"{k} = {toml_value(v)}" for k, v in source.items() if k != "probe")
        for probe in source.get("probe", []):
            yield from ("", "[[source.probe]]")
            yield from (f"{name} = {toml_value(value)}" for name, value in probe.items())


def _overrides(said: Mapping[str, str]) -> Iterator[str]:
    """Yield the limits the job sets, each with what it takes the place of, and all it may set."""
    yield ""
    yield f"# {COMMENTS[OVERRIDES]}"
    yield f"[{OVERRIDES}]" if said else f"# [{OVERRIDES}]"
    if not said:
        yield '# source = "who sets them, and why"'
    for name, value in said.items():
        usual = USUAL.get(LimitKey(name)) if name != "source" else None
        instead = "" if usual is None else f"    # instead of {usual.as_written}; {usual.citation}"
        yield f"{name} = {toml_value(value)}{instead}"
    yield from (line for line in listed() if line.partition(" = ")[0].lstrip("# ") not in said)


def toml_value(value: object) -> str:
    """Return a text, a number or a list of texts as TOML 1.0 writes it, on one line."""
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    if isinstance(value, int | float):
        return str(value)
    return '"' + "".join(_escaped(letter) for letter in str(value)) + '"'


def _escaped(letter: str) -> str:
    if letter in '"\\':
        return "\\" + letter
    # Every control character, and the separators some editors take for the end of a line.
    if letter < " " or "\x7f" <= letter <= "\x9f" or letter in "\u2028\u2029":
        return f"\\u{ord(letter):04X}"
    return letter
