"""Subcooling and superheat from channel values, with uncertainty, or the reason for none."""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.channels import Channel, Role
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import absolute_from_gauge
from chargeassist.physics.cycle import above_dew_k, below_bubble_k
from chargeassist.physics.saturation import Refrigerant
from chargeassist.physics.uncertainty import (
    DEFAULT_BAROMETER_HALF_WIDTH_PA,
    DEFAULT_CONTACT_HALF_WIDTH_K,
    MeasurementLimits,
    subcooling_budget,
    superheat_budget,
)
from chargeassist.stream.facts import Measured

BUDGET_REUSE = 0.01
BUDGET_REUSE_K = 1.0
"""A budget is recomputed once the pressure has moved by this share [1], which moves U by less than
1 %, or the temperature by this [K], where its limits are a share of the reading."""

Line = tuple[Measured | NoValue, float | None]
"""Subcooling or superheat, and the saturation temperature at the line's pressure [K]."""

PARTNER: Final = {
    Role.LIQUID_PRESSURE: (Role.LIQUID_TEMPERATURE, "liquid line"),
    Role.SUCTION_PRESSURE: (Role.SUCTION_TEMPERATURE, "suction line"),
}
PAIRED: Final = frozenset({*PARTNER, *(temp for temp, _ in PARTNER.values())})

OFF_K: Final = -20.0
"""No running circuit reads so little [K], not even while it ramps; a pressure probe whose hose is
off does (-60 to -90 K), and one whose unit was changed. Settling learns nothing from it.
Assumption."""


def is_off(reading: Measured | NoValue | float) -> bool:
    """Return whether subcooling or superheat [K] is so far below zero that no circuit reads it."""
    value_k = reading.value_k if isinstance(reading, Measured) else reading
    return isinstance(value_k, float) and value_k < OFF_K


@dataclass(frozen=True, slots=True)
class Pair:
    """The two channels one derived value is made from."""

    pressure: Channel
    temperature: Channel


class DerivedValue:
    """Subcooling or superheat of one pair of channels.

    Parameters
    ----------
    refrigerant : Refrigerant
    pair : Pair
        Liquid line for subcooling, suction line for superheat.
    barometer_half_width_pa : float
        Declared limit of the station pressure [Pa].
    contact_half_width_k : float
        How far pipe and refrigerant may differ under the clamp [K].
    """

    def __init__(
        self,
        refrigerant: Refrigerant,
        pair: Pair,
        barometer_half_width_pa: float = DEFAULT_BAROMETER_HALF_WIDTH_PA,
        contact_half_width_k: float = DEFAULT_CONTACT_HALF_WIDTH_K,
    ) -> None:
        self._refrigerant = refrigerant
        self._pair = pair
        self._liquid = pair.pressure.role is Role.LIQUID_PRESSURE
        self._gauge = pair.pressure.counted_from is not Reference.ABSOLUTE
        self._barometer_half_width_pa = barometer_half_width_pa if self._gauge else 0.0
        self._contact_half_width_k = contact_half_width_k
        self._saturated_at = refrigerant.bubble_temp_k if self._liquid else refrigerant.dew_temp_k
        self._difference = below_bubble_k if self._liquid else above_dew_k
        self._pa_abs = math.nan  # the pressure of the newest look-up, and what it gave
        self._saturation_k: float | NoValue = NoValue("not looked up yet")
        self._budget_at: tuple[float, float, float] | None = None
        accuracy = pair.temperature.accuracy
        self._temp_counts = accuracy is not None and accuracy.relative > 0.0

    @property
    def read_by(self) -> tuple[str, str]:
        """Names of the two channels."""
        return self._pair.pressure.name, self._pair.temperature.name

    def absolute_pa(self, pressure_pa: float, station_pa_abs: float) -> float:
        """Return the pressure channel's value as absolute pressure [Pa]."""
        return absolute_from_gauge(pressure_pa, station_pa_abs) if self._gauge else pressure_pa

    def saturation_k(self, pressure_pa: float, station_pa_abs: float) -> float | NoValue:
        """Return the bubble point (liquid line) or dew point (suction line) [K].

        Parameters
        ----------
        pressure_pa : float
            As the channel counts it [Pa].
        station_pa_abs : float
            Station pressure [Pa absolute].
        """
        pa_abs = self.absolute_pa(pressure_pa, station_pa_abs)
        if pa_abs != self._pa_abs:
            self._saturation_k = self._saturated_at(pa_abs)
            self._pa_abs = pa_abs
        return self._saturation_k

    def value_k(self, pressure_pa: float, temp_k: float, station_pa_abs: float) -> float | NoValue:
        """Return subcooling or superheat [K]."""
        return self._difference(self.saturation_k(pressure_pa, station_pa_abs), temp_k)

    def measured(
        self, pressure_pa: float, temp_k: float, station_pa_abs: float
    ) -> Measured | NoValue:
        """Return the value with its expanded uncertainty, None where accuracy is not declared."""
        saturation_k = self.saturation_k(pressure_pa, station_pa_abs)
        return self.measured_at(saturation_k, pressure_pa, temp_k)

    def measured_at(
        self, saturation_k: float | NoValue, pressure_pa: float, temp_k: float
    ) -> Measured | NoValue:
        """Return the same for a saturation temperature that was just looked up [K]."""
        value = self._difference(saturation_k, temp_k)
        if isinstance(value, NoValue):
            return value
        return Measured(value_k=value, expanded_k=self._expanded_k(pressure_pa, temp_k))

    def _expanded_k(self, pressure_pa: float, temp_k: float) -> float | None:
        """Return the expanded uncertainty at the pressure last looked up [K]."""
        if self._budget_at is not None:
            at_pa, at_k, expanded_k = self._budget_at
            stays = not self._temp_counts or abs(temp_k - at_k) <= BUDGET_REUSE_K
            if stays and abs(self._pa_abs - at_pa) <= BUDGET_REUSE * at_pa:
                return expanded_k
        pressure_half_width_pa = self._pair.pressure.half_width(pressure_pa)
        temp_half_width_k = self._pair.temperature.half_width(temp_k)
        if pressure_half_width_pa is None or temp_half_width_k is None:
            return None
        limits = MeasurementLimits(
            pressure_half_width_pa=pressure_half_width_pa,
            temp_half_width_k=temp_half_width_k,
            barometer_half_width_pa=self._barometer_half_width_pa,
            contact_half_width_k=self._contact_half_width_k,
        )
        budget_of = subcooling_budget if self._liquid else superheat_budget
        budget = budget_of(self._refrigerant, self._pa_abs, limits)
        if isinstance(budget, NoValue):
            return None
        self._budget_at = (self._pa_abs, temp_k, budget.expanded_u_k)
        return budget.expanded_u_k
