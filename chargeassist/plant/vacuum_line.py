"""What a hose, a valve core or a pipe passes under vacuum."""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.physics.nitrogen import GAS_CONSTANT

VISCOSITY_PA_S: Final = 1.82e-5
"""Of air at 20 degrees Celsius, taken for all gas here [Pa s]."""

CHOKED_M_PER_S: Final = 200.0
"""Most volume that a square metre of opening passes in a second [m/s]: 20 L/(s cm2) of air, W.
Umrath and others, Fundamentals of Vacuum Technology (Leybold), section 1.5.3 (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tube:
    """One round piece of a line.

    Attributes
    ----------
    diameter_m, length_m : float
        Inside [m].

    Raises
    ------
    ConfigError
        No tube of this work is so wide or so long.
    """

    diameter_m: float
    length_m: float

    def __post_init__(self) -> None:
        for name, value, low, high in (
            ("wide", self.diameter_m, 5e-4, 0.1),
            ("long", self.length_m, 1e-3, 200.0),
        ):
            if not low <= value <= high:
                raise ConfigError(
                    f"a tube must be from {low:g} to {high:g} m {name}, came {value:g} m"
                )


CORE_IN: Final = Tube(diameter_m=1.8e-3, length_m=0.025)
"""A service port with its valve core in place (dimensions assumed)."""

CORE_OUT: Final = Tube(diameter_m=6.0e-3, length_m=0.06)
"""The same port with the core taken out through a core tool (dimensions assumed)."""

QUARTER_INCH_HOSE: Final = Tube(diameter_m=4.8e-3, length_m=1.5)
HALF_INCH_HOSE: Final = Tube(diameter_m=12.7e-3, length_m=1.5)
"""A charging hose, and a vacuum hose (dimensions assumed)."""

MANIFOLD: Final = Tube(diameter_m=4.0e-3, length_m=0.4)
"""A gauge manifold in the line (dimensions assumed)."""


class Line:
    """Tubes in series.

    Parameters
    ----------
    *tubes : Tube
        At least one.

    Raises
    ------
    ConfigError
        There is none.

    Notes
    -----
    Viscous and molecular conductance are added, a usual approximation of the range between. The
    viscous one cannot exceed what the narrowest opening passes at the speed of sound.

    References
    ----------
    .. [1] W. Umrath and others, Fundamentals of Vacuum Technology (Leybold), section 1.5: for air
       at 20 degrees Celsius 135 d^4 p / l and 12.1 d^3 / l in litres, seconds, centimetres, mbar.
    """

    __slots__ = ("_choked", "_molecular", "_viscous")

    def __init__(self, *tubes: Tube) -> None:
        if not tubes:
            raise ConfigError("a line needs at least one tube")
        viscous = molecular = 0.0
        for tube in tubes:
            d, length = tube.diameter_m, tube.length_m
            viscous += 128.0 * VISCOSITY_PA_S * length / (math.pi * d**4)
            # The opening of a short tube resists as 4/3 of a diameter of length does.
            molecular += 12.0 * (length + 4.0 * d / 3.0) / (math.pi * d**3)
        self._viscous = 1.0 / viscous
        self._molecular = 1.0 / molecular
        narrowest = min(tube.diameter_m for tube in tubes)
        self._choked = CHOKED_M_PER_S * 0.25 * math.pi * narrowest * narrowest

    def viscous_m3_per_s(self, mean_pa_abs: float) -> float:
        """Return the part of the conductance that rises with pressure [m3/s]."""
        free = self._viscous * mean_pa_abs
        return free * self._choked / (free + self._choked)

    def molecular_m3_per_s(self, molar_mass_kg: float, temp_k: float) -> float:
        """Return the part that each gas has for itself, whatever the pressure [m3/s]."""
        mean_speed = math.sqrt(8.0 * GAS_CONSTANT * temp_k / (math.pi * molar_mass_kg))
        return self._molecular * mean_speed
