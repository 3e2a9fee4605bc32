"""The one thing an adapter implements: a Source.

A source is made from a ``SourceSpec`` of the job file, declares its channels, and is then run once.
While it runs it hands what it gets to a `Sink`. All calls to a sink are made on the event loop's
thread and never block; a source that must block (a serial read) does so in a thread of its own and
comes back with ``loop.call_soon_threadsafe``.

Trouble is told to the sink, not raised: an unplugged cable is ``lost``, a garbled line is
``bad_input``. What `run` raises ends the session, so it raises only for programming errors.
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Protocol, runtime_checkable

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import InputEvent, Mark
from chargeassist.model.job import SourceSpec


class Clock(Protocol):
    """Session time: seconds since the session started."""

    def now(self) -> float:
        """Return the session time [s]; never goes backward."""
        ...

    async def sleep_until(self, t: float) -> None:
        """Return when session time `t` [s] has come and all that arrived before is processed."""
        ...


class Sink(Protocol):
    """Where a source delivers; one per source, made by the runner."""

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        """Deliver one sample.

        Parameters
        ----------
        channel : str
            Name of a channel this source declared.
        value : float
            In the SI unit of the channel. Not finite: becomes BadInput.
        t : float, optional
            Session time [s], only from a source that brings its own time; else stamped here.
        quality : Quality
        device_time : float, optional
            The device's own time [s].
        """
        ...

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        """Say that something came that could not be read; `raw` is what came, untrimmed."""
        ...

    def dropped(self, count: int) -> None:
        """Say that `count` samples were let go before they reached this sink."""
        ...

    def lost(self, reason: str, *, part: str = "") -> None:
        """Say that the source is gone; said again while it is gone, it counts once.

        Parameters
        ----------
        reason : str
        part : str
            What of the source is gone where the rest goes on, such as "device 3"; empty: all.
        """
        ...

    def back(self, *, part: str = "") -> None:
        """Say that the source, or `part` of it, delivers; without effect if it was not lost."""
        ...

    def event(self, event: InputEvent) -> None:
        """Deliver a recorded event with its own time (recordings only)."""
        ...


@runtime_checkable
class Source(Protocol):
    """What an adapter class offers. Structural: no base class is needed.

    A class may also offer ``discover() -> tuple[str, ...]``: one line of text for each thing it
    could read from on this machine, its address and two spaces first, for the ``probes`` command;
    and ``listen``
    (`chargeassist.session.listening.Listens`), which hears what comes before any probe is known.
    """

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "Source":
        """Return a source for `spec`; relative paths in it start at `base`.

        Raises
        ------
        ConfigError
            If the address or an option cannot be used; says what was expected and what came.
        SourceError
            If what it points to can be seen now to be missing (a recording, a scenario).
        """
        ...

    @property
    def name(self) -> str:
        """Name of the source in events."""
        ...

    @property
    def channels(self) -> tuple[Channel, ...]:
        """The channels it will deliver, known before it runs."""
        ...

    @property
    def brings_time(self) -> bool:
        """Whether its events carry their own session time (recordings, simulators)."""
        ...

    @property
    def simulated(self) -> bool:
        """Whether what it delivers was computed and not measured."""
        ...

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Deliver until cancelled, or return when there is nothing more to come."""
        ...

    def technician(self, mark: Mark) -> None:
        """Hear what the technician did; a simulated plant answers to it, others ignore it."""
        ...


def part_name(source: str, part: str) -> str:
    """Return the name in events of a source, or of a part of it: "cart, device 3"."""
    return f"{source}, {part}" if part else source


TruthListener = Callable[[float, Mapping[str, float]], None]
"""Called with a session time [s] and what is so by then: SI numbers, each unit in its name."""


@runtime_checkable
class KnowsTruth(Protocol):
    """What a simulated source also offers: what is so, whatever its probes say.

    For judges, trainers and pictures. Truth never becomes an event: no advice can be made from it,
    and none is recorded.
    """

    def tell_truth(self, listener: TruthListener) -> None:
        """Call `listener` at each whole period of the run, before its readings are delivered."""
        ...


def check_together(sources: Sequence[Source]) -> bool:
    """Return whether time is brought by the (then only) source.

    Raises
    ------
    ConfigError
        If a source that brings its own time is not alone.
    """
    timed = [source for source in sources if source.brings_time]
    if timed and len(sources) > 1:
        raise ConfigError(
            f"{timed[0].name!r} brings its own time and cannot run beside other sources; "
            "give it a job file of its own"
        )
    return bool(timed)
