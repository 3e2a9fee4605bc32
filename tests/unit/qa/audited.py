"""Rules held against changed events of a session."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from chargeassist.model.events import ChannelDeclared, Event, SessionStarted
from chargeassist.model.job import Job
from chargeassist.qa.audit_finding import Finding, Policy
from chargeassist.qa.audit_rules import RULES
from chargeassist.qa.rescore import rescore_events
from chargeassist.session.record.codec import job_from_json, job_to_json

SCHOOL = Policy(accept_simulated=True)


def findings(events: Sequence[Event], rule: str, policy: Policy = SCHOOL) -> list[Finding]:
    started = events[0]
    assert isinstance(started, SessionStarted)
    return RULES[rule](rescore_events(iter(events), job_from_json(started.job)), policy)


def with_job(events: Sequence[Event], change: Callable[[Job], Job]) -> list[Event]:
    started = events[0]
    assert isinstance(started, SessionStarted)
    job = change(job_from_json(started.job))
    return [replace(started, job=job_to_json(job)), *events[1:]]


def with_channels(events: Sequence[Event], **changes: object) -> list[Event]:
    return [
        replace(e, channel=replace(e.channel, **changes))  # type: ignore[arg-type]
        if isinstance(e, ChannelDeclared)
        else e
        for e in events
    ]
