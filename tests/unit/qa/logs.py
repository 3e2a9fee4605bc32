"""A log of another program brought in by a map: the job, the probes, what came of it."""

from pathlib import Path

from chargeassist.model.events import (
    Event,
    Reading,
)
from chargeassist.qa.import_log import import_log

JOB = """
[job]
name = "Millrace Lane Library, reading room (invented)"
refrigerant = "R-32"
[job.site]
altitude = "210 m"
[job.target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "invented"
[job.charge]
plate = "2.30 kg"
step_cap = "110 g"
"""

PROBES = """
[time]
column = "Time"
[[probe]]
role = "liquid_pressure"
select = "P liquid"
unit = "psig"
accuracy = "1 psi"
[[probe]]
role = "liquid_temperature"
select = "T liquid"
"""


def imported(folder: Path, log: str | bytes, top: str = "", rest: str = PROBES) -> list[Event]:
    data = log.encode() if isinstance(log, str) else log
    (folder / "log.csv").write_bytes(data)
    (folder / "map.toml").write_text(f"{top}\n{rest}\n{JOB}", encoding="utf-8")
    return list(import_log(folder / "log.csv", folder / "map.toml"))


def readings(events: list[Event]) -> list[tuple[float, str, float]]:
    return [(e.t, e.channel, e.value) for e in events if isinstance(e, Reading)]
