"""What tests of the simulator share: a sink that refuses trouble, and time without waiting."""

import asyncio
from collections.abc import Iterable

import pytest

from chargeassist.model.channels import Quality
from chargeassist.model.events import InputEvent, Mark
from chargeassist_adapters.simulator import SimulatorSource


class StrictSink:
    """Whatever is not a reading fails the test."""

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        pytest.fail(f"unexpected: {reason} {raw!r} {count}")

    def dropped(self, count: int) -> None:
        pytest.fail(f"unexpected: {count}")

    def lost(self, reason: str, *, part: str = "") -> None:
        pytest.fail(f"unexpected: {reason}")

    def back(self, *, part: str = "") -> None:
        pytest.fail("unexpected")

    def event(self, event: InputEvent) -> None:
        pytest.fail(f"unexpected: {event}")


class SeriesSink(StrictSink):
    """Keeps good readings by channel and time."""

    def __init__(self) -> None:
        self.series: dict[str, dict[float, float]] = {}

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        assert t is not None
        assert quality is Quality.GOOD
        assert device_time is None
        self.series.setdefault(channel, {})[t] = value


class ScriptedClock:
    """Time without waiting; tells the source each mark when its time has come."""

    def __init__(self, source: SimulatorSource, marks: Iterable[Mark] = ()) -> None:
        self._source = source
        self._marks = sorted(marks, key=lambda mark: mark.t)
        self._t = 0.0

    def now(self) -> float:
        return self._t

    async def sleep_until(self, t: float) -> None:
        await asyncio.sleep(0)
        while self._marks and self._marks[0].t <= t:
            self._source.technician(self._marks.pop(0))
        self._t = t
