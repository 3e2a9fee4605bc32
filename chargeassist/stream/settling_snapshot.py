"""The state of the bank of hypotheses at one time, so that it can go back and judge again."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargeassist.stream.settling_noise import Ripple
from chargeassist.stream.settling_responses import Sums

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Snapshot:
    """State of a `TransientBank`; attributes not listed are those of the bank.

    Attributes
    ----------
    start : bool
        Whether the transient was a start.
    state : tuple of list
        Mean and covariance of the noise filter.
    response, sums : ndarray, Sums
        Copies from `Responses`.
    """

    t: float
    onset_t: float
    start: bool
    ripple: Ripple | None
    state: tuple[list[float], list[list[float]]]
    response: Floats
    sums: Sums
