"""One body for every registered source, found as the program finds them: by entry points."""

import asyncio
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import Any, Protocol

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.source import Source
from chargeassist.testing import check_source, running

POINTS = {point.name: point for point in entry_points(group="chargeassist.sources")}
OURS = {"serial", "modbus", "mqtt", "mqtts", "simulator", "recording"}
EACH_WITH_ITS_FAR_END = pytest.mark.parametrize(
    ("name", "far_end"), [(n, n) for n in sorted(POINTS)], indirect=["far_end"]
)


class FarEnd(Protocol):
    spec: SourceSpec
    base: Path
    junk_is_told: bool

    @property
    def send(self) -> Any: ...


def loaded(point: EntryPoint) -> type[Source]:
    found = point.load()
    assert isinstance(found, type)
    return found


def test_our_sources_are_registered() -> None:
    """At least these: others may be installed beside them."""
    assert set(POINTS) >= OURS


@EACH_WITH_ITS_FAR_END
async def test_builds_runs_delivers_and_stops(name: str, far_end: FarEnd) -> None:
    source = loaded(POINTS[name]).from_spec(far_end.spec, far_end.base)
    assert isinstance(source, Source)
    kept = await check_source(source, readings=5, feed=far_end.send)
    assert len(kept.readings) >= 5
    declared: dict[str, Channel] = {c.name: c for c in source.channels}
    for reading in kept.readings:
        assert declared[reading.channel].quantity
        assert isinstance(reading.value, float)
        assert isinstance(reading.quality, Quality)
    assert bool(kept.bad) is far_end.junk_is_told
    times = [reading.t for reading in kept.readings]
    assert times == sorted(times)


@EACH_WITH_ITS_FAR_END
async def test_stops_before_anything_has_come(name: str, far_end: FarEnd) -> None:
    source = loaded(POINTS[name]).from_spec(far_end.spec, far_end.base)
    await check_source(source, readings=0)


@pytest.mark.parametrize("name", sorted(POINTS))
def test_an_address_that_cannot_be_is_refused_in_words(name: str, tmp_path: Path) -> None:
    spec = SourceSpec(name="odd", url=f"{name}:nowhere?no_such_option=1")
    with pytest.raises(ChargeAssistError) as caught:
        loaded(POINTS[name]).from_spec(spec, tmp_path)
    assert len(str(caught.value)) > 20


@pytest.mark.parametrize("name", sorted(POINTS))
def test_discover_is_optional_and_gives_lines_of_text(name: str) -> None:
    discover = getattr(loaded(POINTS[name]), "discover", None)
    if discover is None:
        assert name != "serial"
        return
    lines = discover()
    assert isinstance(lines, tuple)
    assert all(isinstance(line, str) and line.isprintable() for line in lines)


@pytest.mark.parametrize("name", ["serial", "modbus", "mqtt"])
async def test_a_far_end_that_is_not_there_is_lost_and_not_fatal(name: str, tmp_path: Path) -> None:
    channel = Channel(name="liquid_t", role=Role.LIQUID_TEMPERATURE, unit="°C")
    port = f"{tmp_path}/no-such-port"
    url = {"serial": f"serial:{port}", "modbus": f"modbus:{port}", "mqtt": "mqtt://127.0.0.1:1"}
    select = "1/input:0:int16" if name == "modbus" else ""
    probe = ProbeSpec(channel=channel, topic="t", select=select)
    spec = SourceSpec(name=name, url=url[name], probes=(probe,))
    source = loaded(POINTS[name]).from_spec(spec, tmp_path)
    async with running(source) as kept:
        await kept.until(lambda each: len(each.losses) == 1)
        # It goes on trying, and tells it once.
        await asyncio.sleep(0.2)
    assert kept.readings == []
    assert len(kept.losses) == 1
    assert len(kept.losses[0].reason) > 20
