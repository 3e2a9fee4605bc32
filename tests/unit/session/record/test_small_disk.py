"""A session on a disk that is really full."""

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Outcome,
    Reading,
    SessionStarted,
    SessionStopped,
)
from chargeassist.session.record.store import (
    RecordBlockedError,
    SessionReader,
    SessionWriter,
    Trouble,
)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of half a mebibyte, where this account may make one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    if shutil.which("mount") is None or not Path("/proc/mounts").exists():
        pytest.skip("tmpfs is a Linux file system")
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", str(folder)],
        capture_output=True,
        check=False,
    )
    if done.returncode != 0:
        pytest.skip("mounting a small tmpfs is not permitted here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_disk_really_full_then_freed(small_disk: Path, started: SessionStarted) -> None:
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"x" * 200 * 1024)
    path = small_disk / "a.session"
    writer = SessionWriter.create(path, started)
    writer.append(
        ChannelDeclared(t=0.0, channel=Channel(name="a", role=Role.BAROMETER, unit="hPa"))
    )
    blocked: list[RecordBlockedError] = []
    sent: list[Event] = [Reading(t=i / 10, channel="a", value=1e5 + i) for i in range(6000)]
    for i, event in enumerate(sent):
        writer.append(event)
        if i % 200 == 199:
            try:
                writer.commit()
            except RecordBlockedError as exc:
                blocked.append(exc)
                ballast.unlink(missing_ok=True)
                if len(blocked) > 1:
                    break
    assert blocked, "the disk should have been full"
    assert {b.trouble for b in blocked} == {Trouble.FULL}
    taken = writer.counts["a"]
    # The log cannot shrink on so small a disk; give it the rest and the record must be whole.
    subprocess.run(["mount", "-o", "remount,size=4m", str(small_disk)], check=True)
    writer.close(SessionStopped(t=9e3, outcome=Outcome.COMPLETE))
    with SessionReader(path) as reader:
        assert reader.verify().ok
        assert [e for e in reader.events() if isinstance(e, Reading)] == sent[:taken]


def test_full_disk_at_the_start_and_read_only_medium(
    tmp_path: Path, small_disk: Path, started: SessionStarted, middle: list[Event]
) -> None:
    path = small_disk / "a.session"
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"x" * 496 * 1024)
    with pytest.raises(RecordError, match="disk is full"):
        SessionWriter.create(path, started)
    assert sorted(p.name for p in small_disk.iterdir()) == ["ballast"]
    ballast.unlink()

    # A crash, then the card is put into a reader with its write lock set.
    alive = tmp_path / "alive.session"
    writer = SessionWriter.create(alive, started)
    for event in middle:
        writer.append(event)
    writer.commit()
    for ending in ("", "-wal"):
        left = path.with_name(path.name + ending)
        left.write_bytes(alive.with_name(alive.name + ending).read_bytes())
    writer.abandon()
    folded = small_disk / "folded.session"  # its log is folded in, but it still expects one
    folded.write_bytes(alive.read_bytes())
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    for file in (path, folded):
        with SessionReader(file) as reader:
            assert list(reader.events()) == [started, *middle]
            assert reader.verify().ok
    with pytest.raises(RecordError, match="cannot write in this folder"):
        SessionWriter.resume(path)
