r"""Probes behind an MQTT broker: ``mqtt://host:1883``.

Address: ``mqtt://user@host:1883`` or, with TLS, ``mqtt://host:8883?tls=yes&ca=ca.pem`` (or
``mqtts://``). Options, in the address or in the job: ``tls``, ``ca`` (certificate of the authority,
else the system's), ``cert`` and ``key`` (client certificate and its unencrypted key, which nobody
else may read), ``password_env`` and ``password_keyring`` (see ``account``), ``keepalive`` (seconds,
5), ``client_id``, ``time`` (see ``payloads``). A password in the address is refused. With TLS the
broker's certificate and name are always verified; there is no option against it.

Wire format: each probe names a topic without wildcards; the payload is a plain number (see
``lines``), JSON with a path (see ``payloads``) or SenML (see ``senml``). Example: topic
``reading-room/liquid``, payload ``{"p": 248.1}``, select ``p``. Probes may share a topic.
Subscribed with QoS 1, no session kept at the broker. A retained message is the broker's last known
value, not a live sample: ``Quality.RETAINED``.

Junk becomes BadInput, at most five a second, the rest counted. A lost broker becomes SourceLost and
is tried again after 0.5 s doubling to 5 s, spread by chance; one that refuses the account or every
topic, after 30 s. A connection that broke within 10 s has not come right: the delays go on growing.
When the program was held up (``held``) it connects anew.

On Windows asyncio's selector loop is needed: paho's sockets are watched with ``add_reader``.
"""

import asyncio
from pathlib import Path

import aiomqtt

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.text import plain
from chargeassist.session.listening import Ear
from chargeassist.session.source import Clock, Sink
from chargeassist_adapters.address import read_options, source_name
from chargeassist_adapters.conversion import Fault, PayloadParser, bare
from chargeassist_adapters.faults import FaultGate
from chargeassist_adapters.field_source import FieldSource
from chargeassist_adapters.held import HeldWatch
from chargeassist_adapters.lines import of_message
from chargeassist_adapters.mqtt_address import CONNECTION_OPTIONS, broker_of
from chargeassist_adapters.mqtt_link import (
    Broker,
    RefusedError,
    connected,
    subscribed,
    why_and_wait,
)
from chargeassist_adapters.mqtt_listen import listen_to
from chargeassist_adapters.payloads import make_parser
from chargeassist_adapters.retry import Backoff

FORMATS = ("number", "json", "senml")
OPTIONS = {
    **CONNECTION_OPTIONS,
    "time": "path of the device's own time in seconds, json only",
}


class HeldError(Exception):
    """The program was held up: what waits in the connection has no true time."""


class MqttSource(FieldSource):
    """Reads the probes behind one broker.

    Attributes
    ----------
    retry : Backoff
        Delays between tries; may be replaced before `run`.
    """

    def __init__(
        self,
        name: str,
        broker: Broker,
        topics: dict[str, tuple[PayloadParser, int]],
        channels: tuple[Channel, ...],
    ) -> None:
        super().__init__(name, channels)
        self.retry = Backoff(jitter=0.2)
        self._broker = broker
        self._topics = topics
        self._dropped = 0

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "MqttSource":
        """Return a source for `spec`; nothing is connected before `run`.

        Raises
        ------
        ConfigError
            Also if a certificate file or a password is missing, or may be read by everybody.
        """
        name = source_name(spec)
        options = read_options(spec, spec.url.partition("?")[2], OPTIONS)
        broker = broker_of(name, spec.url.partition("?")[0], options, base)
        if spec.format not in FORMATS:
            raise ConfigError(
                f"source {name!r}: an MQTT payload has format {', '.join(FORMATS)}, "
                f"got {plain(spec.format)!r}"
            )
        if not spec.probes:
            raise ConfigError(f"source {name!r}: expected at least one probe, got none")
        by_topic: dict[str, list[ProbeSpec]] = {}
        for probe in spec.probes:
            by_topic.setdefault(_topic(name, probe), []).append(probe)
        topics = {
            topic: (make_parser(spec.format, probes, options), len(probes))
            for topic, probes in by_topic.items()
        }
        return cls(name, broker, topics, tuple(p.channel for p in spec.probes))

    @classmethod
    async def listen(cls, spec: SourceSpec, base: Path, ear: Ear, topics: str = "") -> None:
        """Tell `ear` each message that matches the filter `topics`, decoded, until cancelled.

        Raises
        ------
        ConfigError
        """
        name = source_name(spec)
        options = read_options(spec, spec.url.partition("?")[2], OPTIONS)
        broker = broker_of(name, spec.url.partition("?")[0], options, base)
        await listen_to(broker, topics or "#", FORMATS, ear)

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Read until cancelled; a missing broker is told to `sink` and tried again."""
        gate = FaultGate(sink, clock)
        try:
            while True:
                reason, delay_s = await self._until_lost(sink, gate, clock)
                sink.lost(plain(f"{self._broker.shown}: {reason}", 240))
                await asyncio.sleep(delay_s)
        finally:
            gate.flush()

    async def _until_lost(self, sink: Sink, gate: FaultGate, clock: Clock) -> tuple[str, float]:
        """Listen; return why that ended and how long to wait [s]."""
        try:
            await self._listen(sink, gate, clock)
        except HeldError:
            return (
                "the program was held up; connected anew, so that nothing old passes for new",
                0.0,
            )
        except (RefusedError, aiomqtt.MqttError, OSError) as exc:
            return why_and_wait(exc, self._broker, self.retry)
        return "connection ended", self.retry.next_s()

    async def _listen(self, sink: Sink, gate: FaultGate, clock: Clock) -> None:
        async with connected(self._broker, self._note_drop) as connection:
            await self._subscribe(connection.client, gate)
            self.retry.made()
            sink.back()
            watch = HeldWatch()
            looking = asyncio.create_task(watch.keep_looking(), name=f"{self._name} watch")

            def take(message: aiomqtt.Message) -> None:
                if watch.was_held:
                    self._note_drop(message)
                    raise HeldError
                self._tell_dropped(sink)
                self.handle(message, sink, gate, clock.now())

            try:
                await connection.deliver(take)
            finally:
                looking.cancel()
                await asyncio.gather(looking, return_exceptions=True)
                while not connection.inbox.empty():
                    self._note_drop(connection.inbox.get_nowait())
                self._tell_dropped(sink)

    async def _subscribe(self, client: aiomqtt.Client, gate: FaultGate) -> None:
        refused = await subscribed(client, list(self._topics))
        if len(refused) == len(self._topics):
            raise RefusedError("this account may not read any of the topics")
        for topic in refused:
            gate.report(Fault(f"the broker refuses topic {plain(topic, 80)!r} to this account"))

    def handle(self, message: aiomqtt.Message, sink: Sink, gate: FaultGate, now: float) -> None:
        """Deliver what `message` holds; `now` is the session time [s]."""
        entry = self._topics.get(message.topic.value)
        if entry is None:
            gate.report(
                Fault(f"message on topic {plain(message.topic.value, 80)!r}, not asked for")
            )
            return
        raw = bare(bytes(message.payload))
        if not raw.strip():
            gate.report(Fault(f"empty message on topic {plain(message.topic.value, 80)!r}"))
            return
        for found in entry[0].parse(raw, now):
            if isinstance(found, Fault):
                gate.report(of_message(found))
                continue
            sink.reading(
                found.channel,
                found.value,
                quality=Quality.RETAINED if message.retain else found.quality,
                device_time=found.device_time,
            )

    def _note_drop(self, message: aiomqtt.Message) -> None:
        entry = self._topics.get(message.topic.value)
        self._dropped += entry[1] if entry else 1

    def _tell_dropped(self, sink: Sink) -> None:
        if self._dropped:
            dropped, self._dropped = self._dropped, 0
            sink.dropped(dropped)


def _topic(name: str, probe: ProbeSpec) -> str:
    topic = probe.topic
    where = f"source {name!r}, probe {plain(probe.channel.name)!r}"
    if not topic:
        raise ConfigError(
            f"{where}: expected a topic, got none; chargeassist probes --guide shows those that "
            "the broker tells"
        )
    if "+" in topic or "#" in topic or topic.startswith("$share/"):
        raise ConfigError(
            f"{where}: expected one topic without wildcards (+ #), got {plain(topic)!r}; "
            "a wildcard would mix several devices in one channel"
        )
    if "\0" in topic or len(topic.encode("utf-8", "replace")) > 65535:
        raise ConfigError(f"{where}: {plain(topic, 40)!r} is not an MQTT topic")
    return topic
