"""One column of the maker's performance table, copied for today's weather."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL

LIQUID_TOLERANCE_PA = USUAL[LimitKey.COLUMN_LIQUID_PRESSURE].value_si
SUCTION_TOLERANCE_PA = USUAL[LimitKey.COLUMN_SUCTION_PRESSURE].value_si
DISCHARGE_TOLERANCE_K = USUAL[LimitKey.COLUMN_DISCHARGE].value_si
SPLIT_TOLERANCE_K = USUAL[LimitKey.SPLIT_TOLERANCE].value_si
"""Half widths used if neither the table nor the job's limits give one [Pa], [K]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Performance:
    """One column of the table; what was not copied is None.

    Attributes
    ----------
    source : str
        Where it was read; never empty.
    outdoor_k : float
        Outdoor air of the column [K].
    return_k : float or None
        Return air of the column [K]; given if there is a suction pressure.
    liquid_pressure_pa_gauge, suction_pressure_pa_gauge : float or None
        At sea level, as such tables are printed [Pa].
    discharge_temp_k, air_split_k : float or None
        [K].
    liquid_tolerance_pa, suction_tolerance_pa, discharge_tolerance_k, split_tolerance_k : float
        Half widths the maker allows, or else limits of the job [Pa], [K].
    tolerances : mapping of str to str
        For each tolerance the table does not give, by its figure ("air_split"): the limit used
        instead, with its source.
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
    tolerances: Mapping[str, str] = field(default_factory=dict)

    def source_of(self, name: str) -> tuple[str, ...]:
        """Return the sources of one figure and of its tolerance."""
        told = self.tolerances.get(name)
        return (self.source,) if told is None else (self.source, told)
