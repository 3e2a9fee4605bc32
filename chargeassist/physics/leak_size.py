"""The size of a leak in other units: pascal an hour, pascal cubic metres a second, grams a year."""

import math
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue
from chargeassist.physics.nitrogen import GAS_CONSTANT, density_mol_per_m3

SECONDS_PER_YEAR: Final = 365.25 * 86_400.0
"""Of a Julian year [s]."""

NITROGEN_VISCOSITY_PA_S: Final = 17.7e-6
"""Of nitrogen at 20 °C, from memory [Pa s]."""

REFRIGERANT_VISCOSITY_PA_S: Final = 12.5e-6
"""Of refrigerant vapour at 20 °C: R-32 12.3e-6, R-410A 13.0e-6, R-134a 11.5e-6; from memory, an
editable default [Pa s]."""


def leak_pa_m3_per_s(
    rate_pa_per_s: float, volume_m3: float, pressure_pa_abs: float, temp_k: float
) -> float | NoValue:
    """Return the leak behind a falling pressure of nitrogen in a circuit [Pa m3/s].

    Parameters
    ----------
    rate_pa_per_s : float
        Fall of the compensated pressure, counted positive [Pa/s].
    volume_m3 : float
        Of the circuit [m3].
    pressure_pa_abs, temp_k : float
        Of the nitrogen [Pa absolute], [K].

    Returns
    -------
    float or NoValue
        At the temperature of the gas. Real nitrogen: at 4 MPa its density falls by more or less
        than the pressure does, by about 1 %.

    Notes
    -----
    10 L losing 1 psi an hour is 0.019 Pa m3/s; a vacuum in 10 L rising a micron a minute 2.2e-5.
    """
    if not 0.0 < volume_m3 < math.inf:
        return NoValue("without the volume of the circuit a fall is no leak rate")
    step = max(1e-4 * pressure_pa_abs, 1.0)
    high = density_mol_per_m3(pressure_pa_abs + step, temp_k)
    low = density_mol_per_m3(max(pressure_pa_abs - step, 0.0), temp_k)
    if isinstance(high, NoValue):
        return high
    if isinstance(low, NoValue):
        return low
    per_pa = (high - low) / (pressure_pa_abs + step - max(pressure_pa_abs - step, 0.0))
    return rate_pa_per_s * volume_m3 * per_pa * GAS_CONSTANT * temp_k


def refrigerant_kg_per_year(
    leak_pa_m3_per_s: float,
    *,
    test_pa_abs: float,
    working_pa_abs: float,
    station_pa_abs: float,
    molar_mass_kg: float,
    temp_k: float = 293.15,
    viscosity_pa_s: float = REFRIGERANT_VISCOSITY_PA_S,
) -> float:
    """Return what the same hole loses of refrigerant vapour at its working pressure [kg/yr].

    Parameters
    ----------
    leak_pa_m3_per_s : float
        Of nitrogen at the test pressure, at `temp_k` [Pa m3/s].
    test_pa_abs, working_pa_abs, station_pa_abs : float
        Nitrogen in the test, refrigerant in use (a year's mean), the atmosphere [Pa absolute].
    molar_mass_kg : float
        Of the refrigerant [kg/mol].
    temp_k : float
        Of both gases at the hole [K].
    viscosity_pa_s : float
        Of its vapour [Pa s].

    Returns
    -------
    float
        0 where the refrigerant is not above the atmosphere.

    Raises
    ------
    ConfigError
        The test pressure is not above the atmosphere.

    Notes
    -----
    Laminar flow through a narrow hole: ``q ~ (p1^2 - p0^2) / viscosity``. Liquid at the hole loses
    more, an unsteady or larger hole scales otherwise: an order of magnitude, not a forecast.
    """
    if not test_pa_abs > station_pa_abs > 0.0:
        raise ConfigError(
            f"expected a test pressure above the atmosphere, came {test_pa_abs:g} Pa absolute "
            f"with {station_pa_abs:g} Pa around it"
        )
    drive = (working_pa_abs**2 - station_pa_abs**2) / (test_pa_abs**2 - station_pa_abs**2)
    mol_per_s = leak_pa_m3_per_s * drive * NITROGEN_VISCOSITY_PA_S / viscosity_pa_s
    mol_per_s /= GAS_CONSTANT * temp_k
    return max(mol_per_s * molar_mass_kg * SECONDS_PER_YEAR, 0.0)
