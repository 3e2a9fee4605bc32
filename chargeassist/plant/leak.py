"""A hole in a circuit: what flows through it, outwards under nitrogen, inwards under vacuum."""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.physics.atmosphere import SEA_LEVEL_PA_ABS
from chargeassist.physics.nitrogen import GAS_CONSTANT, MOLAR_MASS_KG

ISENTROPIC: Final = 1.4
"""Ratio of the heat capacities of a diatomic gas: nitrogen and air [-]."""

DISCHARGE: Final = 0.8
"""Share of the ideal nozzle's flow that passes a short rough hole (assumption) [-]."""

REFERENCE_PA_ABS: Final = SEA_LEVEL_PA_ABS
REFERENCE_K: Final = 293.15
"""A leak is named by what it passes from one atmosphere into vacuum at 20 degrees Celsius."""

_CRITICAL_RATIO: Final = (2.0 / (ISENTROPIC + 1.0)) ** (ISENTROPIC / (ISENTROPIC - 1.0))


def nitrogen_viscosity_pa_s(temp_k: float) -> float:
    """Return the viscosity of dilute nitrogen, within 4 % that of air too [Pa s].

    References
    ----------
    .. [1] F. M. White, Viscous Fluid Flow, table 1-2, Sutherland's law: 1.663e-5 Pa s at 273 K,
       constant 107 K (from memory); tested against CoolProp.
    """
    return 1.663e-5 * math.pow(temp_k / 273.0, 1.5) * (273.0 + 107.0) / (temp_k + 107.0)


def orifice_mol_per_s(diameter_m: float, from_pa: float, to_pa: float, temp_k: float) -> float:
    """Return the flow through a hole in a thin wall, ideal gas, choked or not [mol/s].

    Parameters
    ----------
    diameter_m : float
        [m].
    from_pa, to_pa : float
        Higher and lower pressure [Pa absolute].
    temp_k : float
        Of the gas before the hole [K].

    References
    ----------
    .. [1] Isentropic nozzle flow as in API Standard 520 part 1, critical flow of gas; tested
       against its implementation in `fluids`.
    """
    if from_pa <= to_pa:
        return 0.0
    k = ISENTROPIC
    area = 0.25 * math.pi * diameter_m * diameter_m
    ratio = max(to_pa / from_pa, _CRITICAL_RATIO)
    shape = 2.0 / (k - 1.0) * (ratio ** (2.0 / k) - ratio ** ((k + 1.0) / k))
    speed = math.sqrt(k * max(shape, 0.0) / (MOLAR_MASS_KG * GAS_CONSTANT * temp_k))
    return DISCHARGE * area * from_pa * speed


def capillary_mol_per_s(
    diameter_m: float, length_m: float, from_pa: float, to_pa: float, temp_k: float
) -> float:
    """Return the isothermal laminar flow through a long round hole [mol/s].

    References
    ----------
    .. [1] Hagen and Poiseuille for a gas: ``pi d^4 (p1^2 - p2^2) / (256 mu L R T)``.
    """
    if from_pa <= to_pa:
        return 0.0
    viscosity = nitrogen_viscosity_pa_s(temp_k)
    drop = (from_pa - to_pa) * (from_pa + to_pa)
    rt = GAS_CONSTANT * temp_k
    return math.pi * diameter_m**4 * drop / (256.0 * viscosity * length_m * rt)


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """One round hole through a wall.

    Attributes
    ----------
    diameter_m, length_m : float
        Of the hole; as long as the wall is thick [m].

    Raises
    ------
    ConfigError
        It is no hole, or wider than the pipe it would be in.
    """

    diameter_m: float
    length_m: float = 1e-3

    def __post_init__(self) -> None:
        for name, value, high in (("wide", self.diameter_m, 5e-3), ("long", self.length_m, 0.1)):
            if not 1e-7 <= value <= high:
                raise ConfigError(
                    f"a leak must be from 1e-07 to {high:g} m {name}, came {value:g} m"
                )

    @classmethod
    def sized(cls, flow_pa_m3_per_s: float) -> "Leak":
        """Return the leak that passes this much from one atmosphere into vacuum at 20 °C.

        Parameters
        ----------
        flow_pa_m3_per_s : float
            1e-7 to 10 [Pa m3/s].

        Raises
        ------
        ConfigError
            No hole in a pipe passes that.
        """
        if not 1e-7 <= flow_pa_m3_per_s <= 10.0:
            raise ConfigError(
                f"expected a leak from 1e-07 to 10 Pa m3/s, came {flow_pa_m3_per_s:g}; one of "
                f"1e-07 loses less than a pascal a day from ten litres"
            )
        wanted = flow_pa_m3_per_s / (GAS_CONSTANT * REFERENCE_K)
        low, high = 1e-7, 5e-3
        for _ in range(100):
            middle = math.sqrt(low * high)
            passed = cls(diameter_m=middle).mol_per_s(REFERENCE_PA_ABS, 0.0, REFERENCE_K)
            low, high = (middle, high) if passed < wanted else (low, middle)
        return cls(diameter_m=math.sqrt(low * high))

    def mol_per_s(self, from_pa: float, to_pa: float, temp_k: float) -> float:
        """Return the flow [mol/s], 0 where `from_pa` is not the higher pressure.

        Notes
        -----
        In small holes friction along the wall sets the flow (it goes with the difference of the
        squares of pressure), in large ones the speed of sound in the narrowest place (it goes with
        pressure). Both resist in series; the two are joined as ``(a^-2 + b^-2)^-1/2`` (assumption).
        """
        if from_pa <= to_pa:
            return 0.0
        a = orifice_mol_per_s(self.diameter_m, from_pa, to_pa, temp_k)
        b = capillary_mol_per_s(self.diameter_m, self.length_m, from_pa, to_pa, temp_k)
        return a * b / math.hypot(a, b)
