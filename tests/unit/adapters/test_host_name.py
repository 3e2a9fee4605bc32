"""A name that is looked up for a long time holds nobody up."""

import asyncio
import socket
import threading

import pytest

from chargeassist_adapters import mqtt_link
from chargeassist_adapters.host_name import addresses_of


async def test_names_and_addresses_are_found() -> None:
    assert await addresses_of("127.0.0.1", 1883) == ("127.0.0.1",)
    assert set(await addresses_of("localhost", 1883)) <= {"127.0.0.1", "::1"}


@pytest.mark.parametrize("host", ["a..b", "x" * 70, "no-such-host.invalid"])
async def test_a_name_that_is_none_is_not_found(host: str) -> None:
    with pytest.raises(socket.gaierror):
        await addresses_of(host, 1883)


def test_the_program_ends_while_a_name_is_looked_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """asyncio.run waits for the pool in which asyncio itself looks names up."""
    may_end = threading.Event()

    def hangs(*_: object, **__: object) -> list[object]:
        may_end.wait(60.0)
        raise socket.gaierror(socket.EAI_AGAIN, "Temporary failure in name resolution")

    monkeypatch.setattr(socket, "getaddrinfo", hangs)
    monkeypatch.setattr(mqtt_link, "CONNECT_WITHIN_S", 0.1)
    broker = mqtt_link.Broker("slow.example", 1883)

    async def connect() -> str:
        try:
            async with mqtt_link.connected(broker, lambda message: None):
                return "connected"
        except OSError as error:
            return mqtt_link.why(error, broker)

    try:
        said = asyncio.run(connect())
        looking = [each for each in threading.enumerate() if each.name == "look up slow.example"]
    finally:
        may_end.set()
    for thread in looking:
        thread.join(10.0)
    assert "host name not found" in said
    assert len(looking) == 1, "the look-up went on when all else had ended"
