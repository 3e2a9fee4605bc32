"""Target superheat of a unit with a fixed orifice, from a published table.

The maker's own chart for the unit comes first; this table is for units whose chart is lost. Where
the table prints a dash there is no valid test: the charge must be weighed in.

References
----------
.. [1] Equipment installation manual with fixed-orifice superheat values, tolerance 5 °F, page 26:
   homeappliance.manualsonline.com/manuals/mfg/lennox_international_inc/merit_series_14acx_units.html
.. [2] Equipment installation manual, superheat charging table in °F and °C, page 9:
   manuals.online/carrier/heat-pump/38vta040/dimensions-and-installation-guide/19xq4
.. [3] Equipment installation manual, superheat charging table in °C, page 10:
   manualshive.com/en/manual/carrier/38tua/2561896
.. [4] California Title 24, Reference Residential Appendix RA3.2 (2008), superheat charging method.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.channels import TEMP_ROUNDING_K
from chargeassist.model.display import FAHRENHEIT_AT_0_C, fahrenheit_from_kelvin
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import KELVIN_AT_0_C, KELVIN_PER_FAHRENHEIT
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import expanded_from_half_width

OUTDOOR_F: Final = tuple(range(40, 120, 5))
"""Outdoor dry bulb of the rows [°F]."""

WET_BULB_F: Final = tuple(range(50, 78, 2))
"""Return-air wet bulb of the columns [°F]."""

_TABLE_TEXT: Final = """
15 18 20 23 26 29 32 34 38 41 43 46 48 51
13 16 18 21 24 27 30 33 36 39 41 44 46 49
11 14 16 19 22 25 28 31 34 37 39 42 44 47
 9 12 14 17 20 23 27 30 33 36 38 40 42 44
 7 10 12 15 18 21 24 27 30 33 35 38 40 43
 -  6 10 13 16 19 21 24 27 30 33 36 38 41
 -  -  7 10 13 16 19 21 24 27 30 33 36 39
 -  -  -  6  9 12 15 18 21 24 28 31 34 37
 -  -  -  -  5  8 12 15 18 21 25 28 31 35
 -  -  -  -  -  -  8 11 15 19 22 26 30 33
 -  -  -  -  -  -  5  9 13 16 20 24 27 31
 -  -  -  -  -  -  -  6 10 14 18 22 25 29
 -  -  -  -  -  -  -  -  8 12 16 21 24 28
 -  -  -  -  -  -  -  -  5  9 13 17 22 26
 -  -  -  -  -  -  -  -  -  6 11 15 20 25
 -  -  -  -  -  -  -  -  -  -  8 14 18 24
"""

TABLE_F: Final[tuple[tuple[int | None, ...], ...]] = tuple(
    tuple(None if cell == "-" else int(cell) for cell in line.split())
    for line in _TABLE_TEXT.strip().splitlines()
)
"""Target superheat [°F], shape (16, 14): rows by `OUTDOOR_F`, columns by `WET_BULB_F`; None for a
dash. As printed in [1]_. Other printings differ by 1 °F in rows 55, 60, 100 and 115 °F ([2]_, [3]_;
the cells are listed in the tests); `TABLE_HALF_WIDTH_K` covers that."""

TABLE_HALF_WIDTH_K: Final = 1.5 * KELVIN_PER_FAHRENHEIT
"""What the table itself leaves open, plus or minus [K]: whole degrees, and printings 1 °F apart."""

BASIS: Final = "published table"
"""Where a target comes from, for screens."""

WEAK_BELOW_K: Final = USUAL[LimitKey.SUPERHEAT_OUTDOOR_LOW].value_si
"""Outdoor air below which the superheat method is weak, where the job's limits do not say [K]."""

_ON_THE_GRID_F: Final = TEMP_ROUNDING_K / KELVIN_PER_FAHRENHEIT


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetSuperheat:
    """A target with its sensitivity to what it was looked up with.

    Attributes
    ----------
    value_k : float
        Target superheat at the suction service port [K].
    per_outdoor_k, per_wet_bulb_k : float
        Change of the target with outdoor dry bulb and with return wet bulb [K/K].
    half_width_k : float
        What the table itself leaves open, plus or minus [K].
    caution : str
        One clause, or empty.
    """

    value_k: float
    per_outdoor_k: float
    per_wet_bulb_k: float
    half_width_k: float
    caution: str = ""

    def expanded_k(self, outdoor_expanded_k: float, wet_bulb_expanded_k: float) -> float:
        """Return the expanded uncertainty (k = 2) of the target [K].

        Parameters
        ----------
        outdoor_expanded_k, wet_bulb_expanded_k : float
            Expanded uncertainties (k = 2) of both temperatures [K].

        References
        ----------
        .. [1] JCGM 100:2008, equation 10 and 4.3.7.
        """
        return math.hypot(
            self.per_outdoor_k * outdoor_expanded_k,
            self.per_wet_bulb_k * wet_bulb_expanded_k,
            expanded_from_half_width(self.half_width_k),
        )


def target_superheat(
    outdoor_temp_k: float, return_wet_bulb_k: float, weak_below_k: float = WEAK_BELOW_K
) -> TargetSuperheat | NoValue:
    """Return the target superheat, interpolated bilinearly in the published table.

    Parameters
    ----------
    outdoor_temp_k : float
        Dry bulb of the air entering the outdoor coil, 40 to 115 °F [K].
    return_wet_bulb_k : float
        Wet bulb of the air entering the indoor coil, 50 to 76 °F [K].
    weak_below_k : float
        Colder outdoor air brings a caution with the target [K].

    Returns
    -------
    TargetSuperheat or NoValue
        `NoValue` outside the table and wherever a corner the interpolation needs is a dash.

    References
    ----------
    .. [1] As the module; the whole table is checked in the tests.
    """
    place = _place(outdoor_temp_k, return_wet_bulb_k)
    if isinstance(place, NoValue):
        return place
    corners = place.corners()
    if any(value is None for value, _ in corners):
        return NoValue(
            f"the table has no value at {place.words}: no valid test, weigh the charge in"
        )
    value_f = math.fsum(weight * value for value, weight in corners if value is not None)
    along_f, across_f = place.slopes()
    return TargetSuperheat(
        value_k=value_f * KELVIN_PER_FAHRENHEIT,
        per_outdoor_k=along_f,
        per_wet_bulb_k=across_f,
        half_width_k=TABLE_HALF_WIDTH_K,
        caution=_caution(outdoor_temp_k, weak_below_k),
    )


@dataclass(frozen=True, slots=True)
class _Place:
    """A point in the table: the cell below it and how far into the cell it lies."""

    outdoor_f: float
    wet_bulb_f: float
    row: int
    column: int
    down: float
    right: float

    def corners(self) -> tuple[tuple[int | None, float], ...]:
        """Return (value, weight) of the corners that count; a point on a grid line needs two."""
        weights = (
            (0, 0, (1.0 - self.down) * (1.0 - self.right)),
            (0, 1, (1.0 - self.down) * self.right),
            (1, 0, self.down * (1.0 - self.right)),
            (1, 1, self.down * self.right),
        )
        return tuple(
            (TABLE_F[self.row + i][self.column + j], weight) for i, j, weight in weights if weight
        )

    def slopes(self) -> tuple[float, float]:
        """Return the change with outdoor air and with wet bulb [°F/°F], from printed cells only."""
        row = self.row + (1 if self.down > 0.5 else 0)
        column = self.column + (1 if self.right > 0.5 else 0)
        rows = [line[column] for line in TABLE_F]
        return (
            _slope(rows, row, OUTDOOR_F[1] - OUTDOOR_F[0]),
            _slope(list(TABLE_F[row]), column, WET_BULB_F[1] - WET_BULB_F[0]),
        )

    @property
    def words(self) -> str:
        outdoor_c = (self.outdoor_f - FAHRENHEIT_AT_0_C) * KELVIN_PER_FAHRENHEIT
        wet_bulb_c = (self.wet_bulb_f - FAHRENHEIT_AT_0_C) * KELVIN_PER_FAHRENHEIT
        return (
            f"outdoor air of {self.outdoor_f:.1f} °F ({outdoor_c:.1f} °C) and a return wet bulb of "
            f"{self.wet_bulb_f:.1f} °F ({wet_bulb_c:.1f} °C)"
        )


def _slope(values: list[int | None], at: int, step: int) -> float:
    """Return the mean slope of the one or two printed neighbours of a cell [°F/°F]."""
    here = values[at]
    low = values[at - 1] if at > 0 else None
    high = values[at + 1] if at + 1 < len(values) else None
    if here is None:
        return 0.0
    sides = [(here - low) / step] if low is not None else []
    sides += [(high - here) / step] if high is not None else []
    return math.fsum(sides) / len(sides) if sides else 0.0


def _place(outdoor_temp_k: float, wet_bulb_k: float) -> _Place | NoValue:
    if not (math.isfinite(outdoor_temp_k) and math.isfinite(wet_bulb_k)):
        return NoValue("outdoor air or return wet bulb is not a finite number")
    outdoor = _cell(fahrenheit_from_kelvin(outdoor_temp_k), OUTDOOR_F)
    if outdoor is None:
        return NoValue(
            f"outdoor air of {fahrenheit_from_kelvin(outdoor_temp_k):.1f} °F "
            f"({outdoor_temp_k - KELVIN_AT_0_C:.1f} °C) is outside the table, "
            f"{OUTDOOR_F[0]} to {OUTDOOR_F[-1]} °F"
        )
    wet_bulb = _cell(fahrenheit_from_kelvin(wet_bulb_k), WET_BULB_F)
    if wet_bulb is None:
        return NoValue(
            f"a return wet bulb of {fahrenheit_from_kelvin(wet_bulb_k):.1f} °F "
            f"({wet_bulb_k - KELVIN_AT_0_C:.1f} °C) is outside the table, "
            f"{WET_BULB_F[0]} to {WET_BULB_F[-1]} °F"
        )
    return _Place(
        outdoor_f=outdoor[0],
        wet_bulb_f=wet_bulb[0],
        row=outdoor[1],
        column=wet_bulb[1],
        down=outdoor[2],
        right=wet_bulb[2],
    )


def _cell(value_f: float, grid: tuple[int, ...]) -> tuple[float, int, float] | None:
    """Return (value, index below, share of the step), a value on a grid line exactly on it."""
    near = min(grid, key=lambda line: abs(line - value_f))
    # A probe's 85.0 °F is 84.99992 °F as recorded: without this it would need four corners.
    if abs(near - value_f) <= _ON_THE_GRID_F:
        value_f = float(near)
    if not grid[0] <= value_f <= grid[-1]:
        return None
    step = grid[1] - grid[0]
    index = min(int((value_f - grid[0]) // step), len(grid) - 2)
    return value_f, index, (value_f - grid[index]) / step


def _caution(outdoor_temp_k: float, weak_below_k: float) -> str:
    if outdoor_temp_k < weak_below_k - TEMP_ROUNDING_K:
        below = (
            f"{fahrenheit_from_kelvin(weak_below_k):.0f} °F ({weak_below_k - KELVIN_AT_0_C:.0f} °C)"
        )
        return f"below {below} outdoors the superheat method is weak; weigh in where possible"
    return ""
