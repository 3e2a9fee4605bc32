"""The fold from events to facts: what feeds the detector, and when a reading counts as settled."""

import pytest

from chargeassist.model.channels import Accuracy, Quality, Role
from chargeassist.model.errors import ConfigError, UnknownRefrigerantError
from chargeassist.model.events import ChannelDeclared, Mark, MarkKind, Reading, Unsettled
from chargeassist.model.job import Hold, Site
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import station_pressure_pa_abs
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.stream.facts import Facts, Measured, SettleState
from chargeassist.stream.probe_findings import ProbeTrouble, Severity
from chargeassist.stream.processor import Processor
from tests.unit.stream.rig import (
    FOUR,
    LIQUID_PA,
    R32,
    STATION_PA,
    SUCTION_PA,
    Rig,
    channel,
    make_job,
)


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


def test_a_faster_channel_is_averaged_over_the_periods_of_the_slower() -> None:
    rig = Rig(channels=(channel(Role.LIQUID_PRESSURE), channel(Role.LIQUID_TEMPERATURE)))
    rig.run(1, subcooling=2.0)
    for subcooling in (3.0, 4.0, 5.0):
        rig.run(1, subcooling=subcooling, silent=(Role.LIQUID_PRESSURE,))
    rig.run(1, subcooling=6.0)
    (_, _), (t, value) = rig.fed
    assert t == 5.0
    assert value == pytest.approx(4.5, abs=1e-6)


@pytest.mark.parametrize("quality", [Quality.RETAINED, Quality.RANGE])
def test_readings_of_doubtful_quality_feed_nothing(quality: Quality) -> None:
    rig = Rig()
    for _ in range(30):
        rig.processor.take(
            Reading(t=rig.t, channel="liquid_pressure", value=LIQUID_PA, quality=quality)
        )
        facts = rig.run(1, silent=(Role.LIQUID_PRESSURE,))[-1]
        assert isinstance(facts.subcooling, NoValue)
    assert rig.fed == []


def test_a_barometer_makes_gauge_pressures_absolute() -> None:
    barometer = channel(Role.BAROMETER, reference=Reference.ABSOLUTE)
    rig = Rig(channels=(*(channel(role) for role in FOUR), barometer))
    facts = rig.run(2, more={Role.BAROMETER: 90_000.0})[-1]
    assert facts.station_pa_abs == 90_000.0
    bubble_k = R32.bubble_temp_k(LIQUID_PA + 90_000.0)
    assert facts.liquid_saturation_k == bubble_k
    facts = rig.run(30)[-1]  # a silent barometer is remembered: weather moves slowly
    assert facts.station_pa_abs == 90_000.0


def test_a_barometer_makes_nothing_more_certain_before_it_has_read() -> None:
    accurate = channel(
        Role.BAROMETER, reference=Reference.ABSOLUTE, accuracy=Accuracy(absolute_si=0.0)
    )
    without = Rig().run(2)[-1].superheat
    rig = Rig(channels=(*(channel(role) for role in FOUR), accurate))
    silent = rig.run(2)[-1].superheat
    read = rig.run(2, more={Role.BAROMETER: STATION_PA})[-1].superheat
    assert isinstance(without, Measured)
    assert isinstance(silent, Measured)
    assert isinstance(read, Measured)
    assert silent.expanded_k == without.expanded_k
    assert read.expanded_k is not None
    assert silent.expanded_k is not None
    assert read.expanded_k < silent.expanded_k


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


def test_a_probe_seen_to_in_the_same_second_leaves_a_step_told_of() -> None:
    """Pipes move after it for good reason, whatever else was told in its period."""
    rig = Rig()
    rig.run(5)
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.05)
    ended_t = rig.t + 0.2
    rig.processor.take(Mark(t=rig.t + 0.4, kind=MarkKind.PROBE_SEEN_TO, text="liquid_pressure"))
    rig.run(2)
    assert rig.processor._health._near.disturbed_t == ended_t


def with_amps() -> Rig:
    """Return a rig of a unit of one speed, its current measured."""
    current = channel(Role.COMPRESSOR_CURRENT, unit="A")
    return Rig(channels=(*(channel(role) for role in FOUR), current))


RUNS, STANDS = {Role.COMPRESSOR_CURRENT: 9.0}, {Role.COMPRESSOR_CURRENT: 0.0}


def test_nothing_settles_while_the_compressor_stands() -> None:
    rig = with_amps()
    assert {each.settled for each in rig.run(400, more=STANDS)} == {None}
    assert rig.facts is not None
    assert rig.facts.settling.cause == "compressor_stands"
    assert rig.verdicts == []


def test_a_compressor_that_stops_and_starts_begins_another_transient() -> None:
    """A thermostat that is satisfied for four minutes: nothing told of it, and the amps show it."""
    rig = with_amps()
    for _ in range(60):
        if rig.run(10, more=RUNS)[-1].settled is not None:
            break
    stood = rig.run(240, more=STANDS)
    assert stood[8].settled is not None  # a reading that was torn off is no stop
    assert {each.settled for each in stood[10:]} == {None}
    started_t = rig.t + 1.0
    again = rig.run(300, more=RUNS)
    assert {each.settled for each in again[:30]} == {None}
    assert again[-1].settled is not None
    assert again[9].settling.since_s == pytest.approx(again[9].t - started_t)
    (lost,) = (each for each in rig.verdicts if isinstance(each, Unsettled))
    assert lost.cause == "compressor_stands"


def test_a_word_about_the_frequency_ends_when_the_amps_show_that_the_compressor_stopped() -> None:
    """Nobody has read it off since; a clamp that has never shown a run ends nothing."""
    current = channel(Role.COMPRESSOR_CURRENT, unit="A")
    job = make_job(hold=Hold(required_hz=72.0))
    rig = Rig(job, channels=(*(channel(role) for role in FOUR), current))
    rig.run(5, more=RUNS)
    rig.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    assert rig.run(30, more=RUNS)[-1].hold.held
    assert rig.run(5, more=STANDS)[-1].hold.held
    assert not rig.run(10, more=STANDS)[-1].hold.held
    assert not rig.run(30, more=RUNS)[-1].hold.held
    rig.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    assert rig.run(2, more=RUNS)[-1].hold.held
    never = Rig(job, channels=(*(channel(role) for role in FOUR), current))
    never.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    assert all(each.hold.held for each in never.run(60, more=STANDS))


def test_amps_that_are_torn_for_a_moment_leave_a_settled_reading_alone() -> None:
    rig = with_amps()
    for _ in range(60):
        if rig.run(10, more=RUNS)[-1].settled is not None:
            break
    rig.run(5, more=STANDS)
    assert all(each.settled is not None for each in rig.run(60, more=RUNS))


def test_a_step_does_not_put_off_a_clamp_that_is_waited_for() -> None:
    """What is left of the wait counts from when the clamp was put on."""
    rig = Rig()
    rig.run(60)
    rig.processor.take(Mark(t=rig.t + 0.2, kind=MarkKind.PROBE_SEEN_TO, text="liquid_temperature"))
    rig.run(30)
    assert rig.facts is not None
    assert rig.facts.settling.cause == "clamp_settles"
    left = rig.facts.settling.held_s
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.05)
    rig.run(10)
    assert rig.facts.settling.cause == "clamp_settles"
    assert left is not None
    assert rig.facts.settling.held_s == pytest.approx(left - 10.0)


def taught_after(rig: Rig, role: Role) -> list[float | None]:
    """Settle at 3 K, see to a probe that then reads 1.5 K more, add 0.1 kg that is worth 1.5 K."""
    rig.until_settled(3.0)
    rig.processor.take(Mark(t=rig.t + 0.2, kind=MarkKind.PROBE_SEEN_TO, text=role.value))
    rig.run(20, subcooling=4.5)
    rig.mark(MarkKind.STEP_BEGUN)
    rig.run(20, subcooling=4.5)
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.1)
    return [step.gain_k_per_kg for step in rig.until_settled(6.0).ledger]


@pytest.mark.parametrize("role", [Role.LIQUID_TEMPERATURE, Role.LIQUID_PRESSURE])
def test_a_step_teaches_nothing_of_a_probe_that_was_put_right_before_it(role: Role) -> None:
    assert taught_after(Rig(), role) == [None]


def test_it_does_where_the_probe_was_of_the_other_line() -> None:
    (gain,) = taught_after(Rig(), Role.SUCTION_TEMPERATURE)
    assert gain == pytest.approx(30.0)


def test_a_step_teaches_nothing_between_a_probe_and_a_gauge_that_took_its_place() -> None:
    """Each has an error of its own, which does not cancel in the difference of the two."""
    rig = Rig()
    rig.until_settled(3.0)
    gone = (Role.LIQUID_PRESSURE,)
    rig.run(20, silent=gone)
    rig.mark(MarkKind.STEP_BEGUN)
    rig.run(20, silent=gone)
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.1)
    facts = rig.run(60, silent=gone, subcooling=4.5)[-1]
    for _ in range(8):
        rig.processor.take(
            Mark(
                t=rig.t + 0.2,
                kind=MarkKind.ENTERED,
                text="liquid_pressure",
                value_si=LIQUID_PA + 30e3,
            )
        )
        facts = rig.run(60, silent=gone, subcooling=4.5)[-1]
    assert facts.settled is not None
    assert facts.by_hand is not None
    (step,) = facts.ledger
    slope = R32.bubble_slope_k_per_pa(LIQUID_PA + STATION_PA)
    assert not isinstance(slope, NoValue)
    assert step.after_k == pytest.approx(4.5 + 30e3 * slope, abs=0.01)  # by 0.5 K its own error
    assert step.gain_k_per_kg is None
    assert step.probe_changed


@pytest.mark.parametrize("jump_k", [1.5, -1.0, 3.0])
def test_a_step_teaches_nothing_of_a_jump_that_nobody_told_of(jump_k: float) -> None:
    rig = Rig()
    rig.until_settled(4.0)
    rig.run(200, subcooling=4.0)
    rig.run(40, subcooling=4.0 + jump_k)
    assert isinstance(rig.verdicts[-1], Unsettled)
    rig.mark(MarkKind.STEP_BEGUN)
    rig.run(20, subcooling=4.0 + jump_k)
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.1)
    (step,) = rig.until_settled(5.5 + jump_k).ledger
    assert step.gain_k_per_kg is None
