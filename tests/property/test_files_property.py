"""Any bytes in a file that came from outside: read, or refused by name; nothing else comes out.

Packages and session files are changed where they say something, so that most examples get past the
first look. That a change is *found* is shown in ``test_tampering_property``.
"""

import csv
import io
import json
import re
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    SessionStarted,
)
from chargeassist.qa.archive import make_archive
from chargeassist.qa.fleet_recompute import score
from chargeassist.qa.verify import verify
from chargeassist.session.record.codec import job_from_json, job_to_json
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.record.store import SessionWriter
from tests.property.short_session import ODD, short_session

ANOTHER_ERROR = re.compile(r"[A-Za-z]\w*: ")
"""How `qa.many.why_not` tells a fault of the program; our words begin with the path."""

QUIET = settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)


@pytest.fixture(scope="module")
def originals(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """A session file, its archive as a ZIP, and each file of its archive."""
    folder = tmp_path_factory.mktemp("originals")
    made = short_session(19)
    writer = SessionWriter.create(folder / "a.session", made[0])  # type: ignore[arg-type]
    for number, event in enumerate(made[1:-1]):
        writer.append(event)
        if number % 8 == 7:
            writer.commit()
    writer.close(made[-1])  # type: ignore[arg-type]
    for name in ("a", "a.zip"):
        make_archive(folder / "a.session", folder / name)
    found = {path.name: path.read_bytes() for path in (folder / "a").iterdir()}
    for name in ("a.session", "a.zip"):
        found[name] = (folder / name).read_bytes()
    return found


def judge(path: Path) -> None:
    """Read `path` in every way records are read; only errors of this program may come out."""
    found = verify(path)
    assert isinstance(found.problems, tuple)
    error = str(score(path).get("error", ""))
    assert not ANOTHER_ERROR.match(error), error
    try:
        with open_record(path) as record:
            _ = (record.channels, record.counts, record.stopped, record.chain_head, record.job)
            for _ in record.events():
                pass
            for _ in record.runs():
                pass
    except RecordError:
        return


@pytest.fixture
def place() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


@QUIET
@given(data=st.data())
def test_any_bytes_in_a_session_file(originals: dict[str, bytes], data: st.DataObject) -> None:
    good = bytearray(originals["a.session"])
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(good) - 1))
        new = data.draw(st.binary(min_size=1, max_size=8))
        good[at : at + len(new)] = new
    if data.draw(st.booleans()):
        del good[data.draw(st.integers(0, len(good))) :]
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "a.session"
        path.write_bytes(good)
        judge(path)


NUMBERS: tuple[object, ...] = (
    0,
    -1,
    1e-300,
    1e-9,
    1e9,
    1e300,
    -1e300,
    1e308,
    5e-324,
    None,
    "x",
    [],
    3,
    0.5,
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_any_numbers_in_the_job_of_a_record(data: st.DataObject) -> None:
    """No period that ticks for years, no plate that overflows what is computed from it."""
    made = short_session(19)
    started = made[0]
    assert isinstance(started, SessionStarted)
    tree = json.loads(started.job)
    chosen = data.draw(st.sampled_from([path for path in paths_of(tree) if len(path) > 1]))
    inner = tree
    for key in chosen[:-1]:
        inner = inner[key]
    inner[chosen[-1]] = data.draw(st.sampled_from(NUMBERS))
    try:
        job = job_to_json(job_from_json(json.dumps(tree)))
    except RecordError:
        return
    with tempfile.TemporaryDirectory() as name:
        write_package([replace(started, job=job), *made[1:]], Path(name) / "p")
        judge(Path(name) / "p")


def paths_of(tree: object, prefix: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    found = [prefix] if prefix else []
    items: list[tuple[str | int, object]] = []
    if isinstance(tree, dict):
        items = list(tree.items())
    elif isinstance(tree, list):
        items = list(enumerate(tree))
    for key, value in items:
        found += paths_of(value, (*prefix, key))
    return found


def package_at(folder: Path, originals: dict[str, bytes], **changed: bytes) -> Path:
    for name, data in originals.items():
        if name not in ("a.session", "a.zip"):
            (folder / name).write_bytes(changed.get(name.partition(".")[0], data))
    return folder


@QUIET
@given(data=st.data())
def test_any_descriptor_of_a_package(originals: dict[str, bytes], data: st.DataObject) -> None:
    tree = json.loads(originals["datapackage.json"])
    for _ in range(data.draw(st.integers(1, 3))):
        chosen = data.draw(st.sampled_from(paths_of(tree)))
        inner = tree
        for key in chosen[:-1]:
            inner = inner[key]
        if data.draw(st.booleans()):
            inner[chosen[-1]] = data.draw(ODD)
        else:
            del inner[chosen[-1]]
        if not tree:
            break
    with tempfile.TemporaryDirectory() as name:
        text = json.dumps(tree).encode()
        judge(package_at(Path(name), originals, datapackage=text))


@QUIET
@given(
    data=st.data(), table=st.sampled_from(["events", "readings", "channels", "commits", "limits"])
)
def test_any_table_of_a_package(
    originals: dict[str, bytes], data: st.DataObject, table: str
) -> None:
    rows = list(csv.reader(io.StringIO(originals[f"{table}.csv"].decode())))
    for _ in range(data.draw(st.integers(1, 3))):
        row = rows[data.draw(st.integers(0, len(rows) - 1))]
        if row:
            at = data.draw(st.integers(0, len(row) - 1))
            row[at] = data.draw(
                st.one_of(
                    st.text(max_size=10),
                    st.floats().map(repr),
                    st.integers().map(str),
                    st.sampled_from(
                        ["", "1e999", "nan", "9" * 400, "{", '{"a": NaN}', "\0", "x" * 2000]
                    ),
                )
            )
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    raw = text.getvalue().encode("utf-8", "surrogatepass")
    if data.draw(st.booleans()):
        at = data.draw(st.integers(0, len(raw)))
        raw = raw[:at] + data.draw(st.binary(max_size=4)) + raw[at:]
    with tempfile.TemporaryDirectory() as name:
        judge(package_at(Path(name), originals, **{table: raw}))


@QUIET
@given(data=st.data())
def test_any_bytes_in_a_zip(originals: dict[str, bytes], data: st.DataObject) -> None:
    good = bytearray(originals["a.zip"])
    for _ in range(data.draw(st.integers(1, 4))):
        # Half of them in the directory at the end, where the names and sizes stand.
        low = len(good) - 1200 if data.draw(st.booleans()) else 0
        at = data.draw(st.integers(low, len(good) - 1))
        new = data.draw(st.binary(min_size=1, max_size=4))
        good[at : at + len(new)] = new
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "a.zip"
        path.write_bytes(good)
        judge(path)
