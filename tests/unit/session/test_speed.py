"""The pace of a simulated session is a matter of the person watching: its events stay the same."""

from dataclasses import replace
from pathlib import Path

from chargeassist.guide.assistant import Assistant
from chargeassist.model.events import Advice, Event, SessionMode, SessionStopped
from chargeassist.session.plugins import make_source
from chargeassist.session.runner import Session
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.scenario.simulate import (
    EventList,
    attendant_of,
    run_scenario,
    simulated_start,
)


async def test_changing_the_pace_and_pausing_changes_no_event() -> None:
    whole = find_scenario("clean-charge", Path())
    job = replace(
        whole.job,
        sources=tuple(replace(s, url="simulator:?seed=3&length=8min") for s in whole.job.sources),
    )
    scenario = replace(whole, job=job, unit=None)
    plain = await run_scenario(scenario)

    memory = EventList(simulated_start(job, scenario.started_utc, scenario.session_id))
    turned: list[float] = []

    def turn(event: Event) -> None:
        # Through every pace, the slow ones only for an instant.
        if event.t >= 20.0 * (len(turned) + 1):
            turned.append(event.t)
            session.change_speed((1, 1, -1, 1, 1)[len(turned) % 5])
            if len(turned) % 3 == 0:
                session.toggle_pause()
                session.rush_to(event.t + 1.0)
                session.toggle_pause()
            if len(turned) % 2 == 0:
                session.rush_to(event.t + 38.0)

    session = Session(
        Assistant(job, SessionMode.SIMULATED),
        [make_source(spec, scenario.folder) for spec in job.sources],
        recorder=memory,
        speed=5.0,
        listeners=[turn],
        attendant=attendant_of(scenario),
    )
    session.rush_to(15.0)
    await session.run(lambda snapshot: None)
    assert len(turned) > 10
    assert memory.events == plain
    assert sum(isinstance(event, Advice) for event in plain) > 5
    assert isinstance(plain[-1], SessionStopped)
