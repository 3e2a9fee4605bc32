from collections.abc import Callable

from chargeassist.testing import CollectingSink, JumpClock
from chargeassist_adapters.conversion import Fault
from chargeassist_adapters.faults import FAULTS_PER_SECOND, FaultGate


class Timer:
    """Stands in for loop.call_later; rings by hand."""

    def __init__(self) -> None:
        self.calls: list[Callable[[], None]] = []
        self.cancelled = 0

    def __call__(self, delay: float, call: Callable[[], None]) -> "Timer":
        assert delay == 1.0
        self.calls.append(call)
        return self

    def cancel(self) -> None:
        self.cancelled += 1


async def gate_and_sink() -> tuple[FaultGate, CollectingSink, JumpClock, Timer]:
    clock, timer = JumpClock(), Timer()
    sink = CollectingSink("s", clock)
    return FaultGate(sink, clock, later=timer), sink, clock, timer


async def test_the_first_five_of_a_second_pass_and_the_rest_are_counted() -> None:
    gate, sink, clock, timer = await gate_and_sink()
    for i in range(1000):
        gate.report(Fault("line noise", f"junk {i}".encode()))
    assert len(sink.bad) == FAULTS_PER_SECOND
    timer.calls[0]()
    assert len(timer.calls) == 1
    assert len(sink.bad) == FAULTS_PER_SECOND + 1
    assert sink.bad[-1].count == 995
    assert sink.bad[-1].raw == "junk 999"
    assert sink.bad[-1].reason == "line noise"
    assert sum(b.count for b in sink.bad) == 1000
    del clock


async def test_no_more_than_five_a_second_over_a_minute_and_none_is_lost() -> None:
    gate, sink, clock, _ = await gate_and_sink()
    for i in range(6000):
        clock.t = i / 100.0
        gate.report(Fault("line noise"))
    gate.flush()
    assert sum(b.count for b in sink.bad) == 6000
    for second in range(60):
        inside = [b for b in sink.bad if second <= b.t < second + 1]
        assert len(inside) <= FAULTS_PER_SECOND + 1  # the last second also has the final flush
    assert len(sink.bad) <= 60 * FAULTS_PER_SECOND + 1


async def test_slow_faults_all_pass_as_they_are() -> None:
    gate, sink, clock, timer = await gate_and_sink()
    for i in range(20):
        clock.t = float(i)
        gate.report(Fault(f"fault {i}"))
    assert [b.reason for b in sink.bad] == [f"fault {i}" for i in range(20)]
    assert timer.calls == []


async def test_held_faults_of_several_kinds_say_so() -> None:
    gate, sink, _, _ = await gate_and_sink()
    for i in range(10):
        gate.report(Fault(f"fault {i}"))
    gate.flush()
    assert sink.bad[-1].count == 5
    assert sink.bad[-1].reason == "various faults, the last: fault 9"


async def test_reasons_are_made_plain() -> None:
    gate, sink, _, _ = await gate_and_sink()
    gate.report(Fault("got '\x1b[2J'", b"\x1b[2J\xff"))
    assert "\x1b" not in sink.bad[0].reason
    assert "\x1b" not in sink.bad[0].raw


async def test_flushing_nothing_says_nothing() -> None:
    gate, sink, _, _ = await gate_and_sink()
    gate.flush()
    assert sink.events == []
