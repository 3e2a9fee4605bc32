"""The reversing valve of a heat pump between its ends: gas passes by the standing compressor."""

import math
from typing import Final

from chargeassist.plant.high_side import HighSide
from chargeassist.plant.low_side import LowSide
from chargeassist.plant.unit import Unit

SHARE: Final = 0.6
"""Gas through it at a megapascal, as a share of the design flow: the pressures of a standing
machine meet in about half a minute (assumption)."""

LARGEST_SHARE: Final = 0.02
"""Most of either side's refrigerant that passes in one step [1]."""


def past_the_compressor(
    high: HighSide, low: LowSide, unit: Unit, dt_s: float
) -> tuple[float, float]:
    """Return flow from high to low side, negative backwards, and its enthalpy [kg/s], [J/kg]."""
    drop_pa = high.pressure_pa_abs - low.pressure_pa_abs
    # With the root of the drop, and with the drop itself where the root is too steep to follow.
    flow = SHARE * unit.flow_kg_per_s * drop_pa / math.sqrt(1e6 * (abs(drop_pa) + 5e4))
    most = LARGEST_SHARE * min(high.mass_kg, low.mass_kg) / dt_s
    flow = min(max(flow, -most), most)
    return flow, high.dew_j_per_kg if flow >= 0.0 else low.dew_j_per_kg
