"""Work over many records in several processes: left early, or with a process killed."""

import contextlib
import os
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

from chargeassist.model.errors import ChargeAssistError, ConfigError
from chargeassist.qa.many import each, records_under

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the work is a line for a POSIX shell")


def shell_lines(folder: Path, line: str, count: int) -> list[Path]:
    """Return work that another process can be given: what ``os.system`` takes, as paths."""
    return [Path(line.format(folder / str(number))) for number in range(count)]


def test_what_has_not_begun_does_not_begin_after_leaving(tmp_path: Path) -> None:
    work = each(os.system, shell_lines(tmp_path, "touch {} && sleep 0.2", 40), 2)
    next(work)
    work.close()
    begun = len(list(tmp_path.iterdir()))
    assert begun < 20
    time.sleep(0.5)
    assert len(list(tmp_path.iterdir())) == begun


ASKING = """
import os, sys
from chargeassist.qa.many import each
for done in each(os.system, [f"echo {n}" for n in range(4)] + ["sleep 0.2"] * 2000, 2):
    pass
"""


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_no_process_goes_on_waiting_for_work_of_one_that_was_ended(how: signal.Signals) -> None:
    """Its standard output is held open by whoever of them is left."""
    asking = subprocess.Popen(
        [sys.executable, "-c", ASKING], stdout=subprocess.PIPE, start_new_session=True
    )
    assert asking.stdout is not None
    try:
        assert asking.stdout.readline().strip().isdigit()
        asking.send_signal(how)
        asking.communicate(timeout=60.0)
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(asking.pid, signal.SIGKILL)
    assert asking.returncode == -how


def test_a_killed_process_is_told_in_words(tmp_path: Path) -> None:
    lines = shell_lines(tmp_path, "kill -9 $PPID", 4)
    with pytest.raises(ChargeAssistError, match="ended from outside"):
        list(each(os.system, lines, 2))


def test_a_folder_that_cannot_be_looked_into_is_not_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.zip").touch()
    closed = tmp_path / "closed"
    closed.mkdir()
    scandir = os.scandir

    def refused(path: object) -> object:
        if os.fspath(path) == str(closed):  # type: ignore[call-overload]
            raise PermissionError(13, "Permission denied", str(closed))
        return scandir(path)  # type: ignore[call-overload]

    monkeypatch.setattr(os, "scandir", refused)
    with pytest.raises(ConfigError, match="closed: cannot be looked into"):
        records_under([tmp_path])


def test_a_record_by_another_name_is_a_record_where_it_is_named(tmp_path: Path) -> None:
    """As `verify` opens it; below a folder names decide, for anything may lie there."""
    archive = tmp_path / "session of 3 May"
    with zipfile.ZipFile(archive, "w") as file:
        file.writestr("datapackage.json", "{}")
    session = tmp_path / "session.backup"
    session.write_bytes(b"SQLite format 3\0" + bytes(84))
    package = tmp_path / "package"
    package.mkdir()
    (package / "datapackage.json").write_text("{}", encoding="utf-8")
    note = tmp_path / "note.txt"
    note.write_text("no record", encoding="utf-8")
    assert records_under([archive, session, package / "datapackage.json", package]) == sorted(
        [archive, session, package]
    )
    assert records_under([tmp_path]) == [package]
    with pytest.raises(ConfigError, match="expected a record"):
        records_under([note])


def test_a_record_that_is_reached_by_two_names_is_one_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "a.zip").touch()
    (tmp_path / "below" / "link.zip").symlink_to(tmp_path / "below" / "a.zip")
    package = tmp_path / "package"
    package.mkdir()
    (package / "datapackage.json").write_text("{}", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    here = Path("below")
    assert records_under([here]) == [here / "a.zip"]
    every = [here, here.absolute(), Path("below/../below"), here / "a.zip", here / "link.zip"]
    assert [path.name for path in records_under(every)] == ["a.zip"]
    assert len(records_under([Path(), tmp_path, package / "datapackage.json"])) == 2
