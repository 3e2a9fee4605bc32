"""A record as short as one can be that has everything: what hostile files are made from."""

from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.units import Reference
from chargeassist.session.record.codec import job_to_json

PRESSURE = Channel(
    name="p", role=Role.LIQUID_PRESSURE, unit="psig", reference=Reference.GAUGE, source="s"
)

ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["../x", "/etc/passwd", "events.csv", [], {}, [[]], -1, 10**30, "x" * 1000]),
)
"""What no field expects."""


def short_session(readings: int) -> list[Event]:
    """Return the events of an invented session of one channel with so many readings."""
    job = Job(
        name="invented",
        refrigerant="R-32",
        target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
        charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.9),
        site=Site(altitude_m=0.0),
    )
    end_t = float(readings + 1)
    return [
        SessionStarted(
            t=0.0,
            session_id="a" * 32,
            started_utc="2026-05-04T08:15:00.000+00:00",
            software="invented",
            table_hash="0" * 64,
            mode=SessionMode.FIELD,
            job=job_to_json(job),
        ),
        ChannelDeclared(t=0.0, channel=PRESSURE),
        *(Reading(t=float(t), channel="p", value=2.3e6 + t) for t in range(1, readings + 1)),
        Mark(t=end_t, kind=MarkKind.STEP_ENDED, mass_kg=0.11),
        SessionStopped(t=end_t + 1.0, outcome=Outcome.COMPLETE, counts={"p": readings}),
    ]
