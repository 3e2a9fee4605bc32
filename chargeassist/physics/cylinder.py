"""What a refrigerant cylinder may hold, and what is left in it."""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import Refrigerant

FILLING_SHARE: Final = 0.8
"""Share of the volume that may be liquid [-]: AHRI Guideline K-2004 as told in
achrnews.com/articles/111771-on-the-level-filling-cylinders. The cylinder's label comes first."""

GRAVITY_TEMP_K: Final = 298.15
"""77 °F, at which that guideline takes the specific gravity [K]."""

WATER_KG_PER_M3: Final = 1000.0
"""Density that a water capacity in kilograms stands for here [kg/m3]; 0.3 % off at 77 °F."""


class CapacityRule(StrEnum):
    """How the most that a cylinder may hold is found; the values are fit for a screen."""

    WITH_GRAVITY = "0.8 × water capacity × specific gravity"
    WATER_ONLY = "0.8 × water capacity"
    LOWER = "the lower of the two"


def specific_gravity(refrigerant: Refrigerant, temp_k: float = GRAVITY_TEMP_K) -> float | NoValue:
    """Return the density of the liquid over that of water [-].

    Parameters
    ----------
    refrigerant : Refrigerant
    temp_k : float
        77 °F by default; the warmest the cylinder may become gives a lower and more careful
        figure: R-410A 1.06 at 77 °F, 0.87 at 130 °F [K].
    """
    density = refrigerant.saturated_liquid_density_kg_per_m3(temp_k)
    return density if isinstance(density, NoValue) else density / WATER_KG_PER_M3


def net_capacity_kg(
    water_capacity_kg: float,
    gravity: float,
    *,
    rule: CapacityRule = CapacityRule.LOWER,
) -> float:
    """Return the most refrigerant that a cylinder may hold [kg].

    Parameters
    ----------
    water_capacity_kg : float
        As stamped, "WC" [kg].
    gravity : float
        Specific gravity of the liquid [-].
    rule : CapacityRule
        Sources disagree: the guideline multiplies with the specific gravity, the older label does
        not. Below 1 (R-32 0.96, R-290 0.49) the label overfills, above 1 it is the more careful:
        hence `CapacityRule.LOWER` where nothing else is said.

    Raises
    ------
    ConfigError
        A figure no cylinder has.

    References
    ----------
    .. [1] AHRI Guideline K-2004, as told in
       achrnews.com/articles/111771-on-the-level-filling-cylinders.
    .. [2] acservicetech.com/recovery-bottle (0.8 × water capacity).
    """
    if not (0.0 < water_capacity_kg < 2000.0 and 0.1 < gravity < 2.5):
        raise ConfigError(
            f"expected a water capacity up to 2000 kg and a specific gravity from 0.1 to 2.5, came "
            f"{water_capacity_kg:g} kg and {gravity:g}; read WC from the collar of the cylinder"
        )
    factor = {
        CapacityRule.WITH_GRAVITY: gravity,
        CapacityRule.WATER_ONLY: 1.0,
        CapacityRule.LOWER: min(gravity, 1.0),
    }[rule]
    return FILLING_SHARE * water_capacity_kg * factor


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderContent:
    """What is in a cylinder on a scale.

    Attributes
    ----------
    net_kg : float
        Refrigerant in it; never below 0 [kg].
    room_kg : float
        What may still go in; negative when it is overfilled [kg].
    highest_gross_kg : float
        Weight at which it is full [kg].
    expanded_kg : float
        Expanded uncertainty (k = 2) of `net_kg` and `room_kg` [kg].
    """

    net_kg: float
    room_kg: float
    highest_gross_kg: float
    expanded_kg: float


def content(
    gross_kg: float,
    tare_kg: float,
    capacity_kg: float,
    *,
    scale_expanded_kg: float,
    tare_expanded_kg: float = 0.0,
) -> CylinderContent | NoValue:
    """Return what is in a cylinder and what may still go in.

    Parameters
    ----------
    gross_kg, tare_kg : float
        On the scale, and stamped as tare weight [kg].
    capacity_kg : float
        From `net_capacity_kg` [kg].
    scale_expanded_kg, tare_expanded_kg : float
        Expanded uncertainties, k = 2 [kg].

    Returns
    -------
    CylinderContent or NoValue
        `NoValue` where the cylinder is lighter than its tare by more than the uncertainty.
    """
    if not (0.0 < tare_kg < math.inf and 0.0 < gross_kg < math.inf and capacity_kg > 0.0):
        return NoValue("gross weight, tare and capacity of a cylinder are above zero")
    expanded = math.hypot(scale_expanded_kg, tare_expanded_kg)
    net = gross_kg - tare_kg
    if net < -expanded:
        return NoValue(
            f"the cylinder weighs {-net:.2f} kg less than its tare: check the tare and the zero"
        )
    return CylinderContent(
        net_kg=max(net, 0.0),
        room_kg=capacity_kg - net,
        highest_gross_kg=tare_kg + capacity_kg,
        expanded_kg=expanded,
    )
