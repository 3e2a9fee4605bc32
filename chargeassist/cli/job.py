"""``job``: make a job file by questions, and say what one lacks for each stage."""

import argparse
from pathlib import Path

from chargeassist.cli.arguments import Commands, add_json, command


def add_commands(commands: Commands) -> None:
    """Add the parser of this command."""
    parser = commands.add_parser(
        "job",
        help="make a job file by questions; say what one lacks",
        epilog="chargeassist job PART --help has examples and exit codes.",
    )
    what = parser.add_subparsers(dest="what", required=True, metavar="new|check")
    new = command(
        what,
        "new",
        handler="chargeassist.cli.job:new",
        help="make a job file, question by question",
        description="Asks for the job on standard error and reads the answers from standard input, "
        "one a line, so that a file of answers works too. Writes a commented FILE and checks it. "
        "Leaving early writes nothing: exit code 2, or 130 by Ctrl-C.",
        examples=("job new job.toml", "job new job.toml < answers.txt"),
    )
    new.add_argument(
        "file",
        nargs="?",
        type=Path,
        default=Path("job.toml"),
        metavar="FILE.toml",
        help="default: job.toml",
    )
    new.set_defaults(writes=("file",))
    check = command(
        what,
        "check",
        handler="chargeassist.cli.job:check",
        help="what is missing for which stage",
        description="Reads FILE and says for each stage what it has, what it would be better for, "
        "and what it cannot do without.",
        examples=("job check job.toml", "job check job.toml --json"),
        fails="something needed is missing for a stage",
    )
    check.add_argument("file", type=Path, metavar="FILE.toml")
    add_json(check)


def new(arguments: argparse.Namespace) -> int:
    """Ask, and write the file."""
    from chargeassist.cli import job_new

    return job_new.new(arguments.file)


def check(arguments: argparse.Namespace) -> int:
    """Say what a file lacks."""
    from chargeassist.cli import job_check

    return job_check.check(arguments.file, as_json=arguments.json)
