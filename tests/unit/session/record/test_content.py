"""Rows that contradict each other, whatever the hashes say: a forger's would be right."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from chargeassist.model.events import Event, Mark, MarkKind, Reading, SessionStopped
from chargeassist.session.record.chain import row_of
from chargeassist.session.record.content import ContentCheck, Problems


def problems_of(events: list[Event]) -> tuple[str, ...]:
    problems = Problems()
    check = ContentCheck(problems)
    for seq, event in enumerate(events, start=1):
        check.see(row_of(seq, event))
    check.finish()
    return problems.all()


def test_a_whole_session_contradicts_itself_in_nothing(whole: list[Event]) -> None:
    assert problems_of(whole) == ()
    # Interrupted: what there is agrees.
    assert problems_of(whole[:150]) == ()


def _ended_twice(whole: list[Event]) -> list[Event]:
    return [*whole, whole[-1]]


def _a_mark_after_the_end(whole: list[Event]) -> list[Event]:
    return [*whole, Mark(t=whole[-1].t, kind=MarkKind.NOTE, text="it was settled")]


def _started_twice(whole: list[Event]) -> list[Event]:
    return [*whole[:9], whole[0], *whole[9:]]


def _no_start(whole: list[Event]) -> list[Event]:
    return whole[1:]


def _undeclared(whole: list[Event]) -> list[Event]:
    return [*whole[:-1], Reading(t=whole[-1].t, channel="superheat", value=6.0), whole[-1]]


def _back_in_time(whole: list[Event]) -> list[Event]:
    late = next(e for e in reversed(whole) if isinstance(e, Mark))
    return [*whole[:-1], replace(late, t=1.0), whole[-1]]


def _more_said_than_there_is(whole: list[Event]) -> list[Event]:
    stopped = whole[-1]
    assert isinstance(stopped, SessionStopped)
    return [*whole[:-1], replace(stopped, counts={**stopped.counts, "liquid_p": 101})]


def _less_said_than_there_is(whole: list[Event]) -> list[Event]:
    stopped = whole[-1]
    assert isinstance(stopped, SessionStopped)
    return [*whole[:-1], replace(stopped, counts={"liquid_p": 100})]


@pytest.mark.parametrize(
    ("forged", "told"),
    [
        (_a_mark_after_the_end, "comes after the end of the session"),
        (_ended_twice, "comes after the end of the session"),
        (_started_twice, "the session starts a second time"),
        (_no_start, "the first row is not the start of a session"),
        (_undeclared, "channel 'superheat' was never declared"),
        (_back_in_time, "time goes back to 1.0 s"),
        (_more_said_than_there_is, "101 readings said at the end, 100 found"),
        (_less_said_than_there_is, "0 readings said at the end, 100 found"),
    ],
)
def test_each_contradiction_is_told(
    whole: list[Event], forged: Callable[[list[Event]], list[Event]], told: str
) -> None:
    assert any(told in problem for problem in problems_of(forged(whole)))


def test_a_row_that_is_missing_is_told_by_its_number(whole: list[Event]) -> None:
    problems = Problems()
    check = ContentCheck(problems)
    for seq, event in enumerate(whole, start=1):
        if seq != 60:
            check.see(row_of(seq, event))
    assert "row 60 expected, row 61 came" in problems.all()
