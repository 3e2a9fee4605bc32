"""Nitrogen in a shut circuit: real gas at constant density, with the ideal gas as a check.

The standing-pressure test compares the pressure now with the pressure that the same gas would have
at today's temperature. Compressed nitrogen follows temperature more than the ideal gas does: at
500 psig a fall of 10 °F costs 10.3 psi, of which the ideal gas misses 0.8 psi.
"""

import math
from typing import Final

from chargeassist.model.values import NoValue

GAS_CONSTANT: Final = 8.31446261815324
"""[J/(mol K)] (SI, 2019)."""

MOLAR_MASS_KG: Final = 0.0280134
"""Of nitrogen [kg/mol]."""

COLDEST_K: Final = 223.15
WARMEST_K: Final = 353.15
HIGHEST_PA_ABS: Final = 10e6
"""What the equation was fitted to: -50 to 80 degrees Celsius, to 10 MPa absolute."""

_B: Final = (0.040984827, -0.032042009, -0.015021808, 0.0015664706)
_C: Final = (0.0012205485, -0.00039770157, 0.0005320989)
_D: Final = (4.5576207e-05, -1.9498965e-05)
"""Virial terms in (300 K / T) for density in mol/L, fitted by this project (see Notes below)."""


def density_pressure_pa_abs(density_mol_per_m3: float, temp_k: float) -> float | NoValue:
    """Return the pressure of nitrogen at a density and a temperature [Pa absolute].

    Parameters
    ----------
    density_mol_per_m3 : float
        [mol/m3].
    temp_k : float
        223.15 to 353.15 [K].

    Returns
    -------
    float or NoValue
        [Pa absolute]; `NoValue` outside the temperatures, or above 10 MPa.

    Notes
    -----
    Virial equation to the fourth term, its temperature terms fitted by least squares to the
    equation of Span and others as CoolProp computes it; the compressibility is within 2.5e-5 of
    it over the whole range; the change of pressure at constant density is within 3 Pa per kelvin
    of it up to 5 MPa, and 60 Pa per kelvin (0.1 %) in the cold corner at 10 MPa.

    References
    ----------
    .. [1] R. Span, E. W. Lemmon, R. T Jacobsen, W. Wagner, A. Yokozeki, J. Phys. Chem. Ref. Data
       29 (2000) 1361.
    """
    if not COLDEST_K <= temp_k <= WARMEST_K:
        return NoValue(f"{temp_k:.4g} K is outside the nitrogen equation (223 to 353 K)")
    if not 0.0 <= density_mol_per_m3 < math.inf:
        return NoValue("the density is no density")
    pressure = _pressure(density_mol_per_m3, temp_k)[0]
    if not pressure <= HIGHEST_PA_ABS:
        return NoValue("pressure above the nitrogen equation (10 MPa absolute)")
    return pressure


def density_mol_per_m3(pressure_pa_abs: float, temp_k: float) -> float | NoValue:
    """Return the density of nitrogen [mol/m3]; the inverse of `density_pressure_pa_abs`."""
    if not COLDEST_K <= temp_k <= WARMEST_K:
        return NoValue(f"{temp_k:.4g} K is outside the nitrogen equation (223 to 353 K)")
    if not 0.0 <= pressure_pa_abs <= HIGHEST_PA_ABS:
        return NoValue("pressure outside the nitrogen equation (0 to 10 MPa absolute)")
    return _density(pressure_pa_abs, temp_k)


def expected_pressure_pa_abs(
    pressure_pa_abs: float, temp_k: float, later_temp_k: float
) -> float | NoValue:
    """Return the pressure of a tight circuit after its temperature has changed [Pa absolute].

    Parameters
    ----------
    pressure_pa_abs, temp_k : float
        At the start of the test [Pa absolute], [K].
    later_temp_k : float
        Of the gas now [K].
    """
    density = density_mol_per_m3(pressure_pa_abs, temp_k)
    if isinstance(density, NoValue):
        return density
    return density_pressure_pa_abs(density, later_temp_k)


def ideal_pressure_pa_abs(pressure_pa_abs: float, temp_k: float, later_temp_k: float) -> float:
    """Return what an ideal gas would show [Pa absolute]: ``p T2 / T1``; checks the real one."""
    return pressure_pa_abs * later_temp_k / temp_k


def slope_pa_per_k(pressure_pa_abs: float, temp_k: float) -> float | NoValue:
    """Return how the pressure of shut-in nitrogen goes with its temperature [Pa/K]."""
    density = density_mol_per_m3(pressure_pa_abs, temp_k)
    if isinstance(density, NoValue):
        return density
    r = 1e-3 * density
    x = 300.0 / temp_k
    b = _B[0] - x * x * (_B[2] + 2.0 * x * _B[3])
    c = _C[0] - x * x * _C[2]
    return density * GAS_CONSTANT * (1.0 + r * (b + r * (c + r * _D[0])))


def _pressure(density: float, temp_k: float) -> tuple[float, float]:
    """Return pressure [Pa] and its change with density [Pa m3/mol]."""
    r = 1e-3 * density
    x = 300.0 / temp_k
    b = _B[0] + x * (_B[1] + x * (_B[2] + x * _B[3]))
    c = _C[0] + x * (_C[1] + x * _C[2])
    d = _D[0] + x * _D[1]
    rt = GAS_CONSTANT * temp_k
    return (
        density * rt * (1.0 + r * (b + r * (c + r * d))),
        rt * (1.0 + r * (2.0 * b + r * (3.0 * c + r * 4.0 * d))),
    )


def _density(pressure: float, temp_k: float) -> float:
    density = pressure / (GAS_CONSTANT * temp_k)
    for _ in range(30):
        p, slope = _pressure(density, temp_k)
        step = (p - pressure) / slope
        density -= step
        if abs(step) <= 1e-14 * density:
            break
    return density
