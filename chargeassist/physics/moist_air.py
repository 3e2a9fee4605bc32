"""Moist air at the station's pressure: wet bulb from humidity, and the state from both bulbs."""

import math
from dataclasses import dataclass
from typing import Final

import psychrolib

from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.model.values import NoValue

# The library keeps its unit system in a module variable; SI is the only one used here.
psychrolib.SetUnitSystem(psychrolib.SI)

COLDEST_K: Final = 223.15
WARMEST_K: Final = 343.15
"""Dry bulbs an air probe of this trade can meet [K]: -50 to 70 degrees Celsius."""

BOTH_BULBS_K: Final = 0.2
"""How far two sound probes may read past what air can be [K]: a wet bulb above the dry bulb in
saturated air, or below the wet bulb of dry air; assumption."""

LOWEST_STATION_PA: Final = 40e3
HIGHEST_STATION_PA: Final = 115e3
"""Station pressures that exist where people work [Pa absolute]."""


def wet_bulb_k(
    dry_bulb_k: float, relative_humidity: float, station_pa_abs: float
) -> float | NoValue:
    """Return the thermodynamic wet-bulb temperature [K].

    Parameters
    ----------
    dry_bulb_k : float
        [K].
    relative_humidity : float
        As a share, 0 to 1 [-].
    station_pa_abs : float
        Pressure of the place, measured or from its altitude; not reduced to sea level [Pa].

    Returns
    -------
    float or NoValue
        Wet bulb, to 0.001 K of the iteration [K]; `NoValue` for numbers no air can have.

    References
    ----------
    .. [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 33 and 35, as solved by
       psychrolib, doi 10.21105/joss.01137.
    """
    if not COLDEST_K <= dry_bulb_k <= WARMEST_K:
        return NoValue(f"{dry_bulb_k:.4g} K is no temperature of return air")
    if not 0.0 <= relative_humidity <= 1.0:
        return NoValue(f"a relative humidity of {100.0 * relative_humidity:.4g} % cannot be")
    if not LOWEST_STATION_PA <= station_pa_abs <= HIGHEST_STATION_PA:
        return NoValue(f"{station_pa_abs / 1000.0:.4g} kPa absolute is no station pressure")
    celsius: float = psychrolib.GetTWetBulbFromRelHum(
        dry_bulb_k - KELVIN_AT_0_C, relative_humidity, station_pa_abs
    )
    return celsius + KELVIN_AT_0_C


def wet_bulb_expanded_k(
    dry_bulb_k: float,
    relative_humidity: float,
    station_pa_abs: float,
    *,
    dry_bulb_expanded_k: float,
    humidity_expanded: float,
) -> float | NoValue:
    """Return the expanded uncertainty (k = 2) of `wet_bulb_k` [K].

    Parameters
    ----------
    dry_bulb_k, relative_humidity, station_pa_abs : float
        As `wet_bulb_k`.
    dry_bulb_expanded_k, humidity_expanded : float
        Expanded uncertainties (k = 2) of dry bulb [K] and relative humidity (share) [-].

    Notes
    -----
    Differences over plus and minus one standard uncertainty. Humidity ends at 0 and 1, and with it
    the step: at the end this leaves a half, where a normal law that is cut off there has 0.6.
    Station pressure is left out: 1.5 kPa of weather moves the wet bulb by less than 0.1 K.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.3, note 2 (numerical sensitivities).
    """
    parts: list[float] = []
    for step_k, step_rh in (
        (0.5 * dry_bulb_expanded_k, 0.0),
        (0.0, 0.5 * humidity_expanded),
    ):
        low = wet_bulb_k(dry_bulb_k - step_k, max(relative_humidity - step_rh, 0.0), station_pa_abs)
        high = wet_bulb_k(
            dry_bulb_k + step_k, min(relative_humidity + step_rh, 1.0), station_pa_abs
        )
        if isinstance(low, NoValue):
            return low
        if isinstance(high, NoValue):
            return high
        parts.append(high - low)
    return math.hypot(*parts)


def wet_bulb_of_probes(
    dry_bulb_k: float,
    relative_humidity: float,
    station_pa_abs: float,
    *,
    dry_bulb_expanded_k: float | None,
    humidity_expanded: float | None,
) -> tuple[float, float | None] | NoValue:
    """Return the wet bulb that two probes tell [K], and its expanded uncertainty (k = 2) [K].

    Parameters
    ----------
    dry_bulb_k, relative_humidity, station_pa_abs : float
        As `wet_bulb_k`; a humidity probe that reads a little past 0 or 1 is taken at the end [-].
    dry_bulb_expanded_k, humidity_expanded : float or None
        Expanded uncertainties (k = 2) of dry bulb [K] and relative humidity (share) [-]. With one
        of them unknown that of the wet bulb is None.
    """
    share = min(max(relative_humidity, 0.0), 1.0)
    value_k = wet_bulb_k(dry_bulb_k, share, station_pa_abs)
    if isinstance(value_k, NoValue):
        return value_k
    if dry_bulb_expanded_k is None or humidity_expanded is None:
        return value_k, None
    found = wet_bulb_expanded_k(
        dry_bulb_k,
        share,
        station_pa_abs,
        dry_bulb_expanded_k=dry_bulb_expanded_k,
        humidity_expanded=humidity_expanded,
    )
    return value_k, None if isinstance(found, NoValue) else found


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistAir:
    """One state of moist air.

    Attributes
    ----------
    dry_bulb_k, wet_bulb_k : float
        [K].
    station_pa_abs : float
        [Pa absolute].
    humidity_ratio : float
        Mass of water over mass of dry air [kg/kg].
    relative_humidity : float
        As a share [-].
    enthalpy_j_per_kg : float
        Per mass of dry air, 0 for dry air at 0 degrees Celsius [J/kg].
    volume_m3_per_kg : float
        Per mass of dry air [m3/kg].
    """

    dry_bulb_k: float
    wet_bulb_k: float
    station_pa_abs: float
    humidity_ratio: float
    relative_humidity: float
    enthalpy_j_per_kg: float
    volume_m3_per_kg: float

    @property
    def density_kg_per_m3(self) -> float:
        """Of the moist air [kg/m3]."""
        return (1.0 + self.humidity_ratio) / self.volume_m3_per_kg


def moist_air(dry_bulb_k: float, wet_bulb_k: float, station_pa_abs: float) -> MoistAir | NoValue:
    """Return the state of air from its dry and wet bulb.

    Parameters
    ----------
    dry_bulb_k, wet_bulb_k : float
        [K]; a wet bulb up to 0.2 K above the dry bulb, as two probes in saturated air can show,
        counts as saturated, and one as little below the wet bulb of dry air as dry.
    station_pa_abs : float
        Pressure of the place; not reduced to sea level [Pa].

    Returns
    -------
    MoistAir or NoValue
        `NoValue` for numbers no air can have.

    References
    ----------
    .. [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 26, 30, 33 and 35, as solved
       by psychrolib, doi 10.21105/joss.01137.
    """
    if not COLDEST_K <= dry_bulb_k <= WARMEST_K:
        return NoValue(f"{dry_bulb_k:.4g} K is no temperature of indoor or outdoor air")
    if not COLDEST_K <= wet_bulb_k <= dry_bulb_k + BOTH_BULBS_K:
        return _impossible(dry_bulb_k, wet_bulb_k)
    if not LOWEST_STATION_PA <= station_pa_abs <= HIGHEST_STATION_PA:
        return NoValue(f"{station_pa_abs / 1000.0:.4g} kPa absolute is no station pressure")
    dry, wet = dry_bulb_k - KELVIN_AT_0_C, min(wet_bulb_k, dry_bulb_k) - KELVIN_AT_0_C
    ratio: float = psychrolib.GetHumRatioFromTWetBulb(dry, wet, station_pa_abs)
    if ratio <= psychrolib.MIN_HUM_RATIO:
        # The library gives its least humidity for wet bulbs that even dry air does not reach, too.
        driest: float = psychrolib.GetTWetBulbFromRelHum(dry, 0.0, station_pa_abs)
        if wet < driest - BOTH_BULBS_K:
            return _impossible(dry_bulb_k, wet_bulb_k)
    return MoistAir(
        dry_bulb_k=dry_bulb_k,
        wet_bulb_k=wet + KELVIN_AT_0_C,
        station_pa_abs=station_pa_abs,
        humidity_ratio=ratio,
        relative_humidity=psychrolib.GetRelHumFromHumRatio(dry, ratio, station_pa_abs),
        enthalpy_j_per_kg=psychrolib.GetMoistAirEnthalpy(dry, ratio),
        volume_m3_per_kg=psychrolib.GetMoistAirVolume(dry, ratio, station_pa_abs),
    )


def _impossible(dry_bulb_k: float, wet_bulb_k: float) -> NoValue:
    return NoValue(
        f"a wet bulb of {wet_bulb_k - KELVIN_AT_0_C:.1f} °C with a dry bulb of "
        f"{dry_bulb_k - KELVIN_AT_0_C:.1f} °C cannot be: check the wick and the probes"
    )
