"""Asks the devices of one Modbus RTU line in turn, in a thread and an event loop of its own.

Opening a port may hang, and the session must not: so pymodbus's client runs in this thread's loop.

Modbus RTU numbers neither requests nor answers: an answer that comes too late looks like one to
the next question. So a device that did not answer in time is left alone for `QUIET_TIMES` what it
may take, and once more after it has answered again, since two answers may then be under way. That
is also why pymodbus's own retries, which ask at once, are not used. What was garbled is asked for
again when its time is over; an exception is an answer, and is not. An answer that the port kept
while the program was held up is let go and counted: nobody knows when it was given.

Reference: Modbus over Serial Line V1.02 (Modbus Organization, 2006), sections 2.4.1 (time between
frames) and 2.5.1 (RTU frame).
"""

import asyncio
import contextlib
import gc
import logging
import threading
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field

from pymodbus.client import AsyncModbusSerialClient
from pymodbus.exceptions import ConnectionException, ModbusIOException
from pymodbus.pdu import ModbusPDU

from chargeassist.session.clock import steady_s
from chargeassist.session.time_watch import HELD_S
from chargeassist_adapters.conversion import Fault, Found
from chargeassist_adapters.handover import Back, Handover, Lost
from chargeassist_adapters.modbus_registers import (
    FUNCTIONS,
    OF_ONE_REGISTER,
    Block,
    exception_words,
)
from chargeassist_adapters.port import PORT_ERRORS, PortSettings, why
from chargeassist_adapters.retry import Backoff

# What pymodbus logs is told as events here; without a handler it would land on the screen.
logging.getLogger("pymodbus").addHandler(logging.NullHandler())


@dataclass(frozen=True, slots=True)
class Retried:
    """A read that gave nothing at first and answered when it was asked again.

    Attributes
    ----------
    reason : str
        What was wrong with it at first.
    raw : bytes
        What was heard then, as hexadecimal digits.
    """

    reason: str
    raw: bytes = b""


Item = Found | Lost | Back | Retried

MISSES_TO_BE_LOST = 2
"""Answers missed in a row before a device is told as lost."""

QUIET_TIMES = 3.0
"""How long a device that was late is left alone, in times of what it may take."""

REQUEST_BYTES = 8
ANSWER_BYTES = 5
"""A request, and what is around the registers of an answer: device, function, count, checksum."""

LEAST_GAP_S = 0.00175
"""Silence between frames above 19 200 baud [s] (V1.02, section 2.5.1.1)."""

MAX_HEARD_BYTES = 300
"""Kept of what was heard, for errors: a longest frame has 256."""


NOT_TCP = "Modbus TCP, as a rule at port 502, is not read"


@dataclass(frozen=True, slots=True)
class Timing:
    """When to ask and how long to wait.

    Attributes
    ----------
    period_s : float
        From the begin of one round to that of the next, if the line is fast enough.
    timeout_s : float
        How long a device may take before it answers.
    """

    period_s: float = 1.0
    timeout_s: float = 0.5


def frame_time_s(settings: PortSettings, count: int) -> float:
    """Return how long a request for `count` registers and its answer take on the wire [s].

    The silence of 3.5 characters after each is included, what the device thinks is not.
    """
    gaps_s = 2.0 * gap_s(settings)
    return (REQUEST_BYTES + ANSWER_BYTES + 2 * count) * _character_s(settings) + gaps_s


def gap_s(settings: PortSettings) -> float:
    """Return the silence that parts two frames: 3.5 characters, above 19 200 baud 1.75 ms [s]."""
    return LEAST_GAP_S if settings.baud > 19_200 else 3.5 * _character_s(settings)


def _character_s(settings: PortSettings) -> float:
    bits = 1 + settings.bytesize + (settings.parity != "N") + settings.stopbits
    return bits / settings.baud


@dataclass(slots=True)
class _Device:
    """What is known of one device."""

    backoff: Backoff
    misses: int = 0
    due_t: float = 0.0

    def missed(self, now: float, quiet_s: float) -> bool:
        """Note that it did not answer at `now` [s]; return whether it counts as lost."""
        self.misses += 1
        lost = self.misses >= MISSES_TO_BE_LOST
        self.due_t = now + max(self.backoff.next_s() if lost else 0.0, quiet_s)
        return lost

    def heard(self, now: float, quiet_s: float) -> bool:
        """Note that it answered at `now` [s]; return whether it had to be asked again for it."""
        again = 0 < self.misses < MISSES_TO_BE_LOST
        if self.misses:
            self.due_t = now + quiet_s
        self.misses = 0
        self.backoff.reset()
        return again


@dataclass(slots=True)
class _Ask:
    """A block and when it is asked for again."""

    block: Block
    backoff: Backoff = field(default_factory=Backoff)
    due_t: float = 0.0


class _GoneError(Exception):
    """The port is no longer there."""


class ModbusLine:
    """The thread's work.

    Parameters
    ----------
    settings : PortSettings
    shown : str
        The port, as it is named in events.
    blocks : sequence of Block
    timing : Timing
    retry : Backoff
        Delays between tries to open the port.
    handover : Handover
    echo : bool
        Whether the adapter hears what it sends.
    """

    def __init__(
        self,
        settings: PortSettings,
        shown: str,
        blocks: Sequence[Block],
        timing: Timing,
        retry: Backoff,
        handover: Handover[Item],
        *,
        echo: bool = False,
    ) -> None:
        self._settings = settings
        self._shown = shown
        self._blocks = tuple(blocks)
        self._timing = timing
        self._retry = retry
        self._handover = handover
        self._echo = echo
        self._networked = settings.device.startswith("socket://")
        longest_s = max((frame_time_s(settings, b.count) for b in self._blocks), default=0.0)
        self._within_s = timing.timeout_s + longest_s
        self._gap_s = gap_s(settings)
        self._heard = b""
        self._sent = b""
        self._stop = threading.Event()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._task: asyncio.Task[None] | None = None

    def work(self) -> None:
        """Run until `stop` is called."""
        with contextlib.suppress(asyncio.CancelledError), asyncio.Runner() as runner:
            runner.run(self._main())

    def stop(self) -> None:
        """Let `work` end; may be called from any thread, also before `work` has begun."""
        self._stop.set()
        if self._loop is not None and self._task is not None:
            with contextlib.suppress(RuntimeError):  # it has ended by itself
                self._loop.call_soon_threadsafe(self._task.cancel)

    async def _main(self) -> None:
        loop = asyncio.get_running_loop()
        # pymodbus raises in a callback where a frame checks but makes no sense; the bytes are
        # kept by _trace, and the request ends as unanswered.
        loop.set_exception_handler(lambda loop, context: None)
        self._task = asyncio.current_task()
        self._loop = loop
        while not self._stop.is_set():
            try:
                reason = await self._until_lost()
            except PORT_ERRORS as exc:
                reason = why(exc, self._shown)
                # pymodbus gives a port that fails while it is set up back only as garbage.
                gc.collect()
            if not self._stop.is_set():
                self._handover.put([Lost(reason)])
                await asyncio.sleep(self._retry.next_s())

    async def _until_lost(self) -> str:
        """Ask until the port is gone; return why."""
        settings = self._settings
        client = AsyncModbusSerialClient(
            settings.device,
            baudrate=settings.baud,
            bytesize=settings.bytesize,
            parity=settings.parity,
            stopbits=int(settings.stopbits),
            handle_local_echo=self._echo,
            reconnect_delay=0,
            timeout=self._within_s,
            retries=0,
            trace_packet=self._trace,
        )
        try:
            if not await client.connect():
                # pymodbus keeps the reason to itself; whoever tries again is told it.
                settings.open().close()
                return f"{self._shown} could not be opened"
            await self._rounds(client)
        except _GoneError:
            if self._networked:
                return f"{self._shown} ended the connection; {NOT_TCP}"
            return f"{self._shown} was unplugged"
        finally:
            client.close()
        return ""

    async def _rounds(self, client: AsyncModbusSerialClient) -> None:
        now = asyncio.get_running_loop().time
        devices = {block.device: _Device(Backoff()) for block in self._blocks}
        asks = [_Ask(block) for block in self._blocks]
        # Asked again after each wait for an answer: asyncio.wait_for of Python 3.11, which
        # pymodbus uses, loses a cancellation that comes together with what is waited for.
        while not self._stop.is_set():
            begun_t = now()
            waiting, asks = deque(asks), []
            while waiting and not self._stop.is_set():
                ask = waiting.popleft()
                if now() < max(ask.due_t, devices[ask.block.device].due_t):
                    asks.append(ask)
                    continue
                alone = await self._ask(client, ask, devices[ask.block.device])
                if alone:
                    waiting.extendleft(_Ask(block) for block in reversed(alone))
                else:
                    asks.append(ask)
                await asyncio.sleep(self._gap_s)
            if not self._stop.is_set():
                await asyncio.sleep(max(0.0, begun_t + self._timing.period_s - now()))

    async def _ask(
        self, client: AsyncModbusSerialClient, ask: _Ask, device: _Device
    ) -> tuple[Block, ...]:
        """Ask once and hand over what came; return the blocks to ask for in its place, if any."""
        block, now = ask.block, asyncio.get_running_loop().time
        part = f"device {block.device}"
        answer = await self._answer(client, block)
        garbled = answer if isinstance(answer, Fault) and answer.raw else None
        if garbled is not None:  # the time for an answer is over: nothing else is under way
            await asyncio.sleep(self._gap_s)
            answer = await self._answer(client, block)
        if answer is None:
            self._handover.let_go(len(block.probes))
            return ()
        if isinstance(answer, Fault) and not answer.raw:
            if device.missed(now(), QUIET_TIMES * self._within_s):
                self._handover.put([Lost(answer.reason, part)])
            return ()
        if isinstance(answer, Fault):
            self._handover.put([answer])
            return ()
        if device.heard(now(), QUIET_TIMES * self._within_s):
            reason = f"device {block.device}: no answer within {self._within_s:.2g} s"
            self._handover.put([Retried(reason)])
        if garbled is not None:
            self._handover.put([Retried(garbled.reason, garbled.raw)])
        self._retry.reset()
        back: list[Item] = [Back(), Back(part)]
        if not answer.isError():
            ask.backoff.reset()
            self._handover.put([*back, *block.found(answer.registers)])
            return ()
        code = answer.exception_code
        if len(block.probes) > 1 and code in OF_ONE_REGISTER:
            self._handover.put(back)
            return block.alone()
        ask.due_t = now() + ask.backoff.next_s()
        reason = f"{block.words}: {exception_words(code, block.table)}"
        raw = self._heard.hex(" ").encode()
        self._handover.put([*back, *(probe.value.fault(reason, raw) for probe in block.probes)])
        return ()

    async def _answer(
        self, client: AsyncModbusSerialClient, block: Block
    ) -> ModbusPDU | Fault | None:
        """Return the answer to one request, or a fault: without bytes where nothing was heard.

        None where the program was held up between the two.
        """
        self._heard = self._sent = b""
        asked_t = steady_s()  # pymodbus waits by a clock that stands still while a machine sleeps
        read = {3: client.read_holding_registers, 4: client.read_input_registers}
        function = FUNCTIONS[block.table]
        try:
            answer = await read[function](block.address, count=block.count, device_id=block.device)
        except ConnectionException as exc:
            raise _GoneError from exc
        except ModbusIOException:
            if not client.connected:
                raise _GoneError from None
            return self._unanswered(block)
        if steady_s() - asked_t > self._within_s + HELD_S:
            return None
        whole = answer.function_code == function and len(answer.registers) == block.count
        if answer.isError() or whole:
            return answer
        return Fault(f"{block.words}: answers something else than was asked", self._raw)

    def _unanswered(self, block: Block) -> Fault:
        if not self._heard:
            settings = self._settings
            frame = f"{settings.bytesize}{settings.parity}{settings.stopbits:g}"
            silent = f"no answer from device {block.device} on {self._shown} within "
            silent += f"{self._within_s:.2g} s"
            if self._networked:
                return Fault(f"{silent}: power, both wires, its number? {NOT_TCP}")
            return Fault(f"{silent} at {settings.baud} {frame}: power, both wires, its number?")
        if not self._echo and self._heard.startswith(self._sent):
            only = len(self._heard) == len(self._sent)
            reason = "heard only itself: no answer" if only else "the adapter hears itself"
            return Fault(f"{block.words}: {reason}; option echo=yes", self._raw)
        return Fault(
            f"{block.words}: an answer that does not check: noise, two devices of one number, "
            "or another baud or frame?",
            self._raw,
        )

    @property
    def _raw(self) -> bytes:
        return self._heard.hex(" ").encode()

    def _trace(self, sending: bool, data: bytes) -> bytes:  # noqa: FBT001  as pymodbus calls it
        """Keep what is heard after a request; pymodbus passes on what it has not used up yet."""
        if sending:
            self._sent = data
        elif data.startswith(self._heard):
            self._heard = data[:MAX_HEARD_BYTES]
        else:
            self._heard = (self._heard + data)[:MAX_HEARD_BYTES]
        return data
