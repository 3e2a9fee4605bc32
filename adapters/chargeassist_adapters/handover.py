"""From a thread that may block to the event loop: in order, in batches, in bounded memory."""

import asyncio
import threading
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

from chargeassist.session.clock import steady_s

STOP_WITHIN_S = 0.9
MAX_WAITING = 1000

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Lost:
    """Said by a thread: the source, or `part` of it, is gone."""

    reason: str
    part: str = ""


@dataclass(frozen=True, slots=True)
class Back:
    """Said by a thread: the source, or `part` of it, delivers."""

    part: str = ""


class Handover(Generic[Item]):
    """Carries items out of one thread; made on the loop they are delivered on.

    Parameters
    ----------
    deliver : callable
        Called on the loop with each item.
    dropped : callable
        Called on the loop with how many items were let go, before those that came after them.
    limit : int
        How many may wait; beyond it the oldest are let go.

    Attributes
    ----------
    waited_s : float
        How long the oldest of the items now being delivered has waited [s].
    """

    def __init__(
        self,
        deliver: Callable[[Item], None],
        dropped: Callable[[int], None],
        *,
        limit: int = MAX_WAITING,
    ) -> None:
        self._loop = asyncio.get_running_loop()
        self._deliver = deliver
        self._tell_dropped = dropped
        self._limit = limit
        self._failed: asyncio.Future[None] = self._loop.create_future()
        self._ended = asyncio.Event()
        self._lock = threading.Lock()
        self._items: deque[Item] = deque()
        self._since = 0.0
        self.waited_s = 0.0
        self._dropped = 0
        self._called = False
        self._closed = False

    async def run(
        self,
        work: Callable[[], None],
        stop: Callable[[], None],
        *,
        name: str,
        within_s: float = STOP_WITHIN_S,
    ) -> None:
        """Run `work` in a thread until cancelled; what it raises is raised here.

        Parameters
        ----------
        work : callable
            Returns soon after `stop` was called.
        stop : callable
            Called on the loop.
        name : str
            Of the thread.
        within_s : float
            How long the thread is waited for [s]. Only a port that hangs while it is opened
            outlasts it; its thread closes the port by itself when the opening ends.
        """

        def top() -> None:
            try:
                work()
            except Exception as exc:  # noqa: BLE001  top of the thread
                self._call(self._fail, exc)
            finally:
                self._call(self._ended.set)

        thread = threading.Thread(target=top, name=name, daemon=True)
        thread.start()
        try:
            await self._failed
        finally:
            self._closed = True
            stop()
            try:
                await asyncio.wait_for(self._ended.wait(), within_s)
                thread.join()
            except TimeoutError:
                pass

    def put(self, items: Iterable[Item]) -> None:
        """Hand `items` over; called in the thread."""
        with self._lock:
            if not self._items:
                self._since = steady_s()
            self._items.extend(items)
            while len(self._items) > self._limit:
                self._items.popleft()
                self._dropped += 1
            call = not self._called and not self._closed and len(self._items) > 0
            self._called = self._called or call
        if call:
            self._call(self._collect)

    def let_go(self, count: int) -> None:
        """Count items that were let go before they came here; called in the thread."""
        with self._lock:
            self._dropped += count
            call = count > 0 and not self._called and not self._closed
            self._called = self._called or call
        if call:
            self._call(self._collect)

    def _call(self, function: Callable[..., None], *args: object) -> None:
        """Call `function` on the loop, if there still is one."""
        try:
            self._loop.call_soon_threadsafe(function, *args)
        except RuntimeError:
            self._closed = True

    def _fail(self, exc: BaseException) -> None:
        """Let `run` raise `exc`: a fault of the program, not of the field."""
        if not self._failed.done():
            self._failed.set_exception(exc)

    def _collect(self) -> None:
        with self._lock:
            items, self._items = self._items, deque()
            dropped, self._dropped = self._dropped, 0
            self._called = False
            self.waited_s = steady_s() - self._since
        if self._closed:
            return
        try:
            if dropped:
                self._tell_dropped(dropped)
            for item in items:
                self._deliver(item)
        except Exception as exc:  # noqa: BLE001  a callback's error would be logged and lost
            self._fail(exc)
