"""Shipped scenarios run to their ends, each once for all the tests that look at it."""

import asyncio
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from chargeassist.model.events import Event
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.scenario.simulate import run_scenario

Truth = dict[float, Mapping[str, float]]


@cache
def ran(name: str) -> tuple[tuple[Event, ...], Truth]:
    """Return the events of a scenario; of a stage before charging, by the second what was so."""
    truth: Truth = {}
    scenario = find_scenario(name, Path())

    def hear(t: float, so: Mapping[str, float]) -> None:
        truth[t] = dict(so)

    listener = None if scenario.stage_unit is None else hear
    return tuple(asyncio.run(run_scenario(scenario, truth=listener))), truth
