r"""JSON objects, and the choice of a parser by the name of a format. Pure.

Wire format ``json``, one example: ``{"line": {"p": 248.1, "t": [35.2, 35.3]}, "s": 1.2}``.
`select` is the path of a number: ``line.p``, ``line.t[0]``; a key with dots or brackets is written
``["key"]``. Numbers are JSON numbers in the declared unit, any size below 1e20; a number in
quotes is refused, because a device that quotes its numbers also quotes its error words. Option
``time`` is the path of the device's own time in seconds.

A byte-order mark before it and zero bytes after it are passed over.

Junk: NaN, Infinity, 1e400, truncated text, deep nesting (more than 32), more than 64 KiB, a missing
path, a null and a text where a number belongs are faults; other probes are still read.
"""

import json
import math
import re
from collections.abc import Mapping, Sequence

import msgspec

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec
from chargeassist.model.sent_number import NO_NUMBER_FROM
from chargeassist.model.text import json_words, plain
from chargeassist_adapters.conversion import Fault, Found, PayloadParser, ProbeValue, bare
from chargeassist_adapters.lines import CsvParser, KeyValueParser, NumberParser
from chargeassist_adapters.senml import SenmlParser

MAX_PAYLOAD_BYTES = 64 * 1024
MAX_DEPTH = 32

Steps = tuple[str | int, ...]

_STEP = re.compile(r'\.?([^.\[\]"]+)|\[([0-9]{1,6})\]|\["([^"]+)"\]')
# A text without an end takes all that follows, so that none is looked for again in it.
_TEXT_OR_NO_NUMBER = re.compile(
    r'("(?:[^"\\]|\\.)*+(?:"|\\?$))|(?<![\w.+-])[+-]?(?:nan|inf(?:inity)?)(?![\w.])',
    re.DOTALL | re.IGNORECASE | re.ASCII,
)
_QUOTE, _BACKSLASH = b'"\\'


def make_parser(
    payload_format: str, probes: Sequence[ProbeSpec], options: Mapping[str, str]
) -> PayloadParser:
    """Return the parser for `payload_format`.

    Parameters
    ----------
    payload_format : str
        "number", "csv", "keyvalue", "json" or "senml".
    probes : sequence of ProbeSpec
        Those that read the same lines or topic.
    options : Mapping[str, str]
        ``delimiter`` and ``time`` are looked at.

    Raises
    ------
    ConfigError
        Unknown format, a `select` that does not fit it, an unknown unit.
    """
    time = options.get("time", "")
    if payload_format == "csv":
        return CsvParser(probes, options.get("delimiter", ","), time)
    if "delimiter" in options:
        raise ConfigError(
            f"option 'delimiter' has no meaning with format {plain(payload_format)!r}; "
            "expected format csv"
        )
    if payload_format == "keyvalue":
        return KeyValueParser(probes, time)
    if payload_format == "json":
        return JsonParser(probes, time)
    if time:
        raise ConfigError(f"option 'time' has no meaning with format {plain(payload_format)!r}")
    if payload_format == "number":
        return NumberParser(probes)
    if payload_format == "senml":
        return SenmlParser(probes)
    raise ConfigError(
        f"format: expected number, csv, keyvalue, json or senml, got {plain(payload_format)!r}"
    )


class JsonParser:
    """Numbers in a JSON value, picked by path."""

    def __init__(self, probes: Sequence[ProbeSpec], time: str = "") -> None:
        self._paths = [
            (json_path(p.select, p.channel.name), p.select, ProbeValue(p)) for p in probes
        ]
        self._time = json_path(time, "time") if time else None

    def parse(self, raw: bytes, now: float) -> tuple[Found, ...]:
        """Return one reading or fault per probe, or the one fault of the whole."""
        del now
        problem = too_large_or_deep(raw)
        if problem:
            return (Fault(problem, raw),)
        try:
            tree = decode_json(bare(raw))
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as exc:
            return (Fault(f"expected JSON: {plain(json_words(exc), 80)}", raw),)
        found: list[Found] = []
        stamp = None
        if self._time is not None:
            number = _number(_at(tree, self._time))
            if isinstance(number, float) and math.isfinite(number):
                stamp = number
            else:
                found.append(Fault("device time: expected a number of seconds", raw))
        for path, select, value in self._paths:
            number = _number(_at(tree, path))
            if isinstance(number, str):
                found.append(value.fault(f"{number} at {plain(select, 60)!r}", raw))
            else:
                found.append(value.from_number(number, raw, device_time=stamp))
        return tuple(found)


def decode_json(raw: bytes) -> object:
    """Return a JSON value; a number that is none (NaN, -inf, 1e400) is None or infinite in it.

    Raises
    ------
    msgspec.DecodeError, UnicodeDecodeError, RecursionError
    """
    try:
        return msgspec.json.decode(raw)
    except (msgspec.DecodeError, UnicodeDecodeError):
        # JSON has no word for it (RFC 8259, section 6), so that one sensor would cost all others.
        text = _TEXT_OR_NO_NUMBER.sub(lambda m: m[1] or "null", raw.decode())
        try:
            return json.loads(text)
        except ValueError:
            pass
        raise


def json_path(select: str, name: str) -> Steps:
    """Return the steps of a path such as ``line.t[0]``.

    Raises
    ------
    ConfigError
        If it is empty or not such a path.
    """
    text = select.removeprefix("$.") if select.startswith("$.") else select.removeprefix("$")
    steps: list[str | int] = []
    at = 0
    while at < len(text):
        match = _STEP.match(text, at)
        if match is None or (at == 0 and text[0] == "."):
            break
        word, index, quoted = match.groups()
        steps.append(int(index) if index is not None else word or quoted)
        at = match.end()
    if not steps or at < len(text):
        raise ConfigError(
            f"{plain(name)}: format 'json' needs select = a path like line.t[0], "
            f"got {plain(select)!r}"
        )
    return tuple(steps)


def too_large_or_deep(raw: bytes) -> str:
    """Return why `raw` is not decoded at all, or nothing."""
    if len(raw) > MAX_PAYLOAD_BYTES:
        return f"payload of {len(raw)} bytes passed over (more than {MAX_PAYLOAD_BYTES})"
    if raw.count(b"[") + raw.count(b"{") <= MAX_DEPTH:
        return ""
    # Byte by byte: a regular expression that passes over texts takes quadratic time on '"\\"\\"\\'.
    depth, in_text, escaped = 0, False, False
    for byte in raw:
        if in_text:
            in_text = escaped or byte != _QUOTE
            escaped = byte == _BACKSLASH and not escaped
        elif byte == _QUOTE:
            in_text = True
        elif byte in b"[{":
            depth += 1
            if depth > MAX_DEPTH:
                return f"nested deeper than {MAX_DEPTH}"
        elif byte in b"]}":
            depth -= 1
    return ""


_MISSING = object()


def _at(tree: object, path: Steps) -> object:
    for step in path:
        if isinstance(step, int):
            if not isinstance(tree, list) or step >= len(tree):
                return _MISSING
            tree = tree[step]
        elif not isinstance(tree, dict) or step not in tree:
            return _MISSING
        else:
            tree = tree[step]
    return tree


def _number(content: object) -> float | str:
    """Return the number, or in words why it is none."""
    if content is _MISSING:
        return "nothing found"
    if content is None:
        return "no reading (null)"
    if isinstance(content, bool) or not isinstance(content, int | float):
        kind = {bool: "true or false", str: "a text", list: "a list", dict: "an object"}
        return f"expected a number, got {kind.get(type(content), 'something else')}"
    try:
        return float(content)
    except OverflowError:
        return "no reading (number too large)"


def number_of(content: object) -> float | None:
    """Return the number a JSON value is, or None where a probe could not read it."""
    number = _number(content)
    if isinstance(number, str) or not abs(number) < NO_NUMBER_FROM:
        return None
    return number
