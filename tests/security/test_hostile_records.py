"""Records from somebody who means harm: each is refused with what was expected and what to do."""

import io
import json
import os
import sqlite3
import stat
import struct
import time
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.model.errors import RecordError
from chargeassist.model.events import Event, SessionStarted
from chargeassist.qa.archive import make_archive
from chargeassist.qa.fleet_recompute import score
from chargeassist.qa.many import records_under
from chargeassist.qa.verify import verify
from chargeassist.session.record.codec import job_from_json, job_to_json
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.record.zipped import ZippedPackage

MiB = 2**20


@pytest.fixture
def package(tmp_path: Path, evil_events: list[Event]) -> Path:
    write_package(evil_events, tmp_path / "package")
    return tmp_path / "package"


@pytest.fixture
def sealed(tmp_path: Path, evil_session: Path) -> Path:
    make_archive(evil_session, tmp_path / "sealed")
    assert verify(tmp_path / "sealed").ok
    return tmp_path / "sealed"


def zipped(path: Path, members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(path, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(zipfile.ZipInfo(name), data, method)
    return path


def refusal(path: Path) -> str:
    """Return why `path` is refused, by name and with little work."""
    began = time.process_time()
    with pytest.raises(RecordError) as caught:
        open_record(path).close()
    assert time.process_time() - began < 10.0
    found = verify(path)
    assert not found.ok
    assert found.problems
    return str(caught.value)


@pytest.mark.parametrize(
    "name", ["../x.csv", "/etc/x", "a/b.csv", "..", "a\\b", "C:x", "a\nb", "a\x1b[2J", "a\u202eb"]
)
def test_a_zip_whose_names_lead_elsewhere(tmp_path: Path, name: str) -> None:
    path = zipped(tmp_path / "x.zip", {name: b"x"})
    assert "expected plain files side by side" in refusal(path)
    assert [p.name for p in tmp_path.iterdir()] == ["x.zip"]


def test_a_zip_with_a_link(tmp_path: Path) -> None:
    path = tmp_path / "x.zip"
    with zipfile.ZipFile(path, "w") as archive:
        link = zipfile.ZipInfo("readings.csv")
        link.create_system = 3
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/passwd")
    assert "may not hold links" in refusal(path)


def test_a_zip_bomb_by_ratio(tmp_path: Path) -> None:
    path = zipped(tmp_path / "x.zip", {"datapackage.json": b" " * (65 * MiB)})
    assert path.stat().st_size < MiB
    text = refusal(path)
    assert "200 times its size" in text
    assert "unpack it yourself" in text


def test_a_zip_bomb_of_many_members_over_the_same_bytes(tmp_path: Path) -> None:
    """Members may overlap in the file, so a small one may say that it unpacks to 100 GiB."""
    path = zipped(tmp_path / "x.zip", {f"m{n}": b" " * MiB for n in range(60)})
    data = bytearray(path.read_bytes())
    at = -1
    while (at := data.find(b"PK\1\2", at + 1)) >= 0:
        data[at + 24 : at + 28] = struct.pack("<I", 2**31)
    path.write_bytes(data)
    assert "expected at most 2147483648" in refusal(path)


def test_a_zip_that_says_less_than_it_unpacks_to(tmp_path: Path) -> None:
    path = zipped(tmp_path / "x.zip", {"datapackage.json": b" " * (8 * MiB)})
    data = bytearray(path.read_bytes())
    at = data.find(b"PK\1\2")
    data[at + 24 : at + 28] = struct.pack("<I", 100)
    path.write_bytes(data)
    assert "cannot be unpacked" in refusal(path)


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_zip_by_a_method_that_unpacks_without_measure(tmp_path: Path, method: int) -> None:
    path = zipped(tmp_path / "x.zip", {"datapackage.json": b"{}"}, method)
    assert "stored or deflated" in refusal(path)


def test_a_zip_of_too_many_or_doubled_members(tmp_path: Path) -> None:
    many = zipped(tmp_path / "many.zip", {f"m{n}": b"" for n in range(201)})
    assert "at most 200 files" in refusal(many)
    double = tmp_path / "double.zip"
    with zipfile.ZipFile(double, "w") as archive:
        archive.writestr("a", b"1")
        with pytest.warns(UserWarning, match="Duplicate"):
            archive.writestr("a", b"2")
    assert "each name once" in refusal(double)


def test_a_zip_in_a_zip_is_a_plain_file_and_no_session(tmp_path: Path) -> None:
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("datapackage.json", b"{}")
    path = zipped(tmp_path / "x.zip", {"datapackage.json": inner.getvalue()})
    assert "expected the descriptor of a session" in refusal(path)


def test_a_disk_without_room_is_said_before_anything_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = zipped(tmp_path / "x.zip", {"datapackage.json": b" " * 1000})
    usage = type("Usage", (), {"free": 10})
    monkeypatch.setattr("shutil.disk_usage", lambda _: usage)
    with pytest.raises(RecordError, match=r"free some space, or let TMPDIR name another"):
        ZippedPackage(path)


DEEP = 200_000


@pytest.mark.parametrize(
    "text",
    [
        "[" * DEEP,
        '{"a":' * DEEP + "1" + "}" * DEEP,
        "9" * 2_000_000,
        '{"resources": [], "resources": []}',
        '{"resources": ' + "[" * 1000 + "]" * 1000 + "}",
        "\0",
        "null",
        '"\\ud800"',
    ],
    ids=["open", "deep", "number", "double", "nested", "nul", "null", "surrogate"],
)
def test_a_descriptor_that_is_huge_deep_or_odd(package: Path, text: str) -> None:
    (package / "datapackage.json").write_text(text, encoding="utf-8")
    assert "expected the descriptor of a session" in refusal(package)


@pytest.mark.parametrize("levels", [50, 200, 500, 900, 990, 1000, 5000])
def test_a_job_nested_as_deep_as_can_be_read(package: Path, levels: int) -> None:
    path = package / "datapackage.json"
    descriptor = json.loads(path.read_bytes())
    descriptor["chargeassist"]["job"] = {"name": "DEEP"}
    deep = "[" * levels + "]" * levels
    path.write_text(json.dumps(descriptor).replace('"DEEP"', deep), encoding="utf-8")
    told = ("job does not agree with the rows", "expected the descriptor of a session")
    assert any(words in problem for problem in verify(package).problems for words in told)
    line = score(package)
    # It is judged by the job in its rows, or not at all where the text is too deep to be read.
    if "error" in line:
        assert told[1] in line["error"]
    else:
        assert line["readings"] == 60


def test_a_descriptor_of_many_megabytes(package: Path) -> None:
    with (package / "datapackage.json").open("ab") as file:
        file.truncate(5 * MiB)
    assert "expected at most" in refusal(package)


def test_a_table_of_many_gigabytes_is_not_read(package: Path) -> None:
    with (package / "readings.csv").open("ab") as file:
        file.truncate(3 * 2**30)  # sparse: no disk is used
    assert "expected at most" in refusal(package)


def test_a_table_that_is_one_line_without_end(package: Path) -> None:
    with (package / "events.csv").open("ab") as file:
        file.write(b'1,0.0,mark,"' + b"x" * MiB)
    with open_record(package) as record, pytest.raises(RecordError, match="expected lines of less"):
        list(record.events())


@pytest.mark.parametrize("path", ["../secret.csv", "/etc/passwd", "http://h/x", "a/../../x", "C:x"])
def test_a_resource_that_lies_elsewhere(package: Path, path: str) -> None:
    descriptor = json.loads((package / "datapackage.json").read_bytes())
    descriptor["resources"][0]["path"] = path
    (package / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    assert "must lie inside the folder" in refusal(package)


needs_links = pytest.mark.skipif(os.name == "nt", reason="needs POSIX links and pipes")


@needs_links
@pytest.mark.parametrize("name", ["datapackage.json", "readings.csv", "channels.csv"])
def test_a_package_with_a_link(package: Path, name: str) -> None:
    (package / name).unlink()
    (package / name).symlink_to("/etc/passwd")
    assert "may not hold links" in refusal(package)


@needs_links
@pytest.mark.parametrize("kind", ["pipe", "link", "folder"])
def test_an_archive_with_something_beside_its_files(sealed: Path, kind: str) -> None:
    """A pipe would be waited for without end."""
    odd = sealed / "odd"
    if kind == "pipe":
        os.mkfifo(odd)
    elif kind == "link":
        odd.symlink_to("/dev/zero")
    else:
        odd.mkdir()
    found = verify(sealed)
    assert not found.ok
    words = "may not hold links" if kind == "link" else "expected a plain file"
    assert any(words in problem for problem in found.problems)


@needs_links
def test_pipes_and_devices_named_like_records_stop_nothing(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.session")
    os.mkfifo(tmp_path / "b.zip")
    (tmp_path / "c.session").symlink_to("/dev/zero")
    (tmp_path / "d").mkdir()
    os.mkfifo(tmp_path / "d" / "datapackage.json")
    zipped(tmp_path / "e.zip", {"x": b""})
    assert records_under([tmp_path]) == [tmp_path / "e.zip"]
    for name in ("a.session", "b.zip", "c.session"):
        with pytest.raises(RecordError, match="a device or a pipe"):
            open_record(tmp_path / name)
        assert not verify(tmp_path / name).ok
    with pytest.raises(RecordError, match="expected a plain file"):
        open_record(tmp_path / "d")


@needs_links
def test_an_archive_is_not_written_through_a_link(tmp_path: Path, evil_session: Path) -> None:
    from chargeassist.model.errors import ConfigError

    (tmp_path / "there.zip").symlink_to(tmp_path / "elsewhere.zip")
    with pytest.raises(ConfigError, match="never overwritten"):
        make_archive(evil_session, tmp_path / "there.zip")
    assert not (tmp_path / "elsewhere.zip").exists()


ENDLESS = "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT"
PROGRAMS = {
    "a view that never ends": (
        "ALTER TABLE readings RENAME TO r;"
        f"CREATE VIEW readings AS {ENDLESS} x AS seq, 0.0 AS t, 1 AS channel_id, 0.0 AS value, "
        "0 AS quality, NULL AS device_time FROM n;"
    ),
    "a trigger": "CREATE TRIGGER x AFTER INSERT ON meta BEGIN DELETE FROM events; END;",
    "a column that computes": (
        "ALTER TABLE events ADD COLUMN more TEXT AS (hex(zeroblob(100000000)));"
    ),
    "an index that computes": "CREATE INDEX i ON events(hex(body));",
    "a table more": "CREATE TABLE more(x);",
    "a table less": "DROP VIEW readings_named; DROP TABLE qualities;",
    "a virtual table": "CREATE VIRTUAL TABLE v USING fts5(x);",
}


@pytest.mark.parametrize("change", PROGRAMS.values(), ids=PROGRAMS.keys())
def test_a_session_file_that_holds_a_program_of_its_own(
    tmp_path: Path, evil_session: Path, change: str
) -> None:
    path = tmp_path / "x.session"
    path.write_bytes(evil_session.read_bytes())
    db = sqlite3.connect(path)
    try:
        for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type='trigger'").fetchall():
            db.execute(f"DROP TRIGGER {name}")
        db.executescript(change)
    except sqlite3.OperationalError as exc:  # an SQLite without that module
        pytest.skip(str(exc))
    finally:
        db.close()
    assert "its tables are not those of a session file" in refusal(path)


def test_a_session_file_with_a_cell_of_many_megabytes(tmp_path: Path, evil_session: Path) -> None:
    path = tmp_path / "x.session"
    path.write_bytes(evil_session.read_bytes())
    db = sqlite3.connect(path)
    db.execute("DROP TRIGGER events_no_UPDATE")
    db.execute("UPDATE events SET body = ? WHERE seq = 3", ("x" * 40 * MiB,))
    db.commit()
    db.close()
    found = verify(path)
    assert not found.ok
    assert any("too big" in problem for problem in found.problems)


@pytest.mark.parametrize("value", [float("inf"), float("-inf"), 1e308])
def test_a_reading_that_is_no_number_is_refused(
    tmp_path: Path, evil_session: Path, value: float
) -> None:
    """SQLite keeps infinities; the processor is never given one."""
    path = tmp_path / "x.session"
    path.write_bytes(evil_session.read_bytes())
    db = sqlite3.connect(path)
    db.execute("DROP TRIGGER readings_no_UPDATE")
    db.execute("UPDATE readings SET value = ? WHERE seq = 10", (value,))
    db.commit()
    db.close()
    assert not verify(path).ok
    line = score(path)
    if value == 1e308:
        assert "error" not in line
    else:
        assert "expected finite numbers" in line["error"]


FORGED = {
    "no commits": ("DELETE FROM commits;", "belong to no commit", "the start of a session"),
    "a start alone": (
        "DELETE FROM events WHERE seq > 1; DELETE FROM readings; DELETE FROM commits;",
        "belong to no commit",
        "the start of a session",
    ),
    "commits without end": (
        "UPDATE commits SET last_seq = 9000000000000000000;",
        "does not match its hash",
        "",
    ),
    "a reading among the events": (
        "UPDATE events SET kind = 'reading' WHERE seq = 3;",
        "a reading stands among the events",
        "a reading stands among the events",
    ),
}


@pytest.mark.parametrize(("change", "told", "refused"), FORGED.values(), ids=FORGED.keys())
def test_rows_that_sqlite_s_own_tools_refuse_to_write(
    tmp_path: Path, evil_session: Path, change: str, told: str, refused: str
) -> None:
    """A forger writes them by hand; `refused` is why they are not even scored, if they are not."""
    path = tmp_path / "x.session"
    path.write_bytes(evil_session.read_bytes())
    db = sqlite3.connect(path)
    for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type='trigger'").fetchall():
        db.execute(f"DROP TRIGGER {name}")
    db.executescript(change)
    db.close()
    assert any(told in problem for problem in verify(path).problems)
    line = score(path)
    if refused:
        assert refused in line["error"]
    else:
        assert line["readings"] == 60


@pytest.mark.parametrize(("field", "value"), [("period_s", 1e-9), ("period_s", 0.0)])
def test_a_job_that_would_tick_for_years(
    tmp_path: Path, evil_events: list[Event], field: str, value: float
) -> None:
    started = evil_events[0]
    assert isinstance(started, SessionStarted)
    job = job_from_json(started.job)
    job = replace(job, processing=replace(job.processing, **{field: value}))
    hostile = [replace(started, job=job_to_json(job)), *evil_events[1:]]
    write_package(hostile, tmp_path / "p")
    assert f"processing.{field}: expected 0.1 to 60" in score(tmp_path / "p")["error"]
