"""``simulate``: run a scenario as fast as it goes and keep it as a recording; list the shipped."""

import argparse
import asyncio
import sys
from pathlib import Path

from chargeassist.cli.lines import Lines
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError
from chargeassist.session.record.package import write_package
from chargeassist.session.scenario import Scenario, find_scenario, scenario_names
from chargeassist.session.scenario_expect import missed
from chargeassist.session.simulate import run_scenario, simulated_start


def simulate(arguments: argparse.Namespace) -> int:
    """Run a scenario, or list the shipped ones."""
    if arguments.list:
        if arguments.scenario is not None:
            raise ConfigError("simulate: expected either SCENARIO or --list, got both")
        _list()
        return 0
    if arguments.scenario is None:
        raise ConfigError(
            f"simulate: expected a scenario: a file, or one of {', '.join(scenario_names())}"
        )
    scenario = find_scenario(arguments.scenario, Path(), arguments.seed)
    _refuse_full(arguments.out)
    job = scenario.job
    lines = Lines(print, job, UnitSystem(arguments.units or job.units))
    print(f"{scenario.title}: {scenario.about}")
    started = simulated_start(job, scenario.started_utc, scenario.session_id)
    lines.begin(started, replayed=False)
    events = asyncio.run(run_scenario(scenario, listeners=[lines]))
    if arguments.out is not None:
        write_package(events, arguments.out)
        print(f"recording: {arguments.out}")
    wrong = missed(scenario.expected, events)
    if wrong:
        print(f"chargeassist: {scenario.name}: {wrong}", file=sys.stderr)
        return 1
    print(f"as expected: {_expected(scenario)}")
    return 0


def _list() -> None:
    for name in scenario_names():
        scenario = find_scenario(name, Path())
        print(f"{name}: {scenario.title}. {scenario.about}")
        print(f"    ends in: {_expected(scenario)}")
        if scenario.expect_note:
            print(f"    {scenario.expect_note}")


def _expected(scenario: Scenario) -> str:
    return ", then ".join(str(item) for item in scenario.expected)


def _refuse_full(folder: Path | None) -> None:
    """Refuse a folder that cannot take the recording before time is spent on making it."""
    if folder is None or not folder.exists():
        return
    if not folder.is_dir() or any(folder.iterdir()):
        raise ConfigError(f"{folder}: expected a new or an empty folder; choose another name")
