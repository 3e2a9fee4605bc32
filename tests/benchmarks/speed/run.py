"""How fast all of it is: ``python tests/benchmarks/speed/run.py``, some ten minutes.

Saturation beside CoolProp; records to verdicts beside pandas (``tests/benchmarks/fold.py``); MQTT
beside a bare aiomqtt loop; a serial line, a hundred channels; start and dashboard beside a bare
Python. Ratios of one run count; of parts by name: ``run.py saturation fold mqtt wires start``; with
``--long`` MQTT at 80 % runs for 100 s and the hundred channels for ten minutes.
"""

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
PARTS = {
    "saturation": HERE / "saturation.py",
    "fold": HERE.parent / "fold.py",
    "mqtt": HERE / "mqtt_disk.py",
    "wires": HERE / "wires.py",
    "start": HERE / "start.py",
}


def main(names: list[str]) -> int:
    """Measure the parts of these names, each in a process of its own; all of them for none."""
    long = ["--long"] if "--long" in names else []
    names = [name for name in names if name != "--long"]
    unknown = [name for name in names if name not in PARTS]
    if unknown:
        print(f"expected some of {', '.join(PARTS)}; came {', '.join(unknown)}", file=sys.stderr)
        return 2
    codes = []
    for name in names or PARTS:
        print(f"== {name}", flush=True)
        more = long if name in ("mqtt", "wires") else []
        codes.append(subprocess.run([sys.executable, PARTS[name], *more], check=False).returncode)
    return max(codes)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
