"""A number as an instrument sent it, and whether it can be a reading at all."""

import math
from typing import Final

from chargeassist.model.units import Quantity

NO_NUMBER_FROM: Final = 9.9e37
"""From this size on a number says "no number": 9.9E37 is infinity and 9.91E37 is not-a-number.

Units: those of the value as sent. Reference: SCPI-1999 volume 1, numeric values (from memory).
"""


def why_no_reading(sent: float, value_si: float, quantity: Quantity) -> str:
    """Return why a number cannot be a reading, in words; empty if it can.

    Parameters
    ----------
    sent : float
        As the instrument sent it, in its own unit.
    value_si : float
        The same in SI.
    quantity : Quantity
        A temperature at or below absolute zero is refused: thermometers without a sensor send
        such numbers (-999).
    """
    if not math.isfinite(sent) or abs(sent) >= NO_NUMBER_FROM:
        return "no reading (not a number, or 9.9E37 and more)"
    if not math.isfinite(value_si):
        return "no reading (too large after conversion)"
    if quantity is Quantity.TEMPERATURE and value_si <= 0.0:
        return f"no reading ({sent:g} is below absolute zero)"
    return ""
