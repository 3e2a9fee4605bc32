"""The passage for messages without a broker: who gets them, and what waits for nobody."""

import asyncio

import aiomqtt
import pytest

from chargeassist_adapters.mqtt_inbox import READ_BYTES, Inbox, ReadAhead
from chargeassist_adapters.mqtt_link import answered


def message(number: int) -> aiomqtt.Message:
    return aiomqtt.Message("a", b"%d" % number, 1, False, number, None)


def numbers(messages: list[aiomqtt.Message]) -> list[int]:
    return [one.mid for one in messages]


def let_go(item: aiomqtt.Message) -> None:
    pytest.fail(f"message {item.mid} was let go")


def test_while_nobody_takes_the_oldest_go() -> None:
    gone: list[aiomqtt.Message] = []
    inbox = Inbox(3, gone.append)
    for number in range(10):
        inbox.put_nowait(message(number))
    assert numbers(gone) == list(range(7))
    assert numbers([inbox.get_nowait() for _ in range(3)]) == [7, 8, 9]


def test_who_takes_gets_what_waited_and_then_each_at_once() -> None:
    taken: list[aiomqtt.Message] = []
    inbox = Inbox(2, let_go)
    inbox.put_nowait(message(1))
    inbox.put_nowait(message(2))
    inbox.give_to(taken.append)
    for number in range(3, 100):
        inbox.put_nowait(message(number))
        assert taken[-1].mid == number
    assert numbers(taken) == list(range(1, 100))
    assert inbox.empty()
    inbox.hold()
    inbox.put_nowait(message(100))
    assert inbox.get_nowait().mid == 100


def test_an_error_of_who_takes_is_kept_and_the_rest_waits() -> None:
    def broken(item: aiomqtt.Message) -> None:
        raise ZeroDivisionError(item.mid)

    inbox = Inbox(5, let_go)
    inbox.give_to(broken)
    inbox.put_nowait(message(1))
    inbox.put_nowait(message(2))
    assert isinstance(inbox.error, ZeroDivisionError)
    assert inbox.error.args == (1,)
    assert inbox.qsize() == 2, "the first of them wakes who waits, to be told of the error"


class Socket:
    """Gives its pieces one by one, then says that nothing waits."""

    def __init__(self, *pieces: bytes) -> None:
        self.pieces = list(pieces)
        self.asked: list[int] = []

    def receive(self, size: int) -> bytes:
        self.asked.append(size)
        if not self.pieces:
            raise BlockingIOError
        return self.pieces.pop(0)


def test_what_is_read_ahead_comes_out_as_the_socket_had_it() -> None:
    socket = Socket(b"abcdef", b"g", b"")
    ahead = ReadAhead(socket.receive)
    assert not ahead.holds
    assert [ahead.receive(1), ahead.receive(2)] == [b"a", b"bc"]
    assert ahead.holds
    assert ahead.receive(100) == b"def", "never more than one piece: the next may not be there yet"
    assert not ahead.holds
    assert ahead.receive(1) == b"g"
    assert ahead.receive(1) == b"", "the end of the connection is told"
    with pytest.raises(BlockingIOError):
        ahead.receive(1)
    assert set(socket.asked) == {READ_BYTES}
    socket.pieces.append(b"h")
    assert ahead.receive(1) == b"h", "nothing is lost where for a moment nothing waited"


async def test_a_cancellation_that_comes_with_the_answer_is_not_lost() -> None:
    answer: asyncio.Future[int] = asyncio.get_running_loop().create_future()

    async def call() -> int:
        return await asyncio.wait_for(answer, 5.0)

    async def caller() -> None:
        await answered(call())
        pytest.fail("gone on after being cancelled")

    task = asyncio.create_task(caller())
    for _ in range(3):
        await asyncio.sleep(0)
    answer.set_result(1)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task


async def test_an_answer_and_its_error_pass_through() -> None:
    async def sound() -> int:
        return 3

    async def broken() -> int:
        raise aiomqtt.MqttError("no")

    assert await answered(sound()) == 3
    with pytest.raises(aiomqtt.MqttError, match="no"):
        await answered(broken())
