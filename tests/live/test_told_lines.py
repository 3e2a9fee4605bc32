"""A real process without any probe: readings told as lines, the record replayed."""

import datetime as dt
import subprocess
import sys
import time
from pathlib import Path

from chargeassist.model.events import Mark, MarkKind, Outcome
from chargeassist.session.record.package import open_record

JOB = """
name = "Millrace Lane Library, reading room"
refrigerant = "R-32"
units = "si"
by_hand = true
[site]
altitude = "210 m"
place = "ground"
[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "charging label inside the service panel"
[charge]
plate = "2.30 kg"
weighed_in = "1.90 kg"
step_cap = "110 g"
[charging]
gauge_accuracy = "10 kPa"
thermometer_accuracy = "0.3 K"
source = "data sheets"
"""


def test_readings_told_by_lines_are_recorded_and_replay(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    record = tmp_path / "job.session"
    command = [sys.executable, "-m", "chargeassist"]
    session = subprocess.Popen(
        [*command, "live", "job.toml", "--lines", "--record", str(record)],
        cwd=tmp_path,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert session.stdin is not None
    assert session.stdout is not None
    while "Read the pressure of the liquid line" not in session.stdout.readline():
        assert session.poll() is None
    time.sleep(2.5)

    def tell(text: str) -> None:
        assert session.stdin is not None
        session.stdin.write(text + "\n")
        session.stdin.flush()

    tell("caution")
    tell("liquid_pressure 2050 kPag, 1 s ago")
    a_second_ago = dt.datetime.now().astimezone() - dt.timedelta(seconds=1)
    tell(f"liquid_pipe 31.2 °C at {a_second_ago:%H:%M:%S}")
    tell("liquid_pressure 2050 kPag, 3 h ago")
    tell("perhaps")
    time.sleep(2.5)
    tell("finish")
    out, said = session.communicate(timeout=60)
    assert session.returncode == 0, said
    assert "pressure of the liquid line 2050 kPa gauge, read at 0:" in out
    assert "1 of at least 4 readings so far" in out
    assert "'perhaps': expected one of caution, done" in said
    assert "that was before the session began" in said
    with open_record(record) as kept:
        events = list(kept.events())
        assert kept.verify().problems == ()
        assert kept.stopped is not None
        assert kept.stopped.outcome is Outcome.COMPLETE
    told = [each for each in events if isinstance(each, Mark)]
    assert [each.kind for each in told] == [
        MarkKind.CAUTION_READ, MarkKind.ENTERED, MarkKind.ENTERED,
    ]  # fmt: skip
    assert all(each.read_t is not None and each.read_t < each.t for each in told[1:])
    again = subprocess.run(
        [*command, "replay", str(record), "--check"], capture_output=True, text=True, check=False
    )
    assert again.returncode == 0, again.stdout
    assert "all the same" in again.stdout
