"""Run a scenario from its start to its end, as fast as it goes, into a list of events."""

from collections.abc import Callable, Sequence

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import Event, SessionMode, SessionStarted, SessionStopped
from chargeassist.model.job import Job
from chargeassist.physics.table import table_hash
from chargeassist.session.pilot import Attendant, Pilot
from chargeassist.session.plugins import make_source
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.runner import Listener, Session
from chargeassist.session.scenario.scenario import Scenario
from chargeassist.session.scenario.script import ScriptedTechnician
from chargeassist.session.source import KnowsTruth, TruthListener

SOFTWARE = "chargeassist"
"""As what a simulated recording was made; without a version, for its bytes must not depend on it
where its readings and verdicts do not."""


class EventList:
    """A recorder that keeps events in a list.

    Attributes
    ----------
    events : list of Event
    """

    def __init__(self, started: SessionStarted) -> None:
        self.events: list[Event] = [started]

    @property
    def path(self) -> None:
        """None: it is in memory."""

    def append(self, event: Event) -> None:
        """Take one event."""
        self.events.append(event)

    def commit(self) -> None:
        """Do nothing: a list is always up to date."""

    def close(self, stopped: SessionStopped) -> bool:
        """Take the last event."""
        self.events.append(stopped)
        return True

    def abandon(self) -> None:
        """Do nothing."""


def simulated_start(job: Job, started_utc: str, session_id: str) -> SessionStarted:
    """Return the first event of a simulated session with a given time and identity."""
    return SessionStarted(
        t=0.0,
        session_id=session_id,
        started_utc=started_utc,
        software=SOFTWARE,
        table_hash=table_hash(),
        mode=SessionMode.SIMULATED,
        job=job_to_json(job),
    )


def attendant_of(scenario: Scenario) -> Attendant:
    """Return the scripted technician of `scenario`."""
    return ScriptedTechnician(scenario.script, Pilot() if scenario.pilot else None)


async def run_scenario(
    scenario: Scenario,
    *,
    listeners: Sequence[Listener] = (),
    truth: TruthListener | None = None,
    watch: Callable[[Snapshot], None] | None = None,
    attendant: Attendant | None = None,
) -> list[Event]:
    """Return every event of the session that `scenario` gives; the same each time.

    Parameters
    ----------
    scenario : Scenario
    listeners : sequence of callables
    truth : callable, optional
        Told at each second what is so in the simulated unit, whatever its probes say.
    watch : callable, optional
        Shown each snapshot, as a screen would be.
    attendant : Attendant, optional
        At the unit instead of the scenario's own technician.

    Raises
    ------
    ConfigError, SourceError
        If its source cannot be made.
    """
    job = scenario.job
    memory = EventList(simulated_start(job, scenario.started_utc, scenario.session_id))
    sources = [make_source(spec, scenario.folder) for spec in job.sources]
    if truth is not None:
        for source in sources:
            if isinstance(source, KnowsTruth):
                source.tell_truth(truth)
    session = Session(
        Assistant(job, SessionMode.SIMULATED),
        sources,
        recorder=memory,
        speed=None,
        listeners=listeners,
        attendant=attendant or attendant_of(scenario),
    )
    await session.run(watch or (lambda snapshot: None))
    return memory.events
