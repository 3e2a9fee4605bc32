"""The connection to an MQTT broker: made, told apart from its failures, ended without a trace."""

import asyncio
import contextlib
import logging
import ssl
from collections.abc import AsyncIterator, Coroutine
from dataclasses import dataclass, field
from socket import gaierror
from typing import TypeVar, cast

import aiomqtt
from aiomqtt.exceptions import MqttConnectError

from chargeassist.model.text import plain
from chargeassist_adapters.host_name import addresses_of
from chargeassist_adapters.mqtt_inbox import Inbox, Take, deliver
from chargeassist_adapters.retry import Backoff

T = TypeVar("T")

CONNECT_WITHIN_S = 5.0
STOP_CONNECTING_WITHIN_S = 0.5
"""How long connecting may take, and how long giving it up is waited for [s]."""

FAREWELL_DELAYS_S = (0.0,) * 10 + (0.01,) * 20
"""Looks whether the farewell has been written, and the pause after each [s]."""

MAX_WAITING_MESSAGES = 1000
"""Kept while nobody takes them; the oldest are let go and counted."""

REFUSED_RETRY_S = 30.0
"""Before a broker that refuses is asked again [s]."""

# CONNACK: 4 and 5 of MQTT 3.1.1 (table 3.1), 134 and 135 of MQTT 5 (table 3-1), which paho uses
# for both versions.
REFUSED_CODES = frozenset({4, 5, 0x86, 0x87})
FIRST_FAILURE_CODE = 0x80

# What to do, by the X.509 verification code (openssl-verification-options, "DIAGNOSTICS").
_CERTIFICATE = {
    9: "is this computer's clock right?",
    10: "have it renewed; or is this computer's clock wrong?",
    62: "it is for another host: give the name that stands in it",
    64: "it is for another host: give the name that stands in it",
}

# paho and aiomqtt log what is told to the sink anyway; without a handler of its own, logging would
# print it over the screen.
_LOG = logging.getLogger("chargeassist_adapters.mqtt")
_LOG.addHandler(logging.NullHandler())


class RefusedError(Exception):
    """The broker is there but does not let us; its text is shown."""


@dataclass(frozen=True, slots=True)
class Broker:
    """Where and how to connect."""

    host: str
    port: int
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: ssl.SSLContext | None = None
    keepalive_s: int = 5
    client_id: str | None = None

    @property
    def shown(self) -> str:
        """The address without credentials."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return plain(f"{'mqtts' if self.tls else 'mqtt'}://{host}:{self.port}")


@dataclass(frozen=True, slots=True)
class Connection:
    """One connection to a broker."""

    client: aiomqtt.Client
    inbox: Inbox

    async def deliver(self, take: Take) -> None:
        """Give `take` every message as it is read; see `mqtt_inbox.deliver`."""
        await deliver(self.client, self.inbox, take)


@contextlib.asynccontextmanager
async def connected(broker: Broker, on_drop: Take) -> AsyncIterator[Connection]:
    """Connect, and leave neither task nor socket behind however it ends.

    paho connects in a thread that nothing can interrupt, and aiomqtt leaves the socket open when
    its connecting is cancelled. So the way is tried first with asyncio, which can be cancelled and
    says plainly what is wrong, and the connecting proper is never cancelled half-way.

    Parameters
    ----------
    broker : Broker
    on_drop : callable
        Told each message let go while there is nobody to give it to.
    """
    await _try_the_way(broker)
    inbox = Inbox(MAX_WAITING_MESSAGES, on_drop)
    made = cast("type[asyncio.Queue[aiomqtt.Message]]", lambda maxsize: inbox)
    client = aiomqtt.Client(
        broker.host,
        broker.port,
        username=broker.user,
        password=broker.password,
        identifier=broker.client_id,
        logger=_LOG,
        keepalive=broker.keepalive_s,
        timeout=CONNECT_WITHIN_S,
        tls_context=broker.tls,
        queue_type=made,
        max_queued_incoming_messages=MAX_WAITING_MESSAGES,
    )
    client._client.disable_logger()  # noqa: SLF001  paho words a line for each packet
    entering = asyncio.ensure_future(client.__aenter__())
    try:
        await asyncio.shield(entering)
        yield Connection(client, inbox)
    finally:
        await _close(client, entering)


async def answered(call: Coroutine[None, None, T]) -> T:
    """Await a call of aiomqtt's client so that a cancellation is never lost.

    aiomqtt waits for the broker's answer with asyncio.wait_for, which in Python 3.11 swallows a
    cancellation that comes together with the answer.
    """
    calling = asyncio.ensure_future(call)
    try:
        await asyncio.wait({calling})
    finally:
        calling.cancel()
    return calling.result()


async def subscribed(client: aiomqtt.Client, topics: list[str], qos: int = 1) -> list[str]:
    """Subscribe to `topics`; return those the broker refuses to this account."""
    answer = await answered(client.subscribe([(topic, qos) for topic in topics]))
    codes = [getattr(code, "value", code) for code in answer]
    return [t for t, code in zip(topics, codes, strict=False) if code >= FIRST_FAILURE_CODE]


async def _open(broker: Broker, addresses: tuple[str, ...]) -> asyncio.StreamWriter:
    for number, address in enumerate(addresses, 1):
        try:
            _, writer = await asyncio.open_connection(
                address,
                broker.port,
                ssl=broker.tls,
                server_hostname=broker.host if broker.tls else None,
            )
        except OSError:
            if number == len(addresses):
                raise
        else:
            return writer
    raise gaierror("no address")


async def _try_the_way(broker: Broker) -> None:
    try:
        async with asyncio.timeout(CONNECT_WITHIN_S):
            addresses = await addresses_of(broker.host, broker.port)
    except TimeoutError:
        raise gaierror("timed out") from None
    async with asyncio.timeout(CONNECT_WITHIN_S):
        writer = await _open(broker, addresses)
    writer.transport.abort()
    await _let_callbacks_run()


async def _close(client: aiomqtt.Client, entering: "asyncio.Future[aiomqtt.Client]") -> None:
    """End the connection in whatever state it is; uses aiomqtt's private parts where it must.

    aiomqtt's own exit leaves the socket open and its housekeeping task running when a packet could
    not be read, when connecting timed out, and when connecting was cancelled.
    """
    if not entering.done():
        if not client._connected.done():  # noqa: SLF001  cancelling it would break its callbacks
            client._connected.set_exception(aiomqtt.MqttError("given up"))  # noqa: SLF001
        await asyncio.wait({entering}, timeout=STOP_CONNECTING_WITHIN_S)
    paho = client._client  # noqa: SLF001  the only handle on the socket
    paho.disconnect()
    # The loop writes the farewell when it comes round; paho closes the socket after it.
    for delay_s in FAREWELL_DELAYS_S:
        if paho.socket() is None:
            break
        await asyncio.sleep(delay_s)
    if paho.socket() is not None:
        paho._sock_close()  # noqa: SLF001  the farewell could not be written: go without
    for future in (entering, client._connected, client._disconnected):  # noqa: SLF001
        # Fetched here, or asyncio prints "exception was never retrieved" over the screen.
        if future.done() and not future.cancelled():
            future.exception()
    await _let_callbacks_run()


async def _let_callbacks_run() -> None:
    # aiomqtt ends its housekeeping task by callbacks of callbacks; three rounds see it gone.
    for _ in range(4):
        await asyncio.sleep(0)


def why_and_wait(exc: Exception, broker: Broker, retry: Backoff) -> tuple[str, float]:
    """Return why a broker cannot be used, and how long to wait before the next try [s]."""
    if isinstance(exc, RefusedError):
        return str(exc), REFUSED_RETRY_S
    reason = why(exc, broker)
    if is_refusal(exc):
        return reason, REFUSED_RETRY_S
    if retry.broke_soon and broker.client_id:
        # A broker lets go of the older of two clients of one name (MQTT 3.1.1, section 3.1.4).
        shared = plain(broker.client_id, 40)
        reason = f"{reason}; does another program use client_id {shared!r} too?"
    return reason, retry.next_s()


def is_refusal(exc: Exception) -> bool:
    """Return whether trying again at once would be refused again."""
    return isinstance(exc, MqttConnectError) and getattr(exc.rc, "value", exc.rc) in REFUSED_CODES


def why(exc: Exception, broker: Broker) -> str:
    """Return in one clause why a broker cannot be used and what to do."""
    if is_refusal(exc):
        return "the broker refuses the user name or password"
    if isinstance(exc, ssl.SSLCertVerificationError):
        problem = str(getattr(exc, "verify_message", "") or exc).rstrip(".")
        what = _CERTIFICATE.get(exc.verify_code, "give the authority's file as ca=")
        return f"certificate not accepted ({problem}); {what}"
    if isinstance(exc, ssl.SSLError):
        return f"TLS failed ({getattr(exc, 'reason', None) or exc}); is this a TLS port?"
    if isinstance(exc, gaierror):
        return "host name not found; is this machine on the right network?"
    if isinstance(exc, ConnectionRefusedError):
        return "connection refused; is the broker running, is the port right?"
    if isinstance(exc, TimeoutError) or "timed out" in str(exc):
        hint = (
            "does it want a client certificate?" if broker.tls else "is this a TLS port (tls=yes)?"
        )
        return f"no answer within {CONNECT_WITHIN_S:g} s; {hint}"
    if "Disconnected during" in str(exc):
        return "connection lost"
    return str(exc) or type(exc).__name__
