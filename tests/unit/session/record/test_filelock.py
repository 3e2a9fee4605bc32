"""The lock beside a session file."""

import errno
import os
import sys
from pathlib import Path

import pytest

from chargeassist.model.errors import RecordError
from chargeassist.session.record.filelock import FileLock


def test_one_holds_it_and_the_next_may_after_that(tmp_path: Path) -> None:
    path = tmp_path / "a.session"
    lock = FileLock(path)
    assert lock.holds(path)
    assert not lock.holds(tmp_path / "b.session")
    with pytest.raises(RecordError, match="another running chargeassist"):
        FileLock(path)
    lock.release()
    lock.release()
    assert not lock.holds(path)
    assert list(tmp_path.iterdir()) == []
    FileLock(path).release()


def test_a_file_is_one_file_by_whatever_link(tmp_path: Path) -> None:
    path, link = tmp_path / "a.session", tmp_path / "elsewhere" / "b.session"
    path.touch()
    link.parent.mkdir()
    link.symlink_to(path)
    lock = FileLock(path)
    with pytest.raises(RecordError, match=r"b\.session: another running chargeassist"):
        FileLock(link)
    assert lock.holds(link)
    lock.release()
    held = FileLock(link)
    with pytest.raises(RecordError, match=r"a\.session: another running chargeassist"):
        FileLock(path)
    held.release()
    assert sorted(tmp_path.rglob("*.session*")) == [path, link]
    circle = tmp_path / "circle.session"
    circle.symlink_to(circle)
    FileLock(circle).release()


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX locks")
def test_a_folder_without_locks_is_refused_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(handle: int, how: int) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr("fcntl.flock", refuse)
    with pytest.raises(RecordError, match=r"cannot be locked .*No locks.* folder on this machine"):
        FileLock(tmp_path / "a.session")
