"""A number as an instrument sent it, and whether it can be a reading at all."""

import math
from typing import Final

from chargeassist.model.units import Quantity

NO_NUMBER_FROM: Final = 1e20
"""From this size on a number says "no number".

Units: those of the value as sent; nothing that is measured here comes near it in any of them.
References: 9.9E37 is infinity and 9.91E37 is not-a-number (SCPI-1999 volume 1, numeric values, from
memory); +999999E+19 is the overload of a scale (manual of A&D's GH series, section 10.6).
"""

COLDEST_K: Final = 150.0
"""No reading of a temperature is as cold as this [K], and no pipe, coil or air of the trade.

References: a thermometer of one wire that is not there is told as -127 °C or -196.6 °F, and its
faults as -252 to -254 °C (``DEVICE_DISCONNECTED_C``, ``DEVICE_FAULT_OPEN_C`` and others in
DallasTemperature.h, version 4); the rest of the distance is for an offset.
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
        A temperature at or below `COLDEST_K` is refused: thermometers without a sensor send
        such numbers (-127, -999).
    """
    if not math.isfinite(sent) or abs(sent) >= NO_NUMBER_FROM:
        return "no reading (not a number, or 1e20 and more)"
    if not math.isfinite(value_si):
        return "no reading (too large after conversion)"
    if quantity is Quantity.TEMPERATURE and value_si <= 0.0:
        return f"no reading ({sent:g} is below absolute zero)"
    if quantity is Quantity.TEMPERATURE and value_si <= COLDEST_K:
        return f"no reading ({sent:g} is colder than any pipe: no sensor?)"
    return ""
