import asyncio
from pathlib import Path

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import ConfigError, SourceError
from chargeassist.model.events import (
    BadInput,
    ChannelDeclared,
    Event,
    Gap,
    InputEvent,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
    Settled,
    SourceBack,
    SourceLost,
)
from chargeassist.model.job import ChargeLimits, Job, Site, SourceSpec, Target
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.record.package import write_package
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.source import Source
from chargeassist_adapters.recorded import RecordingSource

JOB = Job(
    name="Quarry Road Bakery (invented)",
    refrigerant="R-410A",
    target=Target(subcooling_k=5.0, tolerance_k=1.0, source="invented plate"),
    charge=ChargeLimits(plate_kg=1.9, step_cap_kg=0.1),
    site=Site(altitude_m=1450.0),
)
CHANNEL = Channel(name="suction_t", role=Role.SUCTION_TEMPERATURE, unit="K", source="rig")


def start(mode: SessionMode = SessionMode.FIELD) -> SessionStarted:
    return SessionStarted(
        t=0.0,
        session_id="ab" * 16,
        started_utc="2026-05-04T08:15:00Z",
        software="chargeassist 0.1.0",
        table_hash="0" * 64,
        mode=mode,
        job=job_to_json(JOB),
    )


INPUTS: list[InputEvent] = [
    Reading(t=0.5, channel="suction_t", value=285.15),
    Reading(t=0.5, channel="suction_t", value=285.25, quality=Quality.RANGE, device_time=7.0),
    SourceLost(t=1.0, source="rig", reason="cable out"),
    SourceBack(t=2.0, source="rig"),
    Mark(t=3.25, kind=MarkKind.STEP_BEGUN),
    BadInput(t=3.25, source="rig", reason="no number"),
    Gap(t=4.0, source="rig", dropped=2),
    Reading(t=4.5, channel="suction_t", value=284.0),
]
END = SessionStopped(t=5.0, outcome=Outcome.COMPLETE, counts={"suction_t": 3})


def whole() -> list[Event]:
    events: list[Event] = [start(), ChannelDeclared(t=0.0, channel=CHANNEL), *INPUTS]
    events.insert(-1, Settled(t=4.0, subcooling_k=5.0))
    return [*events, END]


class Listener:
    """A sink that keeps what it is given, and a clock that keeps how it was slept on."""

    def __init__(self) -> None:
        self.heard: list[InputEvent] = []
        self.slept: list[float] = []
        self.complaints: list[str] = []
        self.losses: list[str] = []
        self.t = 0.0

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
        self._in_time(t)
        self.heard.append(
            Reading(t=t, channel=channel, value=value, quality=quality, device_time=device_time)
        )

    def event(self, event: InputEvent) -> None:
        self._in_time(event.t)
        self.heard.append(event)

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        self.complaints.append(reason)

    def dropped(self, count: int) -> None:
        raise AssertionError(count)

    def lost(self, reason: str, *, part: str = "") -> None:
        self.losses.append(reason)

    def back(self, *, part: str = "") -> None:
        raise AssertionError

    def now(self) -> float:
        return self.t

    async def sleep_until(self, t: float) -> None:
        assert t > self.t
        self.slept.append(t)
        self.t = t
        await asyncio.sleep(0)

    def _in_time(self, t: float) -> None:
        assert t == self.t, "delivered before or after its time"


@pytest.fixture
def package(tmp_path: Path) -> Path:
    write_package(whole(), tmp_path / "bakery")
    return tmp_path / "bakery"


@pytest.fixture(params=["package", "session file"])
def record(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    if request.param == "package":
        write_package(whole(), tmp_path / "record")
        return tmp_path / "record"
    path = tmp_path / "record.session"
    writer = SessionWriter.create(path, start())
    for event in whole()[1:-1]:
        writer.append(event)
    writer.close(END)
    return path


def spec(url: str, **options: str) -> SourceSpec:
    return SourceSpec(name="old day", url=url, options=options)


async def test_inputs_come_again_in_order_and_at_their_times(record: Path) -> None:
    source = RecordingSource.from_spec(spec(f"recording:{record.name}"), record.parent)
    listener = Listener()
    await source.run(listener, listener)
    assert listener.heard == INPUTS
    assert listener.slept == [0.5, 1.0, 2.0, 3.25, 4.0, 4.5, 5.0]
    assert listener.complaints == []


def test_source_says_what_the_record_says(record: Path, tmp_path: Path) -> None:
    source = RecordingSource.from_spec(spec(f"recording:{record}"), tmp_path / "elsewhere")
    assert isinstance(source, Source)
    assert source.name == "old day"
    assert source.channels == (CHANNEL,)
    assert source.brings_time
    assert not source.simulated
    assert source.job == JOB
    assert source.started == start()
    write_package([start(SessionMode.SIMULATED)], tmp_path / "sim")
    assert RecordingSource("x", tmp_path / "sim").simulated


@pytest.mark.parametrize(
    ("url", "options", "speed"),
    [
        ("recording:bakery", {}, 1.0),
        ("recording:bakery?speed=20", {}, 20.0),
        ("recording:bakery?speed=max", {}, None),
        ("recording:bakery", {"speed": "0.5"}, 0.5),
    ],
)
def test_speed_is_read_from_address_or_options(
    package: Path, url: str, options: dict[str, str], speed: float | None
) -> None:
    assert RecordingSource.from_spec(spec(url, **options), package.parent).speed == speed


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("recording:", "expected recording:PATH"),
        ("recording:?speed=1", "expected recording:PATH"),
        ("recording:bakery?speed=fast", "a positive number or \"max\", got 'fast'"),
        ("recording:bakery?speed=0", "positive"),
        ("recording:bakery?speed=-1", "positive"),
        ("recording:bakery?speed=nan", "positive"),
        ("recording:bakery?speed=inf", "positive"),
        ("recording:bakery?speed=", "positive"),
        ("recording:bakery?pace=1", "unknown option 'pace'"),
    ],
)
def test_bad_address_is_refused(package: Path, url: str, said: str) -> None:
    with pytest.raises(ConfigError, match=said):
        RecordingSource.from_spec(spec(url), package.parent)


def test_a_speed_that_is_said_twice_is_refused(package: Path) -> None:
    with pytest.raises(ConfigError, match="option 'speed' is given twice"):
        RecordingSource.from_spec(spec("recording:bakery?speed=2", speed="0.5"), package.parent)


def test_missing_or_broken_record_is_refused_at_once(package: Path) -> None:
    with pytest.raises(SourceError, match=r"'old day': .*nothing is there"):
        RecordingSource.from_spec(spec("recording:none"), package.parent)
    (package / "datapackage.json").write_text("{}", encoding="utf-8")
    with pytest.raises(SourceError, match="descriptor"):
        RecordingSource.from_spec(spec("recording:bakery"), package.parent)


async def test_damage_met_on_the_way_is_told_and_what_came_before_stands(package: Path) -> None:
    source = RecordingSource("old day", package)
    table = package / "readings.csv"
    table.write_text(
        table.read_text(encoding="utf-8").replace("284.0", "mild"), encoding="utf-8", newline="\n"
    )
    listener = Listener()
    await source.run(listener, listener)
    assert listener.heard == INPUTS[: len(listener.heard)]
    assert len(listener.heard) >= 2
    assert len(listener.complaints) == 1
    assert "line 4: value: expected a finite number, got 'mild'" in listener.complaints[0]
    assert listener.losses == ["the recording cannot be read on"]


async def test_counts_that_do_not_agree_are_told(tmp_path: Path) -> None:
    write_package([*whole()[:-2], END], tmp_path / "short")
    listener = Listener()
    await RecordingSource("old day", tmp_path / "short").run(listener, listener)
    assert listener.complaints == [
        "the recording says 3 readings of suction_t at its end, it holds 2"
    ]


async def test_cancelled_run_ends_at_once(record: Path) -> None:
    source = RecordingSource("old day", record)
    listener = Listener()
    never = asyncio.Event()

    async def wait_for_ever(t: float) -> None:
        await never.wait()

    listener.sleep_until = wait_for_ever  # type: ignore[method-assign]
    task = asyncio.create_task(source.run(listener, listener))
    await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert listener.heard == []


async def test_stretch_of_one_time_lets_others_run(tmp_path: Path) -> None:
    same = [Reading(t=1.0, channel="suction_t", value=float(i)) for i in range(5000)]
    write_package([start(), ChannelDeclared(t=0.0, channel=CHANNEL), *same], tmp_path / "burst")
    listener = Listener()
    turns = 0

    async def count() -> None:
        nonlocal turns
        while True:
            turns += 1
            await asyncio.sleep(0)

    other = asyncio.create_task(count())
    await RecordingSource("old day", tmp_path / "burst").run(listener, listener)
    other.cancel()
    with pytest.raises(asyncio.CancelledError):
        await other
    assert len(listener.heard) == 5000
    assert turns >= 5


async def test_technician_is_not_answered(package: Path) -> None:
    source = RecordingSource("old day", package)
    source.technician(Mark(t=1.0, kind=MarkKind.STEP_BEGUN))
    listener = Listener()
    await source.run(listener, listener)
    assert listener.heard == INPUTS
