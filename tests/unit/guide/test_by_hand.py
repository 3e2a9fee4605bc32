"""Charging from typed readings alone: what is asked for, what counts, and what it is worth."""

from dataclasses import replace

import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.wording import sentence
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    Action,
    ChannelDeclared,
    CheckJudged,
    CheckResult,
    InputEvent,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
    Settled,
    Stage,
    Unsettled,
    VerdictEvent,
)
from chargeassist.model.job import ChargeLimits, Guards, Job, Site, Target
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.stage_plan import ChargingPlan, StagePlan
from chargeassist.model.units import Reference
from chargeassist.stream.facts import Measured

STATION_PA = 101_325.0
LIQUID_PA = 2.3e6
BUBBLE_K = PropsSI("T", "P", LIQUID_PA + STATION_PA, "Q", 0, "R32")
HOLD = Limit(
    key=LimitKey.FINAL_HOLD,
    value_si=300.0,
    as_written="5 min",
    source="installation manual, page 12",
    edition="",
    authority=Authority.EQUIPMENT,
)
DIGITAL = ChargingPlan(
    gauge_accuracy=Accuracy(absolute_si=7e3),
    thermometer_accuracy=Accuracy(absolute_si=0.3),
    source="data sheets of gauge and clamp",
)
JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.8),
    site=Site(barometer_pa_abs=STATION_PA),
    limits=(HOLD,),
    stages=StagePlan(charging=DIGITAL),
)


class Hands:
    """An assistant with a technician who types, beside a unit whose subcooling the test sets."""

    def __init__(self, job: Job = JOB) -> None:
        self.assistant = Assistant(job, SessionMode.SIMULATED)
        self.t = 0.0
        self.subcooling = 3.0
        self.events: list[InputEvent] = []
        self.verdicts: list[VerdictEvent] = []

    def step(self, event: InputEvent) -> None:
        self.events.append(event)
        self.verdicts += self.assistant.step(event)

    def run(self, seconds: float) -> Snapshot:
        self.t += seconds
        self.verdicts += self.assistant.advance(self.t)
        return self.snapshot

    @property
    def snapshot(self) -> Snapshot:
        snapshot = self.assistant.snapshot()
        assert snapshot is not None
        return snapshot

    @property
    def says(self) -> str:
        return sentence(self.snapshot.advice, UnitSystem.SI)

    def enter(self, entry: Entry, value: float, read_t: float | None = None) -> None:
        mark = Mark(
            t=self.t, kind=MarkKind.ENTERED, text=entry.value, value_si=value, read_t=read_t
        )
        self.step(mark)

    def read(self, off_k: float = 0.0) -> Snapshot:
        """Type both instruments, five seconds apart."""
        self.enter(Entry.LIQUID_PRESSURE, LIQUID_PA)
        self.run(5.0)
        self.enter(Entry.LIQUID_PIPE, BUBBLE_K - self.subcooling + off_k)
        return self.run(1.0)

    def settle(self, least: int = 4) -> Snapshot:
        for _ in range(least):
            self.read()
            self.run(60.0)
        return self.snapshot

    def checks(self, name: str) -> list[CheckJudged]:
        return [e for e in self.verdicts if isinstance(e, CheckJudged) and e.check == name]

    def of(self, kind: type) -> list[VerdictEvent]:
        return [each for each in self.verdicts if isinstance(each, kind)]


def test_the_reading_asked_for_and_when_the_next_is_due() -> None:
    hands = Hands()
    hands.run(1.0)
    assert hands.snapshot.advice.action is Action.DO
    assert hands.says.startswith("Read the pressure of the liquid line: by hand, 0 of at least 4")
    mark = hands.snapshot.waits_for
    assert mark is not None
    assert mark.entry is Entry.LIQUID_PRESSURE
    hands.enter(Entry.LIQUID_PRESSURE, LIQUID_PA)
    hands.run(2.0)
    assert hands.says.startswith("Read the temperature of the liquid line's pipe")
    hands.enter(Entry.LIQUID_PIPE, BUBBLE_K - 3.0)
    hands.run(2.0)
    # Meanwhile the other line is asked for, in words and by the key, and nothing of the judged one.
    for entry, value in ((Entry.SUCTION_PRESSURE, 9e5), (Entry.SUCTION_PIPE, 285.0)):
        advice, mark = hands.snapshot.advice, hands.snapshot.waits_for
        assert (advice.action, advice.cause) == (Action.DO, "read_meanwhile")
        assert hands.says.startswith(f"Read the {entry.label}: the judged line is read")
        assert mark is not None
        assert mark.entry is entry
        hands.enter(entry, value)
        hands.run(2.0)
    assert hands.snapshot.advice.cause == "by_hand_waits"
    assert "by hand, 1 of at least 4 readings so far; the next one in 5" in hands.says
    assert hands.snapshot.waits_for is None
    hands.run(60.0)
    assert hands.says.startswith("Read the pressure of the liquid line")
    mark = hands.snapshot.waits_for
    assert mark is not None
    assert mark.entry is Entry.LIQUID_PRESSURE


def test_subcooling_is_that_of_coolprop_and_settles_with_four_readings() -> None:
    hands = Hands()
    for _ in range(2):
        hands.read()
        hands.run(60.0)
    reading = hands.read().facts.subcooling
    hands.run(60.0)
    assert isinstance(reading, Measured)
    assert reading.value_k == pytest.approx(3.0, abs=0.01)
    assert hands.snapshot.facts.settled is None
    settled = hands.read().facts.settled
    assert settled is not None
    assert settled.value_k == pytest.approx(3.0, abs=0.01)
    # Wider than by the instruments alone: the eye's scatter and what may still come are in it.
    assert settled.expanded_k is not None
    assert reading.expanded_k is not None
    assert settled.expanded_k > reading.expanded_k * 1.05
    (verdict,) = hands.of(Settled)
    assert isinstance(verdict, Settled)
    assert verdict.by_hand == 4
    assert verdict.expanded_k == settled.expanded_k
    assert (hands.snapshot.advice.action, hands.snapshot.advice.cause) == (
        Action.ADD, "below_target",
    )  # fmt: skip
    assert "by hand, 4 readings, the next in" in hands.says


def test_readings_minutes_apart_but_rising_are_not_settled() -> None:
    hands = Hands()
    for _ in range(6):
        hands.read()
        hands.run(60.0)
        hands.subcooling += 0.3
    assert not hands.of(Settled)
    assert "still rising 0.3 K/min" in hands.says


def test_a_charge_step_makes_old_what_was_read_before_it() -> None:
    hands = Hands()
    hands.settle()
    hands.step(Mark(t=hands.t, kind=MarkKind.STEP_BEGUN))
    hands.run(2.0)
    assert hands.snapshot.advice.cause == "step_open"
    (gone,) = hands.of(Unsettled)
    assert isinstance(gone, Unsettled)
    assert gone.cause == "step_open"
    assert hands.snapshot.facts.live(Role.LIQUID_PRESSURE) is None
    hands.run(30.0)
    hands.step(Mark(t=hands.t, kind=MarkKind.STEP_ENDED, mass_kg=0.1))
    ended_t = hands.t
    hands.run(10.0)
    assert hands.snapshot.advice.cause == "by_hand_waits"
    assert hands.snapshot.waits_for is None  # the other line moves as well: it is of no use yet
    # Read before the valve was shut and typed after it: it says nothing of now.
    hands.enter(Entry.LIQUID_PRESSURE, LIQUID_PA, read_t=ended_t - 5.0)
    hands.enter(Entry.LIQUID_PIPE, BUBBLE_K - 3.0, read_t=ended_t - 3.0)
    hands.run(2.0)
    assert hands.snapshot.facts.by_hand is not None
    assert hands.snapshot.facts.by_hand.readings == 0
    hands.subcooling = 4.9
    hands.run(60.0)
    hands.settle()
    (step,) = hands.snapshot.facts.ledger
    assert step.before_k == pytest.approx(3.0, abs=0.02)
    assert step.after_k == pytest.approx(4.9, abs=0.02)
    assert step.gain_k_per_kg == pytest.approx(19.0, abs=0.5)


def test_a_reading_typed_late_counts_at_its_time() -> None:
    hands = Hands()
    hands.run(300.0)
    for ago in (240.0, 170.0, 110.0, 40.0):
        hands.enter(Entry.LIQUID_PRESSURE, LIQUID_PA, read_t=hands.t - ago)
        hands.enter(Entry.LIQUID_PIPE, BUBBLE_K - 3.0, read_t=hands.t - ago + 10.0)
    hands.run(2.0)
    assert hands.snapshot.facts.settled is not None
    assert hands.snapshot.facts.by_hand is not None
    assert hands.snapshot.facts.by_hand.newest_t == pytest.approx(270.0)
    # One older than the last of its kind would change what was judged: it is let go.
    hands.enter(Entry.LIQUID_PRESSURE, LIQUID_PA + 3e5, read_t=100.0)
    hands.run(2.0)
    assert hands.snapshot.facts.live(Role.LIQUID_PRESSURE) == LIQUID_PA


def test_the_final_reading_needs_a_look_at_its_end() -> None:
    hands = Hands()
    hands.subcooling = 5.0
    hands.settle()
    assert hands.snapshot.advice.action is Action.STOP
    (settled,) = hands.of(Settled)
    stop_t = settled.t
    hands.run(100.0)
    hands.read()
    hands.run(stop_t + 280.0 - hands.t)
    hands.read()
    assert hands.checks("final_reading") == []
    hands.run(stop_t + 305.0 - hands.t)
    # Its time is over, and nobody has looked since.
    assert "read it once more to see that it stood" in hands.says
    mark = hands.snapshot.waits_for
    assert mark is not None
    assert mark.entry is Entry.LIQUID_PRESSURE
    assert hands.checks("final_reading") == []
    hands.read()
    (final,) = hands.checks("final_reading")
    assert final.result is CheckResult.PASS
    assert final.figures["by_hand"] == 7.0
    assert final.figures["held_s"] >= 300.0
    assert "accuracy of what was read by hand: data sheets of gauge and clamp" in final.sources
    mark = hands.snapshot.waits_for
    assert mark is not None
    assert (mark.kind, mark.text) == (MarkKind.STAGE_BEGUN, Stage.CLOSE_OUT.value)


def test_five_minutes_without_a_look_are_no_reading_any_more() -> None:
    hands = Hands()
    hands.subcooling = 5.0
    hands.settle()
    hands.run(310.0)
    assert hands.snapshot.facts.settled is None
    assert hands.snapshot.advice.cause == "read_by_hand"
    hands.read()
    assert hands.snapshot.facts.settled is not None


@pytest.mark.parametrize(
    ("plan", "limits", "cause"),
    [
        (DIGITAL, (HOLD,), "inside"),
        # EN 837-1 class 1.6 on a range of 55 bar: 0.88 bar is 1.4 K here, more than the tolerance.
        (
            ChargingPlan(
                gauge_accuracy=Accuracy(absolute_si=0.016 * 55e5),
                thermometer_accuracy=Accuracy(absolute_si=0.3),
            ),
            (HOLD,),
            "inside_too_coarse",
        ),
        (ChargingPlan(), (HOLD,), "inside_undeclared"),
    ],
)
def test_what_the_instruments_are_good_for_decides(
    plan: ChargingPlan, limits: tuple[Limit, ...], cause: str
) -> None:
    hands = Hands(replace(JOB, stages=StagePlan(charging=plan), limits=limits))
    hands.subcooling = 5.0
    hands.settle()
    assert (hands.snapshot.advice.action, hands.snapshot.advice.cause) == (Action.STOP, cause)


def test_what_a_profile_demands_of_instruments_stands_for_what_nobody_declared() -> None:
    """California RA3.2.2.2.2 (2013): 7.0 psi for the liquid line."""
    psi = Limit(
        key=LimitKey.LIQUID_PRESSURE_ACCURACY,
        value_si=7.0 * 6894.757,
        as_written="7.0 psi",
        source="California Title 24, RA3.2.2.2.2",
        edition="2013",
        authority=Authority.LOCAL_CODE,
    )
    kelvin = replace(psi, key=LimitKey.TEMP_ACCURACY, value_si=1.0, as_written="1 K")
    hands = Hands(replace(JOB, stages=StagePlan(), limits=(HOLD, psi, kelvin)))
    hands.read()
    reading = hands.snapshot.facts.subcooling
    assert isinstance(reading, Measured)
    assert reading.expanded_k is not None
    # JCGM 100:2008, 4.3.7: rectangular limits; the pressure alone is worth 0.78 K at 62 kPa/K.
    slope = (
        PropsSI("T", "P", LIQUID_PA + STATION_PA + 1e4, "Q", 0, "R32")
        - PropsSI("T", "P", LIQUID_PA + STATION_PA - 1e4, "Q", 0, "R32")
    ) / 2e4
    at_least = 2.0 * ((slope * 7.0 * 6894.757) ** 2 / 3.0 + 1.0 / 3.0) ** 0.5
    assert at_least < reading.expanded_k < at_least + 0.3


def test_a_typed_pressure_over_the_plate_s_limit_comes_first() -> None:
    hands = Hands(replace(JOB, guards=Guards(liquid_pressure_high_pa_gauge=2.2e6)))
    hands.read()
    assert hands.snapshot.advice.cause == "liquid_pressure_high"


def test_typed_amps_over_their_limit_come_first() -> None:
    hands = Hands(replace(JOB, guards=Guards(current_high_a=14.0)))
    hands.read()
    hands.enter(Entry.CURRENT, 15.2)
    hands.run(2.0)
    assert hands.snapshot.advice.cause == "current_high"


def test_a_probe_beside_a_typed_gauge_and_its_return() -> None:
    """The clamp delivers, the gauge is read by eye; when the probe is back it comes first."""
    hands = Hands()
    pipe = Channel(name="pipe", role=Role.LIQUID_TEMPERATURE, unit="K", accuracy=Accuracy(
        absolute_si=0.3
    ))  # fmt: skip
    hands.step(ChannelDeclared(t=0.0, channel=pipe))

    def stream(seconds: int, *, gauge: bool = False) -> None:
        for _ in range(seconds):
            hands.t += 1.0
            hands.step(Reading(t=hands.t, channel="pipe", value=BUBBLE_K - 5.0))
            if gauge:
                hands.step(Reading(t=hands.t, channel="gauge", value=LIQUID_PA))

    stream(30)
    for _ in range(4):
        hands.enter(Entry.LIQUID_PRESSURE, LIQUID_PA)
        stream(62)
    facts = hands.snapshot.facts
    assert facts.settled is not None
    assert facts.by_hand is not None
    assert facts.by_hand.places == (Role.LIQUID_PRESSURE,)
    gauge = Channel(name="gauge", role=Role.LIQUID_PRESSURE, unit="Pa", reference=Reference.GAUGE)
    hands.step(ChannelDeclared(t=hands.t, channel=gauge))
    stream(5, gauge=True)
    assert hands.snapshot.facts.by_hand is None
    assert hands.snapshot.facts.typed == frozenset()


def test_a_clamp_that_joins_a_typed_gauge_begins_another_reading() -> None:
    """What the thermometer read before is no proof of where the clamp has settled."""
    hands = Hands()
    assert hands.settle().facts.settled is not None
    pipe = Channel(name="pipe", role=Role.LIQUID_TEMPERATURE, unit="K", accuracy=Accuracy(
        absolute_si=0.3
    ))  # fmt: skip
    hands.step(ChannelDeclared(t=hands.t, channel=pipe))
    for second in range(1, 60):
        hands.step(Reading(t=hands.t + second, channel="pipe", value=BUBBLE_K - 3.4))
    snapshot = hands.run(60.0)
    assert snapshot.facts.by_hand is not None
    assert snapshot.facts.by_hand.places == (Role.LIQUID_PRESSURE,)
    assert snapshot.facts.settled is None


def test_the_same_marks_give_the_same_verdicts_with_or_without_heartbeats() -> None:
    hands = Hands()
    hands.settle()
    hands.step(Mark(t=hands.t, kind=MarkKind.STEP_BEGUN))
    hands.run(20.0)
    hands.step(Mark(t=hands.t, kind=MarkKind.STEP_ENDED, mass_kg=0.1))
    hands.settle(5)
    again = Assistant(JOB, SessionMode.SIMULATED)
    verdicts: list[VerdictEvent] = []
    for event in hands.events:
        verdicts += again.step(event)
    verdicts += again.advance(hands.t)
    assert verdicts == hands.verdicts
