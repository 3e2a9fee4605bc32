"""``simulate``: run a scenario as fast as it goes and keep it as a recording; list the shipped."""

import argparse
from pathlib import Path

from chargeassist.cli.as_json import print_json
from chargeassist.cli.lines import Lines
from chargeassist.cli.paragraphs import indented
from chargeassist.cli.plain_output import complain
from chargeassist.cli.shown import shown_in
from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain
from chargeassist.pictures.frame import check_place
from chargeassist.pictures.told import tell
from chargeassist.session.record.package import write_package
from chargeassist.session.scenario.expect import missed, not_found
from chargeassist.session.scenario.scenario import (
    Scenario,
    find_scenario,
    scenario_names,
    shipped_text,
)
from chargeassist.session.scenario.simulate import simulated_start
from chargeassist.session.scenario.too_late import too_late


def simulate(arguments: argparse.Namespace) -> int:
    """Run a scenario, or list the shipped ones."""
    if arguments.list:
        if arguments.scenario is not None:
            raise ConfigError("simulate: expected either SCENARIO or --list, got both")
        if any((arguments.out, arguments.picture, arguments.pictures)):
            raise ConfigError("simulate: --list runs nothing; expected no --out and no picture")
        if arguments.print or arguments.seed is not None:
            raise ConfigError("simulate: --list runs nothing; expected no --print and no --seed")
        _list(as_json=arguments.json)
        return 0
    if arguments.print:
        return _print(arguments)
    if arguments.json:
        raise ConfigError("simulate: --json goes with --list; a recording is JSON and CSV anyway")
    if arguments.pictures is not None:
        if any((arguments.scenario, arguments.out, arguments.picture)):
            raise ConfigError(
                "simulate: --pictures draws every shipped scenario; expected no SCENARIO, no --out "
                "and no --picture beside it; for one: --picture FILE"
            )
        return _draw_all(arguments.pictures, arguments.units, arguments.seed)
    if arguments.scenario is None:
        raise ConfigError(
            f"simulate: expected a scenario: a file, or one of {', '.join(scenario_names())}"
        )
    scenario = find_scenario(arguments.scenario, Path(), arguments.seed)
    _refuse_full(arguments.out)
    if arguments.picture is not None:
        check_place(arguments.picture)
    job = scenario.job
    system = shown_in(arguments.units, job)
    lines = Lines(print, job, system)
    print(f"{scenario.title}: {scenario.about}")
    started = simulated_start(job, scenario.started_utc, scenario.session_id)
    lines.begin(started, replayed=False)
    for text in too_late(scenario):
        complain(f"chargeassist: warning: {text}")
    told = tell(scenario, [lines])
    events = told.events
    if arguments.out is not None:
        write_package(events, arguments.out)
        print(f"recording: {arguments.out}")
    if arguments.picture is not None:
        from chargeassist.pictures.draw import draw

        draw(told, arguments.picture, system)
        print(f"picture: {arguments.picture}")
    wrong = missed(scenario.expected, events) or not_found(scenario.finds, events)
    if wrong:
        complain(f"chargeassist: {scenario.name}: {wrong}")
        return 1
    if scenario.expected or scenario.finds:
        print(f"as expected: {_expected(scenario)}")
    return 0


def _print(arguments: argparse.Namespace) -> int:
    """Print the file of a shipped scenario, to be made into one of one's own."""
    name = arguments.scenario
    if name not in scenario_names():
        raise ConfigError(
            "simulate --print: expected the name of a shipped scenario (see --list), "
            f"got {'none' if name is None else repr(plain(name, 80))}"
        )
    if any((arguments.out, arguments.picture, arguments.pictures, arguments.json)):
        raise ConfigError("simulate: --print runs nothing; expected no --out, picture or --json")
    if arguments.seed is not None:
        raise ConfigError("simulate: --print runs nothing; expected no --seed: change it there")
    print(shipped_text(name), end="")
    return 0


def _draw_all(folder: Path, units: str | None, seed: int | None) -> int:
    from chargeassist.pictures.draw import draw

    check_place(Path(f"{folder}.svg"))
    folder.mkdir(exist_ok=True)
    for name in scenario_names():
        scenario = find_scenario(name, Path(), seed)
        path = folder / f"{name}.svg"
        draw(tell(scenario), path, shown_in(units, scenario.job))
        print(path)
    return 0


def _list(*, as_json: bool) -> None:
    if as_json:
        found = [find_scenario(name, Path()) for name in scenario_names()]
        print_json(
            [
                {
                    "name": scenario.name,
                    "title": scenario.title,
                    "about": scenario.about,
                    "ends_in": [str(item) for item in scenario.expected],
                    "finds": list(scenario.finds),
                    "note": scenario.expect_note,
                }
                for scenario in found
            ]
        )
        return
    for name in scenario_names():
        scenario = find_scenario(name, Path())
        # A name begins its line and nothing else does: what a script looks for stands there.
        print(f"{name}: {scenario.title}")
        print(indented(scenario.about, "    "))
        if scenario.expected or scenario.finds:
            print(indented(f"ends in: {_expected(scenario)}", "    "))
        if scenario.expect_note:
            print(indented(scenario.expect_note, "    "))


def _expected(scenario: Scenario) -> str:
    said = ", then ".join(str(item) for item in scenario.expected)
    finds = f"found: {', '.join(scenario.finds)}" if scenario.finds else ""
    return "; ".join(part for part in (said, finds) if part)


def _refuse_full(folder: Path | None) -> None:
    """Refuse a folder that cannot take the recording before time is spent on making it."""
    if folder is None or not folder.exists():
        return
    if not folder.is_dir() or any(folder.iterdir()):
        raise ConfigError(f"{folder}: expected a new or an empty folder; choose another name")
