"""The bank of hypotheses as it stood at one time: enough to go back and judge anew."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargeassist.stream.settling_noise import Ripple
from chargeassist.stream.settling_responses import Sums

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Snapshot:
    """Attributes are those of `TransientBank`.

    Attributes
    ----------
    start : bool
        Whether a start was being judged, which creeps for longer.
    state : tuple of list
        Of the noise filter.
    response, sums
        Of `Responses`.
    """

    t: float
    onset_t: float
    start: bool
    ripple: Ripple | None
    state: tuple[list[float], list[list[float]]]
    response: Floats
    sums: Sums
