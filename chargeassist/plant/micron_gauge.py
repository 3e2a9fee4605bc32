"""A thermal micron gauge: what it shows for the gases that are there.

It senses the heat that gas carries off and is adjusted with air or nitrogen, so it shows more or
less than the true pressure of any other gas.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.model.values import NoValue
from chargeassist.physics import nitrogen, water_vapour
from chargeassist.plant.figure_limits import refuse_outside

_GASES: Final = {
    "R-32": (0.052024, 1.2401),
    "R-134a": (0.102032, 1.1084),
    "R-125": (0.120021, 1.0966),
    "R-1234yf": (0.114042, 1.0892),
}
"""Molar mass [kg/mol] and ratio of ideal-gas heat capacities at 25 degrees Celsius."""

_BLENDS: Final = {
    "R-410A": (("R-32", 0.5), ("R-125", 0.5)),
    "R-454B": (("R-32", 0.689), ("R-1234yf", 0.311)),
}
"""Mass fractions (ANSI/ASHRAE Standard 34)."""

_NITROGEN: Final = (nitrogen.MOLAR_MASS_KG, 1.4)
_WATER: Final = (water_vapour.MOLAR_MASS_KG, 1.3290)


def relative_reading(molar_mass_kg: float, heat_capacity_ratio: float) -> float:
    """Return reading over true pressure for a gas in a gauge adjusted with nitrogen [-].

    Notes
    -----
    Free-molecular conduction, ``(g + 1) / (g - 1) / sqrt(M)``, with the same accommodation for
    all: an estimate for the low range; heavy vapour reads high.

    References
    ----------
    .. [1] E. H. Kennard, Kinetic Theory of Gases (1938), section 187 (from memory).
    """

    def conducted(mass_kg: float, ratio: float) -> float:
        return (ratio + 1.0) / (ratio - 1.0) / math.sqrt(mass_kg)

    return conducted(molar_mass_kg, heat_capacity_ratio) / conducted(*_NITROGEN)


WATER_READING: Final = relative_reading(*_WATER)


def refrigerant_reading(name: str) -> float:
    """Return `relative_reading` of a refrigerant's vapour [-].

    Raises
    ------
    ConfigError
        The gauge model does not have this refrigerant; the text names those it has.
    """
    if name not in _GASES and name not in _BLENDS:
        raise ConfigError(
            f"the simulated gauge expected one of {', '.join((*_GASES, *_BLENDS))}, came {name!r}; "
            f"choose one of these"
        )
    # Free molecules do not meet: each gas of a blend carries heat by its own partial pressure.
    parts = _BLENDS.get(name, ((name, 1.0),))
    moles = [share / _GASES[part][0] for part, share in parts]
    readings = [relative_reading(*_GASES[part]) for part, _ in parts]
    return math.fsum(n * r for n, r in zip(moles, readings, strict=True)) / math.fsum(moles)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeSettings:
    """How the gauge behaves; assumptions typical of field gauges, not figures of any maker.

    Attributes
    ----------
    lag_s : float
        Time constant [s].
    offset_pa : float
        What oil on the sensor adds, or takes away if negative [Pa].
    resolution_pa : float
        Smallest step [Pa]; one micron.
    over_pa_abs : float
        Above this it shows no figure [Pa absolute]; 25 000 microns.

    Raises
    ------
    ConfigError
        A figure no such gauge has.
    """

    lag_s: float = 2.5
    offset_pa: float = 0.0
    resolution_pa: float = PASCAL_PER_MICRON
    over_pa_abs: float = 25_000.0 * PASCAL_PER_MICRON

    def __post_init__(self) -> None:
        refuse_outside(
            "the simulated gauge needs",
            (
                ("lag", self.lag_s, 0.0, 600.0, "s"),
                ("offset", self.offset_pa, -1e3, 1e3, "Pa"),
                ("resolution", self.resolution_pa, 0.0, 1e3, "Pa"),
                ("upper end", self.over_pa_abs, 10.0, 2e5, "Pa absolute"),
            ),
        )


class MicronGauge:
    """One gauge at one place.

    Parameters
    ----------
    settings : GaugeSettings
    refrigerant : str
        Whose vapour it may meet.
    """

    def __init__(self, settings: GaugeSettings, refrigerant: str = "R-32") -> None:
        self.settings = settings
        self._refrigerant_reading = refrigerant_reading(refrigerant)
        self._shown: float | None = None

    def follow(
        self, dt_s: float, gas_pa_abs: float, water_pa_abs: float, refrigerant_pa_abs: float
    ) -> None:
        """Let `dt_s` [s] pass with these partial pressures around it [Pa absolute]."""
        sensed = (
            gas_pa_abs
            + WATER_READING * water_pa_abs
            + self._refrigerant_reading * refrigerant_pa_abs
        )
        lag = self.settings.lag_s
        if self._shown is None or lag <= 0.0:
            self._shown = sensed
        else:
            self._shown += -math.expm1(-dt_s / lag) * (sensed - self._shown)

    def read_pa_abs(self) -> float | NoValue:
        """Return what it shows [Pa absolute], never below 0."""
        s = self.settings
        if self._shown is None:
            return NoValue("the vacuum gauge has not been connected")
        value = max(self._shown + s.offset_pa, 0.0)
        if value > s.over_pa_abs:
            return NoValue("pressure above the range of the vacuum gauge")
        if s.resolution_pa <= 0.0:
            return value
        return round(value / s.resolution_pa) * s.resolution_pa
