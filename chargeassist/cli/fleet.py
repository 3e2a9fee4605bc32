"""``fleet``: a dataset of many sessions, questions to it, and scoring them all again."""

import argparse
import csv
import io
import json
import math
from collections.abc import Sequence
from decimal import Decimal
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from chargeassist.cli.arguments import (
    Commands,
    PageFormatter,
    add_cores,
    add_format,
    add_place,
    command,
)
from chargeassist.model.text import cell, plain, without_credentials

if TYPE_CHECKING:
    from chargeassist.qa.fleet_query import Answer


def add_commands(commands: Commands) -> None:
    """Add the parser of this command and of its parts."""
    parser = commands.add_parser(
        "fleet",
        help="a dataset of many sessions: add, query, recompute",
        description="Thousands of sessions as Hive-partitioned Parquet, in a folder or at an "
        "fsspec address such as s3://bucket/fleet.",
        epilog="chargeassist fleet PART --help has examples and exit codes.",
        formatter_class=PageFormatter,
    )
    parts = parser.add_subparsers(dest="part", required=True, metavar="PART")
    adding = command(
        parts,
        "add",
        handler="chargeassist.cli.fleet:add",
        help="add archives to the dataset",
        examples=("fleet add archives/ --to fleet/", "fleet add archives/ --to s3://bucket/fleet"),
        fails="an archive was refused; the others are in",
    )
    adding.add_argument("places", nargs="+", type=Path, metavar="FOLDER|ARCHIVE")
    add_place(adding, "--to", kind=str, required=True, metavar="ADDRESS")
    add_cores(adding)
    adding.add_argument(
        "--unverified", action="store_true", help="also what contradicts itself or has no end"
    )
    asking = command(
        parts,
        "query",
        handler="chargeassist.cli.fleet:query",
        help="ask a named question, or your own SELECT",
        examples=(
            "fleet query fleet/",
            "fleet query fleet/ gain-by-model",
            'fleet query fleet/ --sql "SELECT count(*) FROM sessions" --format json',
        ),
    )
    asking.add_argument("address", metavar="ADDRESS")
    asking.add_argument("question", nargs="?", metavar="QUESTION", help="without: list them")
    asking.add_argument("--sql", help="one SELECT over sessions, steps, channels, events, readings")
    add_format(asking)
    again = command(
        parts,
        "recompute",
        handler="chargeassist.cli.fleet:recompute",
        help="score every session with today's software",
        examples=(
            "fleet recompute archives/ --to scores.jsonl",
            "fleet recompute archives/ --to scores.jsonl --scheduler tcp://head:8786",
        ),
        fails="verdicts differ, or a record could not be read",
    )
    again.add_argument("places", nargs="+", type=Path, metavar="FOLDER|ARCHIVE")
    add_place(again, "--to", required=True, metavar="RESULTS.jsonl")
    add_cores(again)
    again.add_argument(
        "--scheduler",
        default="",
        metavar="tcp://HOST:8786",
        help="a Dask scheduler whose workers see the same paths",
    )


def add(arguments: argparse.Namespace) -> int:
    """Add archives; exits with 1 where one was refused."""
    from collections import Counter

    from chargeassist.cli.plain_output import complain
    from chargeassist.cli.progress import progress
    from chargeassist.qa.fleet_add import AddState, add_all
    from chargeassist.qa.many import records_under

    paths = records_under(arguments.places)
    address = arguments.to if "://" in arguments.to else str(Path(arguments.to).resolve())
    work = add_all(paths, address, cores=arguments.cores, unverified=arguments.unverified)
    counts: Counter[AddState] = Counter()
    readings = 0
    try:
        for path, done in progress(work, len(paths), "added"):
            counts[done.state] += 1
            readings += done.readings
            if done.state is AddState.REFUSED:
                print(plain(f"{path}: refused: {done.reason}", 1000))
    except KeyboardInterrupt:
        complain(
            f"chargeassist: {without_credentials(arguments.to)}: stopped after {counts.total()} of "
            f"{len(paths)} records; what was added is whole: the same command goes on with the rest"
        )
        raise
    told = ", ".join(f"{counts[state]} {state.value}" for state in AddState if counts[state])
    print(f"{without_credentials(arguments.to)}: {told}; {readings} readings written")
    return 1 if counts[AddState.REFUSED] else 0


def query(arguments: argparse.Namespace) -> int:
    """Answer a question, or list those that have a name."""
    from chargeassist.model.errors import ConfigError
    from chargeassist.qa.fleet_query import QUESTIONS, Answer, FleetReader

    if arguments.question is None and arguments.sql is None:
        if arguments.format != "table":
            named = [(name, question.title) for name, question in QUESTIONS.items()]
            print(_shown(Answer(("question", "about"), named), arguments.format), end="")
            return 0
        for name, question in QUESTIONS.items():
            print(f"{name}: {question.title}")
        return 0
    if arguments.question is not None and arguments.sql is not None:
        raise ConfigError("fleet query: expected a question or --sql, got both")
    reader = FleetReader(arguments.address)
    try:
        answer = (
            reader.select(arguments.sql)
            if arguments.sql is not None
            else reader.ask(arguments.question)
        )
    finally:
        reader.close()
    print(_shown(answer, arguments.format), end="")
    return 0


def recompute(arguments: argparse.Namespace) -> int:
    """Score all again; exits with 1 where verdicts differ or a record could not be read."""
    from chargeassist.cli.progress import progress
    from chargeassist.qa.fleet_recompute import recompute_all
    from chargeassist.qa.many import records_under

    paths = records_under(arguments.places)
    work = recompute_all(paths, arguments.to, cores=arguments.cores, scheduler=arguments.scheduler)
    bad = differ = 0
    for line in progress(work, len(paths), "recomputed"):
        if "error" in line:
            bad += 1
            print(plain(f"{line['record']}: {line['error']}", 1000))
        elif line["differ"]:
            differ += 1
            text = f"{line['record']}: {line['differ']} verdicts differ; {line['differences'][0]}"
            print(plain(text, 1000))
    print(f"{arguments.to}: {len(paths)} records, {differ} differ, {bad} could not be read")
    return 1 if bad or differ else 0


def _shown(answer: "Answer", form: str) -> str:
    if form == "json":
        names = _distinct(answer.columns)
        rows = [dict(zip(names, map(_json_value, row), strict=True)) for row in answer.rows]
        return json.dumps(rows, indent=2, allow_nan=False, ensure_ascii=False) + "\n"
    if form == "csv":
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow([cell(name) for name in answer.columns])
        writer.writerows([cell(value) for value in row] for row in answer.rows)
        return text.getvalue()
    cells = [answer.columns]
    cells += [tuple("" if v is None else plain(str(v), 300) for v in row) for row in answer.rows]
    widths = [max(len(row[place]) for row in cells) for place in range(len(answer.columns))]
    lines = ("  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) for row in cells)
    return "".join(f"{line.rstrip()}\n" for line in lines)


def _distinct(names: Sequence[str]) -> list[str]:
    """Return `names`, those that stand there again with a number: an object has each name once."""
    found: list[str] = []
    for name in names:
        free = name
        for number in count(2):
            if free not in found and (free == name or free not in names):
                break
            free = f"{name}_{number}"
        found.append(free)
    return found


def _json_value(value: object) -> object:
    """Return `value` as JSON has it: null for NaN and infinities, which it has no word for."""
    if isinstance(value, Decimal):
        value = float(value)
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {str(key): _json_value(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_json_value(item) for item in value]
    return value if value is None or isinstance(value, bool | int | str) else str(value)
