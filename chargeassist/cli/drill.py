"""``drill``: a session with its verdicts hidden, called by a trainee, scored at the end."""

import argparse
import re
import sys
from pathlib import Path

from chargeassist.cli.plain_output import complain
from chargeassist.cli.run_to_end import run_to_end
from chargeassist.cli.shown import on_screen, shown_in
from chargeassist.model.display import clock
from chargeassist.model.errors import ConfigError
from chargeassist.trainer.calls import read_calls
from chargeassist.trainer.drill import Drill, Exercise, find_exercise
from chargeassist.trainer.report import report_lines
from chargeassist.trainer.result import SUFFIX, Result, write_result

_CALLS_LONGEST = 1_000_000
_NAME_LONGEST = 40
"""Letters of a trainee in a file's name: four bytes each, and 255 are what most systems take."""


def drill(arguments: argparse.Namespace) -> int:
    """Run a drill on the screen, or from a file of calls, and write its result."""
    _expect_place(arguments.out)
    exercise = find_exercise(arguments.exercise, arguments.seed)
    if on_screen(as_text=arguments.calls is not None):
        return _on_dashboard(exercise, arguments)
    place = arguments.calls or "-"
    script = read_calls(_text(place).splitlines(), place)
    session = Drill(
        exercise,
        speed=arguments.speed or None,
        script=script,
        record=arguments.record,
        trainee=arguments.trainee,
    )
    job = session.session.job
    try:
        code = run_to_end(session.session, lambda: session.run(lambda snapshot: None))
    finally:
        if session.session.record_path is not None:
            print(f"record: {session.session.record_path}")
    if code:
        complain("chargeassist: the drill was left before its end; nothing is scored")
        return code
    if session.not_made:
        first = session.not_made[0]
        complain(
            f"chargeassist: the drill was over at {clock(session.session.now)}; not made: "
            f"{len(session.not_made)} of the calls, from {clock(first.t)} {first.kind.value} on"
        )
    result = session.result()
    for line in report_lines(result, shown_in(arguments.units, job)):
        print(line)
    path = result_path(arguments.out, result)
    write_result(result, path)
    print(f"result: {path}")
    return 0


def _on_dashboard(exercise: Exercise, arguments: argparse.Namespace) -> int:
    from chargeassist.trainer.drill_session import DrillSession
    from chargeassist.tui.drill import DrillDashboard

    speed = 1.0 if arguments.speed is None else arguments.speed or None
    run = Drill(exercise, speed=speed, record=arguments.record, trainee=arguments.trainee)
    system = shown_in(arguments.units, run.session.job)
    kept: list[Path] = []

    def keep(result: Result) -> Path:
        kept.append(result_path(arguments.out, result))
        write_result(result, kept[-1])
        return kept[-1]

    app = DrillDashboard(DrillSession(run), keep, system=system)
    app.run()
    if app.result is not None:
        for line in report_lines(app.result, system):
            print(line)
    for path in kept:
        print(f"result: {path}")
    if run.session.record_path is not None:
        print(f"record: {run.session.record_path}")
    return app.return_code or 0


def _expect_place(out: Path | None) -> None:
    """Refuse a place that the result cannot go to: before the work, not after it."""
    if out is None:
        return
    if not out.exists():
        folder = out.parent if _is_file_name(out) else out
        if not folder.exists() and not folder.parent.is_dir():
            raise ConfigError(
                f"{out}: expected a name in a folder that is there; there is no folder "
                f"{folder.parent}: make it, or look for a slip in the name"
            )
        return
    if _is_file_name(out):
        raise ConfigError(f"{out}: is there already; choose another name")
    if not out.is_dir():
        raise ConfigError(
            f"{out}: expected a folder for the result, or a new file that ends in .json, "
            "got a file that is there"
        )


def _is_file_name(out: Path) -> bool:
    return out.suffix.lower() == ".json"


def result_path(wanted: Path | None, result: Result) -> Path:
    """Return the file a result goes to: `wanted`, or a name of its own in that folder or here."""
    if wanted is not None and _is_file_name(wanted):
        return wanted
    who = re.sub(r"[\W_]+", "-", result.trainee.lower())[:_NAME_LONGEST].strip("-") or "drill"
    seed = "" if result.seed is None else f"-{result.seed}"
    stamp = re.sub(r"[^0-9]", "", result.started_utc[:19])
    name = f"{result.exercise}{seed}-{who}-{stamp}"
    folder = wanted or Path()
    path, number = folder / f"{name}{SUFFIX}", 2
    while path.exists():
        path, number = folder / f"{name}-{number}{SUFFIX}", number + 1
    return path


def _text(place: str) -> str:
    try:
        if place == "-":
            return sys.stdin.read(_CALLS_LONGEST).removeprefix("\ufeff")
        # Some editors begin with a mark.
        with Path(place).open(encoding="utf-8-sig") as file:
            return file.read(_CALLS_LONGEST)
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or error
        raise ConfigError(f"{place}: expected a file of calls: {why}") from error
