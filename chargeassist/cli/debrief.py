"""``debrief``: the drills of a class in one table and one picture."""

import argparse
from pathlib import Path
from typing import Final

from chargeassist.cli.plain_output import complain
from chargeassist.model.errors import ConfigError
from chargeassist.session.whole_file import write_whole
from chargeassist.trainer.debrief import draw, gather, table_csv, table_json, table_lines

_OUTPUT: Final = Path("-")


def debrief(arguments: argparse.Namespace) -> int:
    """Gather the results in files and folders; 1 where one of them could not be read."""
    if arguments.csv == arguments.json == _OUTPUT:
        raise ConfigError("debrief: standard output takes one of --csv and --json, got both")
    for path in (arguments.csv, arguments.json, arguments.picture):
        if path not in (None, _OUTPUT) and path.exists():
            raise ConfigError(f"{path}: already exists; choose another name")
    rows, problems = gather(arguments.places)
    # A script that asked for one table there finds nothing else beside it.
    tell = complain if _OUTPUT in (arguments.csv, arguments.json) else print
    if tell is print:
        for line in table_lines(rows):
            print(line)
    for path, text in (
        (arguments.csv, table_csv(rows)),
        (arguments.json, table_json(rows).decode()),
    ):
        if path == _OUTPUT:
            print(text, end="")
        elif path is not None:
            _write(path, text.encode())
            tell(f"written: {path}")
    if arguments.picture is not None:
        draw(rows, arguments.picture)
        tell(f"written: {arguments.picture}")
    for problem in problems:
        complain(f"chargeassist: left out: {problem}")
    return 1 if problems else 0


def _write(path: Path, content: bytes) -> None:
    try:
        write_whole(path, content, new=True)
    except FileExistsError as error:
        raise ConfigError(f"{path}: already exists; choose another name") from error
    except OSError as error:
        raise ConfigError(f"{path}: cannot be written: {error.strerror}") from error
