"""``debrief``: the drills of a class in one table and one picture."""

import argparse
from pathlib import Path

from chargeassist.cli.plain_output import complain
from chargeassist.model.errors import ConfigError
from chargeassist.trainer.debrief import draw, gather, table_csv, table_json, table_lines


def debrief(arguments: argparse.Namespace) -> int:
    """Gather the results in a folder; 1 where one of them could not be read."""
    rows, problems = gather(arguments.folder)
    for line in table_lines(rows):
        print(line)
    if arguments.csv is not None:
        _write(arguments.csv, table_csv(rows).encode())
    if arguments.json is not None:
        _write(arguments.json, table_json(rows))
    if arguments.picture is not None:
        draw(rows, arguments.picture)
        print(f"written: {arguments.picture}")
    for problem in problems:
        complain(f"chargeassist: left out: {problem}")
    return 1 if problems else 0


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise ConfigError(f"{path}: cannot be written: {error.strerror}") from error
    print(f"written: {path}")
