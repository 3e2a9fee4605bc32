"""The parsers of the commands that play sessions: live, simulated, replayed, drilled."""

from pathlib import Path

from chargeassist.cli.arguments import (
    Commands,
    add_json,
    add_place,
    add_session_arguments,
    add_units,
    command,
    seed,
    speed,
)


def add_commands(commands: Commands) -> None:
    """Add the parsers of these commands."""
    _add_demo(commands)
    _add_live(commands)
    _add_watch(commands)
    _add_replay(commands)
    _add_drill(commands)
    _add_debrief(commands)
    _add_simulate(commands)


def _add_demo(commands: Commands) -> None:
    parser = command(
        commands,
        "demo",
        handler="chargeassist.cli.play:demo",
        help="a whole charging session on the simulator",
        description="A simulated unit is charged to its target. On a terminal this opens the "
        "dashboard; without one it prints the session as lines.",
        examples=("demo", "demo bakery --units us", "demo --hands-on --speed 5"),
        fails="the session ended with a failure that was told",
    )
    parser.add_argument(
        "job",
        nargs="?",
        default="library",
        choices=("library", "bakery"),
        help="which unit: one short of refrigerant (library, the default) or with too much",
    )
    add_session_arguments(parser)
    parser.add_argument(
        "--hands-on", action="store_true", help="you charge it: no scripted technician"
    )
    parser.add_argument("--seed", type=seed, default=None, help="another simulated unit's noise")


def _add_live(commands: Commands) -> None:
    parser = command(
        commands,
        "live",
        handler="chargeassist.cli.play:live",
        help="a session with the probes of a job file",
        description="Reads the probes of JOB, records everything, and advises step by step. With "
        "simulator:SCENARIO the probes are those of a simulated unit that answers to what you do, "
        "at 1 to 60 times its speed.",
        examples=(
            "live job.toml",
            "live job.toml --record job-417.session",
            "live --resume job-417.session",
            "live job.toml --publish mqtt://localhost/reading-room",
            "live simulator:dirty-condenser --speed 10",
        ),
        fails="the session ended with a failure that was told; its record is whole up to there",
    )
    parser.add_argument(
        "job",
        nargs="?",
        metavar="JOB.toml|simulator:SCENARIO",
        help="job file, or a scenario to charge yourself (not with --resume)",
    )
    parser.add_argument(
        "--resume",
        type=Path,
        metavar="FILE.session",
        help="resume a session that was interrupted",
    )
    add_session_arguments(parser)


def _add_watch(commands: Commands) -> None:
    parser = command(
        commands,
        "watch",
        handler="chargeassist.cli.watch:watch",
        help="watch a session that live --publish publishes elsewhere",
        description="Shows values and verdicts read-only, on a terminal as a screen, otherwise a "
        "line for each verdict. What is published is SenML (RFC 8428); other programs read it too.",
        examples=(
            "watch mqtt://localhost/reading-room",
            "watch mqtts://van@broker.example/reading-room?password_env=CHARGEASSIST_VAN --json",
        ),
    )
    parser.add_argument("address", metavar="mqtt://HOST/TOPIC")
    parser.add_argument(
        "--lines", action="store_true", help="print lines even on a terminal, no screen"
    )
    add_units(parser)
    parser.add_argument("--json", action="store_true", help="one JSON object for each pack")


def _add_replay(commands: Commands) -> None:
    parser = command(
        commands,
        "replay",
        handler="chargeassist.cli.play:replay",
        help="play a recording again",
        description="Computes every verdict anew from what was recorded. With --check it prints "
        "where the verdicts differ from the recorded ones, or the record from its own hashes.",
        examples=(
            "replay job-417.session --speed 20",
            "replay recordings/millrace-lane-library --check",
        ),
        fails="with --check: a verdict differs, or the record contradicts its hashes",
    )
    parser.add_argument(
        "recording", type=Path, metavar="RECORDING", help="a session file or a package folder"
    )
    parser.add_argument("--check", action="store_true", help="compare with the recorded verdicts")
    add_session_arguments(parser, record=False)


def _add_drill(commands: Commands) -> None:
    parser = command(
        commands,
        "drill",
        handler="chargeassist.cli.drill:drill",
        help="charge by your own calls, with the verdicts hidden; scored at the end",
        description="Plays a recording or a scenario, takes the calls settled, add N, "
        "recover N, stop and fix: CAUSE, and scores them against the simulated machine's truth, "
        "or in a recording against the tool's verdicts. A call is a line such as "
        '"6:40 settled" or "+15 s add 100 g". CAUSE is one of: restriction, gas, outdoor coil, '
        "indoor coil, valve open, valve hunts, compressor, leak, clamp, zero, frequency. Clamp is "
        "a pipe clamp or its probe, zero a pressure probe. Stop and every fix but clamp, zero and "
        "frequency end the drill.",
        examples=(
            "drill dirty-condenser --speed 10",
            'drill clean-charge --calls calls.txt --trainee "bench 1" --out results',
        ),
    )
    parser.add_argument(
        "exercise", metavar="RECORDING|SCENARIO", help="what is played; simulate --list shows some"
    )
    parser.add_argument(
        "--calls",
        metavar="FILE",
        help="file of calls; - is standard input, the default where that is no terminal",
    )
    parser.add_argument("--seed", type=seed, default=None, help="other gusts and other noise")
    parser.add_argument("--trainee", default="", metavar="NAME", help="stands in the result")
    add_place(
        parser,
        "--out",
        metavar="FILE.json|FOLDER",
        help="where the result goes, for debrief; otherwise a name of its own, here",
    )
    parser.add_argument(
        "--speed",
        type=speed,
        metavar="N|max",
        help="session seconds per second; 1 on a terminal, max with a file of calls",
    )
    add_place(parser, "--record", metavar="FILE|FOLDER", help="where the session file goes")
    add_units(parser)


def _add_debrief(commands: Commands) -> None:
    parser = command(
        commands,
        "debrief",
        handler="chargeassist.cli.debrief:debrief",
        help="the results of many drills in one table and one picture",
        description="Gathers the results of drills: files, and every result in a folder and below "
        "it, whatever it was named with drill --out.",
        examples=(
            "debrief results --csv class.csv --picture class.svg",
            "debrief monday.json tuesday.json --json -",
        ),
        fails="a result could not be read, or is there twice; the others are in the table",
    )
    parser.add_argument(
        "places", nargs="+", type=Path, metavar="FILE|FOLDER", help="a result, or a folder of them"
    )
    add_place(parser, "--csv", metavar="FILE", help="write the table as CSV; - is standard output")
    add_place(
        parser, "--json", metavar="FILE", help="write the table as JSON; - is standard output"
    )
    add_place(parser, "--picture", metavar="FILE", help="draw it: FILE ends in .svg, .png or .pdf")


def _add_simulate(commands: Commands) -> None:
    parser = command(
        commands,
        "simulate",
        handler="chargeassist.cli.simulate:simulate",
        help="run a scenario on the simulator and keep the recording",
        description="Runs SCENARIO, a file or one of those that --list shows, as fast as it goes: "
        "the same scenario gives the same recording byte for byte. To charge it yourself: "
        "chargeassist live simulator:SCENARIO",
        examples=(
            "simulate --list",
            "simulate dirty-condenser --out recordings/dirty",
            "simulate clean-charge --picture clean.svg",
            "simulate dirty-condenser --print > mine.toml",
        ),
        fails="it does not end as the scenario says",
    )
    parser.add_argument(
        "scenario", nargs="?", metavar="SCENARIO", help="file (.toml) or name of a scenario"
    )
    parser.add_argument("--list", action="store_true", help="show the shipped scenarios")
    parser.add_argument(
        "--print",
        action="store_true",
        help="print the file of a shipped scenario, to change it into one of your own",
    )
    add_place(
        parser, "--out", metavar="RECORDING", help="folder to make; without it nothing is kept"
    )
    parser.add_argument("--seed", type=seed, default=None, help="other gusts and other noise")
    add_place(parser, "--picture", metavar="FILE", help="draw it: FILE ends in .svg, .png or .pdf")
    add_place(parser, "--pictures", metavar="FOLDER", help="draw every shipped scenario, as .svg")
    add_units(parser)
    add_json(parser)
