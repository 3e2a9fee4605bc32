"""Listening to a broker before any topic is known: every message that matches a filter, decoded."""

import asyncio

import aiomqtt

from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain
from chargeassist.session.listening import Ear, Heard
from chargeassist_adapters.conversion import Fault, bare
from chargeassist_adapters.fields import decode
from chargeassist_adapters.mqtt_link import (
    Broker,
    RefusedError,
    connected,
    subscribed,
    why_and_wait,
)
from chargeassist_adapters.retry import Backoff


async def listen_to(broker: Broker, topics: str, formats: tuple[str, ...], ear: Ear) -> None:
    """Tell `ear` what comes until cancelled; a missing broker is told and tried again.

    Parameters
    ----------
    broker : Broker
    topics : str
        Filter; "#" is all but what begins with "$" (MQTT 3.1.1, sections 4.7.1 and 4.7.2).
    formats : tuple of str
    ear : Ear

    Raises
    ------
    ConfigError
        If `topics` is no filter.
    """
    _check_filter(topics)
    retry = Backoff(jitter=0.2)
    while True:
        try:
            await _listen(broker, topics, formats, ear, retry)
        except (RefusedError, aiomqtt.MqttError, OSError) as error:
            reason, delay_s = why_and_wait(error, broker, retry)
        else:
            reason, delay_s = "connection ended", retry.next_s()
        ear.lost(plain(f"{broker.shown}: {reason}", 240))
        await asyncio.sleep(delay_s)


async def _listen(
    broker: Broker, topics: str, formats: tuple[str, ...], ear: Ear, retry: Backoff
) -> None:
    async with connected(broker, lambda _: None) as connection:
        # Nothing is kept of what is heard here, so the broker need not deliver again.
        if await subscribed(connection.client, [topics], qos=0):
            raise RefusedError(
                f"this account may not read {plain(topics, 80)!r}; name topics it may read"
            )
        retry.made()
        ear.back()

        def take(message: aiomqtt.Message) -> None:
            raw = bare(bytes(message.payload))
            found = decode(raw, formats, topic=message.topic.value, retained=message.retain)
            # Other people's topics hold anything; that is no trouble of this line.
            ear.heard(Heard(raw, message.topic.value) if isinstance(found, Fault) else found)

        await connection.deliver(take)


def _check_filter(topics: str) -> None:
    levels = topics.split("/")
    # 4.7.1: "#" alone in the last level, "+" alone in any.
    wrong = "#" in "".join(levels[:-1]) or ("#" in levels[-1] and levels[-1] != "#")
    wrong = wrong or any("+" in level and level != "+" for level in levels)
    if wrong or not topics or "\0" in topics:
        raise ConfigError(
            f"expected an MQTT topic filter such as reading-room/# or job/+/t, "
            f"got {plain(topics, 80)!r}"
        )
