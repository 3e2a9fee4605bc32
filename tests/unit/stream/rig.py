"""A processor fed with four steady probes."""

from collections.abc import Mapping

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.events import (
    ChannelDeclared,
    Mark,
    MarkKind,
    Reading,
    Settled,
    StepRecorded,
    Unsettled,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs
from chargeassist.physics.saturation import refrigerant
from chargeassist.stream.facts import Facts
from chargeassist.stream.processor import Processor

R32 = refrigerant("R-32")
STATION_PA = pressure_at_altitude_pa_abs(210.0)
LIQUID_PA = 2.3e6
SUCTION_PA = 8.5e5


def make_job(**changes: object) -> Job:
    """Return the invented job of these tests."""
    settings: dict[str, object] = {
        "name": "invented",
        "refrigerant": "R-32",
        "target": Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
        "charge": ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=2.0),
        "site": Site(altitude_m=210.0),
    } | changes
    return Job(**settings)  # type: ignore[arg-type]


def channel(role: Role, **changes: object) -> Channel:
    settings: dict[str, object] = {
        "name": role.value,
        "role": role,
        "unit": {"pressure": "kPa", "temperature": "K", "mass": "kg"}.get(
            role.quantity.value, "Hz"
        ),
        "reference": Reference.GAUGE if role.quantity.value == "pressure" else None,
        "accuracy": Accuracy(absolute_si={"pressure": 3000.0}.get(role.quantity.value, 0.2)),
    } | changes
    return Channel(**settings)  # type: ignore[arg-type]


FOUR = (
    Role.LIQUID_PRESSURE,
    Role.LIQUID_TEMPERATURE,
    Role.SUCTION_PRESSURE,
    Role.SUCTION_TEMPERATURE,
)


class Rig:
    """A processor at a unit whose subcooling and superheat are what the test says."""

    def __init__(self, job: Job | None = None, channels: tuple[Channel, ...] = ()) -> None:
        self.processor = Processor(job or make_job())
        self.t = 0.0
        self.verdicts: list[Settled | Unsettled | StepRecorded] = []
        self.facts: Facts | None = None
        self.fed: list[tuple[float, float]] = []  # the values [K] whose settling is judged, by time
        for each in channels or tuple(channel(role) for role in FOUR):
            self.processor.take(ChannelDeclared(t=0.0, channel=each))

    def run(
        self,
        seconds: int,
        *,
        subcooling: float = 4.0,
        superheat: float = 6.0,
        silent: tuple[Role, ...] = (),
        more: Mapping[Role, float] | None = None,
    ) -> list[Facts]:
        bubble_k = R32.bubble_temp_k(LIQUID_PA + STATION_PA)
        dew_k = R32.dew_temp_k(SUCTION_PA + STATION_PA)
        assert not isinstance(bubble_k, NoValue)
        assert not isinstance(dew_k, NoValue)
        values = {
            Role.LIQUID_PRESSURE: LIQUID_PA,
            Role.LIQUID_TEMPERATURE: bubble_k - subcooling,
            Role.SUCTION_PRESSURE: SUCTION_PA,
            Role.SUCTION_TEMPERATURE: dew_k + superheat,
            **(more or {}),
        }
        seen = []
        for _ in range(seconds):
            for role, value in values.items():
                if role not in silent:
                    self.processor.take(Reading(t=self.t + 0.5, channel=role.value, value=value))
            seen.append(self.tick())
        return seen

    def tick(self) -> Facts:
        self.t += 1.0
        self.facts, verdicts = self.processor.tick(self.t)
        self.verdicts += verdicts
        if self.processor._detector._t == self.t:  # no class of the compiled core can be derived
            self.fed.append((self.t, self.processor._level._fed._values[-1]))
        return self.facts

    def mark(self, kind: MarkKind, **figures: float) -> None:
        mark = Mark(
            t=self.t + 0.2,
            kind=kind,
            mass_kg=figures.get("mass_kg"),
            frequency_hz=figures.get("frequency_hz"),
        )
        self.processor.take(mark)

    def until_settled(self, subcooling: float = 4.0, **more: float) -> Facts:
        for _ in range(60):
            facts = self.run(10, subcooling=subcooling, **more)[-1]  # type: ignore[arg-type]
            if facts.settled is not None:
                return facts
        raise AssertionError("did not settle in ten minutes of constant readings")
