"""The 90 % intervals of the outlook against distributions whose shares are known."""

import numpy as np
import pytest
from numpy.typing import NDArray

from chargeassist.stream.settling_outlook import interval

Floats = NDArray[np.float64]


def seconds(over: float) -> tuple[Floats, Floats]:
    """Return times and weights: this share is over, the rest lies evenly from 0 to 100 s."""
    rest = np.arange(0.05, 100.0, 0.1)
    weights = np.full(rest.size, (1.0 - over) / rest.size)
    return np.append(rest, 0.0), np.append(weights, over)


@pytest.mark.parametrize("over", [0.0, 0.03, 0.06, 0.3, 0.6, 0.88])
def test_it_holds_ninety_per_cent_whatever_share_is_over(over: float) -> None:
    times, weights = seconds(over)
    found = interval(times, weights, floor=0.0)
    held = float(weights[(times >= found.low) & (times <= found.high)].sum())
    assert held == pytest.approx(0.9, abs=0.003)


@pytest.mark.parametrize("over", [0.06, 0.3, 0.6])
def test_it_begins_on_the_floor_and_ends_where_ninety_per_cent_are_over(over: float) -> None:
    found = interval(*seconds(over), floor=0.0)
    assert found.low == 0.0
    assert found.high == pytest.approx(100.0 * (0.9 - over) / (1.0 - over), abs=0.2)
    middle = 100.0 * (0.5 - over) / (1.0 - over)
    assert found.value == pytest.approx(max(middle, 0.0), abs=0.2)


def test_a_share_on_the_floor_that_is_smaller_than_a_tail_counts_as_below() -> None:
    found = interval(*seconds(0.03), floor=0.0)
    assert found.low == pytest.approx(100.0 * 0.02 / 0.97, abs=0.2)
    assert found.high == pytest.approx(100.0 * 0.92 / 0.97, abs=0.2)


def test_what_is_all_but_certainly_over_is_over_exactly() -> None:
    assert interval(*seconds(0.95), floor=0.0) == (0.0, 0.0, 0.0)


def test_without_a_floor_five_per_cent_lie_on_either_side() -> None:
    found = interval(*seconds(0.0))
    assert found == pytest.approx((50.0, 5.0, 95.0), abs=0.2)
