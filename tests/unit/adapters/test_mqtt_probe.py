"""The MQTT source without a broker: addresses, secrets, messages as bytes, reasons.

CONNACK return codes 4 and 5: MQTT 3.1.1 (OASIS, 2014), table 3.1; 134 and 135: MQTT 5.0, table 3-1.
"""

import asyncio
import re
import socket
import ssl
from collections.abc import Callable
from pathlib import Path

import aiomqtt
import pytest
from aiomqtt.exceptions import MqttConnectError

from chargeassist.model.channels import Quality
from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.listening import Heard
from chargeassist.session.source import Source
from chargeassist.testing import CollectingSink, JumpClock
from chargeassist_adapters.faults import FaultGate
from chargeassist_adapters.fields import decode
from chargeassist_adapters.mqtt_link import Broker, is_refusal, why
from chargeassist_adapters.mqtt_probe import MqttSource

MakeProbe = Callable[..., ProbeSpec]


def message(topic: str, payload: bytes, *, retain: bool = False) -> aiomqtt.Message:
    return aiomqtt.Message(
        topic=topic, payload=payload, qos=1, retain=retain, mid=1, properties=None
    )


def made(
    url: str, *probes: ProbeSpec, payload_format: str = "number", name: str = "rack", **options: str
) -> MqttSource:
    spec = SourceSpec(
        name=name, url=url, format=payload_format, probes=probes, options=dict(options)
    )
    return MqttSource.from_spec(spec, Path())


def handle(source: MqttSource, *messages: aiomqtt.Message) -> CollectingSink:
    clock = JumpClock(50.0)
    sink = CollectingSink(source.name, clock)

    class Timer:
        def cancel(self) -> None:
            pass

    gate = FaultGate(sink, clock, later=lambda _s, _call: Timer())
    for m in messages:
        source.handle(m, sink, gate, clock.now())
    gate.flush()
    return sink


async def test_a_plain_number(temperature: MakeProbe) -> None:
    source = made("mqtt://h", temperature(topic="a/t"))
    sink = handle(source, message("a/t", b"35.2"))
    assert sink.values("liquid_t") == [pytest.approx(308.35)]
    assert sink.readings[0].quality is Quality.GOOD
    assert isinstance(source, Source)
    assert not source.brings_time
    assert not source.simulated


async def test_a_retained_value_is_never_live(temperature: MakeProbe) -> None:
    source = made("mqtt://h", temperature(topic="a/t"))
    sink = handle(source, message("a/t", b"35.2", retain=True), message("a/t", b"35.3"))
    assert [r.quality for r in sink.readings] == [Quality.RETAINED, Quality.GOOD]


async def test_probes_share_a_topic_and_it_is_subscribed_once(
    pressure: MakeProbe, temperature: MakeProbe
) -> None:
    source = made(
        "mqtt://h",
        pressure(topic="a", select="p"),
        temperature(topic="a", select="t"),
        temperature(topic="b", select="t", name="suction_t"),
        payload_format="json",
    )
    assert list(source._topics) == ["a", "b"]
    sink = handle(source, message("a", b'{"p": 100, "t": 35.2}'), message("b", b'{"t": 12}'))
    assert [r.channel for r in sink.readings] == ["head_p", "liquid_t", "suction_t"]


async def test_two_plain_numbers_cannot_share_a_topic(
    pressure: MakeProbe, temperature: MakeProbe
) -> None:
    with pytest.raises(ConfigError, match="format 'number' carries one value"):
        made("mqtt://h", pressure(topic="a"), temperature(topic="a"))


async def test_senml_relative_time_counts_from_session_time(temperature: MakeProbe) -> None:
    source = made("mqtt://h", temperature(topic="a", select="t"), payload_format="senml")
    sink = handle(source, message("a", b'[{"n":"t","u":"Cel","v":35.2,"t":-2}]'))
    assert sink.readings[0].device_time == 48.0


@pytest.mark.parametrize(
    "payload", [b"", b"  ", b"\xff\x00", b"NaN", b"1e400", b"35.2 psig", b"\x1b[2J", b"9" * 100_000]
)
async def test_junk_is_told_and_survived(temperature: MakeProbe, payload: bytes) -> None:
    source = made("mqtt://h", temperature(topic="a"))
    sink = handle(source, message("a", payload), message("a", b"35.2"))
    assert len(sink.bad) == 1
    assert "\x1b" not in sink.bad[0].reason + sink.bad[0].raw
    assert len(sink.readings) == 1


@pytest.mark.parametrize(
    "payload", [b"\xef\xbb\xbf35.2", b"35.2\0", b"35.2\0\0\r\n", b"\xef\xbb\xbf35.2\0"]
)
async def test_a_byte_order_mark_and_zero_bytes_at_the_end_are_passed_over(
    temperature: MakeProbe, payload: bytes
) -> None:
    sink = handle(made("mqtt://h", temperature(topic="a")), message("a", payload))
    assert not sink.bad
    in_json = made("mqtt://h", temperature(topic="a", select="t"), payload_format="json")
    dressed = payload.replace(b"35.2", b'{"t": 35.2}')
    assert handle(in_json, message("a", dressed)).readings[0].value == sink.readings[0].value
    in_senml = made("mqtt://h", temperature(topic="a", select="t"), payload_format="senml")
    dressed = payload.replace(b"35.2", b'[{"n": "t", "u": "Cel", "v": 35.2}]')
    assert handle(in_senml, message("a", dressed)).readings[0].value == sink.readings[0].value
    found = decode(payload.replace(b"35.2", b'{"t": 35.2}'), ("number", "json"))
    assert isinstance(found, Heard)
    assert [field.number for field in found.fields] == [35.2]


async def test_a_message_that_is_no_ascii_text_has_no_baud_rate(temperature: MakeProbe) -> None:
    sink = handle(made("mqtt://h", temperature(topic="a")), message("a", "35,2 グ".encode()))
    assert "expected ASCII text" in sink.bad[0].reason
    assert "baud" not in sink.bad[0].reason


async def test_a_message_nobody_asked_for_is_told(temperature: MakeProbe) -> None:
    sink = handle(made("mqtt://h", temperature(topic="a")), message("b", b"1"))
    assert "not asked for" in sink.bad[0].reason


@pytest.mark.parametrize("topic", ["", "a/+", "a/#", "#", "$share/g/a", "a\0b", "a" * 70_000])
def test_topics_refused(temperature: MakeProbe, topic: str) -> None:
    with pytest.raises(ConfigError, match="topic"):
        made("mqtt://h", temperature(topic=topic))


@pytest.mark.parametrize(
    ("url", "options", "host", "port", "user", "password", "tls"),
    [
        ("mqtt://h", {}, "h", 1883, None, None, False),
        ("mqtt://h:1884", {}, "h", 1884, None, None, False),
        ("mqtt://u@h", {}, "h", 1883, "u", None, False),
        ("mqtts://h", {}, "h", 8883, None, None, True),
        ("mqtt://h?tls=yes", {}, "h", 8883, None, None, True),
        ("mqtt://h:1", {"tls": "1"}, "h", 1, None, None, True),
        ("mqtt://[::1]:1883", {}, "::1", 1883, None, None, False),
    ],
)
def test_addresses(
    temperature: MakeProbe,
    url: str,
    options: dict[str, str],
    host: str,
    port: int,
    user: str | None,
    password: str | None,
    tls: bool,
) -> None:
    broker = made(url, temperature(topic="a"), **options)._broker
    assert (broker.host, broker.port, broker.user, broker.password) == (host, port, user, password)
    assert (broker.tls is not None) is tls
    if broker.tls is not None:
        assert broker.tls.check_hostname
        assert broker.tls.verify_mode is ssl.CERT_REQUIRED


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("mqtt:", "expected mqtt://host:port"),
        ("mqtt:host", "expected mqtt://host:port"),
        ("mqtt://h:port", "expected mqtt://host:port"),
        ("mqtt://h:99999", "expected mqtt://host:port"),
        ("mqtt://[::1", "expected mqtt://host:port"),
        ("mqtt://h/topic", "a topic belongs to its probe"),
        ("mqtt://h?tls=maybe", "expected yes or no"),
        ("mqtt://h?topic=a", "unknown option 'topic'"),
        ("mqtt://h?keepalive=0", "whole number from 2"),
        ("mqtt://h?ca=missing.pem", "certificate files in PEM"),
        ("mqtt://u@h?password_env=CHARGEASSIST_NOT_HERE", "is not set"),
        ("mqtt://u@h?password_env=HOME", "begin with CHARGEASSIST_"),
        ("mqtt://h?password_env=CHARGEASSIST_X", "needs a user"),
        ("mqtt://u@h?password_env=CHARGEASSIST_X&password_keyring=yes", "give one"),
        ("mqtt://u:p@h", "expected no password in the address"),
        ("mqtt://u:@h", "expected no password in the address"),
        ("mqtts://h?tls=no", "tls=no contradicts mqtts://"),
        ("mqtt://h?tls=no&ca=ca.pem", "tls=no contradicts"),
        ("mqtt://h?cert=a.pem", "are for TLS"),
        ("mqtts://h?key=a.pem", "give cert= too"),
        ("mqtts://h?verify=no", "unknown option 'verify'"),
        ("mqtts://h?insecure=yes", "unknown option 'insecure'"),
    ],
)
def test_addresses_refused(temperature: MakeProbe, url: str, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        made(url, temperature(topic="a"))


def test_the_password_comes_from_the_environment(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHARGEASSIST_RACK", "hunter2")
    broker = made("mqtt://u@h?password_env=CHARGEASSIST_RACK", temperature(topic="a"))._broker
    assert broker.password == "hunter2"


@pytest.mark.parametrize(
    "url",
    [
        "mqtt://u:hunter2@h:port",
        "mqtt://u:hunter2@h/x",
        "mqtt://u:hun?ter2@h",
        "mqtt://u:h/unter2@h",
        "mqtt://u:hunter2@[::1",
        "mqtt://u:hunter2@h?nonsense=1",
        "mqtt://u:hunter2@h?password_env=X",
    ],
)
def test_no_error_shows_the_password(temperature: MakeProbe, url: str) -> None:
    with pytest.raises(ConfigError) as caught:
        made(url, temperature(topic="a"), name=url)
    seen: BaseException | None = caught.value
    while seen is not None:
        assert "unter2" not in str(seen)
        assert "hun" not in str(seen)
        seen = seen.__cause__


def test_neither_name_nor_address_nor_repr_shows_the_password(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHARGEASSIST_RACK", "hunter2")
    url = "mqtt://u@h:1884?password_env=CHARGEASSIST_RACK"
    source = made(url, temperature(topic="a"), name=url)
    assert source.name == "mqtt://h:1884"
    assert source._broker.password == "hunter2"
    assert source._broker.shown == "mqtt://h:1884"
    assert "hunter2" not in repr(source._broker)


def test_formats_and_probes_are_checked(temperature: MakeProbe) -> None:
    with pytest.raises(ConfigError, match="an MQTT payload has format number, json, senml"):
        made("mqtt://h", temperature(topic="a", select="1"), payload_format="csv")
    with pytest.raises(ConfigError, match="at least one probe"):
        made("mqtt://h")


async def test_dropped_messages_count_their_probes(
    pressure: MakeProbe, temperature: MakeProbe
) -> None:
    source = made(
        "mqtt://h",
        pressure(topic="a", select="p"),
        temperature(topic="a", select="t"),
        payload_format="json",
    )
    sink = CollectingSink("s", JumpClock())
    for _ in range(3):
        source._note_drop(message("a", b"{}"))
    source._tell_dropped(sink)
    source._tell_dropped(sink)
    assert sink.let_go == 6
    assert len(sink.events) == 1


@pytest.mark.parametrize(
    ("exc", "tls", "says", "refusal"),
    [
        (MqttConnectError(5), False, "refuses the user name or password", True),
        (MqttConnectError(4), False, "refuses the user name or password", True),
        (MqttConnectError(3), False, "unavailable|code:3", False),
        (aiomqtt.MqttCodeError(5, "not a CONNACK"), False, "code:5", False),
        (aiomqtt.MqttError("Operation timed out"), False, "is this a TLS port", False),
        (aiomqtt.MqttError("Operation timed out"), True, "client certificate", False),
        (TimeoutError(), False, "no answer within 5 s", False),
        (aiomqtt.MqttError("Disconnected during message iteration"), False, "lost", False),
        (ConnectionRefusedError(111, "x"), False, "is the broker running", False),
        (socket.gaierror(-2, "x"), False, "host name not found", False),
        (ssl.SSLError(1, "[SSL] wrong version number"), True, "is this a TLS port", False),
    ],
)
def test_reasons_say_what_to_do(exc: Exception, tls: bool, says: str, refusal: bool) -> None:
    broker = Broker("h", 1883, tls=ssl.create_default_context() if tls else None)
    assert re.search(says, why(exc, broker))
    assert is_refusal(exc) is refusal


async def test_retry_delays_follow_the_kind_of_failure(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a network: refused, refused account, then back to the short delay."""
    source = made("mqtt://h", temperature(topic="a"))
    failures = [ConnectionRefusedError(), MqttConnectError(5), ConnectionRefusedError()]
    delays: list[float] = []
    real_sleep = asyncio.sleep

    async def fail(*args: object) -> None:
        raise failures[len(delays)]

    async def sleep(delay: float) -> None:
        delays.append(delay)
        if len(delays) == len(failures):
            raise asyncio.CancelledError
        await real_sleep(0)

    monkeypatch.setattr(source, "_listen", fail)
    monkeypatch.setattr("chargeassist_adapters.mqtt_probe.asyncio.sleep", sleep)
    clock = JumpClock()
    sink = CollectingSink("s", clock)
    with pytest.raises(asyncio.CancelledError):
        await source.run(sink, clock)
    assert 0.4 <= delays[0] <= 0.6
    assert delays[1] == 30.0
    assert 0.8 <= delays[2] <= 1.2
    assert len(sink.losses) == 1
    assert sink.losses[0].reason.startswith("mqtt://h:1883: connection refused")
