"""The limit of a rise test, and what the test is made with."""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.physics.vacuum_gauge import GaugeLimits

STEADY_HOLDS: Final = 10.0
"""A steady rise counts as a leak when it alone would pass the limit within so many holds
(assumption, replaced by `RiseSettings.leak_pa_per_s`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RiseSettings:
    """The limit that counts, and what the test is made with.

    Attributes
    ----------
    limit_pa_abs : float
        Not to be passed within the hold [Pa absolute].
    hold_s : float
        From isolation on [s].
    skip_s : float
        Left out after isolation: equalisation [s]; 60 to 120 s (common practice, no published
        source).
    gauge : GaugeLimits
    by_hand : bool
        Each reading was read off and typed, minutes apart: each counts by itself.
    leak_pa_per_s : float or None
        Steady rise from which it is called a leak; None: `STEADY_HOLDS` [Pa/s].

    Raises
    ------
    ConfigError
        A figure is not above zero, or the hold ends before it begins to count.
    """

    limit_pa_abs: float
    hold_s: float
    gauge: GaugeLimits
    skip_s: float = 120.0
    by_hand: bool = False
    leak_pa_per_s: float | None = None

    def __post_init__(self) -> None:
        if not 0.0 < self.limit_pa_abs < 1e5:
            raise ConfigError(
                f"expected a limit of the rise test from 0 to 100 kPa absolute, came "
                f"{self.limit_pa_abs:g} Pa; take it from the unit's instructions"
            )
        if not 0.0 <= self.skip_s < self.hold_s < math.inf:
            raise ConfigError(
                f"expected a hold longer than the {self.skip_s:g} s of equalisation, came "
                f"{self.hold_s:g} s"
            )
        if self.leak_pa_per_s is not None and not 0.0 < self.leak_pa_per_s < math.inf:
            raise ConfigError("leak_pa_per_s: expected a rise above zero, or nothing")

    @property
    def steady_pa_per_s(self) -> float:
        """Steady rise that counts as a leak [Pa/s]."""
        if self.leak_pa_per_s is not None:
            return self.leak_pa_per_s
        return self.limit_pa_abs / (STEADY_HOLDS * self.hold_s)
