"""Moist indoor air and the two coils' air sides."""

import math
from typing import Final

from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.physics.atmosphere import SEA_LEVEL_PA_ABS

VAPOUR_RATIO: Final = 0.621945
"""Molar mass of water over dry air [1]."""

MOIST_AIR_J_PER_KG_K: Final = 1020.0
"""Heat capacity of indoor air of usual humidity, per mass of dry air [J/(kg K)]."""

AIR_SIDE_EXPONENT: Final = 0.55
"""Conductance of a finned coil's air side goes with this power of its flow [1] (assumption)."""

LEAST_AIR_SHARE: Final = 0.02
"""Slower air is bypassed no less [share of the clean flow]."""


def saturated_humidity_ratio(temp_k: float, station_pa_abs: float = SEA_LEVEL_PA_ABS) -> float:
    """Return the humidity ratio of saturated air [kg/kg].

    Vapour pressure over water by the Magnus form with the coefficients of Alduchov and Eskridge
    (J. Applied Meteorology 35, 1996): 610.94 Pa exp(17.625 t / (t + 243.04)), within 0.4 % from
    -40 to 50 degrees Celsius.
    """
    t = temp_k - KELVIN_AT_0_C
    pressure = 610.94 * math.exp(17.625 * t / (t + 243.04))
    return VAPOUR_RATIO * pressure / (station_pa_abs - pressure)


def enthalpy_j_per_kg(temp_k: float, humidity_ratio: float) -> float:
    """Return the enthalpy of moist air from 0 degrees Celsius [J per kg of dry air].

    Equation 30 of ASHRAE Fundamentals (2017), chapter 1 (equation number from memory).
    """
    t = temp_k - KELVIN_AT_0_C
    return 1006.0 * t + humidity_ratio * (2501000.0 + 1860.0 * t)


def humidity_ratio_from_wet_bulb(
    dry_k: float, wet_k: float, station_pa_abs: float = SEA_LEVEL_PA_ABS
) -> float:
    """Return the humidity ratio from dry and wet bulb [kg/kg], never below 0.

    Equation 33 of ASHRAE Fundamentals (2017), chapter 1, above freezing (number from memory).
    """
    saturated = saturated_humidity_ratio(wet_k, station_pa_abs)
    t, wet = dry_k - KELVIN_AT_0_C, wet_k - KELVIN_AT_0_C
    ratio = ((2501.0 - 2.326 * wet) * saturated - 1.006 * (t - wet)) / (
        2501.0 + 1.86 * t - 4.186 * wet
    )
    return max(ratio, 0.0)


class IndoorAir:
    """Air through the evaporator.

    Parameters
    ----------
    dry_k, wet_k : float
        Return air [K].
    flow_kg_per_s : float
        Of the clean coil [kg/s].
    bypass : float
        Share of the air that passes untouched at that flow.
    fan_w : float
        Heat of the blower at that flow [W].
    station_pa_abs : float
        Atmosphere [Pa absolute].

    Attributes
    ----------
    dry_k, wet_k : float
        Return air, dry and wet bulb [K].
    flow_kg_per_s, touched_kg_per_s : float
        Of dry air now, and the part of it that touches the coil [kg/s].
    fan_w : float
        Heat of the blower now [W].
    superheating_share : float
        Conductance of the coil's air side against that of the clean flow [1].
    """

    __slots__ = (
        "_bypass", "_fan_w", "_flow", "_humidity", "_inlet_j_per_kg", "_station", "dry_k",
        "fan_w", "flow_kg_per_s", "superheating_share", "touched_kg_per_s", "wet_k",
    )  # fmt: skip

    def __init__(
        self,
        dry_k: float,
        wet_k: float,
        flow_kg_per_s: float,
        bypass: float,
        fan_w: float,
        station_pa_abs: float,
    ) -> None:
        self._station = station_pa_abs
        self._flow = flow_kg_per_s
        self._bypass = bypass
        self._fan_w = fan_w
        self.dry_k = dry_k
        self.wet_k = wet_k
        self._humidity = humidity_ratio_from_wet_bulb(dry_k, wet_k, self._station)
        self._inlet_j_per_kg = enthalpy_j_per_kg(dry_k, self._humidity)
        self.set_flow(1.0)

    @property
    def relative_humidity(self) -> float:
        """Of the return air [1]: vapour pressure over that of saturated air."""
        saturated = saturated_humidity_ratio(self.dry_k, self._station)
        share = self._humidity / saturated
        return share * (VAPOUR_RATIO + saturated) / (VAPOUR_RATIO + self._humidity)

    def set_flow(self, share: float) -> None:
        """Change the flow [share of the clean one]; slower air is bypassed less."""
        self.flow_kg_per_s = self._flow * share
        # ln(1/bypass) is the coil's number of transfer units: conductance over flow.
        slowest = max(share, LEAST_AIR_SHARE)
        bypass = math.pow(self._bypass, 1.0 / math.pow(slowest, 1.0 - AIR_SIDE_EXPONENT))
        self.touched_kg_per_s = self.flow_kg_per_s * (1.0 - bypass)
        self.fan_w = self._fan_w * share
        self.superheating_share = math.pow(share, AIR_SIDE_EXPONENT) if share < 1.0 else 1.0

    def heat_w(self, wall_k: float, wetted: float) -> float:
        """Return the heat from the air to the wetted part of the coil [W].

        Parameters
        ----------
        wall_k : float
            Coil surface [K].
        wetted : float
            Part of the coil that the boiling refrigerant cools [1].
        """
        saturated = saturated_humidity_ratio(wall_k, self._station)
        if saturated < self._humidity:
            drop = self._inlet_j_per_kg - enthalpy_j_per_kg(wall_k, saturated)
        else:
            drop = MOIST_AIR_J_PER_KG_K * (self.dry_k - wall_k)
        return self.touched_kg_per_s * wetted * drop

    def supply_k(self, wall_k: float, wetted: float, dry_zone_w: float) -> float:
        """Return the mixed air after coil and blower [K]."""
        capacity = self.flow_kg_per_s * MOIST_AIR_J_PER_KG_K
        touched = self.touched_kg_per_s / self.flow_kg_per_s
        cooled_k = wetted * touched * (self.dry_k - wall_k)
        mixed_k = self.dry_k - cooled_k - dry_zone_w / capacity
        # Slow air leaves no colder, and no warmer, than what it touches.
        coldest, warmest = wall_k, self.dry_k
        if coldest > warmest:
            coldest, warmest = warmest, coldest
        if mixed_k < coldest:
            mixed_k = coldest
        elif mixed_k > warmest:
            mixed_k = warmest
        return mixed_k + self.fan_w / capacity
