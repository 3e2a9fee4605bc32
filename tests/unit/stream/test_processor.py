"""The fold from events to facts: what feeds the detector, and when a reading counts as settled."""

from collections.abc import Mapping

import pytest

from chargeassist.model.channels import Accuracy, Channel, Quality, Role
from chargeassist.model.errors import ConfigError, UnknownRefrigerantError
from chargeassist.model.events import (
    ChannelDeclared,
    Mark,
    MarkKind,
    Reading,
    Settled,
    StepRecorded,
    Unsettled,
)
from chargeassist.model.job import ChargeLimits, Hold, Job, Processing, Site, Target
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs, station_pressure_pa_abs
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.physics.saturation import refrigerant
from chargeassist.stream.facts import Facts, Measured, SettleState
from chargeassist.stream.probe_findings import ProbeTrouble, Severity
from chargeassist.stream.processor import Processor
from chargeassist.stream.progress import PROVING, Progress
from chargeassist.stream.settling import SettlingCause, SettlingDetector

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


def test_derived_values_are_those_of_the_physics() -> None:
    rig = Rig()
    facts = rig.run(3)[-1]
    bubble_k, dew_k = (
        R32.bubble_temp_k(LIQUID_PA + STATION_PA),
        R32.dew_temp_k(SUCTION_PA + STATION_PA),
    )
    assert not isinstance(bubble_k, NoValue)
    assert not isinstance(dew_k, NoValue)
    assert isinstance(facts.subcooling, Measured)
    assert isinstance(facts.superheat, Measured)
    assert facts.subcooling.value_k == subcooling_k(R32, LIQUID_PA + STATION_PA, bubble_k - 4.0)
    assert facts.superheat.value_k == superheat_k(R32, SUCTION_PA + STATION_PA, dew_k + 6.0)
    assert facts.subcooling.expanded_k is not None
    assert facts.liquid_saturation_k == bubble_k
    assert facts.suction_saturation_k == dew_k
    assert facts.station_pa_abs == STATION_PA


def test_no_value_says_what_is_missing() -> None:
    rig = Rig(channels=(channel(Role.LIQUID_PRESSURE), channel(Role.LIQUID_TEMPERATURE)))
    facts = rig.run(1, silent=(Role.LIQUID_TEMPERATURE,))[-1]
    assert facts.subcooling == NoValue("no signal from liquid line temperature")
    assert facts.superheat == NoValue("no probes for the suction line")
    assert facts.settling.state is SettleState.NO_SIGNAL


def test_a_constant_reading_settles_once_and_says_its_value() -> None:
    rig = Rig()
    facts = rig.until_settled(4.0)
    assert facts.settled is not None
    assert facts.settled.value_k == pytest.approx(4.0, abs=1e-6)
    assert facts.settled_superheat_k == pytest.approx(6.0, abs=1e-6)
    (verdict,) = rig.verdicts
    assert isinstance(verdict, Settled)
    assert verdict.subcooling_k == pytest.approx(4.0, abs=1e-6)
    assert verdict.superheat_k == pytest.approx(6.0, abs=1e-6)
    assert verdict.t >= make_job().processing.minimum_wait_s
    rig.run(120)
    assert len(rig.verdicts) == 1


def test_the_minimum_wait_is_kept_however_quiet_the_reading_is() -> None:
    rig = Rig(make_job(processing=Processing(minimum_wait_s=400.0)))
    seen = rig.run(399)
    assert not [facts for facts in seen if facts.settled is not None]
    facts = seen[-1]
    assert facts.settling.cause == "minimum_wait"
    assert facts.settling.state is SettleState.NEARLY
    forecast = facts.settling.forecast
    assert forecast is not None
    assert forecast.seconds is not None
    assert forecast.seconds_high is not None
    assert 1.0 <= forecast.seconds <= forecast.seconds_high
    rig.run(10)
    (verdict,) = rig.verdicts
    assert isinstance(verdict, Settled)
    assert verdict.t == 400.0


def test_a_moving_reading_does_not_settle() -> None:
    rig = Rig()
    # 0.3 K a minute
    seen = [rig.run(1, subcooling=2.0 + 0.005 * i)[-1] for i in range(400)]
    assert not [facts for facts in seen if facts.settled is not None]
    assert seen[-1].settling.cause == "rising"


@pytest.mark.parametrize("kind", [MarkKind.STEP_BEGUN, MarkKind.STEP_ENDED])
def test_a_settled_reading_never_survives_a_step_mark(kind: MarkKind) -> None:
    rig = Rig()
    rig.until_settled()
    rig.mark(kind, mass_kg=0.05)
    facts = rig.run(1)[-1]
    assert facts.settled is None
    assert facts.settled_superheat_k is None
    assert isinstance(rig.verdicts[-1], Unsettled)
    assert facts.settling.since_s == pytest.approx(0.8)


def test_an_open_step_keeps_it_unsettled_for_as_long_as_it_is_open() -> None:
    rig = Rig()
    rig.until_settled()
    rig.mark(MarkKind.STEP_BEGUN)
    for facts in rig.run(600):
        assert facts.settled is None
        assert facts.settling.cause == "step_open"
        assert facts.settling.forecast is None
    assert rig.verdicts[-1] == Unsettled(t=rig.verdicts[-1].t, cause="step_open")
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.1)
    facts = rig.run(5)[-1]
    assert facts.settled is None
    assert [step.mass_kg for step in facts.ledger] == [0.1]
    assert facts.total_kg == pytest.approx(2.1)
    ended = rig.t
    facts = rig.until_settled(5.4)
    assert rig.t - ended >= 50.0
    (step,) = facts.ledger
    assert step.before_k == pytest.approx(4.0, abs=1e-6)
    assert step.after_k == pytest.approx(5.4, abs=0.2)
    assert step.gain_k_per_kg == pytest.approx(14.0, abs=2.0)


def test_the_amount_of_an_earlier_step_said_later_unsettles_nothing() -> None:
    rig = Rig()
    rig.mark(MarkKind.STEP_BEGUN)
    rig.run(5)
    rig.mark(MarkKind.STEP_ENDED)
    rig.run(5)
    rig.until_settled()
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.1)
    facts = rig.run(1)[-1]
    assert facts.settled is not None
    assert facts.total_kg == pytest.approx(2.1)
    last = rig.verdicts[-1]
    assert isinstance(last, StepRecorded)
    assert (last.number, last.mass_kg) == (1, 0.1)


def test_a_scale_that_falls_unsettles_by_itself() -> None:
    rig = Rig(channels=tuple(channel(role) for role in (*FOUR, Role.CYLINDER_MASS)))
    for _ in range(40):
        rig.run(10, more={Role.CYLINDER_MASS: 10.0})
    assert rig.facts is not None
    assert rig.facts.settled is not None
    facts = [rig.run(1, more={Role.CYLINDER_MASS: 10.0 - 0.002 * i})[-1] for i in range(30)][-1]
    assert facts.step_open is not None
    assert facts.settled is None
    rig.run(20, more={Role.CYLINDER_MASS: 9.942})
    step = next(v for v in rig.verdicts if isinstance(v, StepRecorded))
    assert step.mass_kg == pytest.approx(0.058)


def test_settled_needs_the_frequency_and_losing_it_unsettles() -> None:
    hold = Hold(required_hz=72.0, lasts_s=3600.0)
    rig = Rig(make_job(hold=hold))
    seen = rig.run(300)
    assert not [facts for facts in seen if facts.settled is not None]
    assert seen[-1].settling.cause == "hold_missing"
    rig.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    facts = rig.until_settled()
    assert facts.hold.held
    rig.mark(MarkKind.FREQUENCY_LEFT)
    facts = rig.run(1)[-1]
    assert facts.settled is None
    assert rig.verdicts[-1] == Unsettled(t=rig.t, cause="hold_missing")
    rig.mark(MarkKind.FREQUENCY_HELD)
    facts = rig.run(30)[-1]
    assert facts.settled is None  # held again, but settling began anew


def test_a_confirmed_hold_that_runs_out_unsettles() -> None:
    rig = Rig(make_job(hold=Hold(required_hz=72.0, lasts_s=600.0)))
    rig.mark(MarkKind.FREQUENCY_HELD)
    rig.until_settled()
    assert not rig.processor.hold_expired
    facts = rig.run(602 - int(rig.t))[-1]
    assert facts.settled is None
    assert rig.processor.hold_expired


def test_a_short_outage_is_no_signal_and_then_settled_again() -> None:
    rig = Rig()
    rig.until_settled()
    facts = rig.run(30, silent=(Role.LIQUID_PRESSURE,))[-1]
    assert facts.settled is None
    assert rig.verdicts[-1] == Unsettled(t=rig.verdicts[-1].t, cause="no_signal")
    facts = rig.run(15)[-1]
    assert facts.settled is not None


def test_an_outage_of_more_than_a_minute_starts_settling_afresh() -> None:
    rig = Rig()
    rig.until_settled()
    rig.run(75, silent=(Role.LIQUID_PRESSURE,))
    facts = rig.run(20)[-1]
    assert facts.settled is None
    assert facts.settling.since_s < 25.0
    rig.until_settled()


def test_restart_forgets_that_it_was_settled() -> None:
    rig = Rig()
    rig.until_settled()
    rig.processor.restart(rig.t + 0.5)
    assert rig.run(1)[-1].settled is None


class Told(SettlingDetector):
    """A detector that remembers what it was fed."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[float, float]] = []

    def update(self, t: float, values: Mapping[str, float]) -> bool:
        self.seen.append((t, values["subcooling"]))
        return super().update(t, values)


class Says(SettlingDetector):
    """A detector with a scripted answer."""

    def __init__(self, says: SettlingCause, slope: float) -> None:
        super().__init__()
        self._says, self._slope = says, slope

    @property
    def cause(self) -> SettlingCause:
        return self._says

    @property
    def slope_k_per_s(self) -> float | None:
        return self._slope

    def update(self, t: float, values: Mapping[str, float]) -> bool:
        super().update(t, values)
        return False


@pytest.mark.parametrize(
    ("says", "slope", "cause"),
    [
        (SettlingCause.NO_READING, 0.0, "too_early"),
        (SettlingCause.LOST, 0.0, "too_early"),
        (SettlingCause.YOUNG_STEP, 0.01, "too_early"),
        (SettlingCause.MOVING, 0.01, "rising"),
        (SettlingCause.MOVING, -0.01, "falling"),
        (SettlingCause.UNANNOUNCED, 0.01, "rising"),
        (SettlingCause.UNANNOUNCED, 0.0, "unannounced"),
        (SettlingCause.YOUNG_RUN, 0.0, "young_run"),
        (SettlingCause.HUNTING, 0.01, "hunting"),
        (SettlingCause.UNPROVEN, 0.01, "not_proven"),
    ],
)
def test_why_it_has_not_settled(says: SettlingCause, slope: float, cause: str) -> None:
    rig = Rig()
    detector = Says(says, slope)
    rig.processor._detector = detector
    rig.processor._progress = Progress(detector, rig.processor._job.processing.minimum_wait_s)
    settling = rig.run(40)[-1].settling
    assert settling.cause == cause
    # While only the proof is missing nobody knows how long that takes.
    if cause in PROVING and settling.forecast is not None:
        assert settling.forecast.seconds is None


def spy(rig: Rig) -> Told:
    told = Told()
    rig.processor._detector = told
    return told


def test_the_detector_is_fed_once_for_each_pair_of_new_values() -> None:
    channels = (
        channel(Role.LIQUID_PRESSURE, max_age_s=20.0),
        channel(Role.LIQUID_TEMPERATURE),
    )
    rig = Rig(channels=channels)
    told = spy(rig)
    for i in range(60):
        slow = () if i % 7 == 0 else (Role.LIQUID_PRESSURE,)
        rig.run(1, silent=slow)
    assert [t for t, _ in told.seen] == [1.0 + 7.0 * i for i in range(9)]
    rig.run(20, silent=(Role.LIQUID_PRESSURE,))
    assert len(told.seen) == 9


def test_a_half_that_lived_on_alone_is_not_averaged_into_the_next_pair() -> None:
    rig = Rig()
    told = spy(rig)
    rig.run(10, subcooling=4.0)
    # The pressure falls silent for a while; meanwhile the pipe cools by 3 K.
    rig.run(50, subcooling=7.0, silent=(Role.LIQUID_PRESSURE,))
    rig.run(1, subcooling=4.0)
    t, value = told.seen[-1]
    assert t == 61.0
    assert value == pytest.approx(4.0, abs=1e-6)


def test_a_faster_channel_is_averaged_over_the_periods_of_the_slower() -> None:
    rig = Rig(channels=(channel(Role.LIQUID_PRESSURE), channel(Role.LIQUID_TEMPERATURE)))
    told = spy(rig)
    rig.run(1, subcooling=2.0)
    for subcooling in (3.0, 4.0, 5.0):
        rig.run(1, subcooling=subcooling, silent=(Role.LIQUID_PRESSURE,))
    rig.run(1, subcooling=6.0)
    (_, _), (t, value) = told.seen
    assert t == 5.0
    assert value == pytest.approx(4.5, abs=1e-6)


@pytest.mark.parametrize("quality", [Quality.RETAINED, Quality.RANGE])
def test_readings_of_doubtful_quality_feed_nothing(quality: Quality) -> None:
    rig = Rig()
    told = spy(rig)
    for _ in range(30):
        rig.processor.take(
            Reading(t=rig.t, channel="liquid_pressure", value=LIQUID_PA, quality=quality)
        )
        facts = rig.run(1, silent=(Role.LIQUID_PRESSURE,))[-1]
        assert isinstance(facts.subcooling, NoValue)
    assert told.seen == []


def test_a_barometer_makes_gauge_pressures_absolute() -> None:
    barometer = channel(Role.BAROMETER, reference=Reference.ABSOLUTE)
    rig = Rig(channels=(*(channel(role) for role in FOUR), barometer))
    facts = rig.run(2, more={Role.BAROMETER: 90_000.0})[-1]
    assert facts.station_pa_abs == 90_000.0
    bubble_k = R32.bubble_temp_k(LIQUID_PA + 90_000.0)
    assert facts.liquid_saturation_k == bubble_k
    facts = rig.run(30)[-1]  # a silent barometer is remembered: weather moves slowly
    assert facts.station_pa_abs == 90_000.0


@pytest.mark.parametrize("broken_pa", [0.0, -300.0, 1e6])
def test_a_broken_barometer_is_not_believed(broken_pa: float) -> None:
    barometer = channel(Role.BAROMETER, reference=Reference.ABSOLUTE)
    rig = Rig(channels=(*(channel(role) for role in FOUR), barometer))
    assert rig.run(2, more={Role.BAROMETER: broken_pa})[-1].station_pa_abs == STATION_PA


def test_the_station_pressure_is_measured_or_of_the_standard_atmosphere() -> None:
    assert station_pressure_pa_abs(Site(barometer_pa_abs=98_100.0)) == 98_100.0
    # U.S. Standard Atmosphere, 1976, table 1: 1 500 m, 845.6 hPa.
    assert station_pressure_pa_abs(Site(altitude_m=1500.0)) == pytest.approx(84_560.0, abs=5.0)
    with pytest.raises(ConfigError, match="altitude"):
        Processor(make_job(site=Site(altitude_m=30_000.0)))


def test_an_unknown_refrigerant_is_refused() -> None:
    with pytest.raises(UnknownRefrigerantError, match="R-999"):
        Processor(make_job(refrigerant="R-999"))


def test_a_channel_declared_again_goes_on_delivering() -> None:
    rig = Rig()
    rig.run(5)
    better = channel(Role.LIQUID_PRESSURE, accuracy=Accuracy(absolute_si=500.0))
    before = rig.run(1)[-1].subcooling
    rig.processor.take(ChannelDeclared(t=rig.t, channel=better))
    facts = rig.run(30)[-1]
    assert isinstance(before, Measured)
    assert isinstance(facts.subcooling, Measured)
    assert facts.subcooling.expanded_k is not None
    assert before.expanded_k is not None
    assert facts.subcooling.expanded_k < before.expanded_k
    assert len(facts.channels) == 4


def test_a_reading_of_a_channel_nobody_declared_is_passed_over() -> None:
    rig = Rig()
    rig.processor.take(Reading(t=0.5, channel="who", value=1.0))
    assert len(rig.run(1)[-1].channels) == 4


def test_settled_superheat_is_where_a_hunting_valve_swings_about() -> None:
    rig = Rig()
    seen = [rig.run(1, superheat=6.0 + (2.0 if i % 10 < 5 else -2.0))[-1] for i in range(600)]
    assert seen[-1].settled is not None
    for facts in seen:
        if facts.settled_superheat_k is not None:
            assert facts.settled_superheat_k == pytest.approx(6.0, abs=0.5)


def test_what_the_technician_confirmed_is_kept() -> None:
    rig = Rig()
    assert rig.run(1)[-1].confirmed == frozenset()
    for text in ("airflow_low", "outdoor_low", "airflow_low"):
        rig.processor.take(Mark(t=rig.t, kind=MarkKind.CONFIRMED, text=text))
    assert rig.run(1)[-1].confirmed == {"airflow_low", "outdoor_low"}
    # It is no step and no change of the machine.
    facts = rig.until_settled()
    rig.processor.take(Mark(t=rig.t, kind=MarkKind.CONFIRMED, text="indoor_low"))
    assert rig.run(1)[-1].settled is not None
    assert facts.ledger == ()


def test_the_run_counts_from_the_first_reading_of_the_liquid_line() -> None:
    rig = Rig()
    assert rig.run(20, silent=(Role.LIQUID_TEMPERATURE,))[-1].running_since_t is None
    assert rig.run(1)[-1].running_since_t == 21.0
    # A probe that falls silent does not stop the machine.
    rig.run(60, silent=(Role.LIQUID_PRESSURE,))
    assert rig.run(5)[-1].running_since_t == 21.0
    # Nor does a charge step.
    rig.mark(MarkKind.STEP_BEGUN)
    rig.run(30)
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.05)
    assert rig.run(5)[-1].running_since_t == 21.0


def test_the_run_counts_anew_with_every_change_of_the_hold() -> None:
    rig = Rig(make_job(hold=Hold(required_hz=72.0)))
    assert rig.run(50)[-1].running_since_t == 1.0
    rig.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    assert rig.run(50)[-1].running_since_t == 51.0
    rig.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    assert rig.run(50)[-1].running_since_t == 51.0
    rig.mark(MarkKind.FREQUENCY_LEFT)
    assert rig.run(10)[-1].running_since_t == 151.0
    rig.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    assert rig.run(10)[-1].running_since_t == 161.0


def stuck_beside_noise(rig: Rig, seconds: int) -> Facts:
    """Run `rig` with a liquid temperature that noises for two minutes and then stands still."""
    facts = rig.facts
    for _ in range(seconds):
        noise_k = 0.1 * ((round(rig.t) * 7) % 5 - 2) if rig.t < 120.0 else 0.0
        (facts,) = rig.run(1, subcooling=4.0 + noise_k)
    assert facts is not None
    return facts


def test_a_stuck_probe_is_in_the_facts_until_it_was_seen_to() -> None:
    line = channel(Role.LIQUID_TEMPERATURE)
    rig = Rig(channels=(channel(Role.LIQUID_PRESSURE), line))
    assert stuck_beside_noise(rig, 120).findings == ()
    facts = stuck_beside_noise(rig, 300)
    (found,) = facts.findings
    assert (found.channel, found.kind, found.severity) == (
        line.name,
        ProbeTrouble.STUCK,
        Severity.UNUSABLE,
    )
    assert found.since_t == pytest.approx(120.0, abs=2.0)
    rig.processor.take(Mark(t=rig.t, kind=MarkKind.PROBE_SEEN_TO, text="liquid_pressure"))
    assert [each.kind for each in rig.run(1)[-1].findings] == [ProbeTrouble.STUCK]
    rig.processor.take(Mark(t=rig.t, kind=MarkKind.PROBE_SEEN_TO, text=line.name))
    assert rig.run(1)[-1].findings == ()


def test_an_absurd_number_does_not_reach_the_check_of_the_probes() -> None:
    rig = Rig()
    rig.run(60)
    for t in range(60, 66):
        reading = Reading(t=float(t), channel="liquid_temperature", value=1e300)
        rig.processor.take(reading)
    assert rig.run(120)[-1].findings == ()
