"""Atmospheric pressure from altitude, and absolute pressure from gauge pressure."""

import math
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import Site

SEA_LEVEL_PA_ABS: Final = 101_325.0
"""Standard atmosphere at sea level [Pa absolute] (U.S. Standard Atmosphere, 1976, table 2)."""

SEA_LEVEL_TEMP_K: Final = 288.15
"""Standard temperature at sea level [K] (U.S. Standard Atmosphere, 1976, table 2)."""

LAPSE_K_PER_M: Final = 0.0065
"""Fall of temperature with geopotential altitude up to 11 km [K/m] (same, table 4)."""

EXPONENT: Final = 9.80665 * 28.9644 / (8314.32 * LAPSE_K_PER_M)
"""g0 M0 / (R* L) with the constants of the 1976 document [-]: 5.25588."""

EARTH_RADIUS_M: Final = 6_356_766.0
"""Radius that turns geometric into geopotential altitude [m] (same, section 1.2.3)."""

ALTITUDE_MIN_M: Final = -500.0
"""Lowest altitude accepted [m]; the shore of the Dead Sea lies near -430 m."""

ALTITUDE_MAX_M: Final = 6_000.0
"""Highest altitude accepted [m]; people live up to about 5 100 m."""


def pressure_at_altitude_pa_abs(altitude_m: float) -> float:
    """Return the standard atmosphere's pressure at an altitude [Pa absolute].

    Parameters
    ----------
    altitude_m : float
        Height above mean sea level, -500 to 6 000 [m].

    Returns
    -------
    float
        Pressure [Pa absolute].

    Raises
    ------
    ConfigError
        The altitude is outside the range, or no finite number.

    Notes
    -----
    The weather moves the true pressure by about 1.5 kPa either way; a measured station pressure
    (not one reduced to sea level, as weather reports give it) is better.

    References
    ----------
    .. [1] U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562, equations 18 and 33a; identical to the
       ICAO Standard Atmosphere (Doc 7488) in this range. Equation numbers from memory; the values
       are tested against an independent implementation.

    Examples
    --------
    >>> round(pressure_at_altitude_pa_abs(0.0))
    101325
    """
    if not (ALTITUDE_MIN_M <= altitude_m <= ALTITUDE_MAX_M):
        raise ConfigError(
            f"expected an altitude from {ALTITUDE_MIN_M:.0f} to {ALTITUDE_MAX_M:.0f} m, came "
            f"{altitude_m:g} m; check the unit (feet or metres), or give the station pressure"
        )
    geopotential_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
    ratio = 1.0 - LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_TEMP_K
    return SEA_LEVEL_PA_ABS * math.pow(ratio, EXPONENT)


def station_pressure_pa_abs(site: Site) -> float:
    """Return the station pressure of `site` [Pa]: measured, or of the standard atmosphere.

    Raises
    ------
    ConfigError
        If the altitude is outside the standard atmosphere's range.
    """
    if site.barometer_pa_abs is not None:
        return site.barometer_pa_abs
    return pressure_at_altitude_pa_abs(site.altitude_m or 0.0)


def absolute_from_gauge(pressure_pa_gauge: float, atmosphere_pa_abs: float) -> float:
    """Return absolute pressure [Pa absolute] from gauge pressure and the atmosphere around it.

    Parameters
    ----------
    pressure_pa_gauge : float
        Reading of a vented probe, or of a sealed probe set to zero on site [Pa gauge].
    atmosphere_pa_abs : float
        Atmosphere at the probe, when it was vented or zeroed [Pa absolute].

    Returns
    -------
    float
        Pressure [Pa absolute]. A reading that is no number stays one; whether the result can be a
        pressure of the refrigerant is judged where it is looked up.

    Notes
    -----
    A sealed probe zeroed elsewhere needs the atmosphere of that place: at 1 600 m, sea-level
    pressure reads the bubble point of R-410A 0.4 K and the dew point 0.6 K high.
    """
    return pressure_pa_gauge + atmosphere_pa_abs
