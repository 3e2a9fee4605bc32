"""``chargeassist``: the commands, their arguments, and what the shell gets back.

Exit codes: 0 done; 1 the work ended with a failure that was told; 2 the command line, a file or an
address cannot be used; 130 interrupted, 143 terminated. Results go to standard output, messages to
standard error.
"""

import argparse
import io
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from chargeassist import __version__
from chargeassist.cli import archive, audit, exchange, fleet, job
from chargeassist.model.errors import ChargeAssistError

CAUTION = (
    "It advises and records; it decides nothing. Follow the unit's plate, its maker's instructions "
    "and local code; refrigerant and electrical work is for licensed people."
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        Without the program's name; ``sys.argv[1:]`` otherwise.
    """
    arguments = build_parser().parse_args(argv)
    if isinstance(sys.stdout, io.TextIOWrapper):
        # What a device sends is printed; a terminal that lacks a letter must not end a session.
        sys.stdout.reconfigure(errors="replace")
    try:
        code = run(arguments)
        sys.stdout.flush()
    except ChargeAssistError as error:
        print(f"chargeassist: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("chargeassist: interrupted", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output has gone; what Python still holds for it has nowhere to go.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return code


def run(arguments: argparse.Namespace) -> int:
    """Run the command of parsed `arguments`; imports only that command's modules."""
    handler: Callable[[argparse.Namespace], int] | None = getattr(arguments, "handler", None)
    if handler is not None:
        return handler(arguments)
    match arguments.command:
        case "demo":
            from chargeassist.cli.play import demo

            return demo(arguments)
        case "live":
            from chargeassist.cli.play import live

            return live(arguments)
        case "replay":
            from chargeassist.cli.play import replay

            return replay(arguments)
        case "debrief":
            from chargeassist.cli.debrief import debrief

            return debrief(arguments)
        case "drill":
            from chargeassist.cli.drill import drill

            return drill(arguments)
        case "simulate":
            from chargeassist.cli.simulate import simulate

            return simulate(arguments)
        case "probes":
            from chargeassist.cli.probes import probes

            return probes(arguments)
        case "saturation":
            from chargeassist.cli.saturation import saturation

            return saturation(arguments)
        case "standing":
            from chargeassist.cli.standing import standing

            return standing(arguments)
        case "profiles":
            from chargeassist.cli.profiles import profiles

            return profiles(arguments)
        case other:
            raise AssertionError(f"no command {other!r}")


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="chargeassist",
        description="Watch live subcooling, know when it has settled, charge in steps, "
        "keep the record.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action="version", version=f"chargeassist {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    demo = commands.add_parser(
        "demo",
        help="a whole charging session on the simulator",
        description="A simulated unit is charged to its target. On a terminal this opens the "
        "dashboard; without one it prints the session as lines.",
    )
    demo.add_argument(
        "job",
        nargs="?",
        default="library",
        choices=("library", "bakery"),
        help="which unit: one short of refrigerant (library, the default) or with too much",
    )
    _session_arguments(demo)
    demo.add_argument(
        "--hands-on", action="store_true", help="you charge it: no scripted technician"
    )
    demo.add_argument("--seed", type=int, default=None, help="another simulated unit's noise")

    live = commands.add_parser(
        "live",
        help="a session with the probes of a job file",
        description="Reads the probes of JOB, records everything, and advises step by step. With "
        "simulator:SCENARIO the probes are those of a simulated unit that answers to what you do, "
        "at 1 to 60 times its speed.",
    )
    live.add_argument(
        "job",
        nargs="?",
        metavar="JOB.toml|simulator:SCENARIO",
        help="job file, or a scenario to charge yourself (not with --resume)",
    )
    live.add_argument(
        "--resume",
        type=Path,
        metavar="FILE.session",
        help="go on with a session that was interrupted",
    )
    _session_arguments(live)

    replay = commands.add_parser(
        "replay",
        help="play a recording again",
        description="Computes every verdict anew from what was recorded. With --check it prints "
        "where the verdicts differ from the recorded ones, or the record from its own hashes, and "
        "exits with 1 if any do.",
    )
    replay.add_argument(
        "recording", type=Path, metavar="RECORDING", help="a session file or a package folder"
    )
    replay.add_argument("--check", action="store_true", help="compare with the recorded verdicts")
    _session_arguments(replay, record=False)

    drill = commands.add_parser(
        "drill",
        help="charge by your own calls, with the verdicts hidden; scored at the end",
        description="Plays EXERCISE, a recording or a scenario, takes the calls settled, add N, "
        "recover N, stop and fix: CAUSE, and scores them against the simulated machine's truth, "
        "or in a recording against the tool's verdicts. A call is a line such as "
        '"6:40 settled" or "+15 s add 100 g".',
    )
    drill.add_argument(
        "exercise", metavar="RECORDING|SCENARIO", help="what is played; simulate --list shows some"
    )
    drill.add_argument(
        "--calls",
        metavar="FILE",
        help="file of calls; - is standard input, the default where that is no terminal",
    )
    drill.add_argument("--seed", type=_seed, default=None, help="other gusts and other noise")
    drill.add_argument("--trainee", default="", metavar="NAME", help="stands in the result")
    drill.add_argument(
        "--out", type=Path, metavar="FILE|FOLDER", help="where the result goes; here otherwise"
    )
    drill.add_argument(
        "--speed",
        type=_speed,
        metavar="N|max",
        help="session seconds per second; 1 on a terminal, max with a file of calls",
    )
    drill.add_argument(
        "--record", type=Path, metavar="FILE|FOLDER", help="where the session file goes"
    )
    drill.add_argument(
        "--units", choices=("si", "us"), default=None, help="°C, kPa, g or °F, psi, oz"
    )

    debrief = commands.add_parser(
        "debrief",
        help="the results of many drills in one table and one picture",
        description="Gathers every result (*.drill.json) in FOLDER and below it.",
    )
    debrief.add_argument("folder", type=Path, metavar="FOLDER", help="with results of drills")
    debrief.add_argument("--csv", type=Path, metavar="FILE", help="write the table as CSV")
    debrief.add_argument("--json", type=Path, metavar="FILE", help="write the table as JSON")
    debrief.add_argument(
        "--picture", type=Path, metavar="FILE", help="draw it: FILE ends in .svg, .png or .pdf"
    )

    simulate = commands.add_parser(
        "simulate",
        help="run a scenario on the simulator and keep the recording",
        description="Runs SCENARIO, a file or one of those that --list shows, as fast as it goes: "
        "the same scenario gives the same recording byte for byte. Exits with 1 where it does not "
        "end as the scenario says. To charge it yourself: chargeassist live simulator:SCENARIO",
    )
    simulate.add_argument(
        "scenario", nargs="?", metavar="SCENARIO", help="file (.toml) or name of a scenario"
    )
    simulate.add_argument("--list", action="store_true", help="show the shipped scenarios")
    simulate.add_argument(
        "--out", type=Path, metavar="RECORDING", help="folder to make; without it nothing is kept"
    )
    simulate.add_argument("--seed", type=_seed, default=None, help="other gusts and other noise")
    simulate.add_argument(
        "--picture", type=Path, metavar="FILE", help="draw it: FILE ends in .svg, .png or .pdf"
    )
    simulate.add_argument(
        "--pictures", type=Path, metavar="FOLDER", help="draw every shipped scenario, as .svg"
    )
    simulate.add_argument(
        "--units", choices=("si", "us"), default=None, help="°C, kPa, g or °F, psi, oz"
    )

    probes = commands.add_parser(
        "probes",
        help="list serial ports; show what a probe delivers",
        description="Without arguments: serial ports and adapters. With a job file: what each of "
        "its probes delivers, decoded. With an address: the same for one source.",
    )
    probes.add_argument(
        "what",
        nargs="?",
        metavar="JOB.toml|URL",
        help="job file, or an address such as serial:/dev/ttyUSB0?baud=9600",
    )
    probes.add_argument("--format", default="number", help="payload format of URL")
    probes.add_argument("--role", default="liquid_pressure", help="role of the probe at URL")
    probes.add_argument("--unit", default="", help="unit the probe at URL sends")
    probes.add_argument("--select", default="", help="column, key or path in the payload")
    probes.add_argument("--topic", default="", help="MQTT topic")
    probes.add_argument(
        "--seconds", type=float, default=10.0, help="how long to listen (default 10)"
    )

    saturation = commands.add_parser(
        "saturation",
        help="saturation temperature of a refrigerant at a pressure",
        description="Example: chargeassist saturation R-32 248psig --altitude 210m",
    )
    saturation.add_argument("refrigerant", help="for example R-410A; 'list' names them all")
    saturation.add_argument("pressure", nargs="?", help='for example 248psig, "1.2 MPa(a)"')
    place = saturation.add_mutually_exclusive_group()
    place.add_argument("--altitude", help="of the site, for gauge pressures: 210m, 690ft")
    place.add_argument("--barometer", help="station pressure, for gauge pressures: 98.8kPa")
    standing = commands.add_parser(
        "standing",
        help="check a pressure probe against a cylinder or an idle circuit at rest",
        description='Example: chargeassist standing R-32 200psig 68°F --rested "5 h"',
    )
    standing.add_argument("refrigerant", help="what is in it")
    standing.add_argument("pressure", help="as the probe reads: 200psig")
    standing.add_argument("temperature", help="of the cylinder wall at the liquid, insulated: 68°F")
    standing.add_argument("--rested", default="0 s", help='how long it has rested: "5 h"')
    standing.add_argument(
        "--limit", default="3 psi", help="what the probe may be off (its declared limit)"
    )
    standing.add_argument(
        "--uncertainty", default="0.5 K", help="of the temperature, k = 2, contact included"
    )
    standing.add_argument("--place", choices=("cylinder", "circuit"), default="cylinder")
    station = standing.add_mutually_exclusive_group()
    station.add_argument("--altitude", help="of the site, for gauge pressures")
    station.add_argument("--barometer", help="station pressure, for gauge pressures")

    saturation.add_argument("--line", help="liquid line temperature: gives the subcooling too")

    profiles = commands.add_parser(
        "profiles",
        help="shipped limits, each with its source",
        description="Without a name: every profile a job file may name. With one: each of its "
        "limits with value, source, edition, rank, and whether it was written down from memory.",
    )
    profiles.add_argument("name", nargs="?", metavar="NAME", help="for example house-default")
    archive.add_commands(commands)
    audit.add_commands(commands)
    exchange.add_commands(commands)
    fleet.add_commands(commands)
    job.add_commands(commands)
    return parser


def _session_arguments(parser: argparse.ArgumentParser, *, record: bool = True) -> None:
    parser.add_argument(
        "--lines", action="store_true", help="print lines even on a terminal, no dashboard"
    )
    parser.add_argument(
        "--speed",
        type=_speed,
        default=None,
        metavar="N|max",
        help="session seconds per second, for simulators and recordings",
    )
    parser.add_argument(
        "--units", choices=("si", "us"), default=None, help="°C, kPa, g or °F, psi, oz"
    )
    if record:
        parser.add_argument(
            "--record", type=Path, metavar="FILE|FOLDER", help="where the session file goes"
        )


def _seed(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 17):
        raise argparse.ArgumentTypeError(f"expected a whole number from 0, got {text!r}")
    return int(text)


def _speed(text: str) -> float:
    """Read a speed; 0 stands for "max"."""
    if text == "max":
        return 0.0
    try:
        speed = float(text)
    except ValueError:
        speed = -1.0
    if not 0.0 < speed <= 10_000.0:
        raise argparse.ArgumentTypeError(f'expected a number above 0 or "max", got {text!r}')
    return speed
