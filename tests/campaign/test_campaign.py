"""Every fault of the campaign, a few times each; ``python tests/campaign/run.py`` tries them all.

Real: processes, pseudo-terminals, a broker, certificates, a small tmpfs where this account may
mount one. Each fault has its own folder and ports.
"""

import os
import sys
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("no pseudo-terminals on Windows", allow_module_level=True)

from tests.campaign.run import ALL
from tests.campaign.tried import Fault, attempt

# Held by quicker tests too, of the unit or of the same code.
LEAVE_TO_THE_COMMAND = {
    "lock file of a dead program",
    "disk full, then freed",
    "... and given up",
    "file held by a backup",
    "disk with I/O errors",
    "broker killed and restarted",
    "broker not there",
    "broker refuses the account",
    "broker behind a slow wire",
    "broker hangs",
    "cable pulled and put back under load",
    "program stopped for some seconds",
}


@pytest.mark.parametrize(
    "fault", [each for each in ALL if each.name not in LEAVE_TO_THE_COMMAND], ids=lambda f: f.name
)
def test_no_more_than_the_last_second_is_lost(fault: Fault, tmp_path: Path) -> None:
    row = attempt(fault, tmp_path, fault.short)
    if row.not_possible:
        # A mount needs rights that continuous integration may not have; programs it can install.
        if os.environ.get("CI") and "root" not in row.not_possible:
            pytest.fail(row.not_possible)
        pytest.skip(row.not_possible)
    assert row.problems == []


def test_every_fault_left_out_is_one() -> None:
    assert {fault.name for fault in ALL} >= LEAVE_TO_THE_COMMAND
