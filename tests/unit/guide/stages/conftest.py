"""A job with its plate and line set, and an assistant that is told marks and readings."""

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from chargeassist.guide import wording
from chargeassist.guide.assistant import Assistant
from chargeassist.guide.cautions import ARISES_IN
from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.stage import NextMark, StageStep
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    ChannelDeclared,
    CheckJudged,
    InputEvent,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
    SessionStopped,
    Stage,
    VerdictEvent,
)
from chargeassist.model.hazards import Hazard
from chargeassist.model.job import Job
from chargeassist.session.job.jobfile import parse_job

TEXT = """
name = "Millrace Lane Library, reading room"
refrigerant = "{refrigerant}"
{head}
[site]
altitude = "210 m"
[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "charging label inside the service panel"
[charge]
plate = "2.30 kg"
step_cap = "110 g"
{tables}
[[source]]
url = "serial:/dev/ttyUSB0"
format = "csv"
{probes}
"""

PROBE = """
[[source.probe]]
role = "{role}"
select = "{number}"
unit = "{unit}"
"""

PROBES = (
    ("liquid_pressure", "Pa(g)", "2 kPa"),
    ("suction_pressure", "Pa(g)", "2 kPa"),
    ("liquid_temperature", "K", "0.3 K"),
    ("suction_temperature", "K", "0.3 K"),
    ("outdoor_air_temperature", "K", "0.3 K"),
    ("vacuum", "Pa(a)", "5 % of reading"),
    ("cylinder_mass", "kg", "5 g"),
)


def make_job(
    tables: str = "",
    head: str = "",
    probes: tuple[tuple[str, str, str], ...] = (),
    refrigerant: str = "R-32",
) -> Job:
    """Return an invented job with the given tables and probes."""
    text = "".join(
        PROBE.format(role=role, number=number, unit=unit)
        + (f'accuracy = "{accuracy}"\n' if accuracy else "")
        for number, (role, unit, accuracy) in enumerate(probes or PROBES, start=1)
    )
    return parse_job(
        TEXT.format(tables=tables, head=head, probes=text, refrigerant=refrigerant), "job.toml"
    )


@dataclass
class Work:
    """A session in the making: what is told goes in, what is said comes out."""

    job: Job
    t: float = 0.0
    events: list[InputEvent] = field(default_factory=list)
    verdicts: list[VerdictEvent] = field(default_factory=list)
    readings: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Declare the channels."""
        self.assistant = Assistant(self.job, SessionMode.SIMULATED)
        for source in self.job.sources:
            for probe in source.probes:
                self.step(ChannelDeclared(t=0.0, channel=probe.channel))

    def step(self, event: InputEvent) -> None:
        """Put one event in."""
        self.events.append(event)
        self.verdicts += self.assistant.step(event)

    def mark(self, kind: MarkKind, text: str = "", **figures: float) -> None:
        """Tell what was done."""
        self.step(Mark(t=self.t, kind=kind, text=text, **figures))

    def begin(self, stage: Stage, *, reads: bool = True) -> Snapshot:
        """Begin a stage, most often with its cautions read, and go on for a second."""
        self.mark(MarkKind.STAGE_BEGUN, stage.value)
        if reads:
            for hazard in (*ARISES_IN[stage], Hazard.NITROGEN):
                self.mark(MarkKind.CAUTION_READ, hazard.value)
        return self.run(1)

    def stands_at(self, pressure_pa: float) -> None:
        """Let gas stand still in the circuit, which is nearly as warm as the air around it.

        `pressure_pa` is gauge [Pa].
        """
        self.readings = {
            "liquid_pressure": pressure_pa,
            "suction_pressure": pressure_pa,
            "liquid_temperature": 295.0,
            "suction_temperature": 296.0,
            "outdoor_air_temperature": 295.5,
        }

    def enter(self, entry: Entry, value_si: float) -> None:
        """Type a number."""
        self.mark(MarkKind.ENTERED, entry.value, value_si=value_si)

    def done(self) -> Snapshot:
        """Tell that the present instruction is done, with the key for it."""
        assert self.next_mark.entry is None
        self.mark(self.next_mark.kind, self.next_mark.text)
        return self.run(1)

    def run(self, seconds: int) -> Snapshot:
        """Let time pass with the readings as they are set."""
        for _ in range(seconds):
            self.t += 1.0
            for name, value in self.readings.items():
                self.step(Reading(t=self.t, channel=name, value=value))
            if not self.readings:
                self.verdicts += self.assistant.advance(self.t)
        return self.snapshot

    def until(self, wanted: Callable[[Snapshot], bool], seconds: int = 3600) -> Snapshot:
        """Let time pass until something holds."""
        for _ in range(seconds):
            if wanted(self.run(1)):
                return self.snapshot
        raise AssertionError(f"not in {seconds} s: {self.says}")

    def end(self) -> None:
        """End the session."""
        from chargeassist.model.events import Outcome

        self.step(SessionStopped(t=self.t, outcome=Outcome.COMPLETE))

    @property
    def snapshot(self) -> Snapshot:
        """The present picture."""
        snapshot = self.assistant.snapshot()
        assert snapshot is not None
        return snapshot

    @property
    def stage_step(self) -> StageStep:
        """What the stage shows now."""
        step = self.snapshot.stage_step
        assert step is not None
        return step

    @property
    def next_mark(self) -> NextMark:
        """What `Enter` tells now."""
        mark = self.stage_step.next_mark
        assert mark is not None, self.says
        return mark

    @property
    def says(self) -> str:
        """The present instruction as a sentence."""
        return wording.sentence(self.snapshot.advice, UnitSystem.SI)

    @property
    def rows(self) -> dict[str, tuple[str, str]]:
        """The stage's table: label to (text, state)."""
        found = {}
        for row in self.stage_step.rows:
            label, text = wording.stage_row(row, UnitSystem.SI)
            found[label or text] = (text, row.state)
        return found

    def checks(self) -> list[CheckJudged]:
        """Everything judged so far."""
        return [each for each in self.verdicts if isinstance(each, CheckJudged)]


Make = Callable[..., Work]


@pytest.fixture
def work() -> Make:
    """Return a maker of sessions."""

    def make(
        tables: str = "",
        head: str = "",
        probes: tuple[tuple[str, str, str], ...] = (),
        refrigerant: str = "R-32",
    ) -> Work:
        return Work(make_job(tables, head, probes, refrigerant))

    return make
