"""Readings kept as columns: what counts as plain, and that each comes out as the event it is."""

import math

import pytest

from chargeassist.model.channels import Quality
from chargeassist.model.events import Reading
from chargeassist.model.reading_run import ReadingRun


def run(
    times: list[float], values: list[float], qualities: list[Quality] | None = None
) -> ReadingRun:
    return ReadingRun(times=times, channels=["p"] * len(times), values=values, qualities=qualities)


def test_each_comes_out_as_the_event_it_is() -> None:
    kept = run([1.0, 2.0], [5.0, 6.0], [Quality.GOOD, Quality.RANGE])
    assert list(kept) == [
        Reading(t=1.0, channel="p", value=5.0),
        Reading(t=2.0, channel="p", value=6.0, quality=Quality.RANGE),
    ]
    assert len(kept) == 2
    assert not kept.is_plain(10.0)


def test_good_readings_in_order_and_within_bounds_are_plain() -> None:
    assert run([1.0, 1.0, 2.0], [5.0, -10.0, 10.0]).is_plain(10.0)
    assert not run([], []).is_plain(10.0)


@pytest.mark.parametrize(
    ("times", "values"),
    [
        ([2.0, 1.0], [5.0, 5.0]),
        ([1.0, 2.0], [5.0, 10.1]),
        ([1.0, 2.0], [-10.1, 5.0]),
        ([1.0, 2.0], [math.nan, 5.0]),
        ([1.0, 2.0], [5.0, math.nan]),
        ([1.0, 2.0], [5.0, math.inf]),
        ([math.nan], [5.0]),
        ([1.0, math.nan, 2.0], [5.0, 5.0, 5.0]),
    ],
)
def test_what_is_none_goes_back_or_is_beyond_is_not_plain(
    times: list[float], values: list[float]
) -> None:
    assert not run(times, values).is_plain(10.0)
