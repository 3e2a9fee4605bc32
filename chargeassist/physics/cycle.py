"""Subcooling of the liquid line and superheat of the suction line."""

import math

from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import Refrigerant


def subcooling_k(
    refrigerant: Refrigerant, liquid_pressure_pa_abs: float, liquid_temp_k: float
) -> float | NoValue:
    """Return bubble point less liquid-line temperature [K].

    Parameters
    ----------
    refrigerant : Refrigerant
        What is in the system.
    liquid_pressure_pa_abs : float
        At the liquid service valve [Pa absolute].
    liquid_temp_k : float
        Of the liquid line at the same place [K].

    Returns
    -------
    float or NoValue
        Subcooling [K]. A negative number is returned as it is: it means vapour in the liquid line,
        a wrong refrigerant or a probe in error. `NoValue` if pressure or temperature is no
        reading of a liquid line.

    Notes
    -----
    Bubble point, because the liquid begins to boil there. With a blend the dew point would add the
    whole glide: 1.5 K for R-454B, 4.9 K for R-407C at 40 degrees Celsius. Pressure drop and head
    of liquid between the pressure port and the temperature probe are neglected.

    References
    ----------
    .. [1] ANSI/ASHRAE Standard 34, definitions of bubble point, dew point and temperature glide
       (from memory).
    """
    return below_bubble_k(refrigerant.bubble_temp_k(liquid_pressure_pa_abs), liquid_temp_k)


def below_bubble_k(bubble_temp_k: float | NoValue, liquid_temp_k: float) -> float | NoValue:
    """Return subcooling where the bubble point is known, or was found to have no value [K]."""
    if not (0.0 < liquid_temp_k < math.inf):
        return _no_temp("liquid-line", liquid_temp_k)
    if isinstance(bubble_temp_k, NoValue):
        return bubble_temp_k
    return bubble_temp_k - liquid_temp_k


def superheat_k(
    refrigerant: Refrigerant, suction_pressure_pa_abs: float, suction_temp_k: float
) -> float | NoValue:
    """Return suction-line temperature less dew point [K].

    Parameters
    ----------
    refrigerant : Refrigerant
        What is in the system.
    suction_pressure_pa_abs : float
        At the suction service valve [Pa absolute].
    suction_temp_k : float
        Of the suction line at the same place [K].

    Returns
    -------
    float or NoValue
        Superheat [K]. A negative number is returned as it is: it means liquid in the suction line
        or a probe in error. `NoValue` if pressure or temperature is no reading of a suction line.

    Notes
    -----
    Dew point, because the last liquid has boiled there.

    References
    ----------
    .. [1] ANSI/ASHRAE Standard 34, definitions of bubble point, dew point and temperature glide
       (from memory).
    """
    return above_dew_k(refrigerant.dew_temp_k(suction_pressure_pa_abs), suction_temp_k)


def above_dew_k(dew_temp_k: float | NoValue, suction_temp_k: float) -> float | NoValue:
    """Return superheat where the dew point is known, or was found to have no value [K]."""
    if not (0.0 < suction_temp_k < math.inf):
        return _no_temp("suction-line", suction_temp_k)
    return dew_temp_k if isinstance(dew_temp_k, NoValue) else suction_temp_k - dew_temp_k


def _no_temp(place: str, temp_k: float) -> NoValue:
    if not math.isfinite(temp_k):
        return NoValue(f"the {place} temperature is not a finite number")
    return NoValue(f"{temp_k:.4g} K is no {place} temperature: it must be above zero")
