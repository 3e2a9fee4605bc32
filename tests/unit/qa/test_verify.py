"""What verifying answers: holes, clocks, chain, whose signature; and that forgeries are found."""

import csv
import hashlib
import io
import json
import struct
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    Event,
    Reading,
    SessionStarted,
)
from chargeassist.model.limits import Authority
from chargeassist.qa.archive import Signer, make_archive
from chargeassist.qa.keys import KnownKey, known_keys
from chargeassist.qa.seal import SUMS, sums_text
from chargeassist.qa.sshsig import sign
from chargeassist.qa.verify import verify
from chargeassist.session.job.limits import shipped_profiles
from chargeassist.session.record.codec import job_from_json, job_to_json
from chargeassist.session.record.package import open_record, write_package
from tests.unit.qa.conftest import write_session


def test_a_whole_archive_has_nothing_wrong(sealed: Path, keys: Path) -> None:
    found = verify(sealed, known_keys(keys))
    assert found.ok
    assert found.kind == "archive"
    assert found.chain.startswith("whole, ")
    assert found.signature.startswith("valid, by qa-desk (your own key, SHA256:")
    assert found.signed_by == "qa-desk"
    others = [KnownKey(name="x", public=b"\0" * 32, own=False)]
    assert "not among those you trust" in verify(sealed, others).signature
    assert verify(sealed, others).signed_by == ""


def test_a_session_file_is_verified_too(session_file: Path) -> None:
    found = verify(session_file)
    assert found.ok
    assert found.kind == "session file"
    with pytest.raises(RecordError, match="nothing is there"):
        verify(session_file.with_name("none"))


def test_what_is_not_a_record_is_a_problem_and_no_crash(tmp_path: Path) -> None:
    for name, data in (("a.zip", b""), ("b.zip", b"PK\x03\x04 junk"), ("c.session", b"junk")):
        (tmp_path / name).write_bytes(data)
        found = verify(tmp_path / name)
        assert not found.ok
        assert found.problems


def reseal(folder: Path) -> None:
    """Make sizes and hashes agree again, as a forger without the key would."""
    path = folder / "datapackage.json"
    found = json.loads(path.read_text(encoding="utf-8"))
    for resource in found["resources"]:
        data = (folder / resource["path"]).read_bytes()
        resource["bytes"] = len(data)
        resource["hash"] = f"sha256:{hashlib.sha256(data).hexdigest()}"
    path.write_text(
        json.dumps(found, indent=2, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n"
    )
    (folder / SUMS).write_text(sums_text(folder), encoding="utf-8", newline="\n")


def edit(folder: Path, table: str, change: Callable[[list[list[str]]], object]) -> None:
    path = folder / table
    rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))
    change(rows)
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8", newline="\n")


def swap(rows: list[list[str]]) -> None:
    rows[5], rows[6] = rows[6], rows[5]


def another_unit(rows: list[list[str]]) -> None:
    rows[1][rows[0].index("unit")] = "K"


def another_amount(rows: list[list[str]]) -> None:
    for row in rows:
        if row[2] == "step_recorded":
            body = json.loads(row[3])
            body["mass_kg"] = 0.05
            row[3] = json.dumps(body, sort_keys=True, separators=(",", ":"))
            return
    raise AssertionError("no step")


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("readings.csv", lambda rows: rows.pop(7)),
        ("readings.csv", lambda rows: rows.pop()),
        ("readings.csv", swap),
        ("readings.csv", lambda rows: rows[9].__setitem__(3, "300.0")),
        ("events.csv", lambda rows: rows.pop()),
        ("events.csv", another_amount),
        ("channels.csv", another_unit),
        ("commits.csv", lambda rows: rows.pop(3)),
        ("commits.csv", lambda rows: rows.pop()),
        ("commits.csv", lambda rows: rows.__delitem__(slice(1, None))),
        ("limits.csv", lambda rows: rows.pop(3)),
        ("job.json", None),
    ],
)
def test_an_edit_sealed_again_is_found_without_the_signature(
    sealed: Path, table: str, change: Callable[[list[list[str]]], object] | None
) -> None:
    (sealed / "SHA256SUMS.sig").unlink()
    (sealed / "signer.pub").unlink()
    if change is None:
        path = sealed / table
        path.write_text(
            path.read_text(encoding="utf-8").replace('"R-410A"', '"R-32"'), encoding="utf-8"
        )
    else:
        edit(sealed, table, change)
    reseal(sealed)
    found = verify(sealed)
    assert not found.ok
    assert not any("hash" in p and p.startswith(table) for p in found.problems)


@pytest.mark.parametrize(
    ("name", "file", "old", "new"),
    [
        ("channels", "channels.csv", "gauge", "absolute"),
        ("limits", "limits.csv", "false", "true"),
        ("job", "job.json", '"R-410A"', '"R-32"'),
    ],
)
def test_the_tables_that_the_descriptor_names_are_the_ones_compared(
    sealed: Path, name: str, file: str, old: str, new: str
) -> None:
    """What another program reads, with the right one left beside it."""
    (sealed / "SHA256SUMS.sig").unlink()
    (sealed / "signer.pub").unlink()
    text = (sealed / file).read_text(encoding="utf-8")
    assert old in text
    other = f"other-{file}"
    (sealed / other).write_text(text.replace(old, new), encoding="utf-8", newline="\n")
    path = sealed / "datapackage.json"
    about = json.loads(path.read_text(encoding="utf-8"))
    (resource,) = [each for each in about["resources"] if each["name"] == name]
    resource["path"] = other
    path.write_text(json.dumps(about), encoding="utf-8")
    reseal(sealed)
    (problem,) = verify(sealed).problems
    assert problem.startswith(f"{other}: does not agree with the ")


def test_who_recomputes_everything_is_stopped_by_the_signature(
    tmp_path: Path, charged: list[Event], sealed: Path, signer: Signer, keys: Path
) -> None:
    """The whole archive made anew with another amount, and the old signature put beside it."""
    from chargeassist.session.record.package import write_package

    forged = [
        replace(e, value=e.value + 1.0) if isinstance(e, Reading) and e.t == 5.0 else e
        for e in charged
    ]
    write_package(forged, tmp_path / "p")
    make_archive(tmp_path / "p", tmp_path / "forged")
    for name in ("SHA256SUMS.sig", "signer.pub"):
        (tmp_path / "forged" / name).write_bytes((sealed / name).read_bytes())
    (tmp_path / "forged" / SUMS).write_text(
        sums_text(tmp_path / "forged"), encoding="utf-8", newline="\n"
    )
    found = verify(tmp_path / "forged", known_keys(keys))
    assert found.problems == ("signature: the signature does not belong to what was signed",)
    assert found.signature == "not valid"
    # ... and a signature of another key is valid, but not that of the desk.
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    other = Ed25519PrivateKey.from_private_bytes(b"\1" * 32)
    (tmp_path / "forged" / "SHA256SUMS.sig").write_text(
        sign((tmp_path / "forged" / SUMS).read_bytes(), other), encoding="utf-8", newline="\n"
    )
    found = verify(tmp_path / "forged")
    assert "signer.pub is not the key that signed" in found.problems
    assert found.signature == "not valid"


def test_a_seal_that_is_taken_off_is_missed(sealed: Path) -> None:
    (sealed / SUMS).unlink()
    assert any("SHA256SUMS is missing" in p for p in verify(sealed).problems)


def test_a_file_that_was_added_is_found(sealed: Path) -> None:
    (sealed / "signature.txt").write_text("more", encoding="utf-8")
    found = verify(sealed)
    assert found.problems == ("signature.txt: is not listed in SHA256SUMS",)
    assert found.signature.startswith("valid, ")
    for name in ("SHA256SUMS.sig", "signer.pub"):
        (sealed / name).unlink()
    assert verify(sealed).signature == "none"


def test_without_the_library_a_signature_counts_as_not_checked(
    sealed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    for name in [n for n in sys.modules if n.startswith("cryptography")]:
        monkeypatch.setitem(sys.modules, name, None)
    monkeypatch.setitem(sys.modules, "cryptography", None)
    found = verify(sealed)
    (problem,) = found.problems
    assert found.signature == "not checked"
    assert "the signature was not checked" in problem
    assert "pip install 'chargeassist[qa]'" in problem


def _zipped(
    folder: Path, path: Path, changed: dict[str, bytes] | None = None, without: str = ""
) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        for file in sorted(folder.iterdir()):
            if file.name != without:
                archive.writestr(file.name, (changed or {}).get(file.stem, file.read_bytes()))
    return path


@pytest.mark.parametrize(
    "member", ["readings.csv", "events.csv", "channels.csv", "job.json", "datapackage.json"]
)
def test_a_file_taken_out_of_a_zip_is_named_and_no_folder_of_this_machine(
    member: str, sealed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = _zipped(sealed, sealed.with_name("a b ü.zip"), without=member)
    found = verify(path)
    assert not found.ok
    assert f"{path}: {member} is missing" in "; ".join(found.problems)
    for command, code in (("verify", 1), ("recompute", 2)):
        assert main([command, str(path)]) == code
        told = "".join(capsys.readouterr())
        assert f"a b ü.zip: {member} is missing" in told
        assert "chargeassist-" not in told
        assert "not known: it cannot be read" in told or command == "recompute"


@pytest.mark.parametrize("member", ["readings", "events", "commits", "channels"])
def test_a_row_that_cannot_be_read_is_named_by_the_zip_it_came_in(
    member: str, sealed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = (sealed / f"{member}.csv").read_bytes().replace(b"\n", b'\n"', 3)
    path = _zipped(sealed, sealed.with_name("a.zip"), {member: data})
    assert not verify(path).ok
    for command in ("verify", "recompute"):
        main([command, str(path)])
        assert "chargeassist-" not in "".join(capsys.readouterr()), command


def test_rows_of_another_session_are_told_in_words(sealed: Path) -> None:
    lines = (sealed / "readings.csv").read_bytes().splitlines(keepends=True)
    path = _zipped(
        sealed, sealed.with_name("a.zip"), {"readings": b"".join(lines[:9] + lines[10:])}
    )
    with (
        open_record(path) as record,
        pytest.raises(RecordError, match="a row was changed, added or taken out"),
    ):
        list(record.events())


def test_an_empty_file_is_called_empty(tmp_path: Path) -> None:
    for name in ("a.zip", "a.session"):
        (tmp_path / name).write_bytes(b"")
        assert "the file is empty" in verify(tmp_path / name).problems[-1]


def test_a_session_file_that_holds_a_zips_mark_by_chance_is_read(
    tmp_path: Path, charged: list[Event]
) -> None:
    # The four bytes that end a ZIP, as they stand in a number of a usual size: 65.17.
    (marked,) = struct.unpack(">d", b"\x40PK\x05\x06\0\0\0")
    last = max(n for n, event in enumerate(charged) if isinstance(event, Reading))
    reading = charged[last]
    assert isinstance(reading, Reading)
    events = [*charged[:last], replace(reading, value=marked), *charged[last + 1 :]]
    path = write_session(tmp_path / "chance.session", events)
    assert zipfile.is_zipfile(path)
    assert verify(path).ok


@pytest.mark.parametrize("name", ["READINGS.CSV", "readings.csv.", "readings.csv "])
def test_a_zip_whose_names_fall_together_elsewhere_is_refused(
    tmp_path: Path, session_file: Path, name: str
) -> None:
    # Where names have no case, or lose their last dot, one file would overwrite the other.
    path = tmp_path / "a.zip"
    make_archive(session_file, path)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr(name, "t,seq\n")
    with pytest.raises(RecordError, match=r"each name once|plain files side by side"):
        open_record(path)


def test_words_of_another_version_do_not_make_an_old_archive_wrong(
    tmp_path: Path, charged: list[Event], monkeypatch: pytest.MonkeyPatch
) -> None:
    started = charged[0]
    assert isinstance(started, SessionStarted)
    limits = tuple(shipped_profiles()["house-default"].limits.values())
    job = replace(job_from_json(started.job), profile="house-default", limits=limits)
    write_package([replace(started, job=job_to_json(job)), *charged[1:]], tmp_path / "p")
    with monkeypatch.context() as then:
        then.setattr("chargeassist.qa.archive.software", lambda: "chargeassist 0.0.1")
        then.setattr(Authority, "words", property(lambda self: f"rank {self.value}"))
        make_archive(tmp_path / "p", tmp_path / "old")
    assert "rank" in (tmp_path / "old" / "limits.csv").read_text(encoding="utf-8")
    assert verify(tmp_path / "old").problems == ()
    # What the record itself says has to agree, whoever made the archive.
    edit_limit(tmp_path / "old", "value_si", "7.5")
    assert verify(tmp_path / "old").problems == (
        "limits.csv: does not agree with the job of the session",
    )
    make_archive(tmp_path / "p", tmp_path / "new")
    edit_limit(tmp_path / "new", "authority", "the maker's own word")
    assert "limits.csv: does not agree with the job of the session" in (
        verify(tmp_path / "new").problems
    )


def edit_limit(folder: Path, column: str, text: str) -> None:
    """Put `text` into the first row of the table of limits, and seal anew."""
    edit(folder, "limits.csv", lambda rows: rows[1].__setitem__(rows[0].index(column), text))
    reseal(folder)
