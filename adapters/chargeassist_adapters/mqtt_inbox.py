"""Messages of an MQTT connection, given on in the moment they are read.

aiomqtt keeps what it reads in a queue and takes it out in a task of its own: three rounds of the
event loop for each message, while the socket is read once in a round. Whatever does anything with
a message falls behind, and the queue overflows although there is time. Here the queue gives each
message on at once, and the socket is read until nothing waits in it or `READ_SLICE_S` has passed.
A burst then waits in the session's intake, where what is let go is counted, and
not at the broker, which keeps little for a slow reader and tells nobody what it let go.
"""

import asyncio
from collections.abc import Callable

import aiomqtt

READ_SLICE_S = 0.02
"""How long [s] the socket is read at a time before others have their turn."""

Take = Callable[[aiomqtt.Message], None]


class Inbox(asyncio.Queue[aiomqtt.Message]):
    """The queue of one connection: bounded until there is somebody to give to, then a passage.

    Parameters
    ----------
    limit : int
        Messages waiting before the oldest is let go.
    on_drop : callable
        Told each message that is let go.

    Attributes
    ----------
    came : int
        Messages so far.
    error : Exception or None
        What `take` raised; messages wait again from then on.
    """

    def __init__(self, limit: int, on_drop: Take) -> None:
        super().__init__(limit)
        self.came = 0
        self.error: Exception | None = None
        self._on_drop = on_drop
        self._taker: Take | None = None

    def give_to(self, take: Take) -> None:
        """Give `take` what waits, and from now on each message as it comes."""
        while not self.empty():
            take(self.get_nowait())
        self._taker = take

    def hold(self) -> None:
        """Let messages wait again."""
        self._taker = None

    def put_nowait(self, item: aiomqtt.Message) -> None:
        """Give `item` on, or let it wait, making room if need be."""
        self.came += 1
        if self._taker is not None:
            try:
                self._taker(item)
            except Exception as error:  # noqa: BLE001  raised by who waits for messages
                self.error = error
                self.hold()
            else:
                return
        while self.full():
            self._on_drop(self.get_nowait())
        super().put_nowait(item)


async def deliver(client: aiomqtt.Client, inbox: Inbox, take: Take) -> None:
    """Give `take` every message until the connection is lost, which raises, or `take` raises.

    Raises
    ------
    aiomqtt.MqttError
        The connection is lost.
    """
    inbox.give_to(take)
    _read_eagerly(client, inbox)
    try:
        async for _ in client.messages:  # one comes here only when `take` has failed
            break
    finally:
        inbox.hold()
    if inbox.error is not None:
        raise inbox.error


def _read_eagerly(client: aiomqtt.Client, inbox: Inbox) -> None:
    """Read all that waits in the socket when it has something, in the place of one packet."""
    paho = client._client  # noqa: SLF001  aiomqtt's own callback uses the same
    loop = asyncio.get_running_loop()

    def decoded_bytes() -> bool:
        # They wait in an SSLSocket, where the selector does not see them.
        pending = getattr(paho.socket(), "pending", None)
        return pending is not None and pending() > 0

    def read() -> None:
        until = loop.time() + READ_SLICE_S
        try:
            while paho.socket() is not None:
                before = inbox.came
                paho.loop_read()
                if inbox.came == before and not decoded_bytes():
                    return
                if loop.time() > until:
                    if decoded_bytes():
                        loop.call_soon(read)
                    return
        except Exception as error:  # noqa: BLE001  as in aiomqtt: the connection is broken
            if not client._disconnected.done():  # noqa: SLF001
                client._disconnected.set_exception(error)  # noqa: SLF001

    sock = paho.socket()
    if sock is not None:
        loop.add_reader(sock.fileno(), read)
