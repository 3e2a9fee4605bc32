"""Keeps a babbling device from filling the record: a few faults a second, the rest counted."""

import asyncio
from collections.abc import Callable
from typing import Protocol

from chargeassist.model.text import plain
from chargeassist.session.source import Clock, Sink
from chargeassist_adapters.conversion import Fault

FAULTS_PER_SECOND = 5
"""Calls of ``sink.bad_input`` in a second of session time."""


class Cancellable(Protocol):
    """What a timer answers to."""

    def cancel(self) -> None:
        """Stop it before it rings."""
        ...


Later = Callable[[float, Callable[[], None]], Cancellable]
"""``loop.call_later`` or what stands in for it."""


class FaultGate:
    """Passes faults on to a sink, at most `FAULTS_PER_SECOND`; none is lost from the count.

    Parameters
    ----------
    sink : Sink
    clock : Clock
    later : Later, optional
        Timer for what is held back when nothing further comes; the running loop's by default.
    """

    def __init__(
        self,
        sink: Sink,
        clock: Clock,
        *,
        later: Later | None = None,
    ) -> None:
        self._sink = sink
        self._clock = clock
        self._later = later or asyncio.get_running_loop().call_later
        self._since = float("-inf")
        self._passed = 0
        self._last: Fault | None = None
        self._various = False
        self._held_count = 0
        self._timer: Cancellable | None = None

    def report(self, fault: Fault) -> None:
        """Pass `fault` on now, or hold it back and count it."""
        now = self._clock.now()
        if now - self._since >= 1.0:
            self._since = now
            self._passed = 0
            self.flush()
        if self._passed < FAULTS_PER_SECOND:
            self._passed += 1
            self._sink.bad_input(plain(fault.reason, 240), fault.raw)
            return
        self._held_count += 1
        self._various = self._various or (
            self._last is not None and self._last.reason != fault.reason
        )
        self._last = fault
        if self._timer is None:
            self._timer = self._later(1.0, self.flush)

    def flush(self) -> None:
        """Pass on, as one entry with its count, what was held back."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        if self._last is not None:
            various = "various faults, the last: " if self._various else ""
            self._passed += 1
            self._sink.bad_input(
                plain(various + self._last.reason, 240), self._last.raw, count=self._held_count
            )
        self._last = None
        self._various = False
        self._held_count = 0
