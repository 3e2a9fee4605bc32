"""The result of one drill, and the file it is kept in.

A JSON object with the fields of `Result`; every number is SI, its unit in the name; times are
session seconds. A file of another format is refused.
"""

from pathlib import Path
from typing import Final

import msgspec

from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.text import json_words, plain
from chargeassist.session.bounded import file_bytes
from chargeassist.session.whole_file import write_whole

FORMAT_NAME: Final = "chargeassist drill"
FORMAT: Final = f"{FORMAT_NAME} 1"
SUFFIX: Final = ".drill.json"
MOST_BYTES: Final = 4 * 2**20


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One reason for points lost.

    Attributes
    ----------
    rule : str
        A key of `chargeassist.trainer.score.RULES`.
    points : float
        Lost; never negative.
    t : float
        When [s].
    why : str
        In words, SI.
    """

    rule: str
    points: float
    t: float
    why: str


class Showed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A reading outside the range of any sound unit by more than its uncertainty.

    Attributes
    ----------
    reading : str
        A `chargeassist.guide.fault_terms.Feature`.
    sign : str
        "low" or "high".
    value_si, low_si, high_si : float
        It and the range, in the unit of the reading [K, A or kg].
    """

    reading: str
    sign: str
    value_si: float
    low_si: float
    high_si: float


class JudgedCall(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One call beside the truth and beside the tool's verdict at that moment.

    Attributes
    ----------
    t, kind, mass_kg, fix
        As called.
    reading_k : float or None
        The judged value on the screen [K].
    late_s : float or None
        After it had settled; negative before. None where it never settles.
    value_error_k : float or None
        Reading less what it settles at [K].
    tool_late_s : float or None
        After the tool's own "settled" in this stretch; None where it had not said so yet.
    tool_said : str
        Its instruction then: "wait", "add", ...
    tool_mass_kg : float or None
        Its amount.
    tool_cause, tool_subject : str
        Why, and of what, in the words of an `Advice`.
    done_kg : float or None
        In a recording: the next step that was done.
    showed : tuple of Showed
        Readings that spoke for a fault at that moment; none unless the tool had called it settled.
    """

    t: float
    kind: str
    mass_kg: float | None = None
    fix: str = ""
    reading_k: float | None = None
    late_s: float | None = None
    value_error_k: float | None = None
    tool_late_s: float | None = None
    tool_said: str = ""
    tool_mass_kg: float | None = None
    done_kg: float | None = None
    tool_cause: str = ""
    tool_subject: str = ""
    showed: tuple[Showed, ...] = ()


class LeftOut(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A call that came after the end of its drill; it did nothing and cost nothing.

    Attributes
    ----------
    t, kind, mass_kg, fix
        As written.
    """

    t: float
    kind: str
    mass_kg: float | None = None
    fix: str = ""


class Result(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One drill.

    Attributes
    ----------
    exercise, title : str
        Name of the scenario or recording, and what it shows.
    truth : str
        "plant" or "tool": what was scored against.
    seed : int or None
    trainee : str
        As given; empty for none.
    session_id, started_utc : str
        Of the session that was played.
    judged : str
        "subcooling" or "superheat".
    lasted_s : float
    ended_by : str
        "stop", "fix: ...", or "time".
    points : float
        Of 100.
    parts : tuple of Part
        Why not 100.
    calls : tuple of JudgedCall
    left_out : tuple of LeftOut
        Calls that were not counted, because the drill was over.
    faults : tuple of str
        That were there at any time; empty where only the tool's verdicts are known.
    """

    format: str = FORMAT
    exercise: str
    title: str
    truth: str
    seed: int | None = None
    trainee: str = ""
    session_id: str = ""
    started_utc: str = ""
    judged: str = "subcooling"
    lasted_s: float = 0.0
    ended_by: str = "time"
    points: float = 100.0
    parts: tuple[Part, ...] = ()
    calls: tuple[JudgedCall, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    faults: tuple[str, ...] = ()


def write_result(result: Result, path: Path) -> None:
    """Write a result, whole or not at all; a file that is there stays.

    Raises
    ------
    RecordError
        It cannot be written, or something already exists.
    """
    data = msgspec.json.format(msgspec.json.encode(result), indent=1) + b"\n"
    try:
        path.parent.mkdir(exist_ok=True)
        write_whole(path, data, new=True)
    except FileExistsError as error:
        raise RecordError(f"{path}: expected a new file; choose another name") from error
    except OSError as error:
        raise RecordError(f"{path}: cannot be written: {error.strerror}") from error


def read_result(path: Path) -> Result:
    """Return the result in a file.

    Raises
    ------
    RecordError
        It cannot be read, or is no result of a drill.
    """
    try:
        data = file_bytes(path, "the result of a drill", MOST_BYTES)
        result = msgspec.json.decode(data, type=Result)
    except ConfigError as error:
        raise RecordError(str(error)) from error
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise RecordError(f"{path}: expected the result of a drill: {json_words(error)}") from error
    if result.format != FORMAT:
        raise RecordError(f"{path}: expected {FORMAT!r}, got {plain(result.format, 40)!r}")
    return result
