"""The program in a process of its own."""

import os
import subprocess
import sys

PROGRAM = [sys.executable, "-m", "chargeassist"]


def shell(
    *arguments: str, within_s: float = 30.0, **environment: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*PROGRAM, *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=within_s,
        env={**os.environ, **environment},
        check=False,
    )
