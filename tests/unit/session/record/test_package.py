import hashlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from frictionless import Package, validate

from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.events import Event, Mark, MarkKind, Reading, SessionStarted, SessionStopped
from chargeassist.model.job import Job
from chargeassist.session.record.package import PackageReader, open_record, write_package
from chargeassist.session.record.store import SessionReader
from tests.unit.session.record.descriptors import change_descriptor, descriptor, reseal

FILES = ("channels.csv", "datapackage.json", "events.csv", "readings.csv")


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


def test_a_folder_without_a_name_is_refused_in_words(
    tmp_path: Path, whole: list[Event], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(RecordError, match="expected the name of a folder"):
        write_package(whole, Path())
    assert list(tmp_path.iterdir()) == []


def test_folder_in_use_is_not_overwritten(tmp_path: Path, whole: list[Event]) -> None:
    (tmp_path / "out").mkdir()
    write_package(whole, tmp_path / "out")  # an empty folder is fine
    with pytest.raises(RecordError, match="a new or an empty folder"):
        write_package(whole, tmp_path / "out")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(RecordError, match="a new or an empty folder"):
        write_package(whole, tmp_path / "file")
    for place in (tmp_path / "file" / "out", tmp_path / "slip" / "out"):
        with pytest.raises(ConfigError, match="there is no folder"):
            write_package(whole, place)
    assert not (tmp_path / "slip").exists()


def test_either_form_is_opened(folder: Path, finished_file: Path, tmp_path: Path) -> None:
    for path in (folder, folder / "datapackage.json", finished_file):
        with open_record(path) as reader:
            assert reader.verify().ok
            assert isinstance(reader.stopped, SessionStopped)
    with pytest.raises(RecordError, match="nothing is there"):
        open_record(tmp_path / "none")
    with pytest.raises(RecordError, match=r"datapackage\.json"):
        open_record(tmp_path)
