"""An archive: what stands in it, that others can read it, that it is written once."""

import csv
import hashlib
import json
import os
import shutil
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from frictionless import Package, validate

from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.events import (
    Event,
    Reading,
    SessionStopped,
)
from chargeassist.qa.archive import Signer, Supersedes, make_archive
from chargeassist.qa.keys import known_keys, new_key, private_key, trust
from chargeassist.qa.many import records_under
from chargeassist.qa.sshsig import NAMESPACE
from chargeassist.qa.verify import verify
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.record.store import SessionWriter

FILES = {
    *("datapackage.json", "readings.csv", "events.csv", "channels.csv"),
    *("commits.csv", "job.json", "limits.csv"),
    *("SHA256SUMS", "SHA256SUMS.sig", "signer.pub"),
}


def test_an_archive_holds_what_it_should(sealed_once: Path, charged: list[Event]) -> None:
    assert {p.name for p in sealed_once.iterdir()} == FILES
    found = json.loads((sealed_once / "datapackage.json").read_text(encoding="utf-8"))
    resources = {r["path"]: r for r in found["resources"]}
    assert set(resources) == FILES - {
        *("datapackage.json", "SHA256SUMS", "SHA256SUMS.sig", "signer.pub")
    }
    for name, resource in resources.items():
        data = (sealed_once / name).read_bytes()
        assert resource["bytes"] == len(data)
        assert resource["hash"] == f"sha256:{hashlib.sha256(data).hexdigest()}"
        assert name == "job.json" or resource["schema"]["fields"]
    about = found["chargeassist"]
    assert len(about["chain_head"]) == 64
    assert len(about["table_hash"]) == 64
    assert about["archive"]["made_by"].startswith("chargeassist ")
    job = json.loads((sealed_once / "job.json").read_text(encoding="utf-8"))
    assert job["refrigerant"] == "R-410A"
    assert about["readings"] == sum(isinstance(e, Reading) for e in charged)


def test_the_reference_validator_accepts_it(sealed_once: Path) -> None:
    # frictionless is the reference validator of the Data Package standard.
    report = validate(str(sealed_once / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])
    package = Package(str(sealed_once / "datapackage.json"))
    assert len(package.resources) == 6


def test_the_reference_validator_accepts_the_zip(tmp_path: Path, session_file: Path) -> None:
    make_archive(session_file, tmp_path / "a.zip")
    report = validate(str(tmp_path / "a.zip"), type="package")
    assert report.valid, report.flatten(["type", "message"])


def test_sha256sum_alone_checks_it(
    sealed_once: Path, need_program: Callable[[str, str], str]
) -> None:
    # GNU coreutils, an independent implementation of the list and of the hash.
    program = need_program("sha256sum", "coreutils")
    done = subprocess.run(
        [program, "--check", "--strict", "SHA256SUMS"],
        cwd=sealed_once,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.count(": OK") == len(FILES) - 2


def test_openssh_alone_checks_the_signature_as_the_readme_says(
    sealed: Path, need_program: Callable[[str, str], str]
) -> None:
    readme = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    assert f"ssh-keygen -Y verify -f signers -I desk -n {NAMESPACE} -s SHA256SUMS.sig" in readme
    # OpenSSH, an independent implementation of the signature form (PROTOCOL.sshsig).
    program = need_program("ssh-keygen", "openssh-client")
    key = (sealed / "signer.pub").read_text(encoding="utf-8")
    allowed = sealed.with_name("allowed")
    allowed.write_text(f"qa-desk {key}", encoding="utf-8")

    def check() -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            [
                *(program, "-Y", "verify", "-f", str(allowed), "-I", "qa-desk"),
                *("-n", NAMESPACE, "-s", str(sealed / "SHA256SUMS.sig")),
            ],
            input=(sealed / "SHA256SUMS").read_bytes(),
            capture_output=True,
            check=False,
        )

    done = check()
    assert done.returncode == 0, done.stderr
    (sealed / "SHA256SUMS").write_bytes((sealed / "SHA256SUMS").read_bytes() + b"\n")
    assert check().returncode != 0


def test_what_openssh_signs_is_known_here(
    tmp_path: Path, sealed: Path, need_program: Callable[[str, str], str]
) -> None:
    program = need_program("ssh-keygen", "openssh-client")
    key = tmp_path / "desk"
    subprocess.run(
        [program, "-q", "-t", "ed25519", "-N", "", "-C", "desk", "-f", str(key)], check=True
    )
    (sealed / "signer.pub").write_bytes(key.with_suffix(".pub").read_bytes())
    sums = sealed / "SHA256SUMS"
    (sealed / "SHA256SUMS.sig").unlink()
    lines = []
    for name in sorted(p.name for p in sealed.iterdir() if p.name != "SHA256SUMS"):
        lines.append(f"{hashlib.sha256((sealed / name).read_bytes()).hexdigest()}  {name}\n")
    sums.write_text("".join(lines), encoding="utf-8", newline="\n")
    command = [program, "-q", "-Y", "sign", "-f", str(key), "-n", NAMESPACE, str(sums)]
    subprocess.run(command, check=True)
    found = verify(sealed, [trust(key.with_suffix(".pub"), "desk", tmp_path / "keys")])
    assert found.problems == ()
    assert found.signature.startswith("valid, by desk (a key you trust, SHA256:")


def test_the_same_session_gives_the_same_zip(
    tmp_path: Path, session_file: Path, signer: Signer, sealed_once: Path
) -> None:
    one, other = tmp_path / "one.zip", tmp_path / "other.zip"
    digest = make_archive(session_file, one, signer=signer)
    assert make_archive(session_file, other, signer=signer) == digest
    assert one.read_bytes() == other.read_bytes()
    assert verify(sealed_once).sealed_as == digest, "folder and ZIP are one archive"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["one.zip", "other.zip"]
    with zipfile.ZipFile(one) as archive:
        assert archive.testzip() is None
        assert {i.filename for i in archive.infolist()} == FILES


def test_an_archive_is_read_like_any_record(tmp_path: Path, charged: list[Event]) -> None:
    write_package(charged, tmp_path / "package")
    make_archive(tmp_path / "package", tmp_path / "a.zip")
    with open_record(tmp_path / "a.zip") as record:
        assert list(record.events()) == charged
        folder = record.folder  # type: ignore[union-attr]
        assert folder.is_dir()
    assert not folder.exists(), "what was unpacked is gone"


def another_python() -> str:
    """Return an interpreter of another version where there is one; ours otherwise."""
    for minor in range(9, 16):
        program = shutil.which(f"python3.{minor}")
        if program and minor != sys.version_info.minor:
            probe = [program, "-I", "-S", "-c", "import zipfile"]
            if subprocess.run(probe, capture_output=True, check=False).returncode == 0:
                return program
    return sys.executable


def test_a_plain_csv_reader_is_enough(tmp_path: Path, session_file: Path) -> None:
    """Another Python, without this program or any library, reads the archive's tables."""
    make_archive(session_file, tmp_path / "a.zip")
    script = (
        "import csv, io, json, sys, zipfile\n"
        "z = zipfile.ZipFile(sys.argv[1])\n"
        "rows = list(csv.DictReader(io.TextIOWrapper(z.open('readings.csv'), 'utf-8')))\n"
        "kinds = {r['channel']: r['unit'] for r in csv.DictReader(io.TextIOWrapper("
        "z.open('channels.csv'), 'utf-8'))}\n"
        "said = json.load(z.open('datapackage.json'))['chargeassist']['readings']\n"
        "assert len(rows) == said > 1000, (len(rows), said)\n"
        "assert kinds['liquid_pressure'] == 'Pa'\n"
        "print(rows[0]['t'], rows[0]['channel'], float(rows[0]['value']))\n"
    )
    done = subprocess.run(
        [another_python(), "-I", "-S", "-c", script, str(tmp_path / "a.zip")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("0.0 liquid_pressure ")


@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_an_archive_is_never_overwritten(tmp_path: Path, session_file: Path, name: str) -> None:
    make_archive(session_file, tmp_path / name)
    with pytest.raises(ConfigError, match="never overwritten"):
        make_archive(session_file, tmp_path / name)


@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_an_archive_makes_no_folder_above_it(tmp_path: Path, session_file: Path, name: str) -> None:
    with pytest.raises(ConfigError, match="there is no folder"):
        make_archive(session_file, tmp_path / "slip" / name)
    assert not (tmp_path / "slip").exists()


def test_an_archive_is_superseded_with_a_reason(
    tmp_path: Path, session_file: Path, sealed_once: Path
) -> None:
    old = verify(sealed_once).sealed_as
    make_archive(
        session_file, tmp_path / "new.zip", supersedes=Supersedes(sealed_once, "signed too early")
    )
    found = verify(tmp_path / "new.zip")
    assert found.ok
    assert (found.supersedes, found.reason) == (old, "signed too early")
    with pytest.raises(ConfigError, match="expected the reason"):
        make_archive(session_file, tmp_path / "x", supersedes=Supersedes(sealed_once, "  "))
    with pytest.raises(ConfigError, match="expected an archive"):
        make_archive(session_file, tmp_path / "x", supersedes=Supersedes(session_file, "why"))


def test_another_session_is_not_superseded(
    tmp_path: Path, sealed_once: Path, charged: list[Event]
) -> None:
    from dataclasses import replace

    write_package([replace(charged[0], session_id="c" * 32), *charged[1:]], tmp_path / "p")  # type: ignore[arg-type]
    with pytest.raises(ConfigError, match="holds another session"):
        make_archive(tmp_path / "p", tmp_path / "x", supersedes=Supersedes(sealed_once, "why"))


def test_a_session_without_an_end_needs_a_word(tmp_path: Path, charged: list[Event]) -> None:
    path = tmp_path / "live.session"
    writer = SessionWriter.create(path, charged[0])  # type: ignore[arg-type]
    for event in charged[1:500]:
        writer.append(event)
    writer.commit()
    writer.abandon()
    with pytest.raises(RecordError, match="has no end"):
        make_archive(path, tmp_path / "a.zip")
    make_archive(path, tmp_path / "a.zip", unfinished=True)
    found = verify(tmp_path / "a.zip")
    assert found.problems == ()
    assert not found.complete
    assert not found.ok


def test_a_damaged_session_is_not_sealed(tmp_path: Path, charged: list[Event]) -> None:
    wrong = SessionStopped(t=charged[-1].t, outcome=charged[-1].outcome, counts={})  # type: ignore[union-attr]
    write_package([*charged[:-1], wrong], tmp_path / "p")
    with pytest.raises(RecordError, match="contradicts itself"):
        make_archive(tmp_path / "p", tmp_path / "a.zip")
    assert not (tmp_path / "a.zip").exists()


def test_an_archive_with_a_broken_seal_is_not_sealed_anew(tmp_path: Path, sealed: Path) -> None:
    """Nor signed: whoever changed rows and their hashes would have it from the desk's own key."""
    make_archive(sealed, tmp_path / "again.zip")
    readings = sealed / "readings.csv"
    readings.write_bytes(readings.read_bytes().replace(b",good,", b",range,", 1))
    path = sealed / "datapackage.json"
    about = json.loads(path.read_text(encoding="utf-8"))
    for resource in about["resources"]:
        data = (sealed / resource["path"]).read_bytes()
        resource["hash"] = f"sha256:{hashlib.sha256(data).hexdigest()}"
        resource["bytes"] = len(data)
    about["resources"] = [each for each in about["resources"] if each["name"] != "commits"]
    about["chargeassist"]["chain_head"] = ""
    path.write_text(json.dumps(about), encoding="utf-8")
    with open_record(sealed) as record:
        about["chargeassist"]["rows_sha256"] = record.rows_sha256()
    path.write_text(json.dumps(about), encoding="utf-8")
    with open_record(sealed) as record:
        assert record.verify().ok, "as a package it is whole"
    with pytest.raises(RecordError, match="does not match its hash"):
        make_archive(sealed, tmp_path / "signed.zip")
    (sealed / "SHA256SUMS").unlink()
    with pytest.raises(RecordError, match="SHA256SUMS is missing"):
        make_archive(sealed, tmp_path / "signed.zip")


def test_limits_as_used_are_a_table(tmp_path: Path, charged: list[Event]) -> None:
    from dataclasses import replace

    from chargeassist.model.limits import LimitKey
    from chargeassist.session.job.limits import shipped_profiles
    from chargeassist.session.record.codec import job_from_json, job_to_json

    profile = shipped_profiles()["house-default"]
    started = charged[0]
    job = job_from_json(started.job)  # type: ignore[union-attr]
    job = replace(job, profile=profile.name, limits=tuple(profile.limits.values()))
    write_package([replace(started, job=job_to_json(job)), *charged[1:]], tmp_path / "p")  # type: ignore[arg-type]
    make_archive(tmp_path / "p", tmp_path / "a")
    with (tmp_path / "a" / "limits.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["limit"]: row for row in csv.DictReader(file)}
    limit = profile.limits[LimitKey.SUBCOOLING_TOLERANCE]
    assert float(rows["subcooling_tolerance"]["value_si"]) == limit.value_si
    assert rows["subcooling_tolerance"]["source"] == limit.source
    report = validate(str(tmp_path / "a" / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])


def test_a_private_key_is_its_owners_alone(tmp_path: Path) -> None:
    new_key("desk", tmp_path)
    path = tmp_path / "desk.key"
    if os.name != "nt":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        for mode in (0o644, 0o640, 0o604, 0o660):
            path.chmod(mode)
            with pytest.raises(ConfigError, match="others may read this private key"):
                private_key("desk", tmp_path)
        path.chmod(0o600)
    assert private_key("desk", tmp_path).public_key().public_bytes_raw() == (
        known_keys(tmp_path)[0].public
    )
    with pytest.raises(ConfigError, match="already exists"):
        new_key("desk", tmp_path)


def test_keys_that_cannot_be_used_are_named(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"no such key can be read.*none yet"):
        private_key("desk", tmp_path)
    for name in ("", "../desk", "a b", "x" * 61, ".hidden"):
        with pytest.raises(ConfigError, match="expected a key name"):
            new_key(name, tmp_path)
    junk = tmp_path / "junk.pub"
    for text in ("", "ssh-rsa AAAA x", "ssh-ed25519 !!!! x", "ssh-ed25519 AAAA x"):
        junk.write_text(text, encoding="utf-8")
        with pytest.raises(ConfigError, match=r"junk\.pub"):
            trust(junk, "junk2", tmp_path / "keys")
    (tmp_path / "bad.key").write_text("junk", encoding="utf-8")
    (tmp_path / "bad.key").chmod(0o600)
    with pytest.raises(ConfigError, match="expected an unencrypted OpenSSH private key"):
        private_key("bad", tmp_path)


@pytest.mark.parametrize("name", ["a.zip", "a"])
def test_an_archive_is_on_the_disk_before_it_has_its_name(
    tmp_path: Path, session_file: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    synced: set[int] = set()
    sync = os.fsync

    def noted(handle: int) -> None:
        sync(handle)
        if not (tmp_path / name).exists() or stat.S_ISDIR(os.fstat(handle).st_mode):
            synced.add(os.fstat(handle).st_ino)

    monkeypatch.setattr(os, "fsync", noted)
    make_archive(session_file, tmp_path / name)
    made = [tmp_path / name, *(tmp_path / name).glob("*")]
    assert {path.stat().st_ino for path in made} <= synced
    assert os.name == "nt" or tmp_path.stat().st_ino in synced


def test_a_zip_may_be_spelled_in_capitals(tmp_path: Path, session_file: Path) -> None:
    make_archive(session_file, tmp_path / "JOB.ZIP")
    assert (tmp_path / "JOB.ZIP").is_file()
    assert verify(tmp_path / "JOB.ZIP").ok
    assert records_under([tmp_path]) == [tmp_path / "JOB.ZIP"]
