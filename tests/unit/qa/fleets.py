"""Sessions of a fleet: one session on other days, by other crews, with other probes."""

from dataclasses import replace

from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Reading,
    SessionStarted,
)
from chargeassist.model.installation import Crew
from chargeassist.session.record.codec import job_from_json, job_to_json


def variant(events: list[Event], number: int) -> list[Event]:
    """The same session on another day, by another crew, with probes that have serial numbers.

    The suction clamp reads a tenth of a kelvin more each thirty days.
    """
    started = events[0]
    assert isinstance(started, SessionStarted)
    job = job_from_json(started.job)
    job = replace(job, crew=Crew(company=f"crew {number % 2}"))
    first = replace(
        started,
        session_id=f"{number:032x}",
        started_utc=f"2026-{number + 1:02d}-15T08:00:00.000+00:00",
        job=job_to_json(job),
    )
    found: list[Event] = [first]
    for event in events[1:]:
        if isinstance(event, ChannelDeclared):
            channel = replace(event.channel, serial=f"S-{event.channel.name}")
            found.append(replace(event, channel=channel))
        elif isinstance(event, Reading) and event.channel == "suction_temperature":
            found.append(replace(event, value=event.value + 0.1 * number))
        else:
            found.append(event)
    return found
