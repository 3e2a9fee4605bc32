"""What the maker's performance table says of the unit, read at one column of its weather."""

from dataclasses import dataclass

from chargeassist.model.units import KELVIN_PER_FAHRENHEIT, PASCAL_PER_PSI

LIQUID_TOLERANCE_PA = 10.0 * PASCAL_PER_PSI
SUCTION_TOLERANCE_PA = 5.0 * PASCAL_PER_PSI
"""Plus or minus 10 psi on the high side and 5 on the low side: maker's tables of normal operating
pressures, easymanua.ls/lennox/sca-series/manual?p=37; another maker prints 10 and 4,
manualshive.com/ru/manual/bard/w48a12/2707107?page=22 [Pa]."""

DISCHARGE_TOLERANCE_K = 10.0 * KELVIN_PER_FAHRENHEIT
SPLIT_TOLERANCE_K = 3.0 * KELVIN_PER_FAHRENHEIT
"""The split as California Reference Appendix RA3.2 (2008) allows an installer; the discharge line
by common practice, no published source [K]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Performance:
    """One column of the table; None where it was not read.

    Attributes
    ----------
    source : str
        Where it was read; never empty.
    outdoor_k : float
        Outdoor air of the column [K].
    return_k : float or None
        Return air of the column [K]; there with a suction pressure.
    liquid_pressure_pa_gauge, suction_pressure_pa_gauge : float or None
        At sea level, as such tables are printed [Pa].
    discharge_temp_k, air_split_k : float or None
    liquid_tolerance_pa, suction_tolerance_pa, discharge_tolerance_k, split_tolerance_k : float
        What the maker allows.
    """

    source: str
    outdoor_k: float
    return_k: float | None = None
    liquid_pressure_pa_gauge: float | None = None
    suction_pressure_pa_gauge: float | None = None
    discharge_temp_k: float | None = None
    air_split_k: float | None = None
    liquid_tolerance_pa: float = LIQUID_TOLERANCE_PA
    suction_tolerance_pa: float = SUCTION_TOLERANCE_PA
    discharge_tolerance_k: float = DISCHARGE_TOLERANCE_K
    split_tolerance_k: float = SPLIT_TOLERANCE_K
