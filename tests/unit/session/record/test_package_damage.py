"""A package that was changed, damaged or made to deceive: what is found, and what refused."""

import os
import random
from pathlib import Path
from typing import Any

import pytest

from chargeassist.model.errors import RecordError
from chargeassist.session.record.package import PackageReader
from chargeassist.session.record.package_reader import MAX_LINE_CHARS
from tests.unit.session.record.descriptors import change_descriptor, reseal


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


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("session_id", "f" * 32),
        ("mode", "field"),
        ("software", "another 1.0"),
        ("table_hash", "0" * 64),
        ("readings", 199),
        ("events", 1),
        ("rows_sha256", "0" * 64),
    ],
)
def test_what_the_descriptor_says_of_the_session_is_held_to_the_rows(
    folder: Path, name: str, other: object
) -> None:
    change_descriptor(folder, lambda found: found["chargeassist"].update({name: other}))
    with PackageReader(folder) as reader:
        assert f"datapackage.json: {name} does not agree with the rows" in reader.verify().problems


def test_another_plate_in_the_descriptor_than_in_the_rows_is_found(folder: Path) -> None:
    """Whoever opens the package by hand reads the job there."""

    def change(found: dict[str, Any]) -> None:
        found["chargeassist"]["job"]["charge"]["plate_kg"] = 2.5

    change_descriptor(folder, change)
    with PackageReader(folder) as reader:
        problems = reader.verify().problems
    assert problems == ("datapackage.json: job does not agree with the rows",)


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
        (good.replace("readings.csv", "samples.csv"), "samples.csv is missing"),
    ):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(RecordError, match=said):
            PackageReader(folder)
