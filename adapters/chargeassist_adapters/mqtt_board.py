"""A board at an MQTT broker: ``mqtt://host:1883/reading-room`` with the options of ``mqtt_probe``.

The path is the topic under which packs are told, ``chargeassist`` when left out: values at
``reading-room/values`` with QoS 0, verdicts at ``reading-room/verdicts`` with QoS 1 and kept by the
broker. A broker that is lost is told as such and tried again after 0.5 s doubling to 5 s, one that
refuses the account after 30 s; what would have been told meanwhile is not told later, except the
newest verdicts.
"""

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from urllib.parse import unquote, urlsplit, urlunsplit

import aiomqtt

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import SourceSpec
from chargeassist.model.text import plain
from chargeassist_adapters.address import read_options, shown
from chargeassist_adapters.mqtt_address import CONNECTION_OPTIONS, broker_of
from chargeassist_adapters.mqtt_link import (
    Broker,
    RefusedError,
    answered,
    connected,
    subscribed,
    why_and_wait,
)
from chargeassist_adapters.retry import Backoff

USUAL_TOPIC = "chargeassist"
Pack = tuple[str, bytes, bool]


class MqttBoard:
    """Tells or watches packs under one topic.

    Attributes
    ----------
    retry : Backoff
        Delays between tries; may be replaced before use.
    """

    def __init__(self, broker: Broker, topic: str) -> None:
        self.retry = Backoff(jitter=0.2)
        self._broker = broker
        self._topic = topic

    @classmethod
    def from_address(cls, address: str) -> "MqttBoard":
        """Return the board at `address`; nothing is connected yet.

        Raises
        ------
        ConfigError
            If it is no such address.
        """
        name = shown(address)
        options = read_options(
            SourceSpec(name=name, url=address), address.partition("?")[2], CONNECTION_OPTIONS
        )
        try:
            parts = urlsplit(address.partition("?")[0])
        except ValueError:
            raise ConfigError(f"{name!r}: expected mqtt://host:port/topic") from None
        topic = unquote(parts.path).strip("/") or USUAL_TOPIC
        if any(sign in topic for sign in "+#\0") or topic.startswith("$"):
            raise ConfigError(
                f"{name!r}: expected a topic without wildcards, got {plain(topic, 80)!r}"
            )
        bare = urlunsplit((parts.scheme, parts.netloc, "", "", ""))
        return cls(broker_of(name, bare, options, Path.cwd()), topic)

    async def tell(
        self, take: Callable[[bool], Awaitable[list[Pack]]], trouble: Callable[[str], None]
    ) -> None:
        """Send what `take` gives until cancelled.

        Parameters
        ----------
        take : callable
            Takes whether the connection is new, and returns the next packs.
        trouble : callable
            Told why there is no connection, and "" once there is one.
        """
        while True:
            try:
                async with connected(self._broker, lambda message: None) as connection:
                    client = connection.client
                    self.retry.made()
                    trouble("")
                    new = True
                    while True:
                        for subject, payload, keep in await take(new):
                            topic = f"{self._topic}/{subject}"
                            await answered(
                                client.publish(topic, payload, qos=int(keep), retain=keep)
                            )
                        new = False
            except (aiomqtt.MqttError, OSError) as error:
                reason, delay_s = why_and_wait(error, self._broker, self.retry)
                trouble(self._said(reason))
                await asyncio.sleep(delay_s)

    async def watch(self, hear: Callable[[str, bytes], None], note: Callable[[str], None]) -> None:
        """Call `hear` with each pack until cancelled, and `note` with how the connection stands.

        Parameters
        ----------
        hear : callable
            Takes subject and payload.
        note : callable
            Takes one line.
        """
        while True:
            try:
                await self._listen(hear, note)
            except (RefusedError, aiomqtt.MqttError, OSError) as error:
                reason, delay_s = why_and_wait(error, self._broker, self.retry)
            else:
                reason, delay_s = "connection ended", self.retry.next_s()
            note(self._said(reason))
            await asyncio.sleep(delay_s)

    def _said(self, reason: str) -> str:
        return plain(f"{self._broker.shown}: {reason}", 240)

    async def _listen(
        self, hear: Callable[[str, bytes], None], note: Callable[[str], None]
    ) -> None:
        def heard(message: aiomqtt.Message) -> None:
            if isinstance(message.payload, bytes):
                hear(str(message.topic).rpartition("/")[2], message.payload)

        async with connected(self._broker, lambda message: None) as connection:
            if await subscribed(connection.client, [f"{self._topic}/+"]):
                raise RefusedError(f"this account may not read {self._topic}")
            self.retry.made()
            note(f"listening to {self._broker.shown}, {self._topic}")
            await connection.deliver(heard)
