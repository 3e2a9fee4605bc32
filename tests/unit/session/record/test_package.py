import hashlib
import json
import os
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from frictionless import Package, validate

from chargeassist.model.errors import RecordError
from chargeassist.model.events import Event, Mark, MarkKind, Reading, SessionStarted, SessionStopped
from chargeassist.model.job import Job
from chargeassist.session.record.package import PackageReader, open_record, write_package
from chargeassist.session.record.package_reader import MAX_LINE_CHARS
from chargeassist.session.record.protocol import Record
from chargeassist.session.record.store import SessionReader

FILES = ("channels.csv", "datapackage.json", "events.csv", "readings.csv")


@pytest.fixture
def folder(tmp_path: Path, whole: list[Event]) -> Path:
    folder = tmp_path / "library"
    write_package(whole, folder)
    return folder


def descriptor(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return found


def change_descriptor(folder: Path, change: Callable[[dict[str, Any]], object]) -> None:
    found = descriptor(folder)
    change(found)
    (folder / "datapackage.json").write_text(json.dumps(found), encoding="utf-8")


def reseal(folder: Path) -> None:
    """Make sizes and hashes of the descriptor agree with the tables, as a forger would."""

    def change(found: dict[str, Any]) -> None:
        for resource in found["resources"]:
            data = (folder / resource["path"]).read_bytes()
            resource["bytes"] = len(data)
            resource["hash"] = f"sha256:{hashlib.sha256(data).hexdigest()}"

    change_descriptor(folder, change)


def test_package_reads_back_in_order(
    folder: Path, whole: list[Event], started: SessionStarted, job: Job
) -> None:
    with PackageReader(folder) as reader:
        assert list(reader.events()) == whole
        assert reader.path == folder
        assert reader.started == started
        assert reader.stopped == whole[-1]
        assert reader.job == job
        assert [c.name for c in reader.channels] == ["liquid_p", "liquid_t"]
        assert reader.counts == {"liquid_p": 100, "liquid_t": 100}
        assert reader.chain_head == ""
        report = reader.verify()
    assert report.ok
    assert report.finished
    assert report.rows == len(whole)
    assert report.commits == 3


def test_outside_validator_accepts_the_package(folder: Path) -> None:
    # frictionless is the reference validator of the Data Package standard.
    report = validate(str(folder / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])
    package = Package(str(folder / "datapackage.json"))
    assert [r.name for r in package.resources] == ["readings", "events", "channels"]
    rows = package.get_resource("readings").read_rows()  # type: ignore[attr-defined]
    assert len(rows) == 200
    assert rows[0].to_dict() == {
        "seq": 4,
        "t": 0,
        "channel": "liquid_p",
        "value": 2400000,
        "quality": "good",
        "device_time": 1_000_000_000,
    }


def test_outside_validator_finds_what_the_schema_forbids(folder: Path) -> None:
    # Shows that the schema constrains: each of these breaks one rule of it.
    table = folder / "readings.csv"
    good = table.read_text(encoding="utf-8")
    for old, new, kind in (
        ("0.0,4,liquid_p,2400000.0", "0.0,4,liquid_x,2400000.0", "foreign-key"),
        ("0.0,4,liquid_p,2400000.0", "0.0,5,liquid_p,2400000.0", "primary-key"),
        ("0.0,4,liquid_p,2400000.0,good", "0.0,4,liquid_p,2400000.0,fine", "constraint-error"),
        ("0.0,4,liquid_p,2400000.0", "0.0,4,liquid_p,lots", "type-error"),
    ):
        assert old in good
        table.write_text(good.replace(old, new), encoding="utf-8", newline="\n")
        reseal(folder)
        report = validate(str(folder / "datapackage.json"))
        assert kind in {row[0] for row in report.flatten(["type"])}


def test_same_events_give_the_same_bytes(tmp_path: Path, folder: Path, whole: list[Event]) -> None:
    again = tmp_path / "again"
    write_package(whole, again)
    for name in FILES:
        assert (folder / name).read_bytes() == (again / name).read_bytes()
    assert sorted(p.name for p in folder.iterdir()) == sorted(FILES)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["again", "library"]


def test_package_of_a_package_is_the_same(tmp_path: Path, folder: Path) -> None:
    with PackageReader(folder) as reader:
        write_package(reader.events(), tmp_path / "again")
    for name in FILES:
        assert (folder / name).read_bytes() == (tmp_path / "again" / name).read_bytes()


def test_files_are_plain_text_with_line_feeds(folder: Path) -> None:
    for name in FILES:
        data = (folder / name).read_bytes()
        assert b"\r" not in data
        assert data.endswith(b"\n")
    lines = (folder / "readings.csv").read_text(encoding="utf-8").splitlines()
    assert lines[:3] == [
        "t,seq,channel,value,quality,device_time",
        "0.0,4,liquid_p,2400000.0,good,1000000000.0",
        "0.0,5,liquid_t,310.15,range,",
    ]


def test_descriptor_says_what_the_session_was(
    folder: Path, started: SessionStarted, job: Job
) -> None:
    found = descriptor(folder)
    assert found["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    assert found["created"] == started.started_utc
    about = found["chargeassist"]
    assert about["session_id"] == started.session_id
    assert about["mode"] == "simulated"
    assert about["software"] == started.software
    assert about["table_hash"] == started.table_hash
    assert about["job"]["refrigerant"] == job.refrigerant
    assert about["readings"] == 200
    for resource in found["resources"]:
        data = (folder / resource["path"]).read_bytes()
        assert resource["bytes"] == len(data)
        assert resource["hash"] == f"sha256:{hashlib.sha256(data).hexdigest()}"


def test_session_file_and_its_package_have_one_hash(finished_file: Path, tmp_path: Path) -> None:
    with SessionReader(finished_file) as session:
        write_package(session.events(), tmp_path / "out", chain_head=session.chain_head)
        with PackageReader(tmp_path / "out") as package:
            assert package.rows_sha256() == session.rows_sha256()
            assert package.chain_head == session.chain_head
            assert package.verify().ok


def test_session_without_an_end_may_be_packed(
    tmp_path: Path, started: SessionStarted, middle: list[Event]
) -> None:
    write_package([started, *middle], tmp_path / "out")
    with PackageReader(tmp_path / "out") as reader:
        report = reader.verify()
        assert report.ok
        assert not report.finished
        assert reader.stopped is None


@pytest.mark.parametrize("name", ["readings.csv", "events.csv", "channels.csv"])
def test_flipped_byte_is_found(folder: Path, name: str) -> None:
    path = folder / name
    good = path.read_bytes()
    rng = random.Random(2)
    for place in rng.sample(range(len(good)), 60):
        changed = bytearray(good)
        changed[place] ^= 1 << rng.randrange(8)
        path.write_bytes(changed)
        try:
            with PackageReader(folder) as reader:
                problems = reader.verify().problems
        except RecordError as exc:
            problems = (str(exc),)
        assert problems, f"byte {place}"


def test_flipped_byte_in_the_descriptor_is_found_where_it_speaks_of_the_session(
    folder: Path,
) -> None:
    path = folder / "datapackage.json"
    good = path.read_bytes()
    start, end = good.index(b'"session_id"'), good.index(b'"chain_head"')
    places = [
        *range(start, end),
        *range(good.index(b'"created"'), good.index(b'"chargeassist"') - 4),
    ]
    for place in places:
        if good[place : place + 1].isspace() or good[place : place + 1] == b",":
            continue
        changed = bytearray(good)
        changed[place] ^= 1
        path.write_bytes(changed)
        try:
            with PackageReader(folder) as reader:
                problems = reader.verify().problems
        except RecordError as exc:
            problems = (str(exc),)
        assert problems, f"byte {place}: {bytes(changed[place - 20 : place + 20])!r}"


def test_change_sealed_again_is_found_by_the_hash_over_the_rows(folder: Path) -> None:
    path = folder / "readings.csv"
    path.write_bytes(path.read_bytes().replace(b",310.15,", b",310.16,", 1))
    reseal(folder)
    with PackageReader(folder) as reader:
        problems = reader.verify().problems
    assert problems == ("datapackage.json: rows_sha256 does not agree with the rows",)


def test_missing_tail_sealed_again_is_found_by_the_counts(folder: Path) -> None:
    path = folder / "readings.csv"
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))
    reseal(folder)
    with PackageReader(folder) as reader:
        problems = " | ".join(reader.verify().problems)
        assert "channel 'liquid_t': 100 readings said at the end, 99 found" in problems
        with pytest.raises(RecordError, match="row 203 expected"):
            list(reader.events())
        with pytest.raises(RecordError, match="row 203 expected"):
            list(reader.runs())


@pytest.mark.parametrize(
    ("table", "old", "new", "said"),
    [
        ("readings.csv", "310.15,range", "warm,range", "line 3: value: expected a finite number"),
        ("readings.csv", "310.15,range", "nan,range", "line 3: value: expected a finite number"),
        ("readings.csv", "310.15,range", "1e999,range", "line 3: value: expected a finite number"),
        ("readings.csv", "310.15,range", "1_0,range", "line 3: value: expected a finite number"),
        ("readings.csv", "310.15,range", "310.15", "line 3: expected 6 fields, got 5"),
        ("readings.csv", "0.0,5,liquid_t", "0.0,-5,liquid_t", "line 3: seq: expected a whole"),
        ("readings.csv", "310.15,range", "310.15,fine", "row 5: expected a quality"),
        ("readings.csv", "t,seq,channel", "t,seq,kanal", "line 1: expected columns t, seq, ch"),
        ("events.csv", "mark,", "dance,", "unknown kind of event 'dance'"),
    ],
)
def test_bad_row_is_named_by_file_and_line(
    folder: Path, table: str, old: str, new: str, said: str
) -> None:
    path = folder / table
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8", newline="\n")
    with PackageReader(folder) as reader:
        assert not reader.verify().ok
        with pytest.raises(RecordError, match=said):
            list(reader.events())
        with pytest.raises(RecordError, match=said):
            list(reader.runs())


def test_table_that_is_no_text_is_named(folder: Path) -> None:
    for junk in (b"\xff\xfe", b"\x00", b'"', b"9" * (MAX_LINE_CHARS + 10)):
        good = (folder / "readings.csv").read_bytes()
        (folder / "readings.csv").write_bytes(good + junk)
        with PackageReader(folder) as reader:
            assert not reader.verify().ok
            with pytest.raises(RecordError, match=r"readings\.csv, "):
                list(reader.events())
        (folder / "readings.csv").write_bytes(good)


def test_what_others_add_is_tolerated(folder: Path, whole: list[Event]) -> None:
    # A report beside the tables, more properties, more columns, other line ends.
    (folder / "report.html").write_text("<p>report</p>", encoding="utf-8")

    def change(found: dict[str, Any]) -> None:
        found["keywords"] = ["charge"]
        found["resources"].append({"name": "report", "path": "report.html"})

    change_descriptor(folder, change)
    path = folder / "readings.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    widened = ["note," + line for line in lines]
    path.write_bytes(("\ufeff" + "\r\n".join(widened) + "\r\n").encode())
    reseal(folder)
    with PackageReader(folder) as reader:
        assert list(reader.events()) == whole
        assert reader.verify().ok


@pytest.mark.parametrize(
    "path",
    [
        "/etc/passwd",
        "../library/readings.csv",
        "a/../readings.csv",
        "./readings.csv",
        "..\\readings.csv",
        "C:readings.csv",
        "https://example.org/readings.csv",
        "",
        "a\x00b",
    ],
)
def test_path_that_leads_out_of_the_folder_is_refused(folder: Path, path: str) -> None:
    change_descriptor(folder, lambda found: found["resources"][0].update(path=path))
    with pytest.raises(RecordError, match="must lie inside the folder"):
        PackageReader(folder)


@pytest.mark.skipif(os.name == "nt", reason="links need a privilege there")
def test_links_are_refused(folder: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside.csv"
    (folder / "readings.csv").rename(outside)
    (folder / "readings.csv").symlink_to(outside)
    with pytest.raises(RecordError, match="may not hold links"):
        PackageReader(folder)
    (folder / "readings.csv").unlink()
    (tmp_path / "elsewhere").mkdir()
    outside.rename(tmp_path / "elsewhere" / "readings.csv")
    (folder / "sub").symlink_to(tmp_path / "elsewhere")
    change_descriptor(folder, lambda found: found["resources"][0].update(path="sub/readings.csv"))
    with pytest.raises(RecordError, match="may not hold links"):
        PackageReader(folder)
    (folder / "sub").unlink()
    os.mkfifo(folder / "readings.csv")
    change_descriptor(folder, lambda found: found["resources"][0].update(path="readings.csv"))
    with pytest.raises(RecordError, match="expected a plain file"):
        PackageReader(folder)


def test_oversized_files_are_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chargeassist.session.record.package_reader.MAX_TABLE_BYTES", 1000)
    with pytest.raises(RecordError, match="expected at most 1000 bytes"):
        PackageReader(folder)
    monkeypatch.setattr("chargeassist.session.record.package_reader.MAX_DESCRIPTOR_BYTES", 100)
    with pytest.raises(RecordError, match="expected at most 100 bytes"):
        PackageReader(folder)


def test_broken_descriptor_is_named(folder: Path) -> None:
    path = folder / "datapackage.json"
    good = path.read_text(encoding="utf-8")
    for text, said in (
        ("{", "expected the descriptor of a session"),
        ("[" * 100_000, "expected the descriptor of a session"),
        (good.replace('"path": "readings.csv"', '"path": ["readings.csv"]'), "path"),
        (good.replace('"format": 1,', '"format": 2,'), "newer chargeassist"),
        (good.replace('"name": "readings"', '"name": "samples"'), "a resource named 'readings'"),
        (good.replace("readings.csv", "samples.csv"), "cannot be read"),
    ):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(RecordError, match=said):
            PackageReader(folder)


def test_writer_leaves_nothing_behind_when_it_fails(
    tmp_path: Path, started: SessionStarted, whole: list[Event]
) -> None:
    undeclared = Reading(t=0.0, channel="x", value=1.0)
    nan = Mark(t=float("nan"), kind=MarkKind.NOTE)
    failing: list[tuple[list[Event], str]] = [
        ([], "nothing to write"),
        (whole[1:], "the start of a session as first event, got ChannelDeclared"),
        ([started, undeclared], "'x' was never declared"),
        ([started, nan], "finite"),
        ([replace(started, job="{}")], r"job: .*name"),
    ]
    for events, said in failing:
        with pytest.raises(RecordError, match=said):
            write_package(events, tmp_path / "out")
        assert list(tmp_path.iterdir()) == []


def test_folder_in_use_is_not_overwritten(tmp_path: Path, whole: list[Event]) -> None:
    (tmp_path / "out").mkdir()
    write_package(whole, tmp_path / "out")  # an empty folder is fine
    with pytest.raises(RecordError, match="a new or an empty folder"):
        write_package(whole, tmp_path / "out")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(RecordError, match="a new or an empty folder"):
        write_package(whole, tmp_path / "file")
    with pytest.raises(RecordError, match="cannot be written"):
        write_package(whole, tmp_path / "file" / "out")


def test_either_form_is_opened(folder: Path, finished_file: Path, tmp_path: Path) -> None:
    for path in (folder, folder / "datapackage.json", finished_file):
        with open_record(path) as reader:
            record: Record = reader  # the type checker holds both forms to the one protocol
            assert record.verify().ok
            assert isinstance(record.stopped, SessionStopped)
    with pytest.raises(RecordError, match="nothing is there"):
        open_record(tmp_path / "none")
    with pytest.raises(RecordError, match=r"datapackage\.json"):
        open_record(tmp_path)
