"""Holes in a session and clocks that were set, as verifying tells them."""

from dataclasses import replace

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import (
    BadInput,
    ChannelDeclared,
    ClockSet,
    Event,
    Gap,
    Mark,
    MarkKind,
    Outcome,
    ProgramHeld,
    Reading,
    SessionResumed,
    SessionStopped,
    SourceBack,
    SourceLost,
)
from chargeassist.qa.continuity import STEPS_TOLD, Continuity


def test_what_was_lost_when_the_program_ended_is_lost_until_it_goes_on() -> None:
    seen = Continuity()
    for event in (
        SourceLost(t=10.0, source="rig", reason="cable out"),
        SessionResumed(t=40.0, away_s=12.0),
        SessionStopped(t=70.0, outcome=Outcome.COMPLETE),
    ):
        seen.see(event)
    seen.finish()
    assert seen.gaps == ["rig: lost from 0:10 for 30 s", "0:40: resumed after 12 s away"]


def test_holes_and_clock_steps_are_told() -> None:
    channel = Channel(name="p", role=Role.LIQUID_PRESSURE, unit="psig", max_age_s=5.0)
    seen = Continuity()
    for event in (
        ChannelDeclared(t=0.0, channel=channel),
        Reading(t=0.0, channel="p", value=1.0, device_time=100.0),
        Reading(t=4.0, channel="p", value=1.0, device_time=104.5),
        Reading(t=20.0, channel="p", value=1.0, device_time=120.0),
        Reading(t=21.0, channel="p", value=1.0, device_time=3721.0),
        SourceLost(t=21.0, source="rig", reason="cable out"),
        SourceBack(t=25.0, source="rig"),
        Gap(t=25.0, source="rig", dropped=4),
        BadInput(t=25.0, source="rig", reason="no number", count=3),
        SessionResumed(t=40.0, away_s=None),
        SessionResumed(t=50.0, away_s=8.0),
        ClockSet(t=51.0, step_s=-3600.0),
        ProgramHeld(t=52.0, held_s=90.0, asleep=True),
        ProgramHeld(t=53.0, held_s=4.0, asleep=False),
        SourceLost(t=60.0, source="other", reason="cable out"),
        SessionStopped(t=70.0, outcome="complete"),  # type: ignore[arg-type]
    ):
        seen.see(event)
    seen.finish()
    assert seen.clock_steps == [
        "0:21: p: the device's clock moved by +3600.0 s",
        "0:40: resumed, and the wall clock contradicts the record",
        "0:51: the computer's clock was set by -3600 s",
    ]
    assert seen.gaps == [
        "rig: lost from 0:21 for 4 s",
        "0:50: resumed after 8 s away",
        "0:52: the computer slept for 90 s until then",
        "0:53: the program was stopped or the computer too busy for 4 s until then",
        "other: lost from 1:00 for 10 s, to the end",
        "p: silent for more than 5 s 2 times, longest 49 s from 0:21",
        "rig: 4 readings were dropped",
        "rig: 3 inputs could not be read",
    ]


def _told(*events: Event) -> tuple[list[str], list[str]]:
    """Return gaps and steps of clocks of a session with one channel, "p"."""
    channel = Channel(name="p", role=Role.LIQUID_PRESSURE, unit="psig", max_age_s=20.0)
    seen = Continuity()
    for event in (ChannelDeclared(t=0.0, channel=channel), *events):
        seen.see(event)
    seen.finish()
    return seen.gaps, seen.clock_steps


def _sent(t: float, device_time: float | None, quality: Quality = Quality.GOOD) -> Reading:
    return Reading(t=t, channel="p", value=1.0, device_time=device_time, quality=quality)


def test_a_remembered_value_is_no_sign_of_life_and_sets_no_clock() -> None:
    old = _sent(1.0, 100.0, Quality.RETAINED)  # as a broker had it an hour ago
    assert _told(old, _sent(2.0, 3702.0), _sent(3.0, 3703.0)) == ([], [])
    gaps, _ = _told(old, *(replace(old, t=15.0 * n) for n in range(1, 4)), _sent(46.0, 3746.0))
    assert gaps == ["p: silent for more than 20 s once, longest 46 s from 0:00"]


def test_readings_sent_together_are_no_step_of_a_clock() -> None:
    packs = [
        _sent(10.0 * pack + 0.001 * n, 1000.0 + 10.0 * pack + n - 9.0)
        for pack in range(1, 4)
        for n in range(10)
    ]
    assert _told(*packs) == ([], [])
    late = [replace(each, device_time=(each.device_time or 0.0) - 3600.0) for each in packs[20:]]
    step = "0:30: p: the device's clock moved by -3600.0 s"
    assert _told(*packs[:20], *late) == ([], [step])


def test_steps_of_a_clock_beyond_those_told_are_counted() -> None:
    wild = [_sent(float(n), 100.0 * (n % 2)) for n in range(100)]
    _, steps = _told(*wild)
    assert len(steps) == STEPS_TOLD + 1
    assert steps[-1] == f"p: the device's clock moved {99 - STEPS_TOLD} times more"


def test_a_channel_that_fell_silent_before_an_interruption_is_told() -> None:
    note = Mark(t=900.0, kind=MarkKind.NOTE, text="no reading any more")
    silent = "p: silent for more than 20 s once, longest 895 s from 0:05"
    assert _told(_sent(5.0, None), note)[0] == [silent]
    ended = SessionStopped(t=900.0, outcome=Outcome.ABANDONED)
    assert _told(_sent(5.0, None), note, ended)[0] == [silent]
