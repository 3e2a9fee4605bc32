"""What ``probes`` prints on a real terminal as narrow as a telephone."""

import sys
from pathlib import Path

import pytest

from tests.peers.terminal import OnTerminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")


def printed(folder: Path, *words: str, columns: int) -> list[str]:
    with OnTerminal(*words, folder=folder, COLUMNS=str(columns)) as program:
        program.ended()
        return program.seen.replace("\r", "").splitlines()


def test_probes_cut_no_word(tmp_path: Path) -> None:
    simulated = "simulator:clean-charge"
    for words in (["probes"], ["probes", simulated, "--seconds", "2"], ["probes", "simulator:x"]):
        lines = printed(tmp_path, *words, columns=45)
        assert len(lines) > 9
        # An address longer than the line stands alone in it.
        assert [line for line in lines if len(line) > 45 and " " in line.strip()] == [], words
