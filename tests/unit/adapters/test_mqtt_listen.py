"""Listening to a broker that comes and goes."""

import asyncio
import contextlib
from collections.abc import AsyncIterator

import aiomqtt
import pytest

from chargeassist.session.listening import Heard
from chargeassist_adapters import mqtt_listen, retry
from chargeassist_adapters.mqtt_link import Broker
from chargeassist_adapters.retry import Backoff


class _Granting:
    """A connection that is let in, and then lost at once."""

    @property
    def client(self) -> "_Granting":
        return self

    async def subscribe(self, topics: list[tuple[str, int]]) -> list[int]:
        return [0 for _ in topics]

    async def deliver(self, take: object) -> None:
        raise aiomqtt.MqttError("gone")


class _Ear:
    """Counts the losses."""

    def __init__(self) -> None:
        self.losses = 0
        self.enough = asyncio.Event()

    def heard(self, heard: Heard) -> None: ...

    def trouble(self, reason: str, raw: bytes = b"") -> None: ...

    def back(self) -> None: ...

    def lost(self, reason: str) -> None:
        self.losses += 1
        if self.losses == 4:
            self.enough.set()


async def test_a_broker_that_was_back_for_a_while_is_tried_again_as_soon_as_at_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    delays: list[float] = []

    class Quick(Backoff):
        def next_s(self) -> float:
            delays.append(super().next_s())
            return 0.0

    @contextlib.asynccontextmanager
    async def connected(*_: object) -> AsyncIterator[_Granting]:
        yield _Granting()

    monkeypatch.setattr(mqtt_listen, "connected", connected)
    monkeypatch.setattr(mqtt_listen, "Backoff", lambda **_: Quick())
    monkeypatch.setattr(retry, "LASTS_S", 0.0)
    ear = _Ear()
    listening = asyncio.create_task(
        mqtt_listen.listen_to(Broker("broker.example", 1883), "#", ("json",), ear)
    )
    await asyncio.wait_for(ear.enough.wait(), 5.0)
    listening.cancel()
    await asyncio.gather(listening, return_exceptions=True)
    assert set(delays) == {0.5}
