"""The limits of a vacuum gauge, put together by hand."""

import math

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.physics.vacuum_gauge import GaugeLimits


def test_the_gauge_adds_what_its_limits_say() -> None:
    """JCGM 100: rectangular limits a / sqrt(3), k = 2: 10 % of 100 Pa, half a micron, 0.5 %."""
    gauge = GaugeLimits()
    half = 0.5 * PASCAL_PER_MICRON
    expected = 2.0 * math.sqrt(10.0**2 / 3.0 + half**2 / 3.0 + 0.5**2 + half**2)
    assert gauge.expanded_pa(100.0) == pytest.approx(expected)
    assert gauge.scatter_pa(0.0) == pytest.approx(half)
    with pytest.raises(ConfigError):
        GaugeLimits(water_most=0.5)
    with pytest.raises(ConfigError):
        GaugeLimits(resolution_pa=-1.0)
