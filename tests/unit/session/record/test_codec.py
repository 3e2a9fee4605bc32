import math
from dataclasses import replace
from types import MappingProxyType

import pytest

from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    INPUT_EVENTS,
    VERDICT_EVENTS,
    Action,
    Advice,
    Event,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
    SessionStarted,
    Settled,
)
from chargeassist.model.job import Job
from chargeassist.session.record.codec import (
    KINDS,
    MAX_BODY_CHARS,
    decode_event,
    encode_event,
    job_from_json,
    job_to_json,
)


def test_every_event_class_has_one_kind() -> None:
    assert set(KINDS.values()) == {*INPUT_EVENTS, *VERDICT_EVENTS}
    assert len(KINDS) == len(INPUT_EVENTS) + len(VERDICT_EVENTS)


def test_every_event_comes_back_as_it_was(whole: list[Event]) -> None:
    seen = set()
    for event in whole:
        kind, body = encode_event(event)
        assert decode_event(kind, event.t, body) == event
        assert encode_event(decode_event(kind, event.t, body)) == (kind, body)
        seen.add(kind)
    assert seen == set(KINDS), "the sample session should hold every kind"


def test_text_is_canonical() -> None:
    # Sorted keys, no spaces, shortest numbers, the time not among them.
    a = Advice(t=1.5, action=Action.ADD, cause="low", figures={"b": 0.1, "a": 2.0}, mass_kg=0.11)
    kind, body = encode_event(a)
    assert kind == "advice"
    assert body == (
        '{"action":"add","cause":"low","figures":{"a":2.0,"b":0.1},"mass_kg":0.11,"subject":""}'
    )


@pytest.mark.parametrize("kind", MarkKind)
def test_every_mark_comes_back(kind: MarkKind) -> None:
    mark = Mark(t=2.0, kind=kind, text="dryness")
    assert decode_event(*_placed(mark)) == mark


def _placed(event: Event) -> tuple[str, float, str]:
    kind, body = encode_event(event)
    return kind, event.t, body


def test_whole_number_is_written_as_the_float_it_is_read_as() -> None:
    assert encode_event(Mark(t=0, kind=MarkKind.STEP_ENDED, mass_kg=1)) == encode_event(
        Mark(t=0.0, kind=MarkKind.STEP_ENDED, mass_kg=1.0)
    )


def test_read_only_mapping_is_written_as_an_object() -> None:
    event = Advice(t=0.0, action=Action.WAIT, cause="x", figures=MappingProxyType({"a": 1.0}))
    assert '"figures":{"a":1.0}' in encode_event(event)[1]


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_number_that_is_not_finite_is_not_written(bad: float) -> None:
    # RFC 8259, section 6: "Infinity and NaN are not permitted". The JSON writer makes them null,
    # which an optional field would take back without a word.
    for event in (
        Mark(t=0.0, kind=MarkKind.STEP_ENDED, mass_kg=bad),
        Mark(t=bad, kind=MarkKind.NOTE),
        Settled(t=0.0, subcooling_k=bad),
        Reading(t=0.0, channel="a", value=bad),
        Advice(t=0.0, action=Action.WAIT, cause="x", figures={"a": bad}),
    ):
        with pytest.raises(RecordError):
            encode_event(event)


def test_text_that_is_no_unicode_is_not_written() -> None:
    with pytest.raises(RecordError, match="surrogate"):
        encode_event(Mark(t=0.0, kind=MarkKind.NOTE, text="\ud800"))


def test_wrong_type_is_not_written() -> None:
    with pytest.raises(RecordError, match=r"mass_kg"):
        encode_event(Mark(t=0.0, kind=MarkKind.NOTE, mass_kg="0.11"))  # type: ignore[arg-type]
    with pytest.raises(RecordError, match="expected an event"):
        encode_event("step_begun")  # type: ignore[arg-type]


def test_overlong_body_is_refused_before_it_is_written() -> None:
    with pytest.raises(RecordError, match="shorten"):
        encode_event(Mark(t=0.0, kind=MarkKind.NOTE, text="x" * (MAX_BODY_CHARS + 1)))


@pytest.mark.parametrize(
    ("kind", "t", "body", "said"),
    [
        ("marks", 0.0, "{}", "unknown kind of event 'marks'"),
        ("mark", 0.0, "{", "expected a JSON object"),
        ("mark", 0.0, "[1]", "expected a JSON object"),
        ("mark", 0.0, '{"kind":"note","mass_kg":NaN}', "expected a JSON object"),
        ("mark", 0.0, '{"kind":"note","mass_kg":1e400}', "expected a JSON object"),
        ("mark", 0.0, '{"kind":"note","mass_kg":"1"}', "mass_kg"),
        ("mark", 0.0, '{"kind":"note","mass_kg":true}', "mass_kg"),
        ("mark", 0.0, '{"kind":"dance"}', "dance"),
        ("mark", 0.0, '{"mass_kg":1.0}', "kind"),
        ("mark", 0.0, '{"kind":"note","colour":"red"}', "unknown field 'colour'"),
        ("mark", 0.0, '{"kind":"note","t":1.0}', "beside the body"),
        ("mark", math.nan, '{"kind":"note"}', "finite"),
        ("gap", 0.0, '{"dropped":1.5,"source":"rig"}', "dropped"),
        ("source_lost", 0.0, '{"reason":null,"source":"rig"}', "reason"),
        ("settled", 0.0, '{"subcooling_k":"5.0"}', "subcooling_k"),
    ],
)
def test_what_cannot_be_an_event_is_refused_and_named(
    kind: str, t: float, body: str, said: str
) -> None:
    with pytest.raises(RecordError, match=said):
        decode_event(kind, t, body)


def test_a_settled_verdict_without_its_value_is_refused() -> None:
    for body in ("{}", '{"subcooling_k":5.0,"judged":"superheat"}'):
        with pytest.raises(RecordError, match=r"expected the (subcooling|superheat) that settled"):
            decode_event("settled", 4.0, body)


def test_unknown_field_deep_inside_is_named() -> None:
    body = (
        '{"channel":{"accuracy":{"absolute_si":0.1,"relative":0.0,"sigma":2},'
        '"name":"a","role":"barometer","unit":"Pa"}}'
    )
    with pytest.raises(RecordError, match=r"unknown field 'channel\.accuracy\.sigma'"):
        decode_event("channel_declared", 0.0, body)


def test_deep_nesting_is_refused() -> None:
    with pytest.raises(RecordError):
        decode_event("mark", 0.0, '{"text":' + "[" * 50_000 + "]" * 50_000 + "}")


def test_job_comes_back_as_it_was(job: Job) -> None:
    text = job_to_json(job)
    assert job_from_json(text) == job
    assert job_to_json(job_from_json(text)) == text


def test_bad_job_is_refused_and_named(job: Job) -> None:
    text = job_to_json(job)
    with pytest.raises(RecordError, match="plate_kg"):
        job_from_json(text.replace('"plate_kg":2.3', '"plate_kg":"2.3"'))
    with pytest.raises(RecordError, match=r"unknown field 'charge\.plates'"):
        job_from_json(text.replace('"plate_kg":2.3', '"plate_kg":2.3,"plates":1'))
    with pytest.raises(RecordError, match="expected a JSON object"):
        job_from_json("")
    with pytest.raises(RecordError, match="finite"):
        job_to_json(replace(job, hold=replace(job.hold, lasts_s=math.nan)))


def test_job_inside_the_first_event_comes_back(started: SessionStarted, job: Job) -> None:
    kind, body = encode_event(started)
    event = decode_event(kind, 0.0, body)
    assert isinstance(event, SessionStarted)
    assert event.mode is SessionMode.SIMULATED
    assert job_from_json(event.job) == job
