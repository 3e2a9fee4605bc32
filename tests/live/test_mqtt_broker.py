"""The MQTT source against a real mosquitto broker on the loopback interface."""

import asyncio
import gc
from pathlib import Path

import aiomqtt
import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import Reading, SourceBack, SourceLost
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.clock import steady_s
from chargeassist.testing import check_source, running
from chargeassist_adapters import held
from chargeassist_adapters.mqtt_probe import MqttSource
from chargeassist_adapters.retry import Backoff
from tests.peers.broker import Broker, StartBroker
from tests.peers.certificates import Certificates
from tests.peers.meanwhile import meanwhile


def probe(name: str, topic: str, select: str = "") -> ProbeSpec:
    channel = Channel(name=name, role=Role.LIQUID_TEMPERATURE, unit="°C")
    return ProbeSpec(channel=channel, topic=topic, select=select)


def source_at(
    port: int,
    *probes: ProbeSpec,
    payload_format: str = "number",
    user: str = "",
    scheme: str = "mqtt",
    host: str = "127.0.0.1",
    **options: str,
) -> MqttSource:
    spec = SourceSpec(
        name="rack",
        url=f"{scheme}://{user}{host}:{port}",
        format=payload_format,
        options=options,
        probes=probes or (probe("t", "unit/t"),),
    )
    source = MqttSource.from_spec(spec, Path())
    source.retry = Backoff(0.05, 0.2)
    return source


async def publish(port: int, topic: str, *payloads: bytes, retain: bool = False) -> None:
    async with aiomqtt.Client("127.0.0.1", port) as client:
        for payload in payloads:
            await client.publish(topic, payload, qos=1, retain=retain)


async def keep_publishing(port: int, topic: str, payload: bytes) -> None:
    """For when it cannot be known from outside that the other end has subscribed."""
    async with aiomqtt.Client("127.0.0.1", port) as client:
        while True:
            await client.publish(topic, payload, qos=1)
            await asyncio.sleep(0.05)


async def subscribed(broker: Broker, topic: str) -> None:
    for _ in range(500):
        if f"{topic} (QoS 1)" in broker.log:
            return
        await asyncio.sleep(0.02)
    pytest.fail(f"nobody subscribed to {topic}:\n{broker.log}")


async def test_numbers_arrive_in_order_with_qos_1(broker: Broker) -> None:
    await publish(broker.port, "unit/t", b"-1", retain=True)
    async with running(source_at(broker.port)) as sink:
        # The retained value tells that the subscription stands.
        await sink.until(lambda k: len(k.readings) == 1)
        await publish(broker.port, "unit/t", *(b"%d" % i for i in range(100)))
        await sink.until(lambda k: len(k.readings) == 101)
    assert sink.values("t")[1:] == [i + 273.15 for i in range(100)]
    assert sink.let_go == 0
    assert sink.losses == []
    assert "unit/t (QoS 1)" in broker.log


async def test_retained_is_last_known_and_live_is_good(broker: Broker) -> None:
    await publish(broker.port, "unit/t", b"10", retain=True)
    async with running(source_at(broker.port)) as sink:
        await sink.until(lambda k: len(k.readings) == 1)
        await publish(broker.port, "unit/t", b"11", retain=True)
        await sink.until(lambda k: len(k.readings) == 2)
    assert [r.quality for r in sink.readings] == [Quality.RETAINED, Quality.GOOD]


async def test_json_and_senml_payloads(broker: Broker) -> None:
    await publish(broker.port, "unit/j", b'{"line": {"t": 35.2}}', retain=True)
    await publish(broker.port, "unit/s", b'[{"bn":"dev/","n":"t","u":"K","v":300}]', retain=True)
    json_source = source_at(broker.port, probe("t", "unit/j", "line.t"), payload_format="json")
    async with running(json_source) as sink:
        await sink.until(lambda k: len(k.readings) == 1)
    assert sink.values("t") == [35.2 + 273.15]
    senml_source = source_at(broker.port, probe("t", "unit/s", "dev/t"), payload_format="senml")
    async with running(senml_source) as sink:
        await sink.until(lambda k: len(k.readings) == 1)
    assert sink.values("t") == [300.0]


async def test_a_stopped_broker_is_lost_and_comes_back_after_restart(broker: Broker) -> None:
    async with running(source_at(broker.port)) as sink:
        async with meanwhile(keep_publishing(broker.port, "unit/t", b"1")):
            await sink.until(lambda k: len(k.readings) >= 1)
        await asyncio.to_thread(broker.stop)
        await sink.until(lambda k: len(k.losses) == 1)
        before = len(sink.readings)
        await asyncio.to_thread(broker.start)
        await sink.until(lambda k: len(k.returns) == 1)
        async with meanwhile(keep_publishing(broker.port, "unit/t", b"2")):
            await sink.until(lambda k: len(k.readings) > before)
    kinds = [type(e) for e in sink.events]
    assert kinds.index(SourceLost) < kinds.index(SourceBack)
    assert isinstance(sink.events[-1], Reading)
    assert sink.losses[0].reason.startswith(f"mqtt://127.0.0.1:{broker.port}: ")


async def test_a_broker_absent_at_the_start_is_waited_for(broker: Broker) -> None:
    await asyncio.to_thread(broker.stop)
    async with running(source_at(broker.port)) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        assert "connection refused" in sink.losses[0].reason
        await asyncio.to_thread(broker.start)
        await sink.until(lambda k: len(k.returns) == 1)


async def test_a_frozen_broker_is_noticed_by_keepalive(broker: Broker) -> None:
    """SIGSTOP: the connection stands, nothing comes; two keepalives of 2 s are waited for."""
    source = source_at(broker.port, keepalive="2")
    async with running(source) as sink:
        async with meanwhile(keep_publishing(broker.port, "unit/t", b"1")):
            await sink.until(lambda k: len(k.readings) >= 1)
        with broker.hanging():
            await sink.until(lambda k: len(k.losses) == 1, within_s=20.0)
        await sink.until(lambda k: len(k.returns) == 1, within_s=20.0)


async def test_after_the_program_was_held_up_nothing_old_passes_for_new(
    broker: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    slept_s = 0.0
    monkeypatch.setattr(held, "steady_s", lambda: steady_s() + slept_s)
    async with (
        running(source_at(broker.port)) as sink,
        meanwhile(keep_publishing(broker.port, "unit/t", b"1")),
    ):
        await sink.until(lambda k: len(k.readings) >= 1)
        slept_s = 600.0
        await sink.until(lambda k: len(k.losses) == 1)
        assert "held up" in sink.losses[0].reason
        assert sink.let_go >= 1
        before = len(sink.readings)
        await sink.until(lambda k: len(k.returns) == 1)
        await sink.until(lambda k: len(k.readings) > before)


async def test_junk_over_the_wire(broker: Broker) -> None:
    junk = [b"\xff\x00", b"NaN", b"1e400", b"\x1b[2J", b"", b"9" * 1_000_000, b"12 furlong"] * 10
    await publish(broker.port, "unit/t", b"1", retain=True)
    async with running(source_at(broker.port)) as sink:
        await sink.until(lambda k: len(k.readings) == 1)
        await publish(broker.port, "unit/t", *junk, b"2")
        await sink.until(lambda k: len(k.readings) == 2)
    assert sum(b.count for b in sink.bad) == 70
    assert len(sink.bad) < 30
    assert all("\x1b" not in b.raw + b.reason for b in sink.bad)


async def test_contract(broker: Broker) -> None:
    source = source_at(broker.port)
    await publish(broker.port, "unit/t", b"20", retain=True)
    kept = await check_source(source, readings=1)
    assert kept.readings[0].quality is Quality.RETAINED


async def test_the_right_password_from_the_environment(
    guarded: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHARGEASSIST_RACK", "s3cret")
    source = source_at(
        guarded.port, probe("t", "open/t"), user="logger@", password_env="CHARGEASSIST_RACK"
    )
    source.retry = Backoff(60.0, 60.0)
    async with running(source) as sink:
        await subscribed(guarded, "open/t")
        await asyncio.sleep(0.05)
    assert sink.events == []


@pytest.mark.parametrize(
    ("user", "password"), [("", ""), ("logger@", "wr0ng"), ("nobody@", "s3cret")]
)
async def test_a_wrong_account_is_told_once_and_not_hammered(
    guarded: Broker, user: str, password: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHARGEASSIST_RACK", password)
    options = {"password_env": "CHARGEASSIST_RACK"} if user else {}
    async with running(source_at(guarded.port, user=user, **options)) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        tries = guarded.log.count("New connection")
        await asyncio.sleep(0.5)
        assert guarded.log.count("New connection") == tries
    assert "refuses the user name or password" in sink.losses[0].reason
    assert "wr0ng" not in sink.losses[0].reason


async def test_a_topic_that_may_not_be_read_stays_silent_and_costs_nothing_else(
    guarded: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    """mosquitto 2.0 grants such a subscription and then delivers nothing; it cannot be told apart
    from a silent probe. Brokers that refuse it are in tests/contract."""
    monkeypatch.setenv("CHARGEASSIST_RACK", "s3cret")
    source = source_at(
        guarded.port,
        probe("t", "open/t"),
        probe("u", "shut/t"),
        user="logger@",
        password_env="CHARGEASSIST_RACK",
    )
    async with running(source) as sink:
        await subscribed(guarded, "shut/t")
        async with aiomqtt.Client(
            "127.0.0.1", guarded.port, username="logger", password="s3cret"
        ) as client:
            await client.publish("shut/t", b"1", qos=1)
            await client.publish("open/t", b"2", qos=1)
        await sink.until(lambda k: len(k.readings) == 1)
    assert sink.values("t") == [2 + 273.15]
    assert sink.losses == []


@pytest.fixture
def secure(start_broker: StartBroker, certificates: Certificates) -> Broker:
    return start_broker(certificates.config())


async def publish_tls(port: int, ca: Path, topic: str, payload: bytes) -> None:
    tls = aiomqtt.TLSParameters(ca_certs=str(ca))
    async with aiomqtt.Client("127.0.0.1", port, tls_params=tls) as client:
        await client.publish(topic, payload, qos=1, retain=True)


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost"])
async def test_tls_with_an_authority_of_our_own(
    secure: Broker, certificates: Certificates, host: str
) -> None:
    await publish_tls(secure.port, certificates.authority.file, "unit/t", b"35.2")
    source = source_at(secure.port, scheme="mqtts", host=host, ca=str(certificates.authority.file))
    async with running(source) as sink:
        await sink.until(lambda k: len(k.readings) == 1)
    assert sink.losses == []


async def test_tls_with_another_authority_is_refused_with_the_reason(
    secure: Broker, certificates: Certificates
) -> None:
    source = source_at(secure.port, scheme="mqtts", ca=str(certificates.other.file))
    async with running(source) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
    assert "certificate not accepted" in sink.losses[0].reason
    assert "ca=" in sink.losses[0].reason


async def test_tls_to_a_plain_port_is_told(broker: Broker, certificates: Certificates) -> None:
    source = source_at(broker.port, scheme="mqtts", ca=str(certificates.authority.file))
    async with running(source) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
    assert sink.losses[0].reason.startswith("mqtts://")


async def test_plain_to_a_tls_port_is_hinted_at(
    secure: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chargeassist_adapters.mqtt_link.CONNECT_WITHIN_S", 0.5)
    async with running(source_at(secure.port)) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        # Let a second try begin and be cancelled in its middle.
        await asyncio.sleep(0.3)
    assert "is this a TLS port (tls=yes)?" in sink.losses[0].reason
    gc.collect()


async def test_a_client_certificate_is_hinted_at(
    start_broker: StartBroker, certificates: Certificates, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chargeassist_adapters.mqtt_link.CONNECT_WITHIN_S", 1.0)
    strict = start_broker(certificates.config("require_certificate true"))
    source = source_at(strict.port, scheme="mqtts", ca=str(certificates.authority.file))
    async with running(source) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
    assert "client certificate" in sink.losses[0].reason
    with_one = source_at(
        strict.port,
        scheme="mqtts",
        ca=str(certificates.authority.file),
        cert=str(certificates.server.cert),
        key=str(certificates.server.key),
    )
    async with running(with_one) as sink:
        await subscribed(strict, "unit/t")
    assert sink.losses == []
