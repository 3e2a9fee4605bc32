"""When the processor calls a reading settled, and what unsettles it."""

import math

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.events import MarkKind, Settled, StepRecorded, Unsettled
from chargeassist.model.job import Hold, Processing
from chargeassist.stream.facts import SettleState
from tests.unit.stream.rig import FOUR, Rig, channel, make_job


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


def test_the_detector_is_fed_once_for_each_pair_of_new_values() -> None:
    channels = (
        channel(Role.LIQUID_PRESSURE, max_age_s=20.0),
        channel(Role.LIQUID_TEMPERATURE),
    )
    rig = Rig(channels=channels)
    for i in range(60):
        slow = () if i % 7 == 0 else (Role.LIQUID_PRESSURE,)
        rig.run(1, silent=slow)
    assert [t for t, _ in rig.fed] == [1.0 + 7.0 * i for i in range(9)]
    rig.run(20, silent=(Role.LIQUID_PRESSURE,))
    assert len(rig.fed) == 9


def test_a_half_that_lived_on_alone_is_not_averaged_into_the_next_pair() -> None:
    rig = Rig()
    rig.run(10, subcooling=4.0)
    # The pressure falls silent for a while; meanwhile the pipe cools by 3 K.
    rig.run(50, subcooling=7.0, silent=(Role.LIQUID_PRESSURE,))
    rig.run(1, subcooling=4.0)
    t, value = rig.fed[-1]
    assert t == 61.0
    assert value == pytest.approx(4.0, abs=1e-6)


@pytest.mark.parametrize("off_s", [20, 85])
def test_a_hose_taken_off_the_pressure_probe_is_no_swing_of_the_reading(off_s: int) -> None:
    """At 0.2 bar R-32 boils near -48 °C: subcooling reads 87 K below zero until the hose is on."""
    rig = Rig()
    rig.until_settled(0.3)
    before = len(rig.verdicts)
    facts = rig.run(off_s, subcooling=0.3, more={Role.LIQUID_PRESSURE: 2e4})[-1]
    assert facts.settled is None
    assert facts.settling.cause == "impossible"
    assert facts.settling.forecast is None
    seen = rig.run(180, subcooling=0.3)
    assert seen[-1].settled is not None
    rig.mark(MarkKind.STEP_ENDED, mass_kg=0.1)
    for i in range(240):
        seen += rig.run(1, subcooling=0.3 + 1.7 * (1.0 - math.exp(-i / 45.0)))
    assert seen[-1].settled is not None
    assert not [facts for facts in seen if facts.settling.cause == "hunting"]
    told = [each for each in rig.verdicts[before:] if isinstance(each, Settled)]
    assert [each.subcooling_k for each in told] == [
        pytest.approx(0.3, abs=0.1),
        pytest.approx(2.0, abs=0.3),  # the settled band
    ]
