"""The newest values: mean, highest, span."""

import random

import pytest

from chargeassist.stream.recent import HighestOfRecent, RecentMean, span


def test_recent_mean_is_of_the_span() -> None:
    recent = RecentMean(30.0)
    assert recent.mean() is None
    for t in range(60):
        recent.add(float(t), 2.0 * t)
        recent.forget_before(float(t))
    assert recent.mean() == pytest.approx(2.0 * 44.0)
    recent.forget_before(100.0)
    assert recent.mean() is None
    recent.add(101.0, 5.0)
    recent.clear()
    assert recent.mean() is None


@pytest.mark.parametrize("levels", [3, 1000])
def test_highest_of_recent_is_the_maximum_of_the_newest(levels: int) -> None:
    draw = random.Random(4)
    values = [draw.randrange(levels) / levels for _ in range(2000)]
    recent = HighestOfRecent(120)
    assert recent.highest is None
    for end, value in enumerate(values, start=1):
        recent.add(value)
        assert recent.highest == max(values[max(0, end - 120) : end])
    recent.clear()
    assert recent.highest is None
    recent.add(0.5)
    assert recent.highest == 0.5


def test_span() -> None:
    assert span([]) == span([3.0]) == 0.0
    assert span([3.0, 1.0, 2.0]) == 2.0
