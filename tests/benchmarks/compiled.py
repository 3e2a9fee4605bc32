"""What the compiled core brings: ``python tests/benchmarks/compiled.py``, some five minutes.

The wheel is built from a copy of the sources with mypyc switched on, as README.md says, and
installed in a folder of its own. Recorded sessions of ten channels are then folded into verdicts by
it and by the sources as they are, in turn, to the same bits. ``--wheel FILE`` takes one built
before.
"""

import argparse
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

if __package__ in (None, ""):  # last: it is PYTHONPATH that says which program is measured
    sys.path.append(str(Path(__file__).resolve().parents[2]))

import chargeassist
from chargeassist.model.build import software
from tests.benchmarks import fold
from tests.benchmarks.simulated_session import simulated_session

ROOT: Final = Path(__file__).resolve().parents[2]
ROUNDS: Final = 5
HOURS: Final = (1, 4)

ASKED: Final = {
    "CFLAGS": "-ffp-contract=off",
    "HATCH_BUILD_HOOKS_ENABLE": "1",
    "HATCH_BUILD_CLEAN_HOOKS_AFTER": "1",
}
"""What README.md has before the words that install."""


def build(folder: Path) -> Path:
    """Build the wheel with its core compiled, from a copy of the sources in `folder`.

    Raises
    ------
    subprocess.CalledProcessError
        If there is no compiler, or mypyc refuses.
    """
    copy = folder / "sources"
    ignored = shutil.ignore_patterns("__pycache__", "*.so", "*.pyd")
    for package in ("chargeassist", "adapters"):
        shutil.copytree(ROOT / package, copy / package, ignore=ignored)
    for name in ("pyproject.toml", "README.md"):
        shutil.copy2(ROOT / name, copy)
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q"]
    subprocess.run(
        [*pip, "wheel", "--no-deps", "-w", str(folder), str(copy)],
        env={**os.environ, **ASKED},
        check=True,
    )
    return next(folder.glob("*.whl"))


def install(wheel: Path, folder: Path) -> Path:
    """Install a wheel in a new folder and return that."""
    target = folder / "installed"
    words = ["pip", "install", "-q", "--disable-pip-version-check", "--no-deps", "--target"]
    subprocess.run([sys.executable, "-m", *words, str(target), str(wheel)], check=True)
    return target


def fold_by(folder: Path, path: Path) -> tuple[float, str]:
    """Return processor time [s] of one fold by the program in `folder`, and its verdicts' hash."""
    environment = {**os.environ, "PYTHONPATH": str(folder), "PYTHONHASHSEED": "0"}
    told = subprocess.run(
        [sys.executable, __file__, "--fold", str(path), "--program", str(folder)],
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    took, digest = told.stdout.split()
    return float(took), digest


def print_fold(path: Path, program: Path) -> None:
    """Fold a record twice, once for the caches; print seconds of the second, and the hash."""
    assert Path(chargeassist.__file__).is_relative_to(program), chargeassist.__file__
    assert ("compiled" in software()) is (program != ROOT), software()
    fold.to_verdicts(path)
    begun = time.process_time()
    fold.to_verdicts(path)
    took = time.process_time() - begun
    digest = hashlib.sha256(repr(fold.verdicts_of(path)).encode()).hexdigest()
    print(took, digest)


def compare(compiled: Path, folder: Path) -> None:
    """Fold sessions by the sources and by the compiled install, and print both."""
    events = simulated_session(fold.LONGEST_H, "2026-01-01T00:00:00Z")
    print(f"10 channels at 1 Hz; least of {ROUNDS}, in turn")
    print(f"{'':12}{'plain':>10}{'compiled':>10}{'ratio':>8}{'x real time':>14}  verdicts")
    for hours in HOURS:
        path = folder / f"{hours}.session"
        fold.write(fold.session(events, 10, hours), path)
        ours, theirs = [], []
        for _ in range(ROUNDS):
            ours.append(fold_by(ROOT, path))
            theirs.append(fold_by(compiled, path))
        alike = len({digest for _, digest in (*ours, *theirs)}) == 1
        one, other = min(ours)[0], min(theirs)[0]
        seconds = hours * fold.HOUR_S
        print(
            f"{hours:>4} h, us/s {1e6 * one / seconds:10.1f}{1e6 * other / seconds:10.1f}"
            f"{other / one:8.2f}{seconds / other:14.0f}  {'the same' if alike else 'DIFFERENT'}"
        )


def main() -> int:
    """Build, install, measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--wheel", type=Path, metavar="FILE", help="a wheel that was built so")
    parser.add_argument("--fold", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--program", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.fold is not None:
        print_fold(asked.fold, asked.program)
        return 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name).resolve()
        wheel = build(folder) if asked.wheel is None else asked.wheel
        compare(install(wheel, folder), folder)
    return 0


if __name__ == "__main__":
    sys.exit(main())
