"""Readings that are typed a while after they were read."""

import pytest

from chargeassist.model.entries import Entry
from chargeassist.model.events import Mark, MarkKind
from chargeassist.stream.read_times import ReadTimes


def typed(t: float, read_t: float | None = None, entry: Entry = Entry.VACUUM) -> Mark:
    return Mark(t=t, kind=MarkKind.ENTERED, text=entry.value, value_si=300.0, read_t=read_t)


def test_an_earlier_time_counts_and_both_are_kept() -> None:
    mark = typed(300.0, 180.0)
    assert ReadTimes().take(mark)
    assert (mark.t, mark.seen_t) == (300.0, 180.0)
    assert typed(300.0).seen_t == 300.0


@pytest.mark.parametrize(
    ("mark", "says"),
    [
        (typed(300.0, 301.0), "a reading that has been taken, came one that is to be taken in 1 s"),
        (typed(300.0, -1.0), "since the session began, 300 s ago, came one 301 s ago"),
        (typed(300.0, 100.0), "after the last one of its kind, 200 s ago, came one 200 s ago"),
        (typed(300.0, 90.0), "after the last one of its kind"),
        (Mark(t=9.0, kind=MarkKind.NOTE, text="x", read_t=3.0), "only a typed reading"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(mark: Mark, says: str) -> None:
    times = ReadTimes()
    assert times.take(typed(100.0))
    assert says in times.refusal(mark)
    assert not times.take(mark)


def test_each_kind_has_an_order_of_its_own() -> None:
    times = ReadTimes()
    assert times.take(typed(200.0))
    assert times.take(typed(300.0, 150.0, Entry.LIQUID_PIPE))
    assert times.refusal(typed(310.0, 150.0, Entry.LIQUID_PIPE))


def test_a_frequency_may_have_been_held_since_earlier_but_not_since_before_it_was_left() -> None:
    times = ReadTimes()

    def held(since_t: float) -> Mark:
        return Mark(t=900.0, kind=MarkKind.FREQUENCY_HELD, frequency_hz=72.0, read_t=since_t)

    assert times.take(held(120.0))
    assert "has been taken" in times.refusal(held(901.0))
    assert "since the session began" in times.refusal(held(-1.0))
    assert times.take(Mark(t=500.0, kind=MarkKind.FREQUENCY_LEFT))
    assert "no longer held, 400 s ago, came 780 s ago" in times.refusal(held(120.0))
    assert times.take(held(600.0))
