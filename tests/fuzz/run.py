"""Fuzz the parsers for a bounded time: ``python tests/fuzz/run.py --seconds 60``.

Needs atheris (``pip install -e '.[fuzz]'``; Linux and macOS). Each target runs in a process of its
own, begins with its corpus in ``tests/fuzz/corpus``, and writes what it finds to a folder that is
thrown away. An input that breaks a promise is printed, kept under ``--keep``, and belongs into the
corpus once it is understood: pytest replays the corpus without atheris.
"""

import argparse
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CORPUS = Path(__file__).with_name("corpus")
NAMES = ("line", "senml", "json", "package", "log")


def one(name: str, words: list[str]) -> None:
    """Fuzz the target `name` in this process until libFuzzer ends it."""
    import atheris

    with atheris.instrument_imports(include=["chargeassist", "chargeassist_adapters", "csv"]):
        from tests.fuzz.targets import TARGETS
    atheris.Setup([sys.argv[0], *words], TARGETS[name])
    atheris.Fuzz()


def main() -> int:
    """Fuzz the targets asked for, one after another; 1 where one broke its promise."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else "")
    parser.add_argument("targets", nargs="*", choices=[*NAMES, []], help="default: all")
    parser.add_argument("--seconds", type=int, default=60, help="for each target")
    parser.add_argument("--keep", type=Path, default=Path("fuzz-found"), help="folder of crashes")
    parser.add_argument("--seeds", action="store_true", help="write the seeds anew, fuzz nothing")
    parser.add_argument("--one", nargs="+", help=argparse.SUPPRESS)
    given, more = parser.parse_known_args()
    if given.one:
        one(given.one[0], [*given.one[1:], *more])
        return 0
    if given.seeds:
        sys.path.insert(0, str(ROOT))
        from tests.fuzz.targets import make_corpus

        make_corpus(CORPUS)
        return 0
    code = 0
    for name in given.targets or NAMES:
        given.keep.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory() as found:
            done = subprocess.run(
                [
                    *(sys.executable, str(Path(__file__).resolve()), "--one", name),
                    *(found, str(CORPUS / name), f"-max_total_time={given.seconds}"),
                    *("-max_len=12000", "-timeout=10", "-rss_limit_mb=2048"),
                    f"-artifact_prefix={given.keep.resolve()}/{name}-",
                ],
                env={**os.environ, "PYTHONPATH": str(ROOT)},
                stderr=subprocess.PIPE,
                text=True,
                errors="replace",
                check=False,
            )
        runs = re.findall(r"Done (\d+) runs in (\d+) second", done.stderr)
        coverage = re.findall(r"cov: (\d+)", done.stderr)
        if done.returncode or not runs:
            code = 1
            print(f"{name}: broke its promise\n{done.stderr[-4000:]}")
        else:
            reached = coverage[-1] if coverage else "?"
            print(f"{name}: {runs[-1][0]} inputs in {runs[-1][1]} s, {reached} edges, none broke")
    if given.keep.exists() and not any(given.keep.iterdir()):
        given.keep.rmdir()
    return code


if __name__ == "__main__":
    sys.exit(main())
