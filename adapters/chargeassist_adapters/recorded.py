"""A record as a source: what was recorded arrives again, at the same session times.

Address: ``recording:PATH?speed=20``. PATH is a session file (``*.session``) or a package folder (it
holds ``datapackage.json``), relative to the job file. ``speed`` is how many recorded seconds pass
in a second, or ``max`` for no waiting at all; 1 when it is not given. It may stand under the
source's options instead.

What was recorded as *input* is delivered in its order: readings, marks, lost and returned sources,
bad input, gaps. Recorded verdicts are not: they are made anew. The start, the end and the channel
declarations are not either: the session that replays makes its own, the latter from `channels`.
"""

import asyncio
import math
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Self

from chargeassist.model.channels import Channel
from chargeassist.model.errors import ConfigError, RecordError, SourceError
from chargeassist.model.events import (
    ChannelDeclared,
    Mark,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
    VerdictEvent,
)
from chargeassist.model.job import Job, SourceSpec
from chargeassist.model.text import plain
from chargeassist.session.record.package import open_record
from chargeassist.session.source import Clock, Sink
from chargeassist_adapters.address import read_options

OPTIONS = {"speed": "recorded seconds per second, or max; 1 if not given"}
_EVENTS_PER_TURN = 1000


class RecordingSource:
    """A session file or package folder that is delivered again.

    Parameters
    ----------
    name : str
        Of the source.
    path : Path
        Of the record.
    speed : float or None
        Recorded seconds per second; None for no waiting. The runner makes the clock from it.

    Raises
    ------
    SourceError
        If there is no record at `path`, or it cannot be read.
    """

    def __init__(self, name: str, path: Path, speed: float | None = 1.0) -> None:
        self._name = name
        self._path = path
        self._speed = speed
        try:
            with open_record(path) as record:
                self._started = record.started
                self._job = record.job
                self._channels = record.channels
        except RecordError as exc:
            raise SourceError(f"source {name!r}: {plain(str(exc), 300)}") from exc

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> Self:
        """Return a source for ``recording:PATH?speed=...``.

        Raises
        ------
        ConfigError
            If the path is missing, an option is unknown or said twice, or `speed` is not a positive
            number or "max".
        SourceError
            If there is no readable record.
        """
        rest = spec.url.partition(":")[2]
        place, _, query = rest.partition("?")
        if not place:
            raise ConfigError(
                f"source {spec.name!r}: expected recording:PATH, got {plain(spec.url)!r}"
            )
        return cls(spec.name, base / place, _speed(read_options(spec, query, OPTIONS), spec.name))

    @property
    def name(self) -> str:
        """Name of the source in events."""
        return self._name

    @property
    def channels(self) -> tuple[Channel, ...]:
        """The channels of the record, as it declares them."""
        return self._channels

    @property
    def brings_time(self) -> bool:
        """True: recorded events keep their session time."""
        return True

    @property
    def simulated(self) -> bool:
        """Whether the record was made from a simulation."""
        return self._started.mode is SessionMode.SIMULATED

    @property
    def speed(self) -> float | None:
        """Recorded seconds per second; None for no waiting."""
        return self._speed

    @property
    def job(self) -> Job:
        """The job the record was made under."""
        return self._job

    @property
    def started(self) -> SessionStarted:
        """The first event of the record."""
        return self._started

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Deliver the record at its own times, then return.

        A record that turns out damaged is told as bad input and a lost source, and what came before
        stands. One whose closing counts do not agree is told as bad input.
        """
        try:
            stopped, delivered = await self._deliver(sink, clock)
        except RecordError as exc:
            sink.bad_input(str(exc))
            sink.lost("the recording cannot be read on")
            return
        if stopped is not None:
            _compare(stopped.counts, delivered, sink)

    async def _deliver(
        self, sink: Sink, clock: Clock
    ) -> tuple[SessionStopped | None, dict[str, int]]:
        stopped = None
        delivered: dict[str, int] = {}
        now = -math.inf
        with open_record(self._path) as record, closing(record.events()) as events:
            for number, event in enumerate(events, 1):
                if number % _EVENTS_PER_TURN == 0:
                    await asyncio.sleep(0)  # a stretch of one single time must not hold the loop
                if isinstance(event, VerdictEvent | SessionStarted | ChannelDeclared):
                    continue
                if event.t > now:
                    now = event.t
                    await clock.sleep_until(now)
                if isinstance(event, SessionStopped):
                    stopped = event
                elif isinstance(event, Reading):
                    delivered[event.channel] = delivered.get(event.channel, 0) + 1
                    sink.reading(
                        event.channel,
                        event.value,
                        t=event.t,
                        quality=event.quality,
                        device_time=event.device_time,
                    )
                else:
                    sink.event(event)
        return stopped, delivered

    def technician(self, mark: Mark) -> None:
        """Do nothing: what was recorded does not answer."""


def _compare(said: Mapping[str, int], delivered: Mapping[str, int], sink: Sink) -> None:
    for channel in sorted(said.keys() | delivered.keys()):
        expected, came = said.get(channel, 0), delivered.get(channel, 0)
        if expected != came:
            sink.bad_input(
                f"the recording says {expected} readings of {channel} at its end, it holds {came}"
            )


def _speed(settings: Mapping[str, str], name: str) -> float | None:
    text = settings.get("speed", "1")
    if text == "max":
        return None
    try:
        speed = float(text)
    except ValueError:
        speed = math.nan
    if not (math.isfinite(speed) and speed > 0.0):
        raise ConfigError(
            f'source {name!r}: expected speed to be a positive number or "max", '
            f"got {plain(text, 40)!r}"
        )
    return speed
