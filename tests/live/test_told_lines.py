"""A real process without any probe: readings told as lines, the record replayed."""

import datetime as dt
import time
from pathlib import Path

from chargeassist.model.events import Mark, MarkKind, Outcome
from chargeassist.session.record.package import open_record
from tests.peers.program import Program

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
    with Program("live", tmp_path / "job.toml", "--lines", "--record", record, hears=True) as it:
        assert it.wait_for("Read the pressure of the liquid line"), it.everything
        # Readings of a second ago are told below, by a clock that shows whole seconds.
        time.sleep(2.5)
        it.tell("caution")
        it.tell("checked filters_panels")
        it.tell("liquid_pressure 2050 kPag, 1 s ago")
        a_second_ago = dt.datetime.now().astimezone() - dt.timedelta(seconds=1)
        it.tell(f"liquid_pipe 31.2 °C at {a_second_ago:%H:%M:%S}")
        assert it.wait_for("1 of at least 4 readings so far"), it.everything
        it.tell("liquid_pressure 2050 kPag, 3 h ago")
        it.tell("perhaps")
        assert it.wait_for("'perhaps': expected one of caution, done"), it.everything
        it.tell("finish")
        assert it.ended(60.0) == 0, it.everything
    assert it.count("pressure of the liquid line 2050 kPa gauge, read at 0:")
    assert any("that was before the session began" in line for line in it.complaints)
    with open_record(record) as kept:
        events = list(kept.events())
        assert kept.verify().problems == ()
        assert kept.stopped is not None
        assert kept.stopped.outcome is Outcome.COMPLETE
    told = [each for each in events if isinstance(each, Mark)]
    assert [each.kind for each in told] == [
        MarkKind.CAUTION_READ, MarkKind.CONFIRMED, MarkKind.ENTERED, MarkKind.ENTERED,
    ]  # fmt: skip
    assert all(each.read_t is not None and each.read_t < each.t for each in told[2:])
    with Program("replay", record, "--check") as again:
        assert again.ended(60.0) == 0, again.everything
    assert again.count("all the same")
