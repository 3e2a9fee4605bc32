"""A unit whose limits are watched, through the whole assistant; invented, and steady."""

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.events import (
    Advice,
    ChannelDeclared,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
)
from chargeassist.model.job import Job
from chargeassist.model.units import KELVIN_AT_0_C, Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.session.job.jobfile import parse_job

C = KELVIN_AT_0_C

LIQUID_PA, SUCTION_PA = 2.3e6, 9.0e5

HOLD = '[frequency]\nrequired = "72 Hz"\ntolerance = "1 Hz"\nhold_lasts = "10 min"'


def job(text: str = "", *, top: str = "", target: str = "", charge: str = "") -> Job:
    target = target or 'subcooling = "5 K"\ntolerance = "0.8 K"\nsource = "invented plate"'
    return parse_job(
        f"""
name = "invented"
refrigerant = "R-32"
{top}
[site]
altitude = "0 m"
[target]
{target}
[charge]
plate = "2.3 kg"
weighed_in = "1.8 kg"
step_cap = "110 g"
{charge}
{text}
[[source]]
url = "simulator:?seed=1"
""",
        "job.toml",
    )


LIMITS = """
[limits]
liquid_pressure_high = "3.0 MPa(g)"
suction_pressure_low = "0.65 MPa(g)"
discharge_temperature_high = "110 °C"
current_high = "9 A"
source = "invented plate"
"""


class Site:
    """An assistant beside a unit whose readings the test sets; 1 Hz readings of every probe."""

    def __init__(
        self, of: Job, *, subcooling_k: float = 3.0, superheat_k: float = 6.0, looked: bool = True
    ) -> None:
        fluid = refrigerant(of.refrigerant)
        bubble = fluid.bubble_temp_k(LIQUID_PA + 101_325.0)
        dew = fluid.dew_temp_k(SUCTION_PA + 101_325.0)
        assert not isinstance(bubble, NoValue)
        assert not isinstance(dew, NoValue)
        self.dew_k = dew
        self.assistant = Assistant(of, SessionMode.SIMULATED)
        self.t = 0.0
        self.said: list[Advice] = []
        self.values: dict[Role, float] = {
            Role.LIQUID_PRESSURE: LIQUID_PA,
            Role.LIQUID_TEMPERATURE: bubble - subcooling_k,
            Role.SUCTION_PRESSURE: SUCTION_PA,
            Role.SUCTION_TEMPERATURE: dew + superheat_k,
            Role.DISCHARGE_TEMPERATURE: C + 75.0,
            Role.COMPRESSOR_CURRENT: 7.0,
        }
        for role in (*self.values, Role.COMPRESSOR_FREQUENCY, Role.CYLINDER_MASS):
            pressure = role in {Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE}
            channel = Channel(
                name=role.value, role=role, unit="Pa" if pressure else "K",
                reference=Reference.GAUGE if pressure else None,
                accuracy=Accuracy(absolute_si=3000.0 if pressure else 0.1),
            )  # fmt: skip
            self.assistant.step(ChannelDeclared(t=0.0, channel=channel))
        if looked:
            self.mark(MarkKind.CONFIRMED, text="filters_panels")

    def run(self, seconds: int) -> Snapshot:
        for _ in range(seconds):
            self.t += 1.0
            for role, value in self.values.items():
                # A probe that shows no noise at all would be called stuck.
                shaken = value * (1.0 + 1e-6 * (self.t % 3.0))
                reading = Reading(t=self.t, channel=role.value, value=shaken)
                self.said += [
                    event for event in self.assistant.step(reading) if isinstance(event, Advice)
                ]
        return self.snapshot

    @property
    def snapshot(self) -> Snapshot:
        snapshot = self.assistant.snapshot()
        assert snapshot is not None
        return snapshot

    def mark(self, kind: MarkKind, **more: object) -> None:
        self.assistant.step(Mark(t=self.t, kind=kind, **more))  # type: ignore[arg-type]
