"""Try every fault and print what was lost and what was told: ``python tests/campaign/run.py``.

Everything is real: the program as a process, pseudo-terminals, a broker (mosquitto), certificates
made by openssl, a small tmpfs (as root). ``--short`` tries each fault a few times, as the tests do;
``--only WORD`` those whose name has the word in it; ``--markdown`` prints the table for
DEVELOPERS.md. Exits with 1 if anything beyond the last second was lost, a record contradicts
itself, or the program ended without words.
"""

import argparse
import shutil
import signal
import sys
import tempfile
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.campaign import (
    broker_faults,
    disk_faults,
    long_session,
    process_faults,
    serial_faults,
    time_faults,
)
from tests.campaign.tried import Fault, Tried, attempt

ALL: tuple[Fault, ...] = (
    *process_faults.FAULTS,
    *disk_faults.FAULTS,
    *broker_faults.FAULTS,
    *serial_faults.FAULTS,
    *time_faults.FAULTS,
    *long_session.FAULTS,
)


def main() -> int:
    """Run the campaign and return the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--short", action="store_true", help="each fault a few times")
    parser.add_argument("--only", default="", metavar="WORD", help="faults with WORD in the name")
    parser.add_argument("--markdown", action="store_true", help="print a table for a document")
    arguments = parser.parse_args()
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        # Started in the background of a shell; the program would inherit it.
        signal.signal(signal.SIGINT, signal.default_int_handler)
    rows = []
    for fault in ALL:
        if arguments.only not in fault.name:
            continue
        folder = Path(tempfile.mkdtemp(prefix="campaign-"))
        row = attempt(fault, folder, fault.short if arguments.short else fault.full)
        shutil.rmtree(folder, ignore_errors=True)
        rows.append(row)
        _print(row)
    if arguments.markdown:
        _print_table(rows)
    bad = [row.fault for row in rows if row.problems]
    passed_over = [row.fault for row in rows if row.not_possible]
    print(f"\n{len(rows)} faults tried, {len(bad)} with problems, {len(passed_over)} not possible")
    return 1 if bad else 0


def _print(row: Tried) -> None:
    print(f"{row.fault} · {row.times} × · lost: {row.lost} · {row.seconds:.0f} s", flush=True)
    if row.not_possible:
        print(f"    NOT TRIED: {row.not_possible}")
    for text in row.told:
        print(f"    told: {text}")
    for text in row.problems:
        print(f"    PROBLEM: {text}", flush=True)


def _print_table(rows: list[Tried]) -> None:
    print("\n| fault | times | lost | told | s |\n| --- | --- | --- | --- | --- |")
    for row in rows:
        told = "; ".join(row.told) or row.not_possible
        print(f"| {row.fault} | {row.times} | {row.lost} | {told} | {row.seconds:.0f} |")


if __name__ == "__main__":
    sys.exit(main())
