"""A board at a broker that is there and lets nobody read."""

import asyncio
import contextlib
from collections.abc import AsyncIterator

import pytest

from chargeassist_adapters import mqtt_board
from chargeassist_adapters.mqtt_board import MqttBoard


class _Refusing:
    """The part of a connection that is asked before anything is read."""

    @property
    def client(self) -> "_Refusing":
        return self

    async def subscribe(self, topics: list[tuple[str, int]]) -> list[int]:
        # SUBACK, MQTT 3.1.1, 3.9.3: 0x80 is failure.
        return [0x80 for _ in topics]


async def test_a_watcher_whom_the_broker_refuses_is_told_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    @contextlib.asynccontextmanager
    async def connected(*_: object) -> AsyncIterator[_Refusing]:
        yield _Refusing()

    monkeypatch.setattr(mqtt_board, "connected", connected)
    board = MqttBoard.from_address("mqtt://van@broker.example/reading-room")
    told: asyncio.Queue[str] = asyncio.Queue()
    watching = asyncio.create_task(board.watch(lambda subject, payload: None, told.put_nowait))
    try:
        said = await asyncio.wait_for(told.get(), 5.0)
    finally:
        watching.cancel()
        await asyncio.gather(watching, return_exceptions=True)
    assert said == "mqtt://broker.example:1883: this account may not read reading-room"
    assert told.empty(), "it is not said to be listening"
