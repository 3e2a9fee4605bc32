"""Events and jobs as canonical JSON text, and back.

An event is kept as its kind, its time and a body: a JSON object of the other fields with sorted
keys, no spaces and shortest round-trip numbers. The same event always gives the same text, so a
hash of the text is a hash of the event. The reader is strict: it refuses an unknown kind, an
unknown or missing field, a wrong type and a number that is not finite, naming what was expected.
"""

import dataclasses
import math
from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

from chargeassist.model.channels import Quality
from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    Advice,
    BadInput,
    ChannelDeclared,
    CheckJudged,
    ClockSet,
    Event,
    FaultJudged,
    Gap,
    Mark,
    ProgramHeld,
    Reading,
    SessionResumed,
    SessionStarted,
    SessionStopped,
    Settled,
    SourceBack,
    SourceLost,
    StageChanged,
    StepRecorded,
    Unsettled,
)
from chargeassist.model.job import Job
from chargeassist.model.text import json_words, plain

KINDS: Mapping[str, type[Event]] = {
    "session_started": SessionStarted,
    "channel_declared": ChannelDeclared,
    "reading": Reading,
    "mark": Mark,
    "source_lost": SourceLost,
    "source_back": SourceBack,
    "bad_input": BadInput,
    "gap": Gap,
    "session_resumed": SessionResumed,
    "clock_set": ClockSet,
    "program_held": ProgramHeld,
    "session_stopped": SessionStopped,
    "settled": Settled,
    "unsettled": Unsettled,
    "step_recorded": StepRecorded,
    "advice": Advice,
    "stage_changed": StageChanged,
    "check_judged": CheckJudged,
    "fault_judged": FaultJudged,
}
"""Every kind as written in a record. Written out, so that renaming a class keeps old files."""

MAX_BODY_CHARS = 131_000
"""Longest body; a spreadsheet or CSV reader with the usual 128 KiB field limit still takes it."""

_KIND_OF: Mapping[type[Event], str] = {cls: kind for kind, cls in KINDS.items()}
_ENCODER = msgspec.json.Encoder(order="sorted")
_T = TypeVar("_T")


def kind_of(event: Event) -> str:
    """Return the kind `event` is recorded under.

    Raises
    ------
    RecordError
        If it is of no known event class.
    """
    kind = _KIND_OF.get(type(event))
    if kind is None:
        raise RecordError(f"expected an event to record, got {type(event).__name__}")
    return kind


def encode_event(event: Event) -> tuple[str, str]:
    """Return (kind, body) of `event`; the body holds every field but ``t``.

    Raises
    ------
    RecordError
        If a field has a wrong type, is not finite, or is text that is not Unicode: what could not
        be read back is not written.
    """
    kind = kind_of(event)
    finite_time(event.t, kind)
    return kind, _canonical(event, f"event {kind!r}", without_t=True)


def decode_event(kind: str, t: float, body: str) -> Event:
    """Return the event recorded as `kind`, `t` [s] and `body`.

    Raises
    ------
    RecordError
        Saying what was expected and what came.
    """
    cls = KINDS.get(kind)
    if cls is None:
        raise RecordError(
            f"unknown kind of event {plain(kind, 40)!r}; known ones are {', '.join(KINDS)}"
        )
    fields = _object(body, f"event {kind!r}")
    if "t" in fields:
        raise RecordError(f"event {kind!r}: the time stands beside the body, not in it")
    fields["t"] = finite_time(t, kind)
    event: Event = _typed(fields, cls, f"event {kind!r}")
    return event


def job_to_json(job: Job) -> str:
    """Return `job` as canonical JSON.

    Raises
    ------
    RecordError
        If a field has a wrong type or is not finite.
    """
    return _canonical(job, "job", without_t=False)


def job_from_json(text: str) -> Job:
    """Return the job written by `job_to_json`.

    Raises
    ------
    RecordError
        Saying which field was expected to be what, and what came.
    """
    return _typed(_object(text, "job"), Job, "job")


def finite_time(t: float, what: str) -> float:
    """Return `t` [s] as a float with -0.0 made 0.0, or raise RecordError if it is not finite."""
    return finite(t, f"event {what!r}: time")


def finite(value: float, what: str) -> float:
    """Return `value` as a float with -0.0 made 0.0, which is how SQLite keeps it.

    Raises
    ------
    RecordError
        If it is no number or not finite.
    """
    try:
        number = float(value)
    except (TypeError, ValueError) as exc:
        raise RecordError(f"{what}: expected a number, got {plain(repr(value), 40)}") from exc
    if not math.isfinite(number):
        raise RecordError(f"{what}: expected a finite number, got {number!r}")
    return number + 0.0


_QUALITIES = {quality.value: quality for quality in Quality}


def quality_of(text: str) -> Quality:
    """Return the quality spelled `text`, or raise RecordError naming the known ones."""
    try:
        return _QUALITIES[text]
    except KeyError as exc:
        known = ", ".join(q.value for q in Quality)
        raise RecordError(f"expected a quality ({known}), got {plain(text, 40)!r}") from exc


def _canonical(thing: Event | Job, what: str, *, without_t: bool) -> str:
    text = _encode(thing, what, without_t=without_t)
    fields = _object(text, what)
    if without_t and not isinstance(thing, Job):
        fields["t"] = thing.t
    back = _typed(fields, type(thing), what)
    # msgspec writes NaN and infinity as null; where None is allowed only this comparison sees it.
    if back != thing:
        raise RecordError(f"{what}: a number in it is not finite: {plain(repr(thing), 200)}")
    # Written again from what was read: an int where a float belongs becomes "1.0" as on replay.
    text = _encode(back, what, without_t=without_t)
    if len(text) > MAX_BODY_CHARS:
        raise RecordError(
            f"{what}: expected at most {MAX_BODY_CHARS} characters, got {len(text)}; shorten it"
        )
    return text


def _encode(thing: object, what: str, *, without_t: bool) -> str:
    try:
        fields = msgspec.to_builtins(thing, enc_hook=_plain_mapping)
        if without_t:
            del fields["t"]
        return _ENCODER.encode(fields).decode("utf-8")
    except (TypeError, ValueError, OverflowError) as exc:
        raise RecordError(f"{what}: {exc}") from exc


def _plain_mapping(value: object) -> object:
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"a {type(value).__name__} cannot be recorded")


def _object(text: str, what: str) -> dict[str, Any]:
    try:
        return msgspec.json.decode(text, type=dict[str, Any])
    except (msgspec.DecodeError, ValueError, RecursionError) as exc:
        raise RecordError(
            f"{what}: expected a JSON object, got {plain(text)!r} ({json_words(exc)})"
        ) from exc


def _typed(fields: dict[str, Any], cls: type[_T], what: str) -> _T:
    try:
        thing = msgspec.convert(fields, type=cls, strict=True)
    except (msgspec.ValidationError, ValueError) as exc:
        raise RecordError(f"{what}: {json_words(exc)}") from exc
    unknown = _unknown_key(fields, thing)
    if unknown:
        raise RecordError(
            f"{what}: unknown field {plain(unknown, 60)!r}; was it written by a newer program?"
        )
    return thing


def _unknown_key(came: object, read: object) -> str:
    """Return the path of the first key in `came` that no field of `read` took, or ""."""
    if isinstance(came, list) and isinstance(read, tuple | list):
        found = (_unknown_key(c, r) for c, r in zip(came, read, strict=True))
        return next((path for path in found if path), "")
    if not isinstance(came, dict) or not dataclasses.is_dataclass(read):
        return ""
    names = {f.name for f in dataclasses.fields(read)}
    for key, value in came.items():
        if key not in names:
            return str(key)
        inner = _unknown_key(value, getattr(read, key))
        if inner:
            return f"{key}.{inner}"
    return ""
