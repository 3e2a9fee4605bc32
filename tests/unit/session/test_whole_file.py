"""Files that are whole or not there."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from chargeassist.session.whole_file import give_new_name, write_whole
from tests.unit.full_disk import full_disk


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_file_keeps_its_mode_and_loses_its_content(tmp_path: Path) -> None:
    path = tmp_path / "notes.json"
    path.write_text("old")
    path.chmod(0o600)
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o600
    assert names(tmp_path) == ["notes.json"]


def test_a_full_disk_leaves_what_was_there_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "notes.json"
    path.write_text("old")
    with full_disk(1000), pytest.raises(OSError, match="File too large"):
        write_whole(path, bytes(5000))
    with full_disk(1000), pytest.raises(OSError, match="File too large"):
        write_whole(tmp_path / "another", bytes(5000), new=True)
    assert path.read_text() == "old"
    assert names(tmp_path) == ["notes.json"]


def test_a_new_file_takes_nobodys_name(tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    write_whole(path, b"first", new=True)
    with pytest.raises(FileExistsError):
        write_whole(path, b"second", new=True)
    assert path.read_bytes() == b"first"
    assert names(tmp_path) == ["report.html"]


def test_without_links_a_new_name_is_given_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    write_whole(tmp_path / "one", b"1", new=True)
    assert (tmp_path / "one").read_bytes() == b"1"
    (tmp_path / "part").write_bytes(b"2")
    with pytest.raises(FileExistsError, match="by now"):
        give_new_name(tmp_path / "part", tmp_path / "one")


def test_what_a_killed_run_of_the_same_number_left_is_not_in_the_way(tmp_path: Path) -> None:
    """In a container every run of the program has the same process number."""
    kill = (
        "import os, sys; from pathlib import Path; "
        "from chargeassist.session import whole_file; "
        "os.getpid = lambda: 7; os.fsync = lambda handle: os._exit(9); "
        "whole_file.write_whole(Path(sys.argv[1]), b'half', new=True)"
    )
    path = tmp_path / "report.html"
    done = subprocess.run([sys.executable, "-c", kill, str(path)], check=False)
    assert done.returncode == 9
    assert [each.suffix for each in tmp_path.iterdir()] == [".partial"]
    again = kill.replace("os.fsync = lambda handle: os._exit(9); ", "")
    done = subprocess.run([sys.executable, "-c", again, str(path)], check=False)
    assert done.returncode == 0
    assert path.read_bytes() == b"half"
