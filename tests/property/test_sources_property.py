"""Any address, option, select string, topic or message: a source, a reading, or a named refusal."""

from pathlib import Path

import aiomqtt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import ConfigError, SourceError
from chargeassist.model.events import BadInput
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.units import Reference
from chargeassist.session.plugins import make_source, source_class, source_names
from chargeassist.testing import CollectingSink, JumpClock
from chargeassist_adapters.faults import FaultGate
from chargeassist_adapters.mqtt_probe import MqttSource
from chargeassist_adapters.payloads import make_parser

TEMPERATURE = Channel(name="t", role=Role.LIQUID_TEMPERATURE, unit="°C")
PRESSURE = Channel(
    name="p", role=Role.LIQUID_PRESSURE, unit="psig", reference=Reference.GAUGE, source="s"
)
FORMATS = ("number", "csv", "keyvalue", "json", "senml", "registers", "", "x\x1b[2J")

piece = st.sampled_from(
    [
        *("//", "/", ":", "@", "?", "&", "=", "#", "%40", "%", "[", "]", "[::1]", "..", "~", " "),
        *(
            "host",
            "user",
            "1883",
            "99999",
            "-1",
            "0",
            "9" * 5000,
            "٣",
            "\x1b[2J",
            "\0",
            "\n",
            "\u202e",
        ),
        *("baud=9600", "tls=yes", "tls=no", "ca=x", "cert=x", "key=x", "keepalive=5", "speed=max"),
        *("password_env=HOME", "password_env=CHARGEASSIST_X", "seed=3", "frame=8N1", "time=1"),
        *(
            "speed=nan",
            "speed=1e999",
            "keepalive=" + "9" * 5000,
            "radio-gap",
            "/dev/null",
            "x.toml",
        ),
        *(
            "loop://",
            "spy://",
            "socket://",
            "rfc2217://",
            "hwgrep://",
            "file=/tmp/x",
            "logging=debug",
        ),
    ]
)
address = st.builds(
    "{}:{}".format,
    st.sampled_from([name for name in source_names() if name != "simulator"]),
    st.one_of(st.text(max_size=30), st.lists(piece, max_size=8).map("".join)),
)
option = st.dictionaries(
    st.one_of(
        st.sampled_from(
            ["baud", "time", "delimiter", "tls", "ca", "keepalive", "client_id", "speed"]
        ),
        st.text(max_size=8),
    ),
    st.one_of(piece, st.text(max_size=12)),
    max_size=3,
)
select = st.one_of(
    st.text(max_size=20),
    st.sampled_from(
        [
            *("1", "0", "-1", "1001", "9" * 5000, "000001" + "9" * 5000, "٣", "p", "a b", "a=b"),
            *(
                "line.t[0]",
                "$.a",
                '["x.y"]',
                "a[" + "9" * 400 + "]",
                "a" * 4000,
                "a." * 2000,
                "[[[[",
            ),
            *(
                "1/input:3:int16",
                "1/input:99999:int16",
                "999/holding:1:float32",
                "1/input:1:int32:x",
            ),
        ]
    ),
)
topic = st.one_of(
    st.text(max_size=30), st.sampled_from(["a", "a/b", "+", "#", "$share/x/y", "\0", "x" * 70_000])
)


@pytest.mark.parametrize(
    "rest", ["x" * 5000, "a\0b", "/dev/null", "/", "..", "\x1b[2J", "?speed=1"]
)
def test_a_recording_that_cannot_be_one_is_named(rest: str) -> None:
    with pytest.raises((ConfigError, SourceError)) as caught:
        make_source(SourceSpec(name="s", url=f"recording:{rest}"), Path("/nowhere"))
    assert "\x1b" not in str(caught.value)


def test_an_address_without_an_adapter_is_named() -> None:
    for url in ("canbus:x", "\x1b[2J:x", "x" * 5000):
        with pytest.raises(SourceError, match="no adapter for"):
            make_source(SourceSpec(name="s", url=url), Path())


@given(rest=st.one_of(st.text(max_size=30), st.lists(piece, max_size=4).map("".join)))
def test_any_simulator_is_a_source_or_a_named_refusal(rest: str) -> None:
    try:
        make_source(SourceSpec(name="s", url=f"simulator:{rest}"), Path("/nowhere"))
    except (ConfigError, SourceError):
        return
    assert not rest.endswith(".toml")


CLASSES = {scheme: source_class(scheme) for scheme in source_names()}


@settings(max_examples=200)
@given(url=address, options=option, form=st.sampled_from(FORMATS), chosen=select, where=topic)
def test_any_address_is_a_source_or_a_named_refusal(
    url: str, options: dict[str, str], form: str, chosen: str, where: str
) -> None:
    probe = ProbeSpec(channel=TEMPERATURE, select=chosen, topic=where)
    spec = SourceSpec(name="s", url=url, format=form, options=options, probes=(probe,))
    told = ""
    try:
        source = CLASSES[spec.scheme].from_spec(spec, Path("/nowhere"))
    except (ConfigError, SourceError) as error:
        told = str(error)
    else:
        assert source.name
        assert all(channel.name for channel in source.channels)
    assert "\x1b" not in told
    assert "\u202e" not in told


@pytest.mark.parametrize("form", FORMATS[:5])
@given(first=select, second=select, time=select, delimiter=select)
def test_any_select_is_a_parser_or_a_named_refusal(
    form: str, first: str, second: str, time: str, delimiter: str
) -> None:
    probes = [
        ProbeSpec(channel=PRESSURE, select=first),
        ProbeSpec(channel=TEMPERATURE, select=second),
    ]
    count = 1 if form == "number" else 2
    try:
        parser = make_parser(form, probes[:count], {"time": time, "delimiter": delimiter})
    except ConfigError:
        return
    for raw in (b"1,2,3", b"p=1 t=2", b'{"p": 1, "line": {"t": [2]}}', b"[]", b""):
        assert isinstance(parser.parse(raw, 0.0), tuple)


@settings(max_examples=200)
@given(
    form=st.sampled_from(["number", "json", "senml"]),
    where=st.one_of(st.just("job/t"), st.text(min_size=1, max_size=20), st.just("x\x1b[2J")),
    payload=st.one_of(
        st.binary(max_size=60),
        st.floats().map(lambda x: repr(x).encode()),
        st.sampled_from(
            [b"", b" \n", b'{"t": 1}', b'[{"n":"t","v":1}]', b"[" * 70_000, b"1" * 70_000]
        ),
    ),
    retain=st.booleans(),
)
def test_any_message_is_a_reading_or_a_told_fault(
    form: str, where: str, payload: bytes, retain: bool
) -> None:
    wanted = {"number": "", "json": "t", "senml": "t"}[form]
    probe = ProbeSpec(channel=TEMPERATURE, select=wanted, topic="job/t")
    spec = SourceSpec(name="s", url="mqtt://localhost", format=form, probes=(probe,))
    source = MqttSource.from_spec(spec, Path())

    clock = JumpClock(0.0)
    sink = CollectingSink(source.name, clock)

    class Timer:
        def cancel(self) -> None: ...

    gate = FaultGate(sink, clock, later=lambda _s, _call: Timer())
    source.handle(aiomqtt.Message(where, payload, 1, retain, 1, None), sink, gate, 0.0)
    gate.flush()
    faults = [event.reason for event in sink.events if isinstance(event, BadInput)]
    assert len(sink.readings) + len(faults) >= 1
    assert all(reason.isprintable() for reason in faults)
    if retain:
        assert all(each.quality is Quality.RETAINED for each in sink.readings)
