"""What an indoor coil does to the air at the usual airflow: temperature split and boiling point.

A coil takes so much heat per kilogram of air: the unit's capacity over its airflow, the same for
units of all sizes within what installation practice allows. How much of it is sensible depends on
the air's humidity, which moves split and evaporating temperature by more than a moderate lack of
air does. The bypass-factor method (apparatus dew point and the share of air that passes untouched)
turns the heat into temperatures.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import psychrolib

from chargeassist.model.limits import LimitKey
from chargeassist.model.units import KELVIN_AT_0_C, kelvin_from_fahrenheit
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics.air_side import heat_capacity_j_per_kg_k
from chargeassist.physics.moist_air import MoistAir, moist_air, wet_bulb_k

NOMINAL_J_PER_KG: Final = 15.5e3
"""One ton (3517 W) over 400 cfm of standard air (0.2265 kg/s): the usual design of comfort cooling,
common practice, no published source [J/kg]."""

PER_WET_BULB_K: Final = 0.02
PER_OUTDOOR_K: Final = -0.007
"""How capacity moves with the wet bulb on the coil and with outdoor air, relative to rating
[1/K]: the slope of common catalogue curves, from memory."""

RATED_WET_BULB_K: Final = kelvin_from_fahrenheit(67.0)
RATED_OUTDOOR_K: Final = kelvin_from_fahrenheit(95.0)
"""Rating conditions of AHRI 210/240: 80 °F dry and 67 °F wet bulb indoors, 95 °F outdoors."""

BYPASS: Final = 0.12
"""Three and four rows lie between 0.05 and 0.2 (from memory) [1]."""

FAN_K: Final = 0.4
"""Heat of the fan, where it stands between the probes [K]. Assumption."""

COIL_TO_BOILING_K: Final = 5.0
"""Apparatus dew point over the boiling point [K], chosen to meet the published operating pressures
of a 5-ton R-410A unit at rating (suction 141 psig at 80/67/95 °F)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilLimits:
    """What counts as in order, and what is assumed of air nobody measures; program defaults.

    Attributes
    ----------
    share : float
        Half width of heat over air, capacity and airflow together [1].
    dry_humidity, damp_humidity : float
        Relative humidity of return air where nothing measures it [1].
    split_room_k, boiling_room_k : float
        Half widths of what another bypass, fan and coil do to split and boiling point [K].
    """

    share: float = USUAL[LimitKey.COIL_SHARE].value_si
    dry_humidity: float = USUAL[LimitKey.HUMIDITY_LOW].value_si
    damp_humidity: float = USUAL[LimitKey.HUMIDITY_HIGH].value_si
    split_room_k: float = USUAL[LimitKey.SPLIT_ROOM].value_si
    boiling_room_k: float = USUAL[LimitKey.BOILING_ROOM].value_si


USUAL_COIL: Final = CoilLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilRange:
    """What is in order, low to high.

    Attributes
    ----------
    split_low_k, split_high_k : float
        Return less supply air [K].
    boiling_low_k, boiling_high_k : float
        Boiling point less return air, below zero [K].
    humidity_known : bool
        Whether the wet bulb was given; without it the ranges are wider.
    """

    split_low_k: float
    split_high_k: float
    boiling_low_k: float
    boiling_high_k: float
    humidity_known: bool


@lru_cache(maxsize=256)
def coil_range(
    return_k: float,
    return_wet_k: float | None,
    outdoor_k: float,
    station_pa_abs: float,
    limits: CoilLimits = USUAL_COIL,
) -> CoilRange | NoValue:
    """Return the split and the boiling point that are in order for this air.

    Parameters
    ----------
    return_k, return_wet_k, outdoor_k : float
        Return air, its wet bulb (None where nobody measures it) and outdoor air [K].
    station_pa_abs : float
        [Pa absolute].
    limits : CoilLimits

    Returns
    -------
    CoilRange or NoValue
        `NoValue` for numbers no air can have.

    Notes
    -----
    The ranges hold every combination of the two ends of the share and, where the wet bulb is not
    known, of the two humidities.

    References
    ----------
    .. [1] Bypass factor and apparatus dew point: ASHRAE Handbook - HVAC Systems and Equipment, air
       cooling coils (from memory).
    """
    wet_bulbs: list[float] = []
    if return_wet_k is not None:
        wet_bulbs.append(min(return_wet_k, return_k))
    else:
        for humidity in (limits.dry_humidity, limits.damp_humidity):
            wet = wet_bulb_k(return_k, humidity, station_pa_abs)
            if isinstance(wet, NoValue):
                return wet
            wet_bulbs.append(wet)
    splits: list[float] = []
    boiling: list[float] = []
    for wet in wet_bulbs:
        air = moist_air(return_k, wet, station_pa_abs)
        if isinstance(air, NoValue):
            return air
        for share in (1.0 - limits.share, 1.0 + limits.share):
            split_k, below_k = _coil(air, outdoor_k, share)
            splits.append(split_k)
            boiling.append(below_k)
    return CoilRange(
        split_low_k=min(splits) - limits.split_room_k,
        split_high_k=max(splits) + limits.split_room_k,
        boiling_low_k=min(boiling) - limits.boiling_room_k,
        boiling_high_k=max(boiling) + limits.boiling_room_k,
        humidity_known=return_wet_k is not None,
    )


def _coil(air: MoistAir, outdoor_k: float, share: float) -> tuple[float, float]:
    """Return split and boiling point below return air for `share` of the nominal heat [K]."""
    capacity = (
        1.0
        + PER_WET_BULB_K * (air.wet_bulb_k - RATED_WET_BULB_K)
        + PER_OUTDOOR_K * (outdoor_k - RATED_OUTDOOR_K)
    )
    taken_j_per_kg = NOMINAL_J_PER_KG * share * max(capacity, 0.4)
    contact_j_per_kg = taken_j_per_kg / (1.0 - BYPASS)
    coil_k = _saturated_k(air.enthalpy_j_per_kg - contact_j_per_kg, air.station_pa_abs)
    dry_k = air.dry_bulb_k - contact_j_per_kg / heat_capacity_j_per_kg_k(air)
    coil_k = max(coil_k, dry_k)  # a coil above the dew point of the air takes sensible heat only
    split_k = (1.0 - BYPASS) * (air.dry_bulb_k - coil_k) - FAN_K
    return split_k, coil_k - COIL_TO_BOILING_K - air.dry_bulb_k


def _saturated_k(enthalpy_j_per_kg: float, station_pa_abs: float) -> float:
    """Return the temperature of saturated air of an enthalpy [K]."""
    low, high = -30.0, 40.0
    for _ in range(24):
        middle = 0.5 * (low + high)
        if _saturated_enthalpy_j_per_kg(middle, station_pa_abs) < enthalpy_j_per_kg:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high) + KELVIN_AT_0_C


@lru_cache(maxsize=4096)
def _saturated_enthalpy_j_per_kg(celsius: float, station_pa_abs: float) -> float:
    """Return the enthalpy of saturated air; every search begins with the same temperatures."""
    enthalpy: float = psychrolib.GetSatAirEnthalpy(celsius, station_pa_abs)
    return enthalpy
