"""Whatever can be recorded comes back bit for bit; whatever cannot be read is refused."""

import dataclasses
import enum
import json
import tempfile
import types
import typing
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    INPUT_EVENTS,
    VERDICT_EVENTS,
    ChannelDeclared,
    Event,
    Outcome,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
    Settled,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.judged import JUDGED
from chargeassist.session.record.chain import row_of
from chargeassist.session.record.codec import (
    KINDS,
    decode_event,
    encode_event,
    job_from_json,
    job_to_json,
)
from chargeassist.session.record.package import PackageReader, write_package
from chargeassist.session.record.store import SessionReader, SessionWriter

CLASSES = (*INPUT_EVENTS, *VERDICT_EVENTS)
FINITE = st.floats(allow_nan=False, allow_infinity=False)


def instances(hint: Any) -> st.SearchStrategy[Any]:
    """Return values of a type hint of the model, every float finite."""
    if hint is float:
        return FINITE
    if hint is bool:
        return st.booleans()
    if hint is int:
        return st.integers(0, 2**53)
    if hint is str:
        return st.text(max_size=20)
    if isinstance(hint, types.UnionType):
        return st.one_of(*(instances(h) for h in typing.get_args(hint)))
    if hint is type(None):
        return st.none()
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is Mapping:
        return st.dictionaries(st.text(max_size=8), instances(arguments[1]), max_size=4)
    if origin is tuple:
        return st.lists(instances(arguments[0]), max_size=2).map(tuple)
    if issubclass(hint, enum.Enum):
        return st.sampled_from(list(hint))
    assert dataclasses.is_dataclass(hint)
    hints = typing.get_type_hints(hint)
    fields = {f.name: instances(hints[f.name]) for f in dataclasses.fields(hint)}
    if hint is Channel:
        fields["name"] = st.from_regex(r"[a-z0-9_]{1,40}", fullmatch=True)
    if hint is Settled:  # one without its value is refused
        fields |= {
            "subcooling_k": FINITE,
            "superheat_k": FINITE,
            "judged": st.sampled_from([*JUDGED]),
        }
    return st.builds(hint, **fields)


def floats_of(thing: Any) -> list[str]:
    """Return every float in `thing`, bit for bit, in a fixed order."""
    if isinstance(thing, float):
        return [thing.hex()]
    if isinstance(thing, Mapping):
        return [x for key in sorted(thing) for x in floats_of(thing[key])]
    if isinstance(thing, tuple):
        return [x for item in thing for x in floats_of(item)]
    if dataclasses.is_dataclass(thing):
        return [x for f in dataclasses.fields(thing) for x in floats_of(getattr(thing, f.name))]
    return []


@pytest.mark.parametrize("cls", CLASSES)
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_event_comes_back_bit_for_bit(cls: type[Event], data: st.DataObject) -> None:
    event = data.draw(instances(cls))
    event = dataclasses.replace(event, t=event.t + 0.0)  # a time of -0.0 is kept as 0.0
    kind, body = encode_event(event)
    back = decode_event(kind, event.t, body)
    assert back == event
    assert floats_of(back) == floats_of(event)
    assert encode_event(back) == (kind, body)
    body.encode("utf-8")
    assert "\n" not in body
    assert "\t" not in body


@given(job=instances(Job))
@settings(max_examples=60, deadline=None)
def test_job_comes_back_bit_for_bit(job: Job) -> None:
    back = job_from_json(job_to_json(job))
    assert back == job
    assert floats_of(back) == floats_of(job)


@given(kind=st.sampled_from([*KINDS, "", "x"]), t=st.floats(), body=st.text(max_size=60))
@settings(max_examples=300, deadline=None)
def test_any_text_is_an_event_or_refused(kind: str, t: float, body: str) -> None:
    try:
        event = decode_event(kind, t, body)
    except RecordError:
        return
    assert decode_event(*_parts(event)) == event


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | FINITE | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["kind", "channel", "source", "mass_kg", "text", "name", "figures", "t"]
            ),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)


@given(kind=st.sampled_from(list(KINDS)), body=JSON)
@settings(max_examples=300, deadline=None)
def test_any_json_is_an_event_or_refused(kind: str, body: object) -> None:
    try:
        event = decode_event(kind, 0.0, json.dumps(body))
    except RecordError:
        return
    assert decode_event(*_parts(event)) == event


def _parts(event: Event) -> tuple[str, float, str]:
    kind, body = encode_event(event)
    return kind, event.t, body


NAMES = ("a", "b_2")
INNER = [c for c in CLASSES if c not in (SessionStarted, SessionStopped, ChannelDeclared, Reading)]
JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented plate"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11),
    site=Site(altitude_m=210.0),
)


@st.composite
def sessions(draw: st.DrawFn) -> list[Event]:
    """Return a session: any events between a start and an end, times never going back."""
    readings = st.builds(
        Reading,
        t=FINITE,
        channel=st.sampled_from(NAMES),
        value=FINITE,
        device_time=st.none() | FINITE,
    )
    drawn = draw(st.lists(readings | st.one_of(*(instances(c) for c in INNER)), max_size=30))
    times = sorted(draw(st.lists(FINITE, min_size=len(drawn), max_size=len(drawn))))
    middle = [dataclasses.replace(e, t=t + 0.0) for e, t in zip(drawn, times, strict=True)]
    first = times[0] if times else 0.0
    last = times[-1] if times else 0.0
    counts = {n: sum(isinstance(e, Reading) and e.channel == n for e in middle) for n in NAMES}
    return [
        SessionStarted(
            t=first,
            session_id=draw(st.text("0123456789abcdef", min_size=32, max_size=32)),
            started_utc="2026-05-04T08:15:00Z",
            software=draw(st.text(max_size=10)),
            table_hash="0" * 64,
            mode=draw(st.sampled_from(SessionMode)),
            job=job_to_json(JOB),
        ),
        *(
            ChannelDeclared(t=first, channel=Channel(name=n, role=Role.BAROMETER, unit="hPa"))
            for n in NAMES
        ),
        *middle,
        SessionStopped(t=last, outcome=Outcome.COMPLETE, counts=counts),
    ]


@given(events=sessions(), commits=st.integers(1, 12))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_session_comes_back_from_either_form(events: list[Event], commits: int) -> None:
    expected = [row_of(i, e).event() for i, e in enumerate(events, 1)]  # readings lose a -0.0
    assert expected == events
    start, end = events[0], events[-1]
    assert isinstance(start, SessionStarted)
    assert isinstance(end, SessionStopped)
    with tempfile.TemporaryDirectory() as name:
        path, folder = Path(name) / "x.session", Path(name) / "x"
        writer = SessionWriter.create(path, start)
        for i, event in enumerate(events[1:-1]):
            writer.append(event)
            if i % commits == 0:
                writer.commit()
        assert writer.close(end)
        with SessionReader(path) as session:
            back = list(session.events())
            assert back == expected
            assert [floats_of(e) for e in back] == [floats_of(e) for e in expected]
            report = session.verify()
            assert report.ok, report.problems
            write_package(session.events(), folder)
            with PackageReader(folder) as package:
                again = list(package.events())
                assert again == expected
                assert [floats_of(e) for e in again] == [floats_of(e) for e in expected]
                assert package.rows_sha256() == session.rows_sha256()
                report = package.verify()
                assert report.ok, report.problems
