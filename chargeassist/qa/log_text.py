"""Text of a logger's CSV file as rows of cells, numbers and times; pure, no files.

Files of loggers agree on nothing: encoding, separator, decimal mark, where the unit stands, how
time is written. What can be told from the file is told from it; what would be a guess is asked for.
"""

import csv
import datetime as dt
import io
import re
import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain

SEPARATORS: Final = (";", "\t", ",", "|")
ENCODINGS: Final = ("utf-8", "utf-16", "cp1252", "latin-1", "cp850", "shift_jis")

_MARKS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
_UNIT_FORMS = (
    re.compile(r"^(?P<name>.*?)\s*\((?P<unit>[^()]*(?:\([^()]*\))?)\)\s*$"),
    re.compile(r"^(?P<name>.*?)\s*\[(?P<unit>[^\[\]]*)\]\s*$"),
    re.compile(r"^(?P<name>.*?)\s*[,/]\s*(?P<unit>[^,/]+)$"),
    re.compile(r"^(?P<name>.*?)_(?P<unit>[^_]+)$"),
)
_DOT = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_CLOCK = re.compile(r"(?:(\d+):)?(\d+):(\d{1,2}(?:[.,]\d+)?)", re.ASCII)
NO_NUMBER: Final = frozenset(
    {"", "nan", "n/a", "na", "-", "--", "---", "null", "none", "err", "ol"}
)
"""What loggers write where there is no value, in small letters: no reading, and no fault."""

LONGEST_HEADER: Final = 300

_SECONDS: Final = {"s": 1.0, "sec": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the file: its header as written, and the unit that stands in it or under it."""

    header: str
    name: str
    unit: str


@dataclass(frozen=True, slots=True)
class LogTable:
    """A logger's file, cut into cells.

    Attributes
    ----------
    columns : tuple of Column
    rows : tuple of (int, list of str)
        Line number in the file, cells.
    decimal : str
        "." or ",".
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[int, list[str]], ...]
    decimal: str

    def find(self, wanted: str) -> int | None:
        """Return the place of the column called `wanted`: header, name without unit, or number."""
        key = wanted.strip().casefold()
        for place, column in enumerate(self.columns):
            if key in (column.header.casefold(), column.name.casefold()):
                return place
        if re.fullmatch(r"[1-9][0-9]{0,5}", key) and int(key) <= len(self.columns):
            return int(key) - 1
        return None


def decoded(data: bytes, encoding: str = "") -> str:
    """Return the text of a file: by its byte order mark, else UTF-8, else Windows-1252.

    Raises
    ------
    ConfigError
        If it is no text in `encoding`, or in none of these.
    """
    marked = next((name for mark, name in _MARKS if data.startswith(mark)), "")
    for name in [encoding] if encoding else [marked] if marked else ["utf-8", "cp1252"]:
        try:
            text = data.decode("utf-8-sig" if name == "utf-8" else name)
        except (UnicodeDecodeError, LookupError):
            continue
        if "\0" not in text:
            return text
    raise ConfigError(
        f"expected text in {encoding or 'UTF-8, UTF-16 with its mark or Windows-1252'}; "
        f'say which it is: encoding = "..." (one of {", ".join(ENCODINGS)})'
    )


def read_table(text: str, separator: str = "", decimal: str = "") -> LogTable:
    """Return the table in `text`: comments first, one header, perhaps a line of units, rows.

    Raises
    ------
    ConfigError
        If there is no header with at least two columns.
    """
    lines = text.splitlines()
    first = next((n for n, line in enumerate(lines) if _is_content(line)), len(lines))
    if first == len(lines):
        raise ConfigError("expected a header line and rows, found nothing")
    mark = separator or _separator(lines[first], lines[first + 1 : first + 20])
    kept = "\n".join(line if _is_content(line) else "" for line in lines[first:])
    cells = csv.reader(io.StringIO(kept), delimiter=mark, skipinitialspace=True)
    try:
        numbered = [(first + cells.line_num, [c.strip() for c in row]) for row in cells if row]
    except csv.Error as exc:
        raise ConfigError(
            f"line {first + cells.line_num}: cannot be cut into cells ({exc}); "
            "is a quotation mark left open?"
        ) from exc
    header = numbered[0][1] if numbered else []
    if len(header) < 2:
        raise ConfigError(
            f"line {first + 1}: expected at least two columns, got {plain(lines[first], 60)!r}; "
            'say what stands between them: separator = ";"'
        )
    if any(len(text) > LONGEST_HEADER for text in header):
        raise ConfigError(f"line {first + 1}: expected headers of up to {LONGEST_HEADER} letters")
    rows = numbered[1:]
    units: list[str] = []
    if rows and not any(map(_has_digit, rows[0][1])):
        units = [text.strip("()[] ") for text in rows[0][1]]
        rows = rows[1:]
    columns = tuple(
        _column(text, units[place] if place < len(units) else "")
        for place, text in enumerate(header)
    )
    return LogTable(columns, tuple(rows), decimal or _decimal(mark, rows))


def number(text: str, decimal: str) -> float:
    """Return the number in `text`; raises ValueError, also for signs between thousands."""
    form = _COMMA if decimal == "," else _DOT
    if len(text) > LONGEST_HEADER or not form.fullmatch(text):
        raise ValueError(f"expected a number with decimal {decimal!r}, got {plain(text, 40)!r}")
    return float(text.replace(",", "."))


def moment(text: str, form: str, zone: dt.tzinfo | None, fold: int = 0) -> dt.datetime:
    """Return a date and time with its zone.

    Parameters
    ----------
    text : str
    form : str
        Of ``strptime``; ISO 8601 when empty.
    zone : tzinfo or None
        Of times that carry no offset.
    fold : int
        0 or 1: which of the two a time is that stands twice in `zone`, as clocks are put back.

    Raises
    ------
    ValueError
        If it cannot be read, or has no offset and no zone is given.
    OverflowError
        At the ends of the calendar.
    """
    # Without an offset in the text the zone is set below, or the time refused.
    found = dt.datetime.strptime(text, form) if form else dt.datetime.fromisoformat(text)  # noqa: DTZ007
    if found.tzinfo is None:
        if zone is None:
            raise ValueError(
                f"{plain(text, 40)!r} has no offset from UTC; say where the log was made: "
                'zone = "+02:00" or zone = "Europe/Paris"'
            )
        found = found.replace(tzinfo=zone, fold=fold)
    return found.astimezone(dt.UTC)


def check_form(form: str) -> None:
    """Refuse a form no time can be read by; raises ValueError.

    The usual mistake is "%m" twice, for months and for minutes, which are "%M".
    """
    sample = dt.datetime(2000, 1, 31, 12, tzinfo=dt.UTC)
    try:
        dt.datetime.strptime(sample.strftime(form), form)  # noqa: DTZ007 - only whether it can
    except re.error as exc:
        raise ValueError(f"a part of it stands twice: {exc}") from exc


def has_day(form: str) -> bool:
    """Return whether times of the ``strptime`` form `form` say of which day they are."""
    one = dt.datetime(2000, 1, 31, 12, tzinfo=dt.UTC)
    other = dt.datetime(2011, 11, 2, 12, tzinfo=dt.UTC)
    return one.strftime(form) != other.strftime(form)


def elapsed_s(text: str, unit: str, decimal: str) -> float:
    """Return seconds since the start: "12.5" in `unit`, or "1:02:03.5"; raises ValueError."""
    match = _CLOCK.fullmatch(text) if len(text) <= LONGEST_HEADER else None
    if match:
        hours, minutes, seconds = match[1] or "0", match[2], match[3].replace(",", ".")
        return 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds)
    scale = _SECONDS.get(unit.strip().casefold() or "s")
    if scale is None:
        known = ", ".join(_SECONDS)
        raise ValueError(f"expected elapsed time in {known}, got the unit {plain(unit, 20)!r}")
    return number(text, decimal) * scale


def time_of_day(text: str, form: str, decimal: str) -> dt.time:
    """Return a time of the day: "8:15:03.5", or as `form` of ``strptime`` has it.

    Raises
    ------
    ValueError
        If it is none.
    """
    if form:
        return dt.datetime.strptime(text, form).time()  # noqa: DTZ007 - the zone is not of the text
    seconds = elapsed_s(text, "s", decimal) if ":" in text else -1.0
    if not 0.0 <= seconds < 86_400.0:
        raise ValueError(f"expected a time of the day, got {plain(text, 40)!r}")
    return (dt.datetime(2000, 1, 1, tzinfo=dt.UTC) + dt.timedelta(seconds=seconds)).time()


def zone_of(text: str) -> dt.tzinfo | None:
    """Return the zone spelled "+02:00", "Z" or "Europe/Paris"; None for "".

    Raises
    ------
    ConfigError
        If there is none of that name.
    """
    if not text:
        return None
    try:
        if re.fullmatch(r"Z|[+-]\d{2}:?\d{2}", text):
            return dt.datetime.fromisoformat(f"2000-01-01T00:00:00{text}").tzinfo
        return zoneinfo.ZoneInfo(text)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as exc:
        raise ConfigError(
            'zone: expected "+02:00", "Z" or a name such as "Europe/Paris", '
            f"got {plain(text, 40)!r}"
        ) from exc


def _is_content(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith(("#", "//"))


def _has_digit(text: str) -> bool:
    return any(c.isdigit() for c in text) and _DOT.match(text.replace(",", ".")) is not None


def _separator(header: str, rows: Sequence[str]) -> str:
    """Return the mark that cuts header and rows into the same number of cells, the most of them."""
    best, most = ",", 0
    for mark in SEPARATORS:
        counts = {line.count(mark) for line in rows if _is_content(line)}
        here = header.count(mark)
        if here > most and (not counts or counts == {here} or mark != ","):
            best, most = mark, here
    return best


def _decimal(mark: str, rows: Sequence[tuple[int, list[str]]]) -> str:
    cells = [cell for _, row in rows[:200] for cell in row]
    commas = sum("," in cell and _COMMA.fullmatch(cell) is not None for cell in cells)
    dots = sum("." in cell and _DOT.fullmatch(cell) is not None for cell in cells)
    return "," if mark != "," and commas > dots else "."


def _column(header: str, unit: str) -> Column:
    if unit:
        return Column(header, header, unit)
    for form in _UNIT_FORMS:
        match = form.match(header)
        if match and match["name"]:
            return Column(header, match["name"].strip(), match["unit"].strip())
    return Column(header, header, "")
