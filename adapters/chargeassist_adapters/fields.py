"""What a line or a message holds before any probe is known: its form, and each number in it. Pure.

Used by ``listen`` of the adapters. The parsers are those of the sources (``lines``, ``payloads``,
``senml``); what is found here as `select` can be given to a probe as it stands. One line may fit
several forms: an object or list is JSON (a list of records with names SenML), else a bare number
comes before key=value, that before columns.
"""

from collections.abc import Iterator

import msgspec

from chargeassist.model.errors import UnitError
from chargeassist.model.sent_number import NO_NUMBER_FROM
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, find_unit
from chargeassist.session.listening import Field, Form, Heard
from chargeassist_adapters.conversion import Fault, bare, number_and_rest
from chargeassist_adapters.lines import cells_of, key_values, passed_over, text_of
from chargeassist_adapters.payloads import decode_json, number_of, too_large_or_deep
from chargeassist_adapters.senml import SPELLED_HERE, PackError, Resolved, resolve

MAX_FIELDS = 200
"""No more fields of one line or message are told."""

MAX_SHOWN = 40
_DELIMITERS = ((";", ";"), ("\t", "tab"), (",", ","), (" ", "space"))


def decode(
    raw: bytes, formats: tuple[str, ...], *, topic: str = "", retained: bool = False
) -> Heard | Fault:
    """Return the form of `raw` and its fields, or why it cannot be a line or message at all.

    Parameters
    ----------
    raw : bytes
    formats : tuple of str
        Those the adapter reads.
    topic : str
    retained : bool
    """
    content = bare(raw)
    if content.lstrip()[:1] in (b"{", b"["):
        form, fields = _json(content, formats)
    else:
        text = text_of(raw)
        if isinstance(text, Fault):
            return text
        form, fields = _line(text, formats)
    return Heard(raw, topic, form, fields[:MAX_FIELDS], retained)


_Read = tuple[Form | None, tuple[Field, ...]]
_NOTHING: _Read = (None, ())


def _line(text: str, formats: tuple[str, ...]) -> _Read:
    if passed_over(text):
        return _NOTHING
    if "number" in formats:
        alone = _field("", text)
        if alone.number is not None:
            return Form("number"), (alone,)
    if "keyvalue" in formats:
        pairs = key_values(text)
        fields = tuple(_field(k, found[0]) for k, found in pairs.items() if len(found) == 1)
        # "12:30:01" is a time of day, no key.
        if any(f.number is not None and f.select[0].isalpha() for f in fields):
            return Form("keyvalue"), fields
    if "csv" in formats:
        for letter, name in _DELIMITERS:
            if letter in text:
                cells = cells_of(text, letter)
                fields = tuple(
                    _field(str(i), cell, decimal_comma=letter == ";")
                    for i, cell in enumerate(cells[:MAX_FIELDS], start=1)
                )
                if any(field.number is not None for field in fields):
                    options = () if name == "," else (("delimiter", name),)
                    return Form("csv", options), fields
    return _NOTHING


def _field(select: str, text: str, *, decimal_comma: bool = False) -> Field:
    shown = plain(text.strip(), MAX_SHOWN)
    found = number_and_rest(text.strip(), decimal_comma=decimal_comma)
    if found is None or (found[1] and not _is_unit(found[1])):
        return Field(select, shown, None)
    number, unit = found
    return Field(select, shown, number if abs(number) < NO_NUMBER_FROM else None, unit)


def _is_unit(text: str) -> bool:
    for quantity in Quantity:
        try:
            find_unit(text, quantity)
        except UnitError:
            continue
        return True
    return False


def _json(raw: bytes, formats: tuple[str, ...]) -> _Read:
    if too_large_or_deep(raw):
        return _NOTHING
    if "senml" in formats:
        records = _records(raw)
        if records:
            return Form("senml"), tuple(
                Field(
                    record.name,
                    f"{record.value:.10g} {record.unit}".strip(),
                    record.value,
                    SPELLED_HERE.get(record.unit, record.unit),
                )
                for record in {r.name: r for r in records}.values()
                if record.value is not None
            )
    if "json" not in formats:
        return _NOTHING
    try:
        tree = decode_json(raw)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return _NOTHING
    return Form("json"), tuple(_leaves(tree))


def _records(raw: bytes) -> tuple[Resolved, ...]:
    """Return the records of a SenML pack; none where it is no pack, or a list without names."""
    try:
        records = tuple(resolve(raw))
    except PackError:
        return ()
    return records if any(r.name and r.value is not None for r in records) else ()


def _leaves(tree: object) -> Iterator[Field]:
    """Yield the numbers of a JSON value with their paths, in the order in which they stand."""
    waiting: list[tuple[str, object]] = [("", tree)]  # the next one last
    told = 0
    while waiting and told < MAX_FIELDS:
        path, value = waiting.pop()
        inside: list[tuple[str, object]] = []
        if isinstance(value, dict):
            inside = [(f"{path}{_step(key, path)}", v) for key, v in value.items() if _sayable(key)]
        elif isinstance(value, list):
            inside = [(f"{path}[{i}]", v) for i, v in enumerate(value[:MAX_FIELDS])]
        elif path and (value is None or number_of(value) is not None):
            told += 1
            shown = "null" if value is None else f"{value}"
            yield Field(path, plain(shown, MAX_SHOWN), number_of(value))
        waiting.extend(reversed(inside))


def _step(key: str, path: str) -> str:
    if any(letter in '.[]"' for letter in key) or (not path and key.startswith("$")):
        return f'["{key}"]'
    return f".{key}" if path else key


def _sayable(key: object) -> bool:
    """Return whether a path can name this key."""
    return isinstance(key, str) and key != "" and '"' not in key
