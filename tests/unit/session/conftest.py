"""A short invented session that holds every kind of event: Millrace Lane Library, R-32."""

from pathlib import Path

import pytest

from chargeassist.model.channels import Accuracy, Channel, Quality, Role
from chargeassist.model.events import (
    Action,
    Advice,
    BadInput,
    ChannelDeclared,
    CheckJudged,
    CheckResult,
    ClockSet,
    Event,
    FaultJudged,
    Gap,
    Mark,
    MarkKind,
    Outcome,
    ProgramHeld,
    Reading,
    SessionMode,
    SessionResumed,
    SessionStarted,
    SessionStopped,
    Settled,
    SourceBack,
    SourceLost,
    Stage,
    StageChanged,
    StepRecorded,
    Unsettled,
)
from chargeassist.model.job import ChargeLimits, Hold, Job, ProbeSpec, Site, SourceSpec, Target
from chargeassist.model.units import Reference
from chargeassist.session.opening import open_new
from chargeassist.session.pilot import Pilot
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.record.store import SessionWriter
from tests.unit.session.played import check_replay, demo, events_of, play

CHANNELS = (
    Channel(
        name="liquid_p",
        role=Role.LIQUID_PRESSURE,
        unit="psig",
        reference=Reference.GAUGE,
        accuracy=Accuracy(relative=0.005),
        source="rig",
    ),
    Channel(
        name="liquid_t",
        role=Role.LIQUID_TEMPERATURE,
        unit="°F",
        accuracy=Accuracy(absolute_si=0.3),
        low_si=233.15,
        high_si=423.15,
        source="rig",
    ),
)


@pytest.fixture(scope="session")
def job() -> Job:
    return Job(
        name="Millrace Lane Library, reading room (invented)",
        refrigerant="R-32",
        target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented plate"),
        charge=ChargeLimits(plate_kg=2.30, step_cap_kg=0.11),
        site=Site(altitude_m=210.0),
        hold=Hold(required_hz=72.0),
        sources=(
            SourceSpec(
                name="rig",
                url="serial:/dev/ttyUSB0?baud=9600",
                format="csv",
                probes=tuple(
                    ProbeSpec(channel=c, select=str(i + 1)) for i, c in enumerate(CHANNELS)
                ),
            ),
        ),
    )


@pytest.fixture(scope="session")
def started(job: Job) -> SessionStarted:
    return SessionStarted(
        t=0.0,
        session_id="0123456789abcdef0123456789abcdef",
        started_utc="2026-05-04T08:15:00Z",
        software="chargeassist 0.1.0",
        table_hash="f" * 64,
        mode=SessionMode.SIMULATED,
        job=job_to_json(job),
    )


@pytest.fixture(scope="session")
def middle() -> list[Event]:
    """All but the first and the last event, 200 readings among them."""
    events: list[Event] = [ChannelDeclared(t=0.0, channel=c) for c in CHANNELS]
    for i in range(100):
        t = i / 10
        events.append(Reading(t=t, channel="liquid_p", value=2.4e6 + i * 0.1, device_time=1e9 + t))
        quality = Quality.RANGE if i % 7 == 0 else Quality.GOOD
        events.append(Reading(t=t, channel="liquid_t", value=310.15 - i / 3, quality=quality))
    t = 10.0
    return [
        *events,
        Mark(t=t, kind=MarkKind.FREQUENCY_HELD, frequency_hz=72.0),
        Mark(t=t, kind=MarkKind.STEP_BEGUN),
        Mark(t=t + 1, kind=MarkKind.STEP_ENDED, mass_kg=0.11, text='valve shut, "hand tight"\n·'),
        StepRecorded(
            t=t + 1, number=1, mass_kg=None, begun_t=t, ended_t=t + 1, measured_by="technician"
        ),
        SourceLost(t=t + 2, source="rig", reason="cable out"),
        SourceBack(t=t + 3, source="rig"),
        BadInput(t=t + 3, source="rig", reason="no number", raw="12,3;x", count=3),
        Gap(t=t + 3, source="rig", dropped=4),
        ClockSet(t=t + 3, step_s=-3600.25),
        ProgramHeld(t=t + 3, held_s=612.5, asleep=True),
        Unsettled(t=t + 3, cause="step"),
        Settled(t=t + 4, subcooling_k=4.9, expanded_k=0.4),
        Advice(
            t=t + 4,
            action=Action.STOP,
            cause="inside",
            figures={"subcooling_k": 4.9, "expanded_k": 0.4},
        ),
        StageChanged(t=t + 4, stage=Stage.VERIFICATION),
        CheckJudged(
            t=t + 4,
            stage=Stage.TIGHTNESS,
            check="standing_pressure",
            result=CheckResult.PASS,
            cause="tight",
            figures={"change_pa": -120.0},
            sources=("unit plate",),
        ),
        FaultJudged(
            t=t + 4,
            found=True,
            cause="expansion valve hunts",
            alternatives=("short of refrigerant",),
            evidence=("superheat high",),
            figures={"period_s": 42.0, "swing_k": 9.5},
        ),
        SessionResumed(t=t + 5, away_s=None),
    ]


@pytest.fixture(scope="session")
def stopped() -> SessionStopped:
    return SessionStopped(
        t=16.0, outcome=Outcome.COMPLETE, counts={"liquid_p": 100, "liquid_t": 100}
    )


@pytest.fixture(scope="session")
def whole(started: SessionStarted, middle: list[Event], stopped: SessionStopped) -> list[Event]:
    return [started, *middle, stopped]


@pytest.fixture(scope="session")
def finished_bytes(
    tmp_path_factory: pytest.TempPathFactory,
    started: SessionStarted,
    middle: list[Event],
    stopped: SessionStopped,
) -> bytes:
    """A finished session file of ten commits."""
    path = tmp_path_factory.mktemp("finished") / "library.session"
    writer = SessionWriter.create(path, started)
    for i, event in enumerate(middle):
        writer.append(event)
        if i % 25 == 24:
            writer.commit()
    assert writer.close(stopped)
    assert [p.name for p in path.parent.iterdir()] == [path.name], "one file is left"
    return path.read_bytes()


@pytest.fixture
def finished_file(tmp_path: Path, finished_bytes: bytes) -> Path:
    path = tmp_path / "library.session"
    path.write_bytes(finished_bytes)
    return path


@pytest.fixture(scope="module")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> list[Event]:
    """Every row of a recorded simulator session, charge steps and all."""
    folder = tmp_path_factory.mktemp("simulated")
    opened = open_new(demo(), folder, record=folder, speed=None, attendant=Pilot())
    play(opened)
    (path,) = folder.iterdir()
    assert check_replay(path) >= 6
    return events_of(path)
