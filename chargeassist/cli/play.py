"""``demo``, ``live`` and ``replay``: a session on the dashboard or as lines."""

import argparse
import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from chargeassist.cli.lines import Lines
from chargeassist.cli.plain_output import complain
from chargeassist.cli.printer import Printer
from chargeassist.cli.run_to_end import End, run_to_end
from chargeassist.cli.shown import on_screen, shown_in
from chargeassist.cli.standard_input import hear_lines
from chargeassist.cli.told_lines import ToldSession
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ChargeAssistError, ConfigError
from chargeassist.model.job import Job
from chargeassist.model.text import without_credentials
from chargeassist.session.board import Teller, make_board
from chargeassist.session.job.demo import demo_job
from chargeassist.session.job.jobfile import load_job
from chargeassist.session.opening import Opened, open_new, open_replay, open_resumed
from chargeassist.session.pilot import Pilot
from chargeassist.session.plugins import source_names
from chargeassist.session.runner import Listener, Session

if TYPE_CHECKING:
    from chargeassist.tui.control import SessionControl

DEMO_SPEED = 20.0


def demo(arguments: argparse.Namespace) -> int:
    """Run a demonstration job on the simulator."""
    job = demo_job(arguments.job, arguments.seed)
    screen = on_screen(as_text=arguments.lines)
    usual = DEMO_SPEED if screen else None
    speed = usual if arguments.speed is None else _speed(arguments)
    listeners, lines = _listeners(arguments, job, screen=screen)
    teller = _teller(arguments)
    opened = open_new(
        job,
        Path.cwd(),
        record=arguments.record,
        speed=speed,
        listeners=listeners,
        attendant=None if arguments.hands_on else Pilot(),
    )
    return _play(opened, arguments, lines, teller)


def live(arguments: argparse.Namespace) -> int:
    """Run a session with the probes of a job file, or resume an interrupted one."""
    if (arguments.job is None) == (arguments.resume is None):
        raise ConfigError("live: expected either JOB.toml or --resume FILE.session")
    if arguments.resume is not None and (arguments.record or arguments.speed is not None):
        raise ConfigError(
            "live: --resume goes on in the session's own file, at the pace of its probes; expected "
            "no --record and no --speed beside it"
        )
    screen = on_screen(as_text=arguments.lines)
    teller = _teller(arguments)
    if arguments.resume is not None:
        from chargeassist.session.record.package import open_record

        with open_record(arguments.resume) as record:
            job = record.job
        listeners, lines = _listeners(arguments, job, screen=screen)
        opened = open_resumed(arguments.resume, listeners=listeners)
        return _play(opened, arguments, lines, teller, listens=True)
    job, base = job_to_run(arguments.job)
    listeners, lines = _listeners(arguments, job, screen=screen)
    opened = open_new(
        job,
        base,
        record=arguments.record,
        speed=_speed(arguments),
        listeners=listeners,
    )
    return _play(opened, arguments, lines, teller, listens=True)


def _teller(arguments: argparse.Namespace) -> Teller | None:
    """Return who tells the session elsewhere; an address that cannot be used ends it here."""
    return None if arguments.publish is None else Teller(make_board(arguments.publish))


def job_to_run(text: str) -> tuple[Job, Path]:
    """Return the job of a file, or of ``simulator:SCENARIO``, and where its paths start."""
    scheme, _, rest = text.partition(":")
    if scheme == "simulator":
        from chargeassist.session.scenario.scenario import find_scenario, place_and_seed

        place, seed = place_and_seed(rest)
        scenario = find_scenario(place, Path(), seed)
        return scenario.job, scenario.folder
    if scheme in source_names():
        raise ConfigError(
            f"live: expected a job file or simulator:SCENARIO, got {without_credentials(text)!r}; "
            "an address stands in a job file, and chargeassist probes ADDRESS listens to one"
        )
    path = Path(text)
    return load_job(path), path.resolve().parent


def replay(arguments: argparse.Namespace) -> int:
    """Play a record again, at the speed asked for."""
    from chargeassist.session.compare import VerdictComparison

    comparison = VerdictComparison(arguments.recording)
    job = comparison.job
    screen = on_screen(as_text=arguments.lines) and not arguments.check
    usual = 1.0 if screen else None
    speed = usual if arguments.speed is None else _speed(arguments)
    listeners, lines = _listeners(arguments, job, screen=screen)
    if arguments.check:
        listeners, lines = [comparison], None
    if screen:
        from chargeassist.trainer.replay_desk import ReplayDesk

        return _on_dashboard(
            ReplayDesk(arguments.recording, speed), _system(arguments, job), sound=False
        )
    opened = open_replay(arguments.recording, speed=speed, listeners=listeners)
    code = _play(opened, arguments, lines)
    if code or not arguments.check:
        return code
    differences = comparison.differences()
    for text in (*comparison.problems, *differences):
        print(text)
    print(
        f"{comparison.compared} verdicts compared, "
        + (f"{len(differences)} differ" if differences else "all the same")
    )
    return 1 if differences or comparison.problems else 0


def _speed(arguments: argparse.Namespace) -> float | None:
    if arguments.speed is None:
        return 1.0
    speed: float = arguments.speed
    return None if speed == 0.0 else speed


def _system(arguments: argparse.Namespace, job: Job) -> UnitSystem:
    return shown_in(arguments.units, job)


def _listeners(
    arguments: argparse.Namespace, job: Job, *, screen: bool
) -> tuple[list[Listener], Lines | None]:
    if screen:
        return [], None
    lines = Lines(Printer(), job, _system(arguments, job))
    return [lines], lines


def _play(
    opened: Opened,
    arguments: argparse.Namespace,
    lines: Lines | None,
    teller: Teller | None = None,
    *,
    listens: bool = False,
) -> int:
    session = opened.session
    if teller is not None:
        session.tell_to(teller)
    try:
        if lines is None and not getattr(arguments, "check", False):
            code = _on_dashboard(
                session, _system(arguments, session.job), sound=not arguments.no_sound
            )
        else:
            if lines is not None:
                lines.begin(opened.started, replayed=session.replayed)
            told = None
            if lines is not None and listens and not session.replayed:
                told = ToldSession(session, lines.write, _system(arguments, session.job))
            code = _as_lines(session, lines, told)
    except ChargeAssistError as error:
        # The command line was good and the session began: what ended it is told, with code 1.
        complain(f"chargeassist: {error}")
        code = 1
    finally:
        if session.record_path is not None:
            with contextlib.suppress(OSError):
                print(f"record: {session.record_path}", flush=True)
    return code


def _as_lines(session: Session, lines: Lines | None, told: "ToldSession | None" = None) -> int:
    printer = lines.write if lines is not None else None

    def begin(end: End) -> None:
        if isinstance(printer, Printer):
            printer.on_failure = lambda: end(1, "its output could not be written")
            if printer.failure is not None:
                printer.on_failure()
        if told is not None:
            hear_lines(told.take)

    see = (lambda snapshot: None) if told is None else told.see
    code = run_to_end(session, lambda: session.run(see), begin)
    if isinstance(printer, Printer) and isinstance(printer.failure, BrokenPipeError):
        raise printer.failure
    return code


def _on_dashboard(session: "SessionControl", system: UnitSystem, *, sound: bool) -> int:
    from chargeassist.tui.app import Dashboard

    app = Dashboard(session, system=system, sound=sound)
    app.run()
    return app.return_code or 0
