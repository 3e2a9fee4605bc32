"""What enters a session: stamped once, in order, bounded, counted."""

import asyncio
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import (
    BadInput,
    ChannelDeclared,
    Gap,
    InputEvent,
    Mark,
    MarkKind,
    Reading,
    SourceBack,
    SourceLost,
)
from chargeassist.session.intake import TAKEN_AT_ONCE, Heartbeat, Intake, SourceSink

TEMP = Channel(name="liquid_t", role=Role.LIQUID_TEMPERATURE, unit="°F", source="rig")


class StillClock:
    def __init__(self, t: float = 0.0) -> None:
        self.t = t

    def now(self) -> float:
        return self.t

    async def sleep_until(self, t: float) -> None:
        self.t = t


def reading(t: float, value: float = 300.0) -> Reading:
    return Reading(t=t, channel="liquid_t", value=value)


def waiting(intake: Intake) -> list[InputEvent | Heartbeat]:
    """Take what is there, or nothing."""

    async def take() -> list[InputEvent | Heartbeat]:
        intake.close()
        return await intake.take()

    return asyncio.run(take())


def made_sink(limit: int = 100) -> tuple[Intake, StillClock, SourceSink]:
    intake, clock = Intake(limit=limit), StillClock()
    return intake, clock, SourceSink(intake, clock, "rig", (TEMP,))


def test_times_never_go_back_and_are_whole_milliseconds() -> None:
    intake = Intake(start_t=2.00049)
    for t in (1.0, 2.0004, 2.1239999, 2.1, -0.0):
        intake.put(reading(t))
    assert [item.t for item in waiting(intake)] == [2.0, 2.0, 2.124, 2.124, 2.124]


def test_a_heartbeat_stands_between_the_events_it_came_between() -> None:
    intake = Intake()
    intake.put(reading(0.9))
    intake.heartbeat(1.0)
    intake.put(reading(0.95))
    intake.heartbeat(0.5)
    kinds = [(type(item).__name__, item.t) for item in waiting(intake)]
    # The late reading may not come before the tick that has fired; a late heartbeat is nothing.
    assert kinds == [("Reading", 0.9), ("Heartbeat", 1.0), ("Reading", 1.0)]


def test_beyond_the_bound_the_oldest_readings_go_and_are_counted() -> None:
    intake = Intake(limit=10)
    intake.put(ChannelDeclared(t=0.0, channel=TEMP))
    intake.put(Mark(t=0.0, kind=MarkKind.STEP_BEGUN))
    for k in range(20):
        intake.put(reading(1.0 + k, value=float(k)))
    intake.put(Mark(t=30.0, kind=MarkKind.STEP_ENDED))
    gap, declared, begun, *readings, ended = waiting(intake)
    assert gap == Gap(t=0.0, source="rig", dropped=12)
    assert isinstance(declared, ChannelDeclared)
    assert isinstance(begun, Mark)
    assert isinstance(ended, Mark)
    assert [r.value for r in readings if isinstance(r, Reading)] == [
        float(k) for k in range(12, 20)
    ]


def test_marks_alone_are_never_let_go() -> None:
    intake = Intake(limit=3)
    for k in range(10):
        intake.put(Mark(t=float(k), kind=MarkKind.NOTE, text=str(k)))
    intake.put(reading(11.0))
    intake.put(reading(12.0))
    *marks, last = [item for item in waiting(intake) if not isinstance(item, Gap)]
    assert [m.text for m in marks if isinstance(m, Mark)] == [str(k) for k in range(10)]
    assert last.t == 12.0


async def test_a_source_that_let_readings_go_is_told_at_once_even_in_silence() -> None:
    intake, _, sink = made_sink()
    sink.dropped(0)
    sink.dropped(3)
    sink.dropped(4)
    done = asyncio.create_task(intake.processed())
    await asyncio.sleep(0)
    assert not done.done(), "time may not go on before the gap is recorded"
    assert await intake.take() == [Gap(t=0.0, source="rig", dropped=7)]
    intake.done()
    await asyncio.wait_for(done, 1.0)


async def test_what_is_let_go_is_told_once_a_second_and_at_the_end_and_all_of_it() -> None:
    intake = Intake()
    told = []
    for number in range(1, 36):
        intake.dropped("rig", 1)
        intake.heartbeat(number / 10)
        told += [item for item in await intake.take() if isinstance(item, Gap)]
        intake.done()
        await asyncio.wait_for(intake.processed(), 1.0)
    assert [gap.t for gap in told] == [0.1, 1.1, 2.1, 3.1]
    intake.put(Mark(t=3.6, kind=MarkKind.NOTE))
    intake.close()
    told += [item for item in await intake.take() if isinstance(item, Gap)]
    assert sum(gap.dropped for gap in told) == 35


async def test_processed_waits_for_what_came_while_processing() -> None:
    intake = Intake()
    intake.put(reading(1.0))
    await intake.take()
    intake.put(reading(2.0))
    intake.done()
    waiter = asyncio.create_task(intake.processed())
    await asyncio.sleep(0)
    assert not waiter.done()
    await intake.take()
    intake.done()
    await asyncio.wait_for(waiter, 1.0)


async def test_take_waits_and_a_closed_intake_takes_nothing_more() -> None:
    intake = Intake()
    taking = asyncio.create_task(intake.take())
    await asyncio.sleep(0)
    assert not taking.done()
    intake.put(reading(1.0))
    assert await taking == [reading(1.0)]
    intake.close()
    intake.put(reading(2.0))
    intake.heartbeat(3.0)
    assert await intake.take() == []


async def test_a_long_queue_is_taken_in_parts_with_room_for_others_between() -> None:
    intake = Intake(limit=3 * TAKEN_AT_ONCE)
    for number in range(2 * TAKEN_AT_ONCE):
        intake.put(reading(float(number)))
    waiter = asyncio.create_task(intake.processed())
    got = await intake.take()
    assert len(got) == TAKEN_AT_ONCE
    intake.done()
    for number in range(2 * TAKEN_AT_ONCE, 5 * TAKEN_AT_ONCE):  # more than there is room for
        asyncio.get_running_loop().call_soon(intake.put, reading(float(number)))
    while len(got) < 4 * TAKEN_AT_ONCE + 1:
        assert not waiter.done()
        got += await intake.take()
        intake.done()
    await asyncio.wait_for(waiter, 1.0)
    gaps = [item for item in got if isinstance(item, Gap)]
    assert [gap.dropped for gap in gaps] == [TAKEN_AT_ONCE], "what was not taken could be let go"
    times = [item.t for item in got if not isinstance(item, Gap)]
    assert times == sorted(times)
    assert times[-1] == 5 * TAKEN_AT_ONCE - 1


@given(st.lists(st.tuples(st.floats(-10, 1e4), st.sampled_from("rmh")), max_size=60))
def test_order_in_is_order_out(plan: list[tuple[float, str]]) -> None:
    intake = Intake()
    put: list[str] = []
    for number, (t, kind) in enumerate(plan):
        if kind == "h":
            intake.heartbeat(t)
        elif kind == "r":
            intake.put(reading(t, value=float(number)))
            put.append(f"{number}.0")
        else:
            intake.put(Mark(t=t, kind=MarkKind.NOTE, text=str(number)))
            put.append(str(number))
    items = waiting(intake)
    times = [item.t for item in items]
    assert times == sorted(times)
    out = [
        str(item.value) if isinstance(item, Reading) else item.text
        for item in items
        if isinstance(item, Reading | Mark)
    ]
    assert out == put


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_value_that_is_no_number_becomes_bad_input(value: float) -> None:
    intake, _, sink = made_sink()
    sink.reading("liquid_t", value)
    (item,) = waiting(intake)
    assert isinstance(item, BadInput)
    assert "liquid_t: expected a finite number" in item.reason


@pytest.mark.parametrize("t", [math.nan, math.inf, -math.inf])
def test_a_time_that_is_no_number_becomes_bad_input_and_spoils_no_other(t: float) -> None:
    intake, clock, sink = made_sink()
    clock.t = 5.0
    sink.reading("liquid_t", 300.0, t=t)
    sink.reading("liquid_t", 301.0, t=6.0)
    bad, good = waiting(intake)
    assert isinstance(bad, BadInput)
    assert bad.t == 5.0
    assert good == reading(6.0, 301.0)


def test_a_channel_nobody_declared_becomes_bad_input_made_plain() -> None:
    intake, _, sink = made_sink()
    sink.reading("liq\x1b[2Juid\u202e", 1.0)
    (item,) = waiting(intake)
    assert isinstance(item, BadInput)
    assert item.source == "rig"
    assert "declared" in item.reason
    assert "\x1b" not in item.reason
    assert "\u202e" not in item.reason


def test_a_device_time_that_is_no_number_is_left_out() -> None:
    intake, _, sink = made_sink()
    sink.reading("liquid_t", 300.0, device_time=math.nan)
    assert waiting(intake) == [reading(0.0)]


def test_a_value_is_kept_as_finely_as_a_record_keeps_it() -> None:
    intake, _, sink = made_sink()
    sink.reading("liquid_t", 300.123456)
    sink.reading("liquid_t", -0.00001)
    first, second = waiting(intake)
    assert isinstance(first, Reading)
    assert isinstance(second, Reading)
    assert first.value == 300.1235
    # The record cannot hold a negative zero, so a replay could not repeat one.
    assert math.copysign(1.0, second.value) == 1.0


def test_lost_and_back_count_once_until_the_other_comes() -> None:
    intake, clock, sink = made_sink()
    sink.back()
    for t in (1.0, 2.0):
        clock.t = t
        sink.lost("cable \x07 out")
    for t in (3.0, 4.0):
        clock.t = t
        sink.back()
    sink.lost("again")
    assert waiting(intake) == [
        SourceLost(t=1.0, source="rig", reason="cable · out"),
        SourceBack(t=3.0, source="rig"),
        SourceLost(t=4.0, source="rig", reason="again"),
    ]


def test_a_part_of_a_source_is_lost_and_back_by_itself() -> None:
    intake, clock, sink = made_sink()
    for t, part in ((1.0, "device 2"), (2.0, "device 3"), (3.0, "device 2"), (4.0, "")):
        clock.t = t
        sink.lost("silent", part=part)
    sink.back(part="device 3")
    sink.back(part="device 4")
    sink.back()
    assert waiting(intake) == [
        SourceLost(t=1.0, source="rig, device 2", reason="silent"),
        SourceLost(t=2.0, source="rig, device 3", reason="silent"),
        SourceLost(t=4.0, source="rig", reason="silent"),
        SourceBack(t=4.0, source="rig, device 3"),
        SourceBack(t=4.0, source="rig"),
    ]


def test_what_a_device_sent_is_kept_plain_and_short() -> None:
    intake, _, sink = made_sink()
    sink.bad_input("x" * 999, b"\xff\x1b]0;title\x07" + b"y" * 999, count=3)
    (item,) = waiting(intake)
    assert isinstance(item, BadInput)
    assert item.count == 3
    assert len(item.reason) == 200
    assert len(item.raw) <= 120
    assert "\x1b" not in item.raw


def test_a_recorded_event_keeps_its_time() -> None:
    intake, _, sink = made_sink()
    mark = Mark(t=12.345, kind=MarkKind.STEP_BEGUN)
    sink.event(mark)
    assert waiting(intake) == [mark]


async def test_what_waits_does_not_grow_however_much_comes_in_a_turn() -> None:
    intake = Intake()
    in_a_turn, longest, taken = 4 * TAKEN_AT_ONCE, 0, 0
    for turn in range(50):
        for number in range(in_a_turn):
            intake.put(reading(float(turn * in_a_turn + number)))
        taken += len(await intake.take())
        longest = max(longest, (turn + 1) * in_a_turn - taken)
        intake.done()
    assert longest < 2 * in_a_turn
    assert not any(isinstance(item, Gap) for item in await intake.take())
