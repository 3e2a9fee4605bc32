"""Work over many records in several processes: left early, or with a process killed."""

import os
import time
from pathlib import Path

import pytest

from chargeassist.model.errors import ChargeAssistError
from chargeassist.qa.many import each

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


def test_a_killed_process_is_told_in_words(tmp_path: Path) -> None:
    lines = shell_lines(tmp_path, "kill -9 $PPID", 4)
    with pytest.raises(ChargeAssistError, match="ended from outside"):
        list(each(os.system, lines, 2))
