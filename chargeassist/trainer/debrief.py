"""Many results of drills gathered into one table and one picture."""

import csv
import io
import statistics
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

import msgspec

from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.text import cell, plain
from chargeassist.pictures.of_class import ClassRow, class_picture
from chargeassist.trainer.result import FORMAT_NAME, SUFFIX, Result, read_result
from chargeassist.trainer.score import RULES

COLUMNS: Final = (
    "file", "trainee", "exercise", "seed", "truth", "points",
    *(f"lost_{rule.replace(' ', '_')}" for rule in RULES),
    "settled_calls", "mean_late_s", "worst_value_error_k", "ended_by", "lasted_s",
    "calls_not_counted",
)  # fmt: skip
"""Of the table, in order; unknown is empty."""
_BEGINNING_BYTES: Final = 200


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One result with the file it was read from."""

    file: str
    result: Result

    @property
    def lost(self) -> dict[str, float]:
        """Points lost by rule."""
        lost: dict[str, float] = {}
        for part in self.result.parts:
            lost[part.rule] = round(lost.get(part.rule, 0.0) + part.points, 1)
        return lost

    @property
    def late_s(self) -> tuple[float, ...]:
        """How late each "settled" was called [s]."""
        calls = self.result.calls
        return tuple(c.late_s for c in calls if c.kind == "settled" and c.late_s is not None)

    def cells(self) -> tuple[object, ...]:
        """Return the values of `COLUMNS`."""
        result, lost, late = self.result, self.lost, self.late_s
        settled = [c for c in result.calls if c.kind == "settled"]
        errors = [abs(c.value_error_k) for c in settled if c.value_error_k is not None]
        return (
            self.file, result.trainee, result.exercise, result.seed, result.truth, result.points,
            *(lost.get(rule, 0.0) for rule in RULES),
            len(settled), round(sum(late) / len(late), 1) if late else None,
            max(errors) if errors else None, result.ended_by, result.lasted_s,
            len(result.left_out),
        )  # fmt: skip


def gather(places: Sequence[Path]) -> tuple[tuple[Row, ...], tuple[str, ...]]:
    """Return the results in files and folders, by exercise and trainee, and what is left out.

    Left out is what cannot be read, and the copy of a drill that is there already.

    Parameters
    ----------
    places : sequence of Path
        Files that hold a result, under any name; folders, in which and below which every
        ``*.drill.json`` should be one, and any other JSON file is where it begins like one.

    Raises
    ------
    ConfigError
        There is no such file or folder, or no result in any of them.
    """
    rows, problems = [], []
    drills: dict[str, Row] = {}
    for path, name in _results(places):
        try:
            row = Row(file=name, result=read_result(path))
        except RecordError as error:
            problems.append(str(error))
            continue
        # A scenario's session is made anew for each drill; a recording's is that of its recording.
        drill = row.result.session_id if row.result.truth == "plant" else ""
        if drill and drill in drills and drills[drill].result == row.result:
            problems.append(f"{path}: the same drill as {drills[drill].file}, which is counted")
            continue
        drills[drill] = row
        rows.append(row)
    if not rows:
        told = "; ".join(["expected results of drills, found none", *problems[:3]])
        raise ConfigError(f"{', '.join(str(place) for place in places[:3])}: {told}")
    rows.sort(key=lambda row: (row.result.exercise, row.result.trainee, row.result.started_utc))
    return tuple(rows), tuple(problems)


def _results(places: Sequence[Path]) -> Iterator[tuple[Path, str]]:
    """Yield each file to be read, once, with its name in the table."""
    seen: set[Path] = set()
    for place in places:
        if place.is_dir():
            found = [(path, str(path.relative_to(place))) for path in sorted(place.rglob("*"))]
            within = [(path, name) for path, name in found if _may_be_result(path)]
        elif place.is_file():
            within = [(place, str(place))]
        else:
            raise ConfigError(f"{place}: expected a result of a drill, or a folder of results")
        for path, name in within:
            if (whole := path.resolve()) not in seen:
                seen.add(whole)
                yield path, name


def _may_be_result(path: Path) -> bool:
    if path.name.endswith(SUFFIX):
        return True
    if path.suffix.lower() != ".json" or not path.is_file():
        return False
    try:
        with path.open("rb") as file:
            return FORMAT_NAME.encode() in file.read(_BEGINNING_BYTES)
    except OSError:
        return False


def table_csv(rows: Sequence[Row]) -> str:
    """Return the table as CSV; an apostrophe keeps text from being taken for a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([cell(value) for value in row.cells()])
    return out.getvalue()


def table_json(rows: Sequence[Row]) -> bytes:
    """Return the table as a JSON array of objects with the keys of `COLUMNS`."""
    table = [dict(zip(COLUMNS, row.cells(), strict=True)) for row in rows]
    return msgspec.json.format(msgspec.json.encode(table), indent=1) + b"\n"


def table_lines(rows: Sequence[Row]) -> list[str]:
    """Return the table for a terminal: who, what, points, and what cost most."""
    lines = [f"{'trainee':20s} {'exercise':26s} {'seed':>5s} {'points':>6s}  lost most"]
    for row in rows:
        result, lost = row.result, row.lost
        most = max(lost, key=lambda rule: lost[rule], default="")
        cost = f"{most} −{lost[most]:g}" if most else "nothing"
        seed = "" if result.seed is None else str(result.seed)
        truth = "" if result.truth == "plant" else "  (by the tool's verdicts)"
        after = len(result.left_out)
        late = f"  ({after} call{'s' * (after > 1)} after its end not counted)" if after else ""
        lines.append(
            f"{plain(result.trainee)[:20]:20s} {plain(result.exercise)[:26]:26s} {seed:>5s} "
            f"{result.points:6.1f}  {cost}{truth}{late}"
        )
    points = [row.result.points for row in rows]
    lines.append(
        f"{len(points)} drill{'s' * (len(points) > 1)}, median {statistics.median(points):g}, "
        f"from {min(points):g} to {max(points):g}"
    )
    return lines


def draw(rows: Sequence[Row], path: Path) -> None:
    """Draw the class; see `chargeassist.pictures.of_class`."""
    drawn = [
        ClassRow(
            label=" · ".join(
                filter(None, (plain(row.result.trainee)[:24], plain(row.result.exercise)[:24]))
            ),
            points=row.result.points,
            lost=row.lost,
            late_s=row.late_s,
        )
        for row in rows
    ]
    class_picture(drawn, RULES, path)
