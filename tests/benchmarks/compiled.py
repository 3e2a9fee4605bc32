"""What compiling would bring: ``python tests/benchmarks/compiled.py``, some five minutes.

The program is plain Python, and is installed as such. Here a copy of it is made, the modules that
every tick goes through are compiled by mypyc (part of mypy; it needs a C compiler and setuptools),
and recorded sessions of ten channels are folded into verdicts by both, in turn, to the same bits.

``--keep FOLDER`` leaves the copy there, for who recomputes archives: with ``PYTHONPATH=FOLDER`` the
command line runs it. Compiled classes cannot be derived from, and a file changed in the copy has no
effect before it is compiled again; so it is no place to work in.
"""

import argparse
import hashlib
import os
import re
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
from tests.benchmarks import fold

ROOT: Final = Path(__file__).resolve().parents[2]
ROUNDS: Final = 5
HOURS: Final = (1, 4)

MODULES: Final = {
    "guide": "assistant attention balance conditions drift evidence fault_watch gates guards "
    "standing",
    "physics": "curve cycle",
    "stream": "derived hold ledger places probe_health probe_neighbours probe_watch processor "
    "progress recent settled_level settling settling_bank settling_bins settling_noise "
    "settling_responses settling_witness windows",
}
"""By folder, what a tick of a running unit spends most of its time in."""

_COMPILE: Final = """
import sys
from mypyc.build import mypycify
from setuptools import setup

modules = mypycify(["--ignore-missing-imports", *sys.argv[1:]], opt_level="2")
setup(name="copy", packages=[], ext_modules=modules, script_args=["-q", "build_ext", "--inplace"])
"""

# mypyc (2.1) takes a constant tuple of numbers for one that was never set.
_CONSTANT_TUPLE: Final = re.compile(r"^(\w+): Final = \(", re.MULTILINE)


def build(folder: Path) -> None:
    """Copy the program into `folder` and compile there the modules that are to be compiled.

    Raises
    ------
    subprocess.CalledProcessError
        If there is no compiler, or mypyc refuses.
    """
    for package in ("chargeassist", "adapters/chargeassist_adapters"):
        source = ROOT / package
        ignored = shutil.ignore_patterns("__pycache__", "*.so")
        shutil.copytree(source, folder / source.name, ignore=ignored)
    paths = [
        Path("chargeassist", room, f"{name}.py")
        for room, names in MODULES.items()
        for name in names.split()
    ]
    for path in paths:
        text = (folder / path).read_text(encoding="utf-8")
        (folder / path).write_text(_CONSTANT_TUPLE.sub(r"\1 = (", text), encoding="utf-8")
    subprocess.run([sys.executable, "-c", _COMPILE, *map(str, paths)], cwd=folder, check=True)
    shutil.rmtree(folder / "build", ignore_errors=True)


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
    fold.to_verdicts(path)
    begun = time.process_time()
    fold.to_verdicts(path)
    took = time.process_time() - begun
    digest = hashlib.sha256(repr(fold.verdicts_of(path)).encode()).hexdigest()
    print(took, digest)


def compare(copy: Path, folder: Path) -> None:
    """Fold sessions by the program as it is and by the compiled copy, and print both."""
    events = fold.simulate()
    print(f"10 channels at 1 Hz; least of {ROUNDS}, in turn")
    print(f"{'':12}{'plain':>10}{'compiled':>10}{'ratio':>8}{'x real time':>14}  verdicts")
    for hours in HOURS:
        path = folder / f"{hours}.session"
        fold.write(fold.session(events, 10, hours), path)
        plain, compiled = [], []
        for _ in range(ROUNDS):
            plain.append(fold_by(ROOT, path))
            compiled.append(fold_by(copy, path))
        alike = len({digest for _, digest in (*plain, *compiled)}) == 1
        one, other = min(plain)[0], min(compiled)[0]
        seconds = hours * fold.HOUR_S
        print(
            f"{hours:>4} h, us/s {1e6 * one / seconds:10.1f}{1e6 * other / seconds:10.1f}"
            f"{other / one:8.2f}{seconds / other:14.0f}  {'the same' if alike else 'DIFFERENT'}"
        )


def main() -> int:
    """Build, measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="a new folder for the copy")
    parser.add_argument("--fold", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--program", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.fold is not None:
        print_fold(asked.fold, asked.program)
        return 0
    with tempfile.TemporaryDirectory() as name:
        copy = Path(name, "copy") if asked.keep is None else asked.keep.absolute()
        copy.mkdir(parents=True)
        build(copy)
        compare(copy, Path(name))
    return 0


if __name__ == "__main__":
    sys.exit(main())
