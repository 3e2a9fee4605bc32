"""A range that counts as normal, and its source."""

import math
from dataclasses import dataclass

from chargeassist.model.quick_init import quick_init


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A range that counts as normal.

    Attributes
    ----------
    low_si, high_si : float
        [K, A or kg]; `low_si` is the smaller.
    basis : str
        Its source, in words.
    assumption : bool
        True for a general range, which many a fault does not leave; False if it was read from the
        unit's own documents or follows from this job's readings.
    """

    low_si: float
    high_si: float
    basis: str
    assumption: bool = True

    def __post_init__(self) -> None:
        if not (-math.inf < self.low_si < self.high_si < math.inf):
            raise ValueError(f"expected low < high, got {self.low_si} and {self.high_si}")


def around(middle_si: float, half_si: float, source: str) -> Expected:
    """Return a documented range: ``middle ± half``."""
    return Expected(
        low_si=middle_si - half_si, high_si=middle_si + half_si, basis=source, assumption=False
    )
