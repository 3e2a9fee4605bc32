"""The disk under the record: power that fails, a torn log, no space, no right, no access."""

import errno
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from chargeassist.guide.trouble_wording import RECORDER
from chargeassist.model.errors import RecordError
from chargeassist.model.events import Gap, Outcome, SessionStopped, SourceBack, SourceLost
from chargeassist.session.record.store import SessionReader, SessionWriter
from tests.campaign.numbered import Probe, Recorded, lost_words, oldest_loss_s, too_much, write_job
from tests.campaign.power_cut import cuts
from tests.campaign.shim import Shim
from tests.campaign.tried import Fault, NotPossibleError, Tried
from tests.peers.program import Program, until

RUN_S = 4.0
END = SessionStopped(t=1e6, outcome=Outcome.ABANDONED)


def power_fails(folder: Path, times: int, row: Tried) -> None:
    """Run once with every write logged, then look at the disk as it may be after any cut."""
    chance = random.Random(11)
    place = folder / "records"
    place.mkdir()
    shim = Shim(place, folder, log=True)
    # So many readings that the log is folded in and begun anew several times.
    with Probe(folder / "ttyA", per_second=1500.0 if times > 100 else 300.0) as probe:
        job, path = write_job(folder, probe.source), place / "a.session"
        with Program(
            "live", "--lines", job, "--record", path, environment=shim.environment
        ) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            time.sleep(RUN_S if times <= 100 else 6 * RUN_S)
            row.expect(program.interrupt() == 130, "does not end")
        whole = Recorded(path).numbers
    owed = {number: probe.sent[number] for number in whole}
    losses = []
    operations = shim.operations()
    after = folder / "after"
    for number, (cut_at, files) in enumerate(cuts(operations, place, times, chance)):
        shutil.rmtree(after, ignore_errors=True)
        after.mkdir()
        for name, content in files.items():
            (after / Path(name).name).write_bytes(content)
        found = after / "a.session"
        if not found.exists():
            before = [t for t in owed.values() if t < cut_at - 1.0]
            row.expect(not before, f"cut {number}: there is no record")
            continue
        try:
            there = Recorded(found)
        except RecordError as exc:
            row.problems.append(f"cut {number}: {exc}")
            continue
        row.expect(there.report.ok, f"cut {number}: {there.report.problems}")
        losses.append(oldest_loss_s(owed, there.numbers, cut_at))
        row.expect(not too_much(losses[-1]), f"cut {number}: lost {losses[-1]:.2f} s")
        row.expect(whole[: len(there.numbers)] == there.numbers, f"cut {number}: not as it was")
        if not there.report.finished and number % 10 == 0:
            writer, _ = SessionWriter.resume(found)
            writer.close(END)
            again = Recorded(found)
            row.expect(again.report.ok and again.numbers == there.numbers, "does not go on")
        for note in there.report.notes[:1]:
            if not row.told:
                row.told.append(note)
    row.lost = lost_words(losses)
    row.expect(len(losses) > times // 2, "most cuts came before there was a record")


def log_is_torn(folder: Path, times: int, row: Tried) -> None:
    """Cut SQLite's log off anywhere, or spoil a sector of it: whole commits must be left."""
    chance = random.Random(12)
    with Probe(folder / "ttyA", per_second=200.0) as probe:
        job, path = write_job(folder, probe.source), folder / "a.session"
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: SessionReader(path).commits > 6, 20.0)
            program.kill()
    log = path.with_name("a.session-wal")
    content, good = log.read_bytes(), path.read_bytes()
    whole = Recorded(path).numbers
    ends = []
    for number in range(times):
        place = folder / f"torn{number}"
        place.mkdir()
        torn = place / path.name
        torn.write_bytes(good)
        at = chance.randrange(len(content))
        spoilt = content[:at]
        if number % 2:
            spoilt = content[:at] + os.urandom(512) + content[at + 512 :]
        torn.with_name(log.name).write_bytes(spoilt)
        try:
            found = Recorded(torn)
        except RecordError as exc:
            row.problems.append(f"torn at {at}: {exc}")
            continue
        row.expect(found.report.ok, f"torn at {at}: {found.report.problems}")
        row.expect(whole[: len(found.numbers)] == found.numbers, f"torn at {at}: not as it was")
        row.expect(
            found.report.notes or at % 4096 == 0 or (number % 2 == 0 and _between(at)),
            f"torn at {at}: verify says nothing",
        )
        ends.append(len(found.numbers))
        if found.report.notes and not row.told:
            with Program("verify", torn) as program:
                code = program.ended()
            row.expect(code == 1 and not program.crashed, f"verify ended with {code}")
            row.tell(program.said, "was not finished")
        writer, _ = SessionWriter.resume(torn)
        writer.close(END)
        row.expect(Recorded(torn).report.finished, f"torn at {at}: does not go on")
        shutil.rmtree(place)
    row.expect(len(set(ends)) > 1, "every tear left the same")
    row.lost = "what lay behind the tear, no commit before it"


def _between(at: int) -> bool:
    """Return whether a log cut off at byte `at` ends between two frames."""
    return (at - 32) % (4096 + 24) == 0 or at == 0


@contextmanager
def small_disk(folder: Path, size: str = "1m") -> Iterator[Path]:
    """Mount a file system of `size`."""
    place = folder / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
    try:
        done = subprocess.run(command, capture_output=True, check=False)
    except FileNotFoundError as exc:
        raise NotPossibleError("no mount command") from exc
    if done.returncode:
        raise NotPossibleError("mounting a small tmpfs needs root")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def disk_is_full(folder: Path, times: int, row: Tried) -> None:
    """Fill the disk under a running session, leave it full for a while, free it."""
    for number in range(times):
        here = folder / str(number)
        here.mkdir()
        with small_disk(here, "3m") as disk, Probe(here / "ttyA", 100.0) as probe:
            job, path = write_job(here, probe.source), disk / "a.session"
            with Program("live", "--lines", job, "--record", path) as program:
                row.expect(program.begun(), f"did not begin: {program.complaints}")
                until(lambda: SessionReader(path).commits > 2, 10.0)  # noqa: B023
                ballast = disk / "ballast"
                _fill(ballast)
                row.expect(program.wait_for("cannot be written", within_s=20.0), "nobody was told")
                row.tell(program.said, "cannot be written", "disk is full")
                time.sleep(2.0 + number)
                ballast.unlink()
                row.expect(program.wait_for("written again", within_s=10.0), "not back")
                row.tell(program.said, "written again")
                ended_at = time.monotonic()
                row.expect(program.interrupt() == 130, f"end: {program.complaints}")
                row.expect(not program.crashed, "crashed")
            found = Recorded(path)
            _nothing_is_missing(row, probe, found, ended_at)
            row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")
            lost = [e for e in found.all(SourceLost) if e.source == RECORDER]
            back = [e for e in found.all(SourceBack) if e.source == RECORDER]
            row.expect(len(lost) == len(back) == 1, "the trouble is not in the record")


def _nothing_is_missing(row: Tried, probe: Probe, found: Recorded, ended_at: float) -> None:
    loss_s = oldest_loss_s(probe.sent, found.numbers, ended_at)
    dropped = sum(event.dropped for event in found.all(Gap))
    row.expect(not too_much(loss_s), f"lost {loss_s:.2f} s")
    row.expect(dropped == 0, f"{dropped} readings were let go")


def _fill(ballast: Path) -> None:
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError as exc:
            if exc.errno != errno.ENOSPC:
                raise


def ended_on_a_full_disk(folder: Path, times: int, row: Tried) -> None:
    """End the session while the disk is still full; free it while the program waits."""
    with small_disk(folder, "3m") as disk, Probe(folder / "ttyA", 100.0) as probe:
        job, path = write_job(folder, probe.source), disk / "a.session"
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: SessionReader(path).commits > 2, 10.0)
            ballast = disk / "ballast"
            _fill(ballast)
            row.expect(program.wait_for("cannot be written", within_s=20.0), "nobody was told")
            time.sleep(2.0)
            ended_at = time.monotonic()
            program.process.send_signal(signal.SIGINT)
            time.sleep(4.0)
            row.expect(program.process.poll() is None, "it does not wait for space")
            row.tell(program.complaints, "disk is full", "Ctrl-C")
            ballast.unlink()
            row.expect(program.ended() == 130, f"end: {program.complaints}")
        found = Recorded(path)
        _nothing_is_missing(row, probe, found, ended_at)
        row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")


def given_up_on_a_full_disk(folder: Path, times: int, row: Tried) -> None:
    """End the session while the disk is full, and end it again: what was committed stands."""
    with small_disk(folder, "3m") as disk, Probe(folder / "ttyA", 100.0) as probe:
        job, path = write_job(folder, probe.source), disk / "a.session"
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: SessionReader(path).commits > 2, 10.0)
            _fill(disk / "ballast")
            filled_at = time.monotonic()
            row.expect(program.wait_for("cannot be written", within_s=20.0), "nobody was told")
            program.process.send_signal(signal.SIGINT)
            row.expect(program.wait_for("Ctrl-C", within_s=10.0), "it does not wait for space")
            row.expect(program.interrupt() is not None, "does not end")
            row.expect(not program.crashed, "crashed")
            row.tell(program.complaints, "not written")
        (disk / "ballast").unlink()
        loss_s = oldest_loss_s(probe.sent, Recorded(path).numbers, filled_at)
        row.expect(not too_much(loss_s), f"lost {loss_s:.2f} s before the disk was full")
        row.lost = "what came after the disk was full, as said"


def read_only_folder(folder: Path, times: int, row: Tried) -> None:
    """Ask for a record where nothing may be written."""
    with small_disk(folder) as disk, Probe(folder / "ttyA") as probe:
        job = write_job(folder, probe.source)
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        for place in (disk / "a.session", disk / "new" / "a.session"):
            with Program("live", "--lines", job, "--record", place) as program:
                code = program.ended(30.0)
            row.expect(code == 2, f"ended with {code}")
            row.expect(not program.crashed, "crashed")
            row.tell(program.complaints, "chargeassist:", str(place.parent))
        row.lost = "nothing: it does not begin"


def held_by_a_backup(folder: Path, times: int, row: Tried) -> None:
    """Let another program hold the session file for some seconds, as a backup does."""
    with Probe(folder / "ttyA", 100.0) as probe:
        job, path = write_job(folder, probe.source), folder / "a.session"
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: SessionReader(path).commits > 2, 10.0)
            for number in range(times):
                other = sqlite3.connect(path, isolation_level=None)
                other.execute("BEGIN IMMEDIATE")
                known = program.count("cannot be written")
                row.expect(
                    program.says_again("cannot be written", known, 15.0),
                    "nobody was told",
                )
                time.sleep(1.0 + 0.5 * number)
                other.execute("ROLLBACK")
                other.close()
                row.expect(
                    program.says_again("written again", known, 15.0),
                    "not back",
                )
            # A reader that holds on keeps the log from being folded in; nothing else.
            reader = sqlite3.connect(path, isolation_level=None)
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM readings").fetchone()
            time.sleep(1.0)
            ended_at = time.monotonic()
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
            reader.close()
        row.tell(program.said, "cannot be written", "another program")
        found = Recorded(path)
        _nothing_is_missing(row, probe, found, ended_at)
        row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")


def disk_fails(folder: Path, times: int, row: Tried) -> None:
    """Let every write and sync fail for some seconds: a card that is pulled half out."""
    place = folder / "records"
    place.mkdir()
    shim = Shim(place, folder)
    with Probe(folder / "ttyA", 100.0) as probe:
        job, path = write_job(folder, probe.source), place / "a.session"
        with Program(
            "live", "--lines", job, "--record", path, environment=shim.environment
        ) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: SessionReader(path).commits > 2, 10.0)
            for number in range(times):
                with shim.failing(errno.EIO):
                    row.expect(
                        program.says_again("cannot be written", number, 15.0),
                        "nobody was told",
                    )
                    time.sleep(1.5)
                row.expect(
                    program.says_again("written again", number, 15.0),
                    "not back",
                )
            ended_at = time.monotonic()
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
        row.tell(program.said, "cannot be written", "disk does not answer")
        found = Recorded(path)
        _nothing_is_missing(row, probe, found, ended_at)
        row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")


def file_is_taken_away(folder: Path, times: int, row: Tried) -> None:
    """Move the session file away under the running program, as a tidying program does."""
    with Probe(folder / "ttyA", 100.0) as probe:
        job, path = write_job(folder, probe.source), folder / "a.session"
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: SessionReader(path).commits > 2, 10.0)
            for ending in ("", "-wal", "-shm"):
                path.with_name(path.name + ending).unlink()
            row.expect(program.wait_for("cannot be written", within_s=10.0), "nobody was told")
            time.sleep(2.0)
            ended_at = time.monotonic()
            row.expect(program.interrupt() is not None, "does not end")
            row.expect(not program.crashed, "crashed")
        row.tell(program.said, "cannot be written", "deleted or replaced")
        kept = [p for p in folder.glob("*.session") if p.exists()]
        row.expect(kept, "the record is gone")
        if kept:
            _nothing_is_missing(row, probe, Recorded(kept[0]), ended_at)


FAULTS = (
    Fault("power fails at any moment", power_fails, short=40, full=200),
    Fault("SQLite's log torn or spoilt", log_is_torn, short=4, full=60),
    Fault("disk full, then freed", disk_is_full, full=3),
    Fault("session ended while the disk is full", ended_on_a_full_disk),
    Fault("... and given up", given_up_on_a_full_disk),
    Fault("read-only folder", read_only_folder),
    Fault("file held by a backup", held_by_a_backup, full=3),
    Fault("disk with I/O errors", disk_fails, full=3),
    Fault("session file deleted under the program", file_is_taken_away),
)
