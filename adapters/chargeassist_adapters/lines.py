r"""ASCII lines: cut from a byte stream, read as a number, as columns or as key=value. Pure.

Wire formats, one example line each; lines end in CR, LF or both, blank lines and lines that begin
with "#" are passed over:

``number``
    ``248.1`` or ``248.1 psig``: one decimal number, and the declared unit if any unit at all.
    Range: any number smaller than 1e20 in size. One probe.
``csv``
    ``12.500,248.1,35.20``: `select` is the column, counted from 1. Delimiter "," unless the option
    ``delimiter`` says ";", "tab" or "space". A decimal comma (``248,1;35,20``) is read only
    with ";". With "space" a sign that stands apart (``N  -  0.456 kg``) belongs to its number.
    Option ``time`` is the column of the device's own time in seconds.
``keyvalue``
    ``p=248.1 t=35.20 C`` or ``p: 248.1, t: 35.20``: `select` is the key, spelled exactly. Pairs are
    parted by spaces, "," or ";". Option ``time`` is the key of the device's own time in seconds.

A degree sign before C or F, in UTF-8 or Latin-1, is passed over: "35.2 °C" is read as "35.2 C", and
so is "35.2 ℃"; "µmHg" is read as "umHg".

Junk: what else is not ASCII, a missing column or key, a key that comes twice, a text where a number
belongs and a wrong unit are faults that name what was missed; the other probes of the same line
are still read. A line longer than 4096 bytes is a fault and is passed over to its end; it is told
again every 64 KiB, for a stream without line ends at all is as a rule a wrong baud rate.
"""

import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec
from chargeassist.model.text import plain
from chargeassist_adapters.conversion import READS_COMMA, Fault, Found, ProbeValue, time_from_text

MAX_LINE_BYTES = 4096
TOLD_AGAIN = 16
"""How many longest lines may pass without an end before that is told again."""

DELIMITERS = {",": ",", ";": ";", "tab": "\t", "space": " "}

# UTF-8, Latin-1, and of the one letter for degrees Celsius GB 2312; U+00BA is no degree sign, but
# stands for one where a keyboard has it.
_SPELLED = (
    (re.compile(rb"(?:\xc2[\xb0\xba]|[\xb0\xba])(?= ?[CF])"), b""),
    (re.compile(rb"\xe2\x84\x83|\xa1\xe6"), b"C"),
    (re.compile(rb"\xe2\x84\x89"), b"F"),
    (re.compile(rb"(?:\xc2\xb5|\xce\xbc|\xb5)(?=mHg)"), b"u"),
)
_SIGN_APART = re.compile(r"(?<!\S)([+-])\s+(?=\.?\d)", re.ASCII)

_OTHER_BYTES, _BAUD = "expected ASCII text, got other bytes", " (wrong baud rate?)"

Place = TypeVar("Place", int, str)


class LineSplitter:
    """Cuts a stream of chunks into lines, in bounded memory.

    The first line is passed over without a word unless `whole_start` is set: a port is usually
    opened in the middle of a line, and half a number looks like a number.

    Parameters
    ----------
    whole_start : bool
        Whether the first byte fed begins a line.
    limit : int
        Longest line [bytes].
    """

    def __init__(self, *, whole_start: bool = False, limit: int = MAX_LINE_BYTES) -> None:
        self._limit = limit
        self._begun = bytearray()
        self._passing_over = not whole_start
        self._passed = 0

    @property
    def held(self) -> int:
        """Bytes kept of a line whose end has not come."""
        return len(self._begun)

    def feed(self, chunk: bytes) -> list[bytes | Fault]:
        """Return the lines `chunk` completes, without their ends, and faults for overlong ones."""
        out: list[bytes | Fault] = []
        *ended, tail = chunk.replace(b"\r", b"\n").split(b"\n")
        for part in ended:
            self._extend(part, out)
            if not self._passing_over and self._begun.strip():
                out.append(bytes(self._begun))
            self._passing_over = False
            self._passed = 0
            self._begun.clear()
        self._extend(tail, out)
        return out

    def _extend(self, part: bytes, out: list[bytes | Fault]) -> None:
        if self._passing_over:
            self._pass_over(part, out)
            return
        room = self._limit - len(self._begun)
        self._begun += part[:room]
        if len(part) > room:
            out.append(
                Fault(f"line longer than {self._limit} bytes passed over", bytes(self._begun))
            )
            self._begun.clear()
            self._passing_over = True
            self._passed = self._limit
            self._pass_over(part[room:], out)

    def _pass_over(self, part: bytes, out: list[bytes | Fault]) -> None:
        """Count what is passed over; tell when a line would long have had an end."""
        before, self._passed = self._passed, self._passed + len(part)
        again = TOLD_AGAIN * self._limit
        places = (self._limit, *range((before // again + 1) * again, self._passed + 1, again))
        count = sum(before < place <= self._passed for place in places)
        out += [
            Fault(f"no line end in {self._limit} bytes: right baud rate and format?", b"")
        ] * count


class NumberParser:
    """One bare number a line or message."""

    def __init__(self, probes: Sequence[ProbeSpec]) -> None:
        if len(probes) != 1:
            raise ConfigError(
                f"format 'number' carries one value, but {len(probes)} probes read it; "
                "use csv, keyvalue or json, or one source or topic per probe"
            )
        if probes[0].select:
            raise ConfigError(
                f"format 'number' has nothing to select from, but select is "
                f"{plain(probes[0].select)!r}; did you mean csv, keyvalue or json?"
            )
        self._value = ProbeValue(probes[0])

    def parse(self, raw: bytes, now: float) -> tuple[Found, ...]:
        """Return the reading in `raw`, or why there is none."""
        del now
        text = text_of(raw)
        if isinstance(text, Fault):
            return (text,)
        return () if passed_over(text) else (self._value.from_text(text, raw),)


class CsvParser:
    """Columns, picked by number."""

    def __init__(self, probes: Sequence[ProbeSpec], delimiter: str = ",", time: str = "") -> None:
        if delimiter not in DELIMITERS:
            raise ConfigError(
                f"delimiter: expected one of {', '.join(DELIMITERS)}, got {plain(delimiter)!r}"
            )
        self._delimiter = DELIMITERS[delimiter]
        self._columns = [(_column(p.select, p.channel.name), ProbeValue(p)) for p in probes]
        self._time = _column(time, "time") if time else None

    def parse(self, raw: bytes, now: float) -> tuple[Found, ...]:
        """Return one reading or fault per probe."""
        del now
        text = text_of(raw)
        if isinstance(text, Fault):
            return (text,)
        if passed_over(text):
            return ()
        cells = cells_of(text, self._delimiter)

        def cell(column: int) -> str | None:
            return cells[column - 1] if column <= len(cells) else None

        comma = self._delimiter == ";"
        stamp, found = _device_time(self._time, cell, raw, decimal_comma=comma)
        for column, value in self._columns:
            content = cell(column)
            if content is None:
                reason = f"column {column} is missing (the line has {len(cells)})"
                found.append(value.fault(reason, raw))
            else:
                found.append(value.from_text(content, raw, device_time=stamp, decimal_comma=comma))
        return tuple(found)


class KeyValueParser:
    """Pairs, picked by key."""

    def __init__(self, probes: Sequence[ProbeSpec], time: str = "") -> None:
        self._keys = [(_key(p.select, p.channel.name), ProbeValue(p)) for p in probes]
        self._time = _key(time, "time") if time else None

    def parse(self, raw: bytes, now: float) -> tuple[Found, ...]:
        """Return one reading or fault per probe."""
        del now
        text = text_of(raw)
        if isinstance(text, Fault):
            return (text,)
        if passed_over(text):
            return ()
        pairs = key_values(text)

        def single(key: str) -> str | None:
            values = pairs.get(key, [])
            return values[0] if len(values) == 1 else None

        stamp, found = _device_time(self._time, single, raw)
        for key, value in self._keys:
            content = single(key)
            if content is not None:
                found.append(value.from_text(content, raw, device_time=stamp))
            elif key in pairs:
                found.append(value.fault(f"key {key!r} comes {len(pairs[key])} times", raw))
            else:
                there = plain(", ".join(pairs), 60) or "none"
                found.append(value.fault(f"key {key!r} is missing (keys: {there})", raw))
        return tuple(found)


def cells_of(text: str, delimiter: str) -> list[str]:
    """Return the columns of a line; `delimiter` is one character."""
    if delimiter == " ":
        # What a scale says of what was taken out must not read as if it were still there.
        return _SIGN_APART.sub(r"\1", text).split()
    try:
        rows = list(csv.reader([text], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return text.split(delimiter)
    return rows[0] if rows else []


def key_values(text: str) -> dict[str, list[str]]:
    """Return the values of each key in "p=248.1 psig, t: 35.2 C", in one pass over `text`.

    What stands before a "=" or ":" ends in the next key; the rest of it is the value of the key
    before. A value keeps every word up to there, so that nothing unread is passed over.
    """
    pairs: dict[str, list[str]] = {}
    pieces = re.split(r"[=:]", text)
    key = _last_word(pieces[0])[1]
    for i, piece in enumerate(pieces[1:], start=1):
        value, following = (piece, "") if i == len(pieces) - 1 else _last_word(piece)
        if key:
            pairs.setdefault(key, []).append(value.strip(" \t,;"))
        key = following
    return pairs


def _last_word(piece: str) -> tuple[str, str]:
    piece = piece.rstrip()
    cut = max(piece.rfind(c) for c in " \t,;") + 1
    return piece[:cut], piece[cut:]


def _device_time(
    place: Place | None,
    content: Callable[[Place], str | None],
    raw: bytes,
    *,
    decimal_comma: bool = False,
) -> tuple[float | None, list[Found]]:
    """Return the device's time and a list that begins with what is wrong with it."""
    if place is None:
        return None, []
    stamp = time_from_text(content(place) or "", decimal_comma=decimal_comma)
    if stamp is not None:
        return stamp, []
    return None, [Fault(f"device time: expected seconds at {place!r}", raw)]


def text_of(raw: bytes) -> str | Fault:
    """Return a line as text, or why it is none; tabs stay, for before one a column may be empty."""
    try:
        text = _in_ascii(raw).decode("ascii").strip(" \r\n")
    except UnicodeDecodeError:
        return Fault(f"{_OTHER_BYTES}{_BAUD}", raw)
    if not text.isprintable() and not text.replace("\t", "").isprintable():
        return Fault("expected printable text, got control characters", raw)
    return text


def _in_ascii(raw: bytes) -> bytes:
    if not raw.isascii():
        for sign, spelled in _SPELLED:
            raw = sign.sub(spelled, raw)
    return raw


def of_message(fault: Fault) -> Fault:
    """Return `fault` as it is told of a whole message, which has neither baud rate nor columns."""
    if fault.reason == f"{_OTHER_BYTES}{_BAUD}":
        return replace(fault, reason=f"{_OTHER_BYTES} (another format than number?)")
    return replace(fault, reason=fault.reason.removesuffix(READS_COMMA))


def passed_over(text: str) -> bool:
    """Return whether a line says nothing: blank, or begun with "#"."""
    return not text.strip() or text.lstrip().startswith("#")


def _column(select: str, name: str) -> int:
    if not re.fullmatch(r"0{0,3}[1-9][0-9]{0,2}|1000", select):
        raise ConfigError(
            f"{plain(name)}: format 'csv' needs select = a column counted from 1, "
            f"got {plain(select)!r}"
        )
    return int(select)


def _key(select: str, name: str) -> str:
    if not select or re.search(r"[\s=:,;]", select):
        raise ConfigError(
            f"{plain(name)}: format 'keyvalue' needs select = a key without spaces and "
            f"'=:,;', got {plain(select)!r}"
        )
    return select
