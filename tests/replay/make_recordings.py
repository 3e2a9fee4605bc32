"""Make recordings/ and the golden files anew: ``python tests/replay/make_recordings.py``.

Each recording is a shipped scenario with a fixed start and identity, charged by the scripted
technician on the simulator, so that the same program makes the same bytes. The recording alone:
``chargeassist simulate NAME --out FOLDER``.
"""

import asyncio
import sys
from pathlib import Path

from chargeassist.cli.lines import Lines
from chargeassist.model.display import UnitSystem
from chargeassist.session.opening import open_replay
from chargeassist.session.record.package import write_package
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.scenario.simulate import run_scenario

ROOT = Path(__file__).resolve().parents[2]
RECORDINGS = ROOT / "recordings"
GOLDEN = Path(__file__).resolve().parent / "golden"

MADE = ("millrace-lane-library", "quarry-road-bakery")
"""Scenarios that are kept as recordings; the folder has the scenario's name."""


def golden_lines(folder: Path) -> list[str]:
    """Return what a replay of `folder` says, line by line, in the job's units."""
    said: list[str] = []
    opened = open_replay(folder, speed=None, listeners=())
    job = opened.session.job
    lines = Lines(said.append, job, UnitSystem(job.units))
    opened = open_replay(folder, speed=None, listeners=(lines,))
    lines.begin(opened.started, replayed=True)
    asyncio.run(opened.session.run(lambda snapshot: None))
    return said


def main() -> int:
    """Write every recording and its golden file."""
    GOLDEN.mkdir(exist_ok=True)
    for name in MADE:
        folder = RECORDINGS / name
        if folder.exists():
            for path in folder.iterdir():
                path.unlink()
            folder.rmdir()
        write_package(asyncio.run(run_scenario(find_scenario(name, ROOT))), folder)
        text = "\n".join(golden_lines(folder)) + "\n"
        (GOLDEN / f"{name}.txt").write_text(text, encoding="utf-8")
        print(f"{folder.relative_to(ROOT)}: {len(text.splitlines())} lines")
    return 0


if __name__ == "__main__":
    sys.exit(main())
