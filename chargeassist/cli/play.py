"""``demo``, ``live`` and ``replay``: a session on the dashboard or as lines."""

import argparse
import asyncio
import sys
from pathlib import Path

from chargeassist.cli.lines import Lines
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Outcome
from chargeassist.model.job import Job
from chargeassist.session.demo import demo_job
from chargeassist.session.jobfile import load_job
from chargeassist.session.opening import Opened, open_new, open_replay, open_resumed
from chargeassist.session.pilot import Pilot
from chargeassist.session.runner import Listener, Session

DEMO_SPEED = 20.0


def demo(arguments: argparse.Namespace) -> int:
    """Run a demonstration job on the simulator."""
    job = demo_job(arguments.job, arguments.seed)
    on_screen = _on_screen(arguments)
    usual = DEMO_SPEED if on_screen else None
    speed = usual if arguments.speed is None else _speed(arguments)
    listeners, lines = _listeners(arguments, job, on_screen=on_screen)
    opened = open_new(
        job,
        Path.cwd(),
        record=arguments.record,
        speed=speed,
        listeners=listeners,
        attendant=None if arguments.hands_on else Pilot(),
    )
    return _play(opened, arguments, lines)


def live(arguments: argparse.Namespace) -> int:
    """Run a session with the probes of a job file, or go on with an interrupted one."""
    if (arguments.job is None) == (arguments.resume is None):
        raise ConfigError("live: expected either JOB.toml or --resume FILE.session")
    on_screen = _on_screen(arguments)
    if arguments.resume is not None:
        from chargeassist.session.package import open_record

        with open_record(arguments.resume) as record:
            job = record.job
        listeners, lines = _listeners(arguments, job, on_screen=on_screen)
        return _play(open_resumed(arguments.resume, listeners=listeners), arguments, lines)
    job = load_job(arguments.job)
    listeners, lines = _listeners(arguments, job, on_screen=on_screen)
    opened = open_new(
        job,
        arguments.job.resolve().parent,
        record=arguments.record,
        speed=_speed(arguments),
        listeners=listeners,
    )
    return _play(opened, arguments, lines)


def replay(arguments: argparse.Namespace) -> int:
    """Play a record again, at the speed asked for."""
    from chargeassist.session.compare import VerdictComparison

    comparison = VerdictComparison(arguments.recording)
    job = comparison.job
    on_screen = _on_screen(arguments) and not arguments.check
    usual = 1.0 if on_screen else None
    speed = usual if arguments.speed is None else _speed(arguments)
    listeners, lines = _listeners(arguments, job, on_screen=on_screen)
    if arguments.check:
        listeners, lines = [comparison], None
    opened = open_replay(arguments.recording, speed=speed, listeners=listeners)
    code = _play(opened, arguments, lines)
    if not arguments.check:
        return code
    differences = comparison.differences()
    for text in differences:
        print(text)
    print(
        f"{comparison.compared} verdicts compared, "
        + (f"{len(differences)} differ" if differences else "all the same")
    )
    return 1 if differences else code


def _on_screen(arguments: argparse.Namespace) -> bool:
    return sys.stdout.isatty() and sys.stdin.isatty() and not arguments.lines


def _speed(arguments: argparse.Namespace) -> float | None:
    if arguments.speed is None:
        return 1.0
    speed: float = arguments.speed
    return None if speed == 0.0 else speed


def _system(arguments: argparse.Namespace, job: Job) -> UnitSystem:
    return UnitSystem(arguments.units or job.units)


def _listeners(
    arguments: argparse.Namespace, job: Job, *, on_screen: bool
) -> tuple[list[Listener], Lines | None]:
    if on_screen:
        return [], None
    lines = Lines(_print_line, job, _system(arguments, job))
    return [lines], lines


def _print_line(text: str) -> None:
    print(text, flush=True)


def _play(opened: Opened, arguments: argparse.Namespace, lines: Lines | None) -> int:
    session = opened.session
    if lines is None and not getattr(arguments, "check", False):
        code = _on_dashboard(session, _system(arguments, session.job))
    else:
        if lines is not None:
            lines.begin(opened.started, replayed=session.replayed)
        code = _as_lines(session)
    if session.record_path is not None:
        print(f"record: {session.record_path}", flush=True)
    return code


def _as_lines(session: Session) -> int:
    async def run() -> None:
        task = asyncio.ensure_future(session.run(lambda snapshot: None))
        try:
            await asyncio.shield(task)
        except asyncio.CancelledError:
            # An interrupt ends the session in order, so that its record is whole.
            session.end(Outcome.ABANDONED, "interrupted")
            await task
            raise

    try:
        asyncio.run(run())
    except KeyboardInterrupt:
        return 130
    return 0


def _on_dashboard(session: Session, system: UnitSystem) -> int:
    from chargeassist.tui.app import Dashboard

    app = Dashboard(session, system=system)
    app.run()
    return app.return_code or 0
