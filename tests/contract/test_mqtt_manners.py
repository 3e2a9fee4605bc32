"""The MQTT source against a broker that misbehaves as told; real ones are in tests/live."""

import asyncio
import logging
from pathlib import Path
from typing import Protocol

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import Reading, SourceBack, SourceLost
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.testing import CollectingSink, SteadyClock, running
from chargeassist_adapters.mqtt_probe import MqttSource
from chargeassist_adapters.retry import Backoff


class Broker(Protocol):
    port: int
    connack: int
    suback: dict[str, int]
    answer_connect: bool
    on_connect: bytes
    subscribed: list[tuple[str, int]]
    connects: int

    def send(self, topic: str, payload: bytes, *, retain: bool = False) -> None: ...

    def send_raw(self, data: bytes) -> None: ...

    def hang_up(self) -> None: ...


@pytest.fixture
def complaints(caplog: pytest.LogCaptureFixture) -> pytest.LogCaptureFixture:
    """What asyncio logs about exceptions nobody fetched would land on the technician's screen."""
    caplog.set_level(logging.WARNING, logger="asyncio")
    return caplog


def source_at(broker: Broker, *topics: str) -> MqttSource:
    probes = tuple(
        ProbeSpec(
            channel=Channel(name=f"t{i}", role=Role.LIQUID_TEMPERATURE, unit="°C"), topic=topic
        )
        for i, topic in enumerate(topics)
    )
    spec = SourceSpec(name="rack", url=f"mqtt://127.0.0.1:{broker.port}", probes=probes)
    source = MqttSource.from_spec(spec, Path())
    source.retry = Backoff(0.02, 0.05)
    return source


async def until_subscribed(broker: Broker, times: int = 1) -> None:
    for _ in range(500):
        if len(broker.subscribed) >= times:
            return
        await asyncio.sleep(0.01)
    pytest.fail("nobody subscribed")


async def test_a_topic_refused_is_told_and_the_others_go_on(scripted_broker: Broker) -> None:
    scripted_broker.suback = {"b": 0x80}
    async with running(source_at(scripted_broker, "a", "b")) as sink:
        await sink.until(lambda k: len(k.bad) == 1)
        scripted_broker.send("a", b"1")
        await sink.until(lambda k: len(k.readings) == 1)
    assert "refuses topic 'b'" in sink.bad[0].reason
    assert scripted_broker.subscribed == [("a", 1), ("b", 1)]
    assert sink.losses == []


async def test_every_topic_refused_is_a_loss_with_a_long_wait(scripted_broker: Broker) -> None:
    scripted_broker.suback = {"a": 0x80}
    async with running(source_at(scripted_broker, "a")) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        await asyncio.sleep(0.3)
        assert scripted_broker.connects == 1
    assert "may not read any of the topics" in sink.losses[0].reason


@pytest.mark.parametrize("code", [4, 5])
async def test_a_refused_account_is_not_tried_again_at_once(
    scripted_broker: Broker, code: int
) -> None:
    scripted_broker.connack = code
    async with running(source_at(scripted_broker, "a")) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        await asyncio.sleep(0.3)
        assert scripted_broker.connects == 1
    assert "refuses the user name or password" in sink.losses[0].reason


async def test_a_broker_that_is_busy_is_tried_again(scripted_broker: Broker) -> None:
    scripted_broker.connack = 3
    async with running(source_at(scripted_broker, "a")) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        scripted_broker.connack = 0
        await sink.until(lambda k: len(k.returns) == 1)
    assert scripted_broker.connects >= 2


@pytest.mark.parametrize(
    "junk",
    [
        b"SSH-2.0-OpenSSH_9.2\r\n",
        b"HTTP/1.1 400 Bad Request\r\n\r\n",
        b"\x00" * 64,
        b"\xff" * 64,
        b"\x20\xff\xff\xff\x7f",
        b"\x20\x02\x00",
        b"\x20\x02\x00\xfe",
    ],
    ids=lambda junk: junk[:8].hex(),
)
async def test_something_else_than_a_broker(
    scripted_broker: Broker,
    junk: bytes,
    monkeypatch: pytest.MonkeyPatch,
    complaints: pytest.LogCaptureFixture,
) -> None:
    monkeypatch.setattr("chargeassist_adapters.mqtt_link.CONNECT_WITHIN_S", 0.3)
    scripted_broker.on_connect = junk
    async with running(source_at(scripted_broker, "a")) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        scripted_broker.on_connect = b""
        await sink.until(lambda k: len(k.returns) == 1)
    assert [r for r in complaints.records if r.name == "asyncio"] == []


@pytest.mark.parametrize(
    "junk",
    [
        b"\xff\xff\xff\xff\xff\xff",
        b"\x30\x05\xff\xff\xff\xff\xff",
        b"\x30\x04\x00\x02\xff\xfe",
        b"\x30\x00",
        b"\x90\x00",
        b"\x20\x02\x00\x00",
        b"\x40\x01\x00",
    ],
    ids=lambda junk: junk.hex(),
)
async def test_broken_packets_after_the_start_cost_a_reconnect_at_most(
    scripted_broker: Broker, junk: bytes, complaints: pytest.LogCaptureFixture
) -> None:
    async with running(source_at(scripted_broker, "a")) as sink:
        await until_subscribed(scripted_broker)
        scripted_broker.send("a", b"1")
        await sink.until(lambda k: len(k.readings) == 1)
        scripted_broker.send_raw(junk)
        for _ in range(500):
            scripted_broker.send("a", b"2")
            await asyncio.sleep(0.01)
            if 2 + 273.15 in sink.values("t0"):
                break
    assert 2 + 273.15 in sink.values("t0")
    assert [r for r in complaints.records if r.name == "asyncio"] == []


async def test_hung_up_then_back(scripted_broker: Broker) -> None:
    async with running(source_at(scripted_broker, "a")) as sink:
        await until_subscribed(scripted_broker)
        scripted_broker.hang_up()
        await sink.until(lambda k: len(k.returns) == 1)
        scripted_broker.send("a", b"1", retain=True)
        await sink.until(lambda k: len(k.readings) == 1)
    assert len(sink.losses) == 1
    assert sink.readings[0].quality is Quality.RETAINED


async def test_a_broker_that_hangs_up_each_time_is_not_hammered(scripted_broker: Broker) -> None:
    """As it does to two programs that use one client identifier (MQTT 3.1.1, 3.1.4)."""
    spec = SourceSpec(
        name="rack",
        url=f"mqtt://127.0.0.1:{scripted_broker.port}?client_id=van",
        probes=(
            ProbeSpec(
                channel=Channel(name="t0", role=Role.LIQUID_TEMPERATURE, unit="°C"), topic="a"
            ),
        ),
    )
    source = MqttSource.from_spec(spec, Path())
    source.retry = Backoff(0.1, 5.0)
    async with running(source) as sink:
        for times in range(1, 5):
            await until_subscribed(scripted_broker, times)
            scripted_broker.hang_up()
        await sink.until(lambda k: len(k.losses) == 4)
        await asyncio.sleep(0.3)
        assert len(scripted_broker.subscribed) == 4, "after 0.1, 0.2, 0.4 s"
    assert "does another program use client_id 'van' too?" in sink.losses[0].reason


async def test_cancelled_while_the_broker_does_not_answer(scripted_broker: Broker) -> None:
    scripted_broker.answer_connect = False
    async with running(source_at(scripted_broker, "a")) as sink:
        for _ in range(500):
            if scripted_broker.connects:
                break
            await asyncio.sleep(0.01)
    assert scripted_broker.connects == 1
    assert sink.events == []


async def test_a_burst_is_read_to_its_end(scripted_broker: Broker) -> None:
    async with running(source_at(scripted_broker, "a")) as sink:
        await until_subscribed(scripted_broker)
        for i in range(5000):
            scripted_broker.send("a", b"%d" % i)
        await sink.until(lambda k: 4999 + 273.15 in k.values("t0"))
    assert sink.values("t0") == [i + 273.15 for i in range(5000)]
    assert sink.let_go == 0


async def test_readings_do_not_come_before_the_source_is_back(scripted_broker: Broker) -> None:
    """A retained value follows the subscription at once, before anybody has seen it stand."""
    async with running(source_at(scripted_broker, "a")) as sink:
        await until_subscribed(scripted_broker)
        scripted_broker.hang_up()
        for number in range(2, 500):
            await asyncio.sleep(0.01)
            if len(scripted_broker.subscribed) >= 2:
                scripted_broker.send("a", b"%d" % number, retain=True)
                break
        await sink.until(lambda k: len(k.readings) == 1)
    assert [type(event) for event in sink.events] == [SourceLost, SourceBack, Reading]


async def test_a_program_error_in_a_message_ends_the_source(
    scripted_broker: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("a mistake of ours")

    monkeypatch.setattr(MqttSource, "handle", broken)
    source, clock = source_at(scripted_broker, "a"), SteadyClock()
    run = asyncio.create_task(source.run(CollectingSink("rack", clock), clock))
    await until_subscribed(scripted_broker)
    scripted_broker.send("a", b"1")
    with pytest.raises(ZeroDivisionError, match="a mistake of ours"):
        await asyncio.wait_for(run, 5.0)
