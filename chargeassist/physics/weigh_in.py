"""First charge by weight: the plate, the line set, and a cross-check by what the pipe can hold.

The instructions of the unit come first: the adders shipped here are printed figures of some makers
and differ by a factor of two for one diameter, because a metering device in the outdoor unit leaves
the "liquid line" filled with liquid and vapour. They are editable defaults and nothing else.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.installation import Metering, ShortLine
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import KILOGRAM_PER_POUND, METRE_PER_FOOT, METRE_PER_INCH
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import Refrigerant
from chargeassist.physics.uncertainty import COVERAGE_FACTOR, rectangular_u

KG_PER_M_PER_OZ_PER_FT: Final = KILOGRAM_PER_POUND / 16.0 / METRE_PER_FOOT
"""0.6 oz/ft are 55.8 g/m; manuals in print have .018 kg/m and 56.7 g/m for it [kg/m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Adder:
    """Charge per length of liquid line, as one document prints it.

    Attributes
    ----------
    refrigerant : str
        Designation.
    outer_m : float
        Outer diameter of the line [m].
    kg_per_m : float
        [kg/m].
    metering : Metering
    source : str
    """

    refrigerant: str
    outer_m: float
    kg_per_m: float
    metering: Metering
    source: str


_US: Final = "equipment manual, manualslib.com/manual/1937512, page 28"
_US_2: Final = "equipment manual, easymanua.ls/carrier/38c-series/manual, page 27"
_BIG: Final = (
    "equipment manual, manualarchiveguide.com/manuals/"
    "Carrier-GEMINI-38APD025-100-Operating-And-Service-Manual-4945656, page 34"
)
_MANY: Final = "equipment manual, manualslib.de/manual/1608523, page 42"


def _rows(
    name: str,
    rows: tuple[tuple[float, float], ...],
    source: str,
    metering: Metering,
    *,
    unit_kg_per_m: float,
) -> tuple[Adder, ...]:
    """Return the adders of one document: diameter [in] and figure in its unit."""
    return tuple(
        Adder(
            refrigerant=name,
            outer_m=inch * METRE_PER_INCH,
            kg_per_m=figure * unit_kg_per_m,
            metering=metering,
            source=source,
        )
        for inch, figure in rows
    )


_ounces = partial(_rows, unit_kg_per_m=KG_PER_M_PER_OZ_PER_FT)
_grams = partial(_rows, unit_kg_per_m=1e-3)

ADDERS: Final[tuple[Adder, ...]] = (
    *_ounces("R-410A", ((0.25, 0.30), (0.3125, 0.40), (0.375, 0.60), (0.5, 1.2)), _US,
             Metering.INDOOR),
    *_ounces("R-410A", ((0.25, 0.27), (0.3125, 0.40), (0.375, 0.60)), _US_2, Metering.INDOOR),
    # Printed per 10 ft in pounds: 0.6, 1.0, 2.0, 3.5.
    *_ounces("R-410A", ((0.5, 0.96), (0.625, 1.6), (0.875, 3.2), (1.125, 5.6)), _BIG,
             Metering.INDOOR),
    *_grams("R-410A", ((0.25, 30.0), (0.375, 65.0), (0.5, 115.0)), _MANY, Metering.INDOOR),
    *_grams("R-410A", ((0.25, 15.0), (0.375, 30.0), (0.5, 65.0)), _MANY, Metering.OUTDOOR),
    *_grams("R-22", ((0.25, 30.0), (0.375, 65.0), (0.5, 115.0)), _MANY, Metering.INDOOR),
    *_grams("R-22", ((0.25, 15.0), (0.375, 30.0), (0.5, 60.0)), _MANY, Metering.OUTDOOR),
    *_grams("R-32", ((0.25, 12.0), (0.375, 24.0), (0.5, 40.0)), _MANY, Metering.OUTDOOR),
)  # fmt: skip
"""Printed adders. That the two North American manuals mean a metering device indoors, and the R-32
row one outdoors, is read from what they print, not said in them."""

_WALL_INCH: Final = {
    0.25: 0.030, 0.3125: 0.032, 0.375: 0.032, 0.5: 0.032, 0.625: 0.035, 0.75: 0.035, 0.875: 0.045,
    1.125: 0.050,
}  # fmt: skip
_NEAR_M: Final = 0.4e-3


def adders(refrigerant: str, outer_m: float, metering: Metering) -> tuple[Adder, ...]:
    """Return the printed adders of a refrigerant and a diameter; none where none is known.

    Parameters
    ----------
    refrigerant : str
        Designation.
    outer_m : float
        Outer diameter, to 0.4 mm: 9.5 mm and 3/8 in are one size [m].
    metering : Metering
    """
    return tuple(
        row for row in ADDERS
        if row.refrigerant == refrigerant and row.metering is metering
        and abs(row.outer_m - outer_m) <= _NEAR_M
    )  # fmt: skip


def inner_diameter_m(outer_m: float) -> float | NoValue:
    """Return the inner diameter of soft copper tube for refrigeration [m].

    Parameters
    ----------
    outer_m : float
        1/4 to 1-1/8 in, to 0.4 mm [m].

    References
    ----------
    .. [1] ASTM B280, coil and straight lengths, from memory: measure where it matters.
    """
    for inch, wall in _WALL_INCH.items():
        if abs(inch * METRE_PER_INCH - outer_m) <= _NEAR_M:
            return (inch - 2.0 * wall) * METRE_PER_INCH
    return NoValue(f"{1e3 * outer_m:.1f} mm is no size of the tube table (1/4 to 1-1/8 in)")


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighIn:
    """A charge by weight.

    Attributes
    ----------
    charge_kg : float
        Plate and line set together [kg].
    adjustment_kg : float
        Of these, what is not the plate's; negative where the rule takes out [kg].
    expanded_kg : float
        Expanded uncertainty (k = 2) of `adjustment_kg` [kg].
    left_alone : bool
        The line set is short and the rule leaves the charge alone.
    """

    charge_kg: float
    adjustment_kg: float
    expanded_kg: float
    left_alone: bool


def weigh_in(
    plate_kg: float,
    *,
    length_m: float,
    adder_kg_per_m: float,
    allowance_kg: float,
    short_line: ShortLine,
    length_half_width_m: float = 0.0,
    adder_half_width_kg_per_m: float = 0.0,
) -> WeighIn:
    """Return the charge to weigh in: plate + (adder x length - allowance).

    Parameters
    ----------
    plate_kg : float
        Factory charge of the nameplate [kg].
    length_m : float
        Of the installed liquid line [m].
    adder_kg_per_m : float
        For its diameter, from the unit's instructions [kg/m].
    allowance_kg : float
        Part of the plate's charge meant for the standard line set: its length times the adder of
        its own diameter, which need not be the installed one [kg].
    short_line : ShortLine
    length_half_width_m, adder_half_width_kg_per_m : float
        Limits, plus or minus, of the length and of printed adders that differ [m], [kg/m].

    Raises
    ------
    ConfigError
        A figure is negative or no number.

    References
    ----------
    .. [1] Equipment manual, manualslib.com/manual/1937512, page 28: 1.2 oz/ft x 75 ft - 9 oz is
       81 oz; easymanua.ls/carrier/38c-series/manual, page 27 (which prints both 9 and 4.5 oz for
       0.40 oz/ft x 45 ft - 13.5 oz; 4.5 oz is right).
    """
    for name, value in (
        ("a plate charge", plate_kg),
        ("a length", length_m),
        ("an adder", adder_kg_per_m),
        ("an allowance", allowance_kg),
    ):
        if not 0.0 <= value < math.inf:
            raise ConfigError(f"expected {name} of zero or more, came {value:g}")
    line_kg = adder_kg_per_m * length_m - allowance_kg
    left_alone = line_kg < 0.0 and short_line is ShortLine.LEAVE
    adjustment = 0.0 if left_alone else line_kg
    u = math.hypot(
        rectangular_u(length_half_width_m) * adder_kg_per_m,
        rectangular_u(adder_half_width_kg_per_m) * length_m,
    )
    if plate_kg + adjustment < 0.0:
        raise ConfigError(
            f"expected a line set that leaves a charge, came {plate_kg:g} kg on the plate and "
            f"{adjustment:g} kg of adjustment; check the allowance"
        )
    return WeighIn(
        charge_kg=plate_kg + adjustment,
        adjustment_kg=adjustment,
        expanded_kg=COVERAGE_FACTOR * u,
        left_alone=left_alone,
    )


def liquid_kg_per_m(
    refrigerant: Refrigerant, outer_m: float, liquid_temp_k: float
) -> float | NoValue:
    """Return what a metre of tube holds when it is full of liquid [kg/m].

    Parameters
    ----------
    refrigerant : Refrigerant
    outer_m : float
        Outer diameter [m].
    liquid_temp_k : float
        Of the liquid; saturated liquid of that temperature stands for subcooled liquid, whose
        density is at most 1 % higher a few kelvin below its bubble point [K].
    """
    inner = inner_diameter_m(outer_m)
    density = refrigerant.saturated_liquid_density_kg_per_m3(liquid_temp_k)
    if isinstance(inner, NoValue):
        return inner
    if isinstance(density, NoValue):
        return density
    return 0.25 * math.pi * inner * inner * density


class AdderSays(StrEnum):
    """What the pipe says about an adder; the values are fit for a screen."""

    FULL = "the adder is that of a line full of liquid"
    PARTLY = "the adder is less than a line full of liquid: right only with metering outdoors"
    TOO_MUCH = "the adder is more than the line can hold: check diameter, unit and refrigerant"
    TOO_LITTLE = "the adder is too little for any liquid line: check diameter, unit and refrigerant"


FULL_SHARE: Final = (USUAL[LimitKey.ADDER_LOW].value_si, USUAL[LimitKey.ADDER_HIGH].value_si)
PARTLY_LEAST: Final = USUAL[LimitKey.ADDER_PARTLY].value_si
"""Printed adder over computed liquid mass at 35 °C, where the job's limits do not say [-]: the
printed ones above are 0.92 to 1.32 of it with metering indoors (1.37 to 1.63 for 1/4 in, where
makers round up), 0.45 to 0.82 with metering outdoors. The adder of the next larger diameter is 2.0
and more."""


def judge_adder(
    adder_kg_per_m: float,
    full_kg_per_m: float,
    full_share: tuple[float, float] = FULL_SHARE,
    partly_least: float = PARTLY_LEAST,
) -> AdderSays:
    """Return whether an adder can be right for a line that holds `full_kg_per_m` of liquid.

    Parameters
    ----------
    adder_kg_per_m, full_kg_per_m : float
        [kg/m].
    full_share : tuple of float
        Least and most of it with metering indoors [1].
    partly_least : float
        Least of it with metering outdoors [1].

    Raises
    ------
    ConfigError
        A figure is not above zero.
    """
    if not (0.0 < adder_kg_per_m < math.inf and 0.0 < full_kg_per_m < math.inf):
        raise ConfigError(
            f"expected masses per metre above zero, came {adder_kg_per_m:g} and {full_kg_per_m:g}"
        )
    share = adder_kg_per_m / full_kg_per_m
    if share > full_share[1]:
        return AdderSays.TOO_MUCH
    if share >= full_share[0]:
        return AdderSays.FULL
    return AdderSays.PARTLY if share >= partly_least else AdderSays.TOO_LITTLE
