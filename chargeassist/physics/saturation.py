"""Bubble and dew points of refrigerants from the shipped table; numpy only, no CoolProp.

Use the bubble point for subcooling and the dew point for superheat. Every look-up that cannot be
answered returns `NoValue` with the reason: readings from the field never raise here.
"""

import difflib
import math
import re
from functools import cache
from typing import Final

import numpy as np

from chargeassist.model.errors import UnknownRefrigerantError
from chargeassist.model.values import NoValue
from chargeassist.physics import table
from chargeassist.physics.curve import FloatArray, LogPressureCurve

_IGNORED_IN_NAMES: Final = re.compile(r"[\s_()\-\u2010-\u2015\u2212]")


class Refrigerant:
    """Saturation properties of one refrigerant between two pressures.

    Made by `refrigerant`; made once per designation and shared.

    Attributes
    ----------
    name : str
        ANSI/ASHRAE 34 designation with a hyphen, "R-454B".
    model : str
        How CoolProp computed it: "pure", "pseudo-pure" (one equation fitted to the blend) or
        "mixture" (model of the components). The uncertainty of the table depends on it.
    composition : tuple of (str, float)
        Component designations and nominal mass fractions [kg/kg].
    pressure_min_pa_abs, pressure_max_pa_abs : float
        Range of the table, 60 kPa to 95 % of the critical pressure [Pa absolute].
    critical_pressure_pa_abs, critical_temp_k : float
        Critical point [Pa absolute], [K].
    bubble_temp_min_k, bubble_temp_max_k, dew_temp_min_k, dew_temp_max_k : float
        The two lines at the ends of the range [K].

    Notes
    -----
    257 nodes per line, uniform in ln p, cubic between them: measured within 0.04 mK of CoolProp 8.0
    between the nodes of every line (a test demands 2 mK). How near CoolProp is to the substance is
    another matter: see `chargeassist.physics.uncertainty`.
    """

    __slots__ = (
        "_bubble",
        "_density",
        "_dew",
        "bubble_temp_max_k",
        "bubble_temp_min_k",
        "composition",
        "critical_pressure_pa_abs",
        "critical_temp_k",
        "dew_temp_max_k",
        "dew_temp_min_k",
        "model",
        "name",
        "pressure_max_pa_abs",
        "pressure_min_pa_abs",
    )

    def __init__(self, entry: table.TableEntry) -> None:
        low, high = entry.low_pa_abs, entry.high_pa_abs
        self._bubble = LogPressureCurve(low, high, np.array(entry.bubble_temp_k))
        self._dew = LogPressureCurve(low, high, np.array(entry.dew_temp_k))
        self._density = LogPressureCurve(low, high, np.array(entry.liquid_density_kg_per_m3))
        self.name = entry.name
        self.model = entry.model
        self.composition = entry.composition
        self.pressure_min_pa_abs = low
        self.pressure_max_pa_abs = high
        self.critical_pressure_pa_abs = entry.critical_pressure_pa_abs
        self.critical_temp_k = entry.critical_temp_k
        self.bubble_temp_min_k = self._bubble.first
        self.bubble_temp_max_k = self._bubble.last
        self.dew_temp_min_k = self._dew.first
        self.dew_temp_max_k = self._dew.last

    def __repr__(self) -> str:
        return f"<Refrigerant {self.name}>"

    def bubble_temp_k(self, pressure_pa_abs: float) -> float | NoValue:
        """Return the temperature at which the liquid begins to boil [K].

        Parameters
        ----------
        pressure_pa_abs : float
            Any float, also NaN or infinite [Pa absolute].

        Returns
        -------
        float or NoValue
            Bubble point [K]; `NoValue` outside the range of the table.
        """
        if self.pressure_min_pa_abs <= pressure_pa_abs <= self.pressure_max_pa_abs:
            return self._bubble.value(pressure_pa_abs)
        return self._no_pressure(pressure_pa_abs)

    def dew_temp_k(self, pressure_pa_abs: float) -> float | NoValue:
        """Return the temperature at which the vapour begins to condense [K].

        Parameters
        ----------
        pressure_pa_abs : float
            Any float, also NaN or infinite [Pa absolute].

        Returns
        -------
        float or NoValue
            Dew point [K]; `NoValue` outside the range of the table.
        """
        if self.pressure_min_pa_abs <= pressure_pa_abs <= self.pressure_max_pa_abs:
            return self._dew.value(pressure_pa_abs)
        return self._no_pressure(pressure_pa_abs)

    def glide_k(self, pressure_pa_abs: float) -> float | NoValue:
        """Return dew point less bubble point at one pressure [K]; 0 for pure fluids."""
        if self.pressure_min_pa_abs <= pressure_pa_abs <= self.pressure_max_pa_abs:
            return self._dew.value(pressure_pa_abs) - self._bubble.value(pressure_pa_abs)
        return self._no_pressure(pressure_pa_abs)

    def bubble_slope_k_per_pa(self, pressure_pa_abs: float) -> float | NoValue:
        """Return the change of the bubble point with pressure [K/Pa], `NoValue` out of range."""
        if self.pressure_min_pa_abs <= pressure_pa_abs <= self.pressure_max_pa_abs:
            return self._bubble.slope(pressure_pa_abs)
        return self._no_pressure(pressure_pa_abs)

    def dew_slope_k_per_pa(self, pressure_pa_abs: float) -> float | NoValue:
        """Return the change of the dew point with pressure [K/Pa], `NoValue` out of range."""
        if self.pressure_min_pa_abs <= pressure_pa_abs <= self.pressure_max_pa_abs:
            return self._dew.slope(pressure_pa_abs)
        return self._no_pressure(pressure_pa_abs)

    def bubble_temps_k(self, pressures_pa_abs: FloatArray) -> FloatArray:
        """Return the bubble point at each pressure, shape (n,) as the input [K]; NaN for none."""
        return self._temps(self._bubble, pressures_pa_abs)

    def dew_temps_k(self, pressures_pa_abs: FloatArray) -> FloatArray:
        """Return the dew point at each pressure, shape (n,) as the input [K]; NaN for none."""
        return self._temps(self._dew, pressures_pa_abs)

    def bubble_pressure_pa_abs(self, temp_k: float) -> float | NoValue:
        """Return the pressure at which liquid of this temperature begins to boil [Pa absolute].

        The inverse of `bubble_temp_k` to rounding; `NoValue` outside the table.
        """
        if self.bubble_temp_min_k <= temp_k <= self.bubble_temp_max_k:
            return self._bubble.pressure(temp_k)
        return self._no_temp(temp_k, "bubble", self.bubble_temp_min_k, self.bubble_temp_max_k)

    def dew_pressure_pa_abs(self, temp_k: float) -> float | NoValue:
        """Return the pressure at which vapour of this temperature begins to condense [Pa absolute].

        The inverse of `dew_temp_k` to rounding; `NoValue` outside the table.
        """
        if self.dew_temp_min_k <= temp_k <= self.dew_temp_max_k:
            return self._dew.pressure(temp_k)
        return self._no_temp(temp_k, "dew", self.dew_temp_min_k, self.dew_temp_max_k)

    def saturated_liquid_density_kg_per_m3(self, temp_k: float) -> float | NoValue:
        """Return the density of liquid at its bubble point [kg/m3], `NoValue` outside the table.

        Subcooled liquid of the same temperature is denser: by 0.2 to 0.9 % with 8 K of subcooling
        at 40 degrees Celsius, by 2.2 % for R-410A with 10 K at 50 (computed with CoolProp 8.0).
        """
        if self.bubble_temp_min_k <= temp_k <= self.bubble_temp_max_k:
            return self._density.value(self._bubble.pressure(temp_k))
        return self._no_temp(temp_k, "bubble", self.bubble_temp_min_k, self.bubble_temp_max_k)

    def _temps(self, curve: LogPressureCurve, pressures_pa_abs: FloatArray) -> FloatArray:
        inside = (pressures_pa_abs >= self.pressure_min_pa_abs) & (
            pressures_pa_abs <= self.pressure_max_pa_abs
        )
        if inside.all():
            return curve.values(pressures_pa_abs)
        temps = np.full(pressures_pa_abs.shape, np.nan)
        temps[inside] = curve.values(pressures_pa_abs[inside])
        return temps

    def _no_pressure(self, pressure_pa_abs: float) -> NoValue:
        if not math.isfinite(pressure_pa_abs):
            return NoValue("the pressure is not a finite number")
        kpa = pressure_pa_abs / 1000.0
        if pressure_pa_abs <= 0.0:
            return NoValue(f"{kpa:.4g} kPa absolute is no pressure: it must be above zero")
        if pressure_pa_abs < self.pressure_min_pa_abs:
            lowest = self.pressure_min_pa_abs / 1000.0
            return NoValue(
                f"{kpa:.4g} kPa absolute is below the {self.name} table ({lowest:.0f} kPa absolute)"
            )
        critical = self.critical_pressure_pa_abs / 1000.0
        if pressure_pa_abs >= self.critical_pressure_pa_abs:
            return NoValue(
                f"{kpa:.4g} kPa absolute is above the critical pressure of {self.name} "
                f"({critical:.0f} kPa absolute): there is no saturation temperature"
            )
        highest = self.pressure_max_pa_abs / 1000.0
        return NoValue(
            f"{kpa:.4g} kPa absolute is above the {self.name} table ({highest:.0f} kPa absolute, "
            f"95 % of critical)"
        )

    def _no_temp(self, temp_k: float, line: str, lowest_k: float, highest_k: float) -> NoValue:
        if not math.isfinite(temp_k):
            return NoValue("the temperature is not a finite number")
        return NoValue(
            f"{temp_k:.4g} K is outside the {self.name} {line} line "
            f"({lowest_k:.2f} to {highest_k:.2f} K)"
        )


def refrigerant_names() -> tuple[str, ...]:
    """Return the designations in the shipped table, in rising number order."""
    return tuple(table.shipped_table().entries)


def refrigerant(name: str) -> Refrigerant:
    """Return a refrigerant of the shipped table.

    Parameters
    ----------
    name : str
        Designation, with or without hyphen, in any case: "R-32", "R32", "r 32", "R-1234ze(E)".

    Raises
    ------
    UnknownRefrigerantError
        The designation is not in the table; the text names those that are.
    RecordDamagedError
        The table file contradicts its own hash.
    """
    found = _designations().get(_key(name))
    if found is None:
        names = refrigerant_names()
        near = difflib.get_close_matches(_key(name), [_key(each) for each in names], n=1)
        hint = f" (did you mean {_designations()[near[0]]}?)" if near else ""
        raise UnknownRefrigerantError(
            f"expected a refrigerant of the table, came {name!r}{hint}; there are: "
            f"{', '.join(names)}"
        )
    return _made(found)


def _key(name: str) -> str:
    return _IGNORED_IN_NAMES.sub("", name).upper()


@cache
def _designations() -> dict[str, str]:
    return {_key(name): name for name in refrigerant_names()}


@cache
def _made(name: str) -> Refrigerant:
    return Refrigerant(table.shipped_table().entries[name])
