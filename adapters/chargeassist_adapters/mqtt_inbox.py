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

READ_BYTES = 65_536
"""Asked of the socket at a time."""

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
    _EagerReader(client, inbox)
    try:
        async for _ in client.messages:  # one comes here only when `take` has failed
            break
    finally:
        inbox.hold()
    if inbox.error is not None:
        raise inbox.error


class ReadAhead:
    """What a socket holds, read at once and handed out in pieces.

    paho asks for the first byte of a packet, then for each byte of its length, then for the rest,
    each time from the system.

    Parameters
    ----------
    receive : callable
        Returns at most so many bytes, none at the end; raises BlockingIOError where nothing waits.
    """

    def __init__(self, receive: Callable[[int], bytes]) -> None:
        self._receive = receive
        self._held = b""
        self._at = 0

    def receive(self, bufsize: int) -> bytes:
        """Return at most `bufsize` bytes, as the socket would."""
        at = self._at
        if at == len(self._held):
            self._held = self._receive(READ_BYTES)
            at = 0
        piece = self._held[at : at + bufsize]
        self._at = at + len(piece)
        return piece

    @property
    def holds(self) -> bool:
        """Whether some of what was read has not been handed out."""
        return self._at < len(self._held)


class _EagerReader:
    """Reads all that waits in a connection's socket when it has something, not one packet.

    It takes the place of aiomqtt's own reader, through the same private parts.
    """

    def __init__(self, client: aiomqtt.Client, inbox: Inbox) -> None:
        self._client = client
        self._paho = client._client  # noqa: SLF001
        self._inbox = inbox
        self._loop = asyncio.get_running_loop()
        self._ahead = ReadAhead(self._paho._sock_recv)  # noqa: SLF001  all that paho reads
        self._paho._sock_recv = self._ahead.receive  # type: ignore[method-assign]  # noqa: SLF001
        self._goes_on = False
        sock = self._paho.socket()
        if sock is not None:
            self._loop.add_reader(sock.fileno(), self._readable)

    def _readable(self) -> None:
        if not self._goes_on:  # else the turn is that of `_go_on`, once in a round of the loop
            self._read()

    def _go_on(self) -> None:
        self._goes_on = False
        self._read()

    def _read(self) -> None:
        until = self._loop.time() + READ_SLICE_S
        try:
            while self._paho.socket() is not None:
                before = self._inbox.came
                self._paho.loop_read()
                if self._inbox.came == before and not self._waits():
                    return
                if self._loop.time() > until:
                    if self._waits():
                        self._goes_on = True
                        self._loop.call_soon(self._go_on)
                    return
        except Exception as error:  # noqa: BLE001  as in aiomqtt: the connection is broken
            if not self._client._disconnected.done():  # noqa: SLF001
                self._client._disconnected.set_exception(error)  # noqa: SLF001

    def _waits(self) -> bool:
        """Return whether there is more of which the selector knows nothing."""
        pending = getattr(self._paho.socket(), "pending", None)  # decoded, of an SSLSocket
        return self._ahead.holds or (pending is not None and pending() > 0)
