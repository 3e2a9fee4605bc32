"""``job``: make a job file by questions, and say what one lacks for each stage."""

import argparse
from pathlib import Path


def add_commands(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the parser of this command."""
    parser = commands.add_parser("job", help="make a job file by questions; say what one lacks")
    what = parser.add_subparsers(dest="what", required=True, metavar="new|check")
    new = what.add_parser(
        "new",
        help="make a job file, question by question",
        description="Asks for the job on standard error and reads the answers from standard input, "
        "one a line, so that a file of answers works too. Writes a commented FILE and checks it. "
        "Leaving early writes nothing. Exits with 0 when the file is written.",
    )
    new.add_argument(
        "file",
        nargs="?",
        type=Path,
        default=Path("job.toml"),
        metavar="FILE.toml",
        help="default: job.toml",
    )
    new.set_defaults(handler=_new)
    check = what.add_parser(
        "check",
        help="what is missing for which stage",
        description="Reads FILE and says for each stage what it has, what it would be better for, "
        "and what it cannot do without. Exits with 0 when every stage can be worked on, 1 when "
        "something needed is missing, 2 when the file cannot be used.",
    )
    check.add_argument("file", type=Path, metavar="FILE.toml")
    check.add_argument("--json", action="store_true", help="the same as JSON, quantities in SI")
    check.set_defaults(handler=_check)


def _new(arguments: argparse.Namespace) -> int:
    from chargeassist.cli.job_new import new

    return new(arguments.file)


def _check(arguments: argparse.Namespace) -> int:
    from chargeassist.cli.job_check import check

    return check(arguments.file, as_json=arguments.json)
