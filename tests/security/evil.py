"""A session in which every text somebody could have written is hostile. All invented."""

from pathlib import Path

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.events import (
    BadInput,
    ChannelDeclared,
    Event,
    Gap,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
    SourceBack,
    SourceLost,
)
from chargeassist.model.installation import Crew
from chargeassist.model.job import ChargeLimits, Equipment, Job, Site, Target
from chargeassist.model.units import Reference
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.record.store import SessionWriter

EVIL = (
    "\x1b[2J\x1b]0;title\x07\x9b31m[red]x[/] [/nothing] <script>alert(1)</script>"
    "\u202etxt.exe\u2028\nproblems: none\r\tend"
)
FORMULA = '=HYPERLINK("http://example.invalid","x")\n+1|\'@'


def session_events(evil: str, session_id: str = "e" * 32) -> list[Event]:
    """Return a session of half a minute with `evil` wherever a text may stand."""
    job = Job(
        name=evil,
        refrigerant="R-32",
        target=Target(subcooling_k=5.0, tolerance_k=0.8, source=evil),
        charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.9),
        site=Site(altitude_m=0.0),
        equipment=Equipment(make=evil, model=evil, serial=evil),
        crew=Crew(company=evil, certificate=evil),
    )
    channels = [
        Channel(
            name=role.value,
            role=role,
            unit=unit,
            reference=reference,
            accuracy=Accuracy(absolute_si=100.0, relative=0.0),
            source=evil,
            serial=evil,
            calibrated=evil,
        )
        for role, unit, reference in (
            (Role.LIQUID_PRESSURE, "psig", Reference.GAUGE),
            (Role.LIQUID_TEMPERATURE, "°C", None),
        )
    ]
    readings: list[Event] = []
    for second in range(1, 31):
        readings.append(Reading(t=float(second), channel="liquid_pressure", value=2.3e6))
        readings.append(Reading(t=float(second), channel="liquid_temperature", value=308.0))
    return [
        SessionStarted(
            t=0.0,
            session_id=session_id,
            started_utc="2026-05-04T08:15:00.000+00:00",
            software=evil,
            table_hash=evil,
            mode=SessionMode.FIELD,
            job=job_to_json(job),
        ),
        *(ChannelDeclared(t=0.0, channel=channel) for channel in channels),
        *readings,
        Mark(t=30.0, kind=MarkKind.NOTE, text=evil),
        BadInput(t=30.0, source=evil, reason=evil, raw=evil),
        SourceLost(t=31.0, source=evil, reason=evil),
        SourceBack(t=32.0, source=evil),
        Gap(t=33.0, source=evil, dropped=3),
        SessionStopped(
            t=34.0,
            outcome=Outcome.ABANDONED,
            reason=evil,
            counts={"liquid_pressure": 30, "liquid_temperature": 30},
        ),
    ]


def write_session(path: Path, events: list[Event]) -> Path:
    started, stopped = events[0], events[-1]
    assert isinstance(started, SessionStarted)
    assert isinstance(stopped, SessionStopped)
    writer = SessionWriter.create(path, started)
    for event in events[1:-1]:
        writer.append(event)
    assert writer.close(stopped)
    return path
