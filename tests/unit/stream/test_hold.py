"""The frequency hold: who is believed, for how long, and when it counts as lost."""

import pytest

from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import Hold
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.stream.hold import HoldWatch

JOB_HOLD = Hold(required_hz=72.0, tolerance_hz=1.0, lasts_s=3600.0)


def held(t: float, hertz: float | None = None) -> Mark:
    return Mark(t=t, kind=MarkKind.FREQUENCY_HELD, frequency_hz=hertz)


def left(t: float) -> Mark:
    return Mark(t=t, kind=MarkKind.FREQUENCY_LEFT)


def test_a_fixed_speed_unit_is_always_held() -> None:
    watch = HoldWatch(Hold())
    watch.take(left(1.0))
    assert watch.tick(1.0, None) is False
    assert watch.facts.held
    assert watch.facts.required_hz is None


def test_nothing_is_held_before_anyone_says_so() -> None:
    watch = HoldWatch(JOB_HOLD)
    assert watch.tick(1.0, None) is False
    assert not watch.facts.held
    assert watch.facts.told_by == ""


def test_a_confirmation_counts_from_when_it_was_given() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(10.4))
    assert watch.tick(11.0, None) is True
    facts = watch.facts
    assert (facts.held, facts.told_by, facts.actual_hz) == (True, "technician", 72.0)
    assert facts.since_t == 10.4
    assert facts.expires_s == 3599.4


def test_a_confirmed_wrong_frequency_is_no_hold() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(1.0, 60.0))
    watch.tick(2.0, None)
    assert not watch.facts.held
    assert watch.facts.actual_hz == 60.0


def test_the_edges_of_the_tolerance_are_inside() -> None:
    for hertz, inside in ((71.0, True), (73.0, True), (70.99, False), (73.01, False)):
        watch = HoldWatch(JOB_HOLD)
        watch.tick(1.0, hertz)
        assert watch.facts.held is inside


def test_a_confirmed_hold_runs_out_with_the_units_test_mode() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(100.0))
    watch.tick(101.0, None)
    assert watch.tick(3699.0, None) is False
    assert watch.facts.held
    assert watch.tick(3700.0, None) is True
    assert not watch.facts.held
    assert watch.expired
    watch.tick(3701.0, None)
    assert (watch.facts.actual_hz, watch.facts.told_by) == (None, "")
    watch.take(held(3800.0))
    assert watch.tick(3801.0, None) is True
    assert watch.facts.held
    assert not watch.expired


def test_confirming_again_starts_the_units_clock_again() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(0.0))
    watch.tick(1.0, None)
    watch.take(held(3000.0))
    watch.tick(3001.0, None)
    assert watch.facts.expires_s == 3599.0
    assert watch.facts.since_t == 0.0  # held all the while
    watch.tick(3700.0, None)
    assert watch.facts.held


def test_saying_it_left_ends_it_at_once() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(1.0))
    watch.tick(2.0, None)
    watch.take(left(3.0))
    assert watch.tick(4.0, None) is True
    assert not watch.facts.held
    assert watch.facts.since_t is None
    assert not watch.expired


def test_a_channel_outranks_the_technician_both_ways() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(1.0))
    watch.tick(2.0, 60.0)
    assert not watch.facts.held
    assert (watch.facts.told_by, watch.facts.actual_hz) == ("channel", 60.0)
    watch.take(left(3.0))
    watch.tick(4.0, 72.2)
    assert watch.facts.held
    assert watch.facts.told_by == "channel"


def test_one_period_outside_is_a_spike_and_two_are_a_loss() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.tick(1.0, 72.0)
    for t in (2.0, 4.0, 6.0):  # every other one outside: never lost
        assert watch.tick(t, 60.0) is False
        assert watch.tick(t + 1.0, 72.0) is False
    assert watch.tick(8.0, 60.0) is False
    assert watch.facts.held
    assert watch.tick(9.0, 60.0) is True
    assert not watch.facts.held
    assert watch.tick(10.0, 72.0) is True
    assert watch.facts.since_t == 10.0


def test_a_channels_hold_is_not_ended_by_a_confirmations_clock() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(0.0))
    watch.tick(1.0, 72.0)
    watch.tick(5000.0, 72.0)
    assert watch.facts.held
    assert watch.facts.expires_s == 0.0


def test_a_silent_channel_leaves_the_word_to_the_technician() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.tick(1.0, 72.0)
    assert watch.tick(2.0, None) is True
    assert not watch.facts.held
    watch.take(held(3.0))
    assert watch.tick(4.0, None) is True


def test_a_word_that_the_channel_contradicts_does_not_come_back_when_it_falls_silent() -> None:
    """Read off too early: the channel has shown since that the unit runs at something else."""
    watch = HoldWatch(JOB_HOLD)
    watch.tick(1.0, 60.0)
    watch.take(held(2.0))
    for t in (3.0, 4.0, 5.0):
        watch.tick(t, 60.0)
    assert watch.tick(6.0, None) is False
    assert not watch.facts.held


def test_a_word_given_on_the_way_counts_once_the_channel_has_come_to_it() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.tick(1.0, 60.0)
    watch.take(held(2.0))
    watch.tick(3.0, 60.0)
    watch.tick(4.0, 72.0)
    assert watch.tick(5.0, None) is False
    assert watch.facts.held


def test_a_test_mode_that_ran_out_once_is_not_why_a_later_hold_is_lost() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(1.0))
    watch.tick(2.0, None)
    watch.tick(3700.0, None)
    assert watch.expired
    watch.tick(3701.0, 72.0)
    assert watch.facts.held
    watch.tick(3702.0, 60.0)
    watch.tick(3703.0, 60.0)
    assert not watch.facts.held
    assert not watch.expired


def test_a_note_says_nothing_about_the_frequency() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.take(Mark(t=1.0, kind=MarkKind.NOTE, text="72 Hz", frequency_hz=72.0))
    watch.tick(2.0, None)
    assert not watch.facts.held


LASTS_S, RAMP_S = 3600.0, 180.0
# 60 min, of which the ramp takes up to 3: equipment manual of a variable-speed unit,
# manualarchiveguide.com, Haier-GE-NS22HM, page 19.
RAMP = Limit(
    key=LimitKey.RAMP_LONGEST, value_si=RAMP_S, as_written="3 min", source="manual", edition="",
    authority=Authority.EQUIPMENT,
)  # fmt: skip


def ramp(watch: HoldWatch, t: float, from_hz: float, to_hz: float, seconds: float) -> float:
    """Run the frequency up in `seconds` s and return the time after it [s]."""
    for second in range(int(seconds)):
        share = (second + 1) / seconds
        watch.tick(t + second + 1.0, from_hz + share * (to_hz - from_hz))
    return t + seconds


def test_a_ramp_is_counted_from_where_the_frequency_began_to_move() -> None:
    watch = HoldWatch(JOB_HOLD, RAMP)
    for second in range(1, 11):
        watch.tick(float(second), 0.0)
    assert watch.facts.ramp_s is None
    t = ramp(watch, 10.0, 0.0, 60.0, 100.0)
    assert watch.facts.ramp_s == pytest.approx(100.0, abs=2.5)
    assert not watch.facts.held
    # Standing elsewhere it is on its way nowhere.
    for second in range(40):
        watch.tick(t + second + 1.0, 60.0)
    assert watch.facts.ramp_s is None


def test_the_clock_of_the_test_mode_starts_with_the_ramp() -> None:
    watch = HoldWatch(JOB_HOLD, RAMP)
    watch.tick(1.0, 0.0)
    t = ramp(watch, 1.0, 0.0, 72.0, 150.0)
    assert watch.facts.held
    assert watch.facts.expires_s == pytest.approx(LASTS_S - 150.0, abs=4.0)
    watch.tick(t + 60.0, 72.0)
    assert watch.facts.expires_s == pytest.approx(LASTS_S - 210.0, abs=4.0)


def test_a_ramp_nobody_saw_counts_as_long_as_it_can_be() -> None:
    watch = HoldWatch(JOB_HOLD, RAMP)
    watch.take(held(10.0))
    watch.tick(11.0, None)
    assert watch.facts.expires_s == LASTS_S - RAMP_S - 1.0
    watch.tick(10.0 + LASTS_S - RAMP_S - 1.0, None)
    assert watch.facts.held
    watch.tick(10.0 + LASTS_S - RAMP_S, None)
    assert not watch.facts.held
    assert watch.expired


def test_a_word_that_the_channel_has_overtaken_does_not_come_back_when_it_falls_silent() -> None:
    """The unit was seen to leave its frequency: what was said before says nothing of now."""
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(1.0))
    watch.tick(2.0, None)
    watch.tick(3.0, 72.0)
    watch.tick(4.0, 60.0)
    assert watch.tick(5.0, 60.0) is True
    assert watch.tick(6.0, None) is False
    assert not watch.facts.held
    assert (watch.facts.told_by, watch.facts.actual_hz) == ("", None)
    watch.take(held(7.0))
    assert watch.tick(8.0, None) is True


def test_a_hold_confirmed_again_after_a_mistaken_stage_counts_since_it_is_said_to_be_held() -> None:
    """The unit's own test mode has run on all the while, and will end when it would have."""
    watch = HoldWatch(JOB_HOLD)
    watch.take(held(100.0))
    watch.tick(101.0, None)
    watch.take(Mark(t=1900.0, kind=MarkKind.STAGE_BEGUN, text="dryness"))
    watch.tick(1901.0, None)
    assert not watch.facts.held
    watch.take(Mark(t=1910.0, kind=MarkKind.FREQUENCY_HELD, frequency_hz=72.0, read_t=100.0))
    watch.tick(1911.0, None)
    assert watch.facts.held
    assert watch.facts.since_t == 100.0
    assert watch.facts.expires_s == 3600.0 - 1811.0


def test_a_hold_by_a_channel_keeps_its_clock_through_a_mistaken_stage() -> None:
    watch = HoldWatch(JOB_HOLD)
    watch.tick(100.0, 72.0)
    watch.take(Mark(t=1900.0, kind=MarkKind.STAGE_BEGUN, text="dryness"))
    assert watch.tick(1901.0, 72.0) is False
    assert watch.facts.since_t == 100.0
