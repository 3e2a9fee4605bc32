"""The demonstration, simulated for so many hours: what the benchmarks of records begin with."""

import asyncio
from dataclasses import replace
from pathlib import Path

from chargeassist.guide.assistant import Assistant
from chargeassist.model.events import Event, SessionMode
from chargeassist.session.job.demo import demo_job
from chargeassist.session.pilot import Pilot
from chargeassist.session.plugins import make_source
from chargeassist.session.runner import Session
from chargeassist.session.scenario.simulate import EventList, simulated_start


class _Untiring(Pilot):
    """The scripted technician, who stays to the end."""

    @property
    def finished(self) -> bool:
        return False

    @finished.setter
    def finished(self, value: bool) -> None:
        pass


def simulated_session(hours: int, started_utc: str, seed: int | None = None) -> list[Event]:
    """Return the events of a session of ten channels at 1 Hz, start and end included."""
    job = demo_job("library") if seed is None else demo_job("library", seed)
    url = f"{job.sources[0].url}&rate=1Hz&length={60 * hours}min"
    job = replace(job, sources=(replace(job.sources[0], url=url),))
    memory = EventList(simulated_start(job, started_utc, "0" * 32))
    session = Session(
        Assistant(job, SessionMode.SIMULATED),
        [make_source(spec, Path()) for spec in job.sources],
        recorder=memory,
        speed=None,
        attendant=_Untiring(),
    )
    asyncio.run(session.run(lambda snapshot: None))
    return memory.events
