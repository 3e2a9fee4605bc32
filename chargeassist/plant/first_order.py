"""A first-order plant: an air conditioner that answers to refrigerant, frequency and weather.

What it is: mass inventories that add up, a steady subcooling curve, and first-order lags, joined so
that readings move together as on a running unit. It is small on purpose.

What it is not: there is no energy balance, no compressor map, no heat exchanger, no metering
device; it does not stop, equalise, defrost or trip. Capacity, power and indoor side are not
modelled. Its numbers are assumptions of this project except where a source stands beside them; it
is no substitute for a real unit and proves nothing about one.
"""

import math
import random
from collections.abc import Callable, Mapping
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.plant.settings import PlantSettings

SLOPE_AT_SEAL_K: Final = 36.5
"""Rise of subcooling where the liquid seal closes [K per plate charge].

With `SATURATION_K` it gives 32.4 K at 5 K of subcooling. The virtual charge sensor of Li and Braun
implies 10 °F / ((1 - 0.75) 0.73) = 55 °F (30.6 K) per plate charge at a rated 10 °F (equation and
constants from memory); mechanistic models give up to a third more.
"""

SATURATION_K: Final = 45.0
"""Subcooling the curve bends towards [K] (assumption)."""

SEAL_SHARE: Final = 0.82
"""Charge at which the liquid line begins to fill, at the required frequency [share of plate]."""

SEAL_SOFTNESS_K: Final = 0.15
"""Rounding of the curve at the seal [K] (assumption)."""

FREQUENCY_SHARE: Final = 0.16
"""Charge that a stopped compressor would seem to lack [share of plate].

Two thirds of the frequency read about 1.8 K less subcooling at the same charge (assumption, from
a mechanistic model).
"""

FAST_SHARE: Final = 0.6
"""Part of the added liquid that boils off in `FAST_LAG_S`; the rest, in oil and accumulator,
in `SLOW_LAG_S` (assumption)."""

FAST_LAG_S: Final = 25.0
SLOW_LAG_S: Final = 60.0
CONDENSER_LAG_S: Final = 12.0
SUPERHEAT_LAG_S: Final = 10.0
DISCHARGE_LAG_S: Final = 60.0
"""Time constants [s] (assumptions)."""

VALVE_SUPERHEAT_K: Final = 6.0
"""Superheat the valve holds when liquid reaches it [K]."""

GUST_SD_K: Final = 0.2
GUST_LAG_S: Final = 40.0
"""Outdoor air around its mean: standard deviation [K] and correlation time [s]."""

RETURN_AIR_K: Final = 297.0
GRID_S: Final = 0.5
LOWEST_CIRCUIT_KG: Final = 0.05


def steady_subcooling_k(charge_share: float, frequency_share: float = 1.0) -> float:
    """Return the subcooling that belongs to a charge once all is settled [K].

    Parameters
    ----------
    charge_share : float
        Circulating charge [share of plate charge].
    frequency_share : float
        Compressor frequency [share of the required one].

    Returns
    -------
    float
        Near 0 below the seal, then `SLOPE_AT_SEAL_K` bending towards `SATURATION_K`; never more
        than the air lets the liquid cool [K].
    """
    above_k = _above_seal(charge_share, frequency_share) * SLOPE_AT_SEAL_K
    # log1p(exp(x)) without overflow for large x.
    scaled = above_k / SEAL_SOFTNESS_K
    rounded_k = SEAL_SOFTNESS_K * (max(scaled, 0.0) + math.log1p(math.exp(-abs(scaled))))
    bent_k = SATURATION_K * -math.expm1(-rounded_k / SATURATION_K)
    return min(bent_k, 14.5 * math.pow(frequency_share, 0.9))


def _above_seal(charge_share: float, frequency_share: float) -> float:
    return charge_share - SEAL_SHARE - FREQUENCY_SHARE * (1.0 - frequency_share)


class FirstOrderPlant:
    """One running unit with a cylinder connected to its suction port.

    Refrigerant is in the cylinder (`cylinder_kg`), boiling off after an addition (`arriving_kg`) or
    circulating (`circulating_kg`); every flow is taken from one and given to another, so their sum
    stays. What is recovered goes to a cylinder on the same scale and is counted there.

    Parameters
    ----------
    settings : PlantSettings

    Raises
    ------
    ConfigError
        The refrigerant is unknown, or has no saturation line at this weather.

    Attributes
    ----------
    t : float
        Time since the start [s].
    frequency_hz, outdoor_k, condensing_k, evaporating_k, discharge_k : float
        State of the unit [Hz], [K].
    subcooling_k, superheat_k : float
        Of the liquid and the suction line, without any probe's error [K].
    """

    def __init__(self, settings: PlantSettings) -> None:
        self.settings = settings
        self._refrigerant = refrigerant(settings.refrigerant)
        self._gusts = random.Random(f"gusts {settings.seed}")  # seeded play, no secret
        self._grid_k = 0
        self._fast_kg = 0.0
        self._slow_kg = 0.0
        self._inflow_kg = 0.0  # still to flow from the open cylinder valve
        self._recovery_kg = 0.0  # still to be recovered
        self._flowed_kg = 0.0  # since the step was begun
        self._open = False
        self._release_kg_per_s = 0.0
        self._command_hz = settings.required_hz
        self.t = 0.0
        self.circulating_kg = settings.charge_kg
        self.cylinder_kg = settings.cylinder_kg
        self.frequency_hz = settings.start_hz
        self.outdoor_k = settings.outdoor_k + GUST_SD_K * self._gusts.gauss(0.0, 1.0)
        self.subcooling_k = self._steady_subcooling_k()
        self.evaporating_k = self._steady_evaporating_k()
        self.superheat_k = self._steady_superheat_k()
        self.condensing_k = self._steady_condensing_k()
        self.discharge_k = self._steady_discharge_k()
        for line, temp_k in (
            (self._refrigerant.bubble_pressure_pa_abs, settings.outdoor_k),
            (self._refrigerant.bubble_pressure_pa_abs, settings.outdoor_k + 20.0),
            (self._refrigerant.dew_pressure_pa_abs, 270.0),
            (self._refrigerant.dew_pressure_pa_abs, 290.0),
        ):
            pressure = line(temp_k)
            if isinstance(pressure, NoValue):
                raise ConfigError(
                    f"the simulated unit cannot run on {self._refrigerant.name} with outdoor air "
                    f"at {settings.outdoor_k:.1f} K: {pressure.reason}; choose other weather or "
                    f"another refrigerant"
                )

    @property
    def arriving_kg(self) -> float:
        """Added refrigerant that does not circulate yet [kg]."""
        return self._fast_kg + self._slow_kg

    @property
    def circuit_kg(self) -> float:
        """All refrigerant in the unit [kg]."""
        return self.circulating_kg + self._fast_kg + self._slow_kg

    @property
    def current_a(self) -> float:
        """Line current of the compressor [A]; rises 2.2 % per kelvin of condensing temperature."""
        share = self.frequency_hz / self.settings.required_hz
        return 0.6 + 8.0 * math.pow(share, 1.05) * (1.0 + 0.022 * (self.condensing_k - 311.0))

    def begin_step(self, mass_kg: float | None = None) -> None:
        """Open the valve.

        Parameters
        ----------
        mass_kg : float, optional
            Exactly this much is added, or recovered when negative [kg]; without it liquid flows
            until `end_step`.
        """
        self._open = True
        self._flowed_kg = 0.0
        self._recovery_kg = 0.0
        self._inflow_kg = math.inf if mass_kg is None else max(mass_kg, 0.0)
        if mass_kg is not None and mass_kg < 0.0:
            self._recovery_kg = -mass_kg

    def end_step(self, mass_kg: float | None = None) -> None:
        """Shut the valve; what is told of a step that was not seen is made up for.

        Parameters
        ----------
        mass_kg : float, optional
            What the technician says went in. The plant goes by what flowed, with two exceptions,
            each done at the usual rate: a negative mass is recovered, so that the whole step comes
            to it; a positive one without a step begun is added.
        """
        self._inflow_kg = 0.0
        if mass_kg is not None and mass_kg < 0.0:
            self._recovery_kg = max(0.0, self._flowed_kg - mass_kg)
        elif not self._open and mass_kg is not None:
            self._inflow_kg = mass_kg
        else:
            self._recovery_kg = 0.0
        self._open = False

    def command_frequency(self, frequency_hz: float | None = None) -> None:
        """Let the compressor go to a frequency [Hz], a tenth of the required or more.

        None is the required one.
        """
        required_hz = self.settings.required_hz
        wanted_hz = required_hz if frequency_hz is None else frequency_hz
        self._command_hz = max(wanted_hz, 0.1 * required_hz)

    def step(self, dt_s: float) -> None:
        """Advance by `dt_s` [s]; see `run_until`."""
        self.run_until(self.t + dt_s)

    def run_until(self, t: float) -> None:
        """Advance to time `t` [s]; without effect if that is past.

        The gusts are drawn on a fixed grid of `GRID_S`, so the weather of a seed does not depend
        on how the time is cut into steps.
        """
        while self.t < t:
            grid_t = (self._grid_k + 1) * GRID_S
            until = min(t, grid_t)
            self._advance(until - self.t)
            self.t = until
            if until == grid_t:
                self._grid_k += 1
                self._draw_gust()

    def truth(self) -> Mapping[Role, float]:
        """Return what a probe without error would read, by role [SI; pressures Pa absolute]."""
        r = self._refrigerant
        share = self.frequency_hz / self.settings.required_hz
        condensing_k = min(max(self.condensing_k, r.bubble_temp_min_k), r.bubble_temp_max_k)
        evaporating_k = min(max(self.evaporating_k, r.dew_temp_min_k), r.dew_temp_max_k)
        return {
            Role.LIQUID_PRESSURE: _pressure(r.bubble_pressure_pa_abs, condensing_k),
            Role.LIQUID_TEMPERATURE: self.condensing_k - self.subcooling_k,
            Role.SUCTION_PRESSURE: _pressure(r.dew_pressure_pa_abs, evaporating_k),
            Role.SUCTION_TEMPERATURE: self.evaporating_k + self.superheat_k,
            Role.DISCHARGE_TEMPERATURE: self.discharge_k,
            Role.OUTDOOR_AIR_TEMPERATURE: self.outdoor_k,
            Role.RETURN_AIR_TEMPERATURE: RETURN_AIR_K,
            Role.SUPPLY_AIR_TEMPERATURE: RETURN_AIR_K - 10.5 * math.sqrt(share),
            Role.COMPRESSOR_CURRENT: self.current_a,
            Role.COMPRESSOR_FREQUENCY: self.frequency_hz,
            Role.CYLINDER_MASS: self.cylinder_kg + self.settings.tare_kg,
            Role.BAROMETER: self.settings.station_pa_abs,
        }

    def _advance(self, h: float) -> None:
        self._move_mass(h)
        self._move_frequency(h)
        condenser = -math.expm1(-h / CONDENSER_LAG_S)
        self.subcooling_k += condenser * (self._steady_subcooling_k() - self.subcooling_k)
        self.condensing_k += condenser * (self._steady_condensing_k() - self.condensing_k)
        self.evaporating_k += condenser * (self._steady_evaporating_k() - self.evaporating_k)
        superheat = -math.expm1(-h / SUPERHEAT_LAG_S)
        self.superheat_k += superheat * (self._steady_superheat_k() - self.superheat_k)
        discharge = -math.expm1(-h / DISCHARGE_LAG_S)
        self.discharge_k += discharge * (self._steady_discharge_k() - self.discharge_k)

    def _move_mass(self, h: float) -> None:
        added_kg = min(self.settings.flow_kg_per_s * h, self._inflow_kg, self.cylinder_kg)
        self._inflow_kg -= added_kg
        self._flowed_kg += added_kg
        self.cylinder_kg -= added_kg
        fast_kg = FAST_SHARE * added_kg
        self._fast_kg += fast_kg
        self._slow_kg += added_kg - fast_kg
        from_fast_kg = -math.expm1(-h / FAST_LAG_S) * self._fast_kg
        from_slow_kg = -math.expm1(-h / SLOW_LAG_S) * self._slow_kg
        self._fast_kg -= from_fast_kg
        self._slow_kg -= from_slow_kg
        released_kg = from_fast_kg + from_slow_kg
        left_kg = max(0.0, self.circulating_kg - LOWEST_CIRCUIT_KG)
        out_kg = min(self.settings.recovery_kg_per_s * h, self._recovery_kg, left_kg)
        self._recovery_kg -= out_kg
        self.circulating_kg += released_kg - out_kg
        self.cylinder_kg += out_kg
        self._release_kg_per_s = released_kg / h

    def _move_frequency(self, h: float) -> None:
        # Up slowly enough for oil return, but there within three minutes; down at once.
        up_hz = max(0.4, (self.settings.required_hz - self.settings.start_hz) / 150.0) * h
        change_hz = self._command_hz - self.frequency_hz
        self.frequency_hz += min(max(change_hz, -2.0 * h), up_hz)

    def _draw_gust(self) -> None:
        keep = math.exp(-GRID_S / GUST_LAG_S)
        mean_k = self.settings.outdoor_k
        kick_k = GUST_SD_K * math.sqrt(1.0 - keep * keep) * self._gusts.gauss(0.0, 1.0)
        self.outdoor_k = mean_k + keep * (self.outdoor_k - mean_k) + kick_k

    def _shares(self) -> tuple[float, float]:
        s = self.settings
        return self.circulating_kg / s.plate_kg, self.frequency_hz / s.required_hz

    def _starved(self) -> float:
        # What is missing below the seal: flash gas reaches the valve. At lower frequency the valve
        # needs less, so the seal of the required frequency counts at all.
        return max(0.0, -_above_seal(self._shares()[0], 1.0))

    def _steady_subcooling_k(self) -> float:
        return steady_subcooling_k(*self._shares())

    def _steady_condensing_k(self) -> float:
        # The flooded part of the coil no longer condenses: about 0.25 K per kelvin of subcooling.
        share = self._shares()[1]
        return self.outdoor_k + 12.5 * math.pow(share, 0.9) + 0.25 * self.subcooling_k

    def _steady_evaporating_k(self) -> float:
        return 282.0 + 6.0 * (1.0 - self._shares()[1]) - min(25.0 * self._starved(), 12.0)

    def _steady_superheat_k(self) -> float:
        # Liquid boiling off in the suction line cools it while it lasts.
        wanted_k = VALVE_SUPERHEAT_K + 90.0 * self._starved() - 440.0 * self._release_kg_per_s
        return min(max(wanted_k, 0.0), RETURN_AIR_K - 1.0 - self.evaporating_k)

    def _steady_discharge_k(self) -> float:
        lift_k = self.condensing_k - self.evaporating_k
        return self.condensing_k + 1.1 * lift_k + 1.2 * (self.superheat_k - VALVE_SUPERHEAT_K)


def _pressure(line: Callable[[float], float | NoValue], temp_k: float) -> float:
    pressure = line(temp_k)
    if isinstance(pressure, float):
        return pressure
    raise AssertionError(pressure.reason)  # the caller keeps inside the table
