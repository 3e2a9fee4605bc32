"""A circuit under nitrogen for the standing-pressure test: filling, weather, sun and leaks.

Two parts, outdoors and indoors, share one pressure; gas moves between them as one warms. Amount of
gas is conserved to rounding, and so is energy, with the heat capacities of the ideal gas; pressure
is that of real nitrogen. Filling compresses what is inside and warms it: a reading taken at once
falls as that heat goes to the pipes, which is no leak.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue
from chargeassist.physics.nitrogen import (
    COLDEST_K,
    GAS_CONSTANT,
    WARMEST_K,
    density_mol_per_m3,
    density_pressure_pa_abs,
)
from chargeassist.plant.errors import PlantLimitError
from chargeassist.plant.grid import OnGrid
from chargeassist.plant.leak import Leak
from chargeassist.plant.nitrogen_settings import NitrogenSettings

GRID_S: Final = 0.5
"""Longest step [s]."""

CV: Final = 2.5 * GAS_CONSTANT
CP: Final = 3.5 * GAS_CONSTANT
"""Molar heat capacities of a diatomic ideal gas [J/(mol K)]."""

OUTDOOR: Final = 0
INDOOR: Final = 1
"""Index of each part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NitrogenTruth:
    """What probes without error would read.

    Attributes
    ----------
    pressure_pa_abs, pressure_pa_gauge : float
        Of the circuit [Pa].
    outdoor_pipe_k, indoor_pipe_k : float
        Pipe surfaces [K].
    outdoor_gas_k, indoor_gas_k : float
        The gas itself, which no probe sees [K].
    outdoor_air_k, indoor_air_k : float
        Shaded air [K].
    leak_mol_per_s : float
        Through all leaks together [mol/s].
    """

    pressure_pa_abs: float
    pressure_pa_gauge: float
    outdoor_pipe_k: float
    indoor_pipe_k: float
    outdoor_gas_k: float
    indoor_gas_k: float
    outdoor_air_k: float
    indoor_air_k: float
    leak_mol_per_s: float


class NitrogenCircuit(OnGrid):
    """The circuit, full of nitrogen at the pressure of the atmosphere to begin with.

    Parameters
    ----------
    settings : NitrogenSettings

    Attributes
    ----------
    supplied_mol, leaked_mol, vented_mol : float
        Gas in from the regulator, out by leaks, out by the vent [mol].
    heat_in_j : float
        From the air and the sun into the metal [J].
    gas_energy_in_j : float
        Enthalpy that came with gas less what left with it [J].
    """

    def __init__(self, settings: NitrogenSettings) -> None:
        super().__init__(GRID_S)
        self.settings = settings
        self._parts = (settings.outdoor, settings.indoor)
        self._air = [settings.outdoor_k, settings.indoor_k]
        self._sun_k = 0.0
        self._set_pa_abs = settings.station_pa_abs
        self._supply_open = self._vent_open = False
        self._leaks: list[tuple[int, Leak]] = []
        self._vent = Leak(diameter_m=settings.vent_m, length_m=0.01)
        self._change_air()
        self._metal = list(self._air)
        self._gas = list(self._air)
        start = settings.station_pa_abs
        self._mol = [
            part.volume_m3 * _density(start, temp)
            for part, temp in zip(self._parts, self._gas, strict=True)
        ]
        self.supplied_mol = self.leaked_mol = self.vented_mol = 0.0
        self.heat_in_j = self.gas_energy_in_j = 0.0

    @property
    def pressure_pa_abs(self) -> float:
        """Of the circuit [Pa absolute]."""
        return self._pressure(OUTDOOR, self._mol[OUTDOOR], self._gas[OUTDOOR])

    @property
    def amount_mol(self) -> float:
        """Gas in the circuit [mol]."""
        return self._mol[OUTDOOR] + self._mol[INDOOR]

    @property
    def energy_j(self) -> float:
        """Of gas and metal together, above 0 K [J]."""
        total = 0.0
        for part, mol, gas, metal in zip(
            self._parts, self._mol, self._gas, self._metal, strict=True
        ):
            total += CV * mol * gas + part.metal_j_per_k * metal
        return total

    def set_regulator(self, pressure_pa_gauge: float) -> None:
        """Set the regulator [Pa gauge]; one stage of a staged raise is one setting.

        Raises
        ------
        ConfigError
            Not a pressure a standing test is made at.
        """
        if not 0.0 <= pressure_pa_gauge <= 6.5e6:
            raise ConfigError(
                f"expected a regulator setting from 0 to 6.5e+06 Pa gauge, came "
                f"{pressure_pa_gauge:g}; nameplate and local code limit the real one"
            )
        self._set_pa_abs = self.settings.station_pa_abs + pressure_pa_gauge

    def set_supply(self, *, is_open: bool) -> None:
        """Open or shut the valve between regulator and circuit."""
        self._supply_open = is_open

    def set_vent(self, *, is_open: bool) -> None:
        """Open or shut a service port to the air."""
        self._vent_open = is_open

    def add_leak(self, leak: Leak, *, part: int = OUTDOOR) -> None:
        """Make a hole in one part (`OUTDOOR` or `INDOOR`)."""
        if part not in (OUTDOOR, INDOOR):
            raise ConfigError(f"expected part {OUTDOOR} (outdoor) or {INDOOR} (indoor), got {part}")
        self._leaks.append((part, leak))

    def mend_leaks(self) -> None:
        """Close every hole."""
        self._leaks.clear()

    def set_sun(self, rise_k: float) -> None:
        """Let the sun warm the outdoor pipes as so much warmer air would: 0 to 30 [K]."""
        if not 0.0 <= rise_k <= 30.0:
            raise ConfigError(f"expected the sun's rise from 0 to 30 K, came {rise_k:g} K")
        self._sun_k = rise_k

    def truth(self) -> NitrogenTruth:
        """Return what probes without error would read."""
        pressure = self.pressure_pa_abs
        station = self.settings.station_pa_abs
        leak = math.fsum(
            hole.mol_per_s(pressure, station, self._gas[part]) for part, hole in self._leaks
        )
        return NitrogenTruth(
            pressure_pa_abs=pressure,
            pressure_pa_gauge=pressure - station,
            outdoor_pipe_k=self._metal[OUTDOOR],
            indoor_pipe_k=self._metal[INDOOR],
            outdoor_gas_k=self._gas[OUTDOOR],
            indoor_gas_k=self._gas[INDOOR],
            outdoor_air_k=self._air[OUTDOOR],
            indoor_air_k=self._air[INDOOR],
            leak_mol_per_s=leak,
        )

    def _advance(self, dt_s: float) -> None:
        self._change_air()
        self._warm(dt_s)
        self._fill_and_lose(dt_s)
        self._equalise()

    def _change_air(self) -> None:
        s = self.settings
        angle = 2.0 * math.pi * (self.t - s.swing_start_s) / s.swing_period_s
        self._air[OUTDOOR] = s.outdoor_k + s.outdoor_swing_k * math.sin(angle)

    def _warm(self, dt_s: float) -> None:
        for i, part in enumerate(self._parts):
            air = self._air[i] + (self._sun_k if i == OUTDOOR else 0.0)
            gas_j_per_k, metal_j_per_k = CV * self._mol[i], part.metal_j_per_k
            # Both exchanges exactly, one after the other: no step is too long for either.
            joint = gas_j_per_k * metal_j_per_k / (gas_j_per_k + metal_j_per_k)
            gap = self._gas[i] - self._metal[i]
            to_metal_j = joint * gap * -math.expm1(-part.gas_w_per_k * dt_s / joint)
            self._gas[i] -= to_metal_j / gas_j_per_k
            self._metal[i] += to_metal_j / metal_j_per_k
            share = -math.expm1(-part.air_w_per_k * dt_s / metal_j_per_k)
            warmed_k = share * (air - self._metal[i])
            self._metal[i] += warmed_k
            self.heat_in_j += warmed_k * metal_j_per_k

    def _fill_and_lose(self, dt_s: float) -> None:
        s, pressure = self.settings, self.pressure_pa_abs
        if self._supply_open and pressure < self._set_pa_abs:
            missing_pa = self._set_pa_abs - pressure
            rate = min(s.supply_mol_per_s_pa * missing_pa, s.supply_most_mol_per_s)
            # Compressing warms: this much brings the outdoor part to the setting at once.
            room = missing_pa * s.outdoor.volume_m3 * CV / (CP * GAS_CONSTANT)
            mol = min(rate * dt_s, room / max(self._air[OUTDOOR], self._gas[OUTDOOR]))
            self._exchange(OUTDOOR, mol, self._air[OUTDOOR] - s.supply_below_air_k)
            self.supplied_mol += mol
        for i, leak in self._leaks:
            mol = leak.mol_per_s(pressure, s.station_pa_abs, self._gas[i]) * dt_s
            self.leaked_mol += self._lose(i, mol)
        if self._vent_open:
            temp = self._gas[OUTDOOR]
            mol = self._vent.mol_per_s(self.pressure_pa_abs, s.station_pa_abs, temp) * dt_s
            self.vented_mol += self._lose(OUTDOOR, mol)

    def _lose(self, i: int, mol: float) -> float:
        # A wide hole empties a part to the atmosphere within a step, never below it.
        kept = self._parts[i].volume_m3 * _density(self.settings.station_pa_abs, self._gas[i])
        mol = min(mol, 0.1 * self._mol[i], max(self._mol[i] - kept, 0.0))
        self._exchange(i, -mol, self._gas[i])
        return mol

    def _exchange(self, i: int, mol: float, temp_k: float) -> None:
        """Let gas in (out if negative) with its enthalpy at `temp_k`."""
        energy = CV * self._mol[i] * self._gas[i] + CP * mol * temp_k
        self._mol[i] += mol
        self._gas[i] = energy / (CV * self._mol[i])
        self.gas_energy_in_j += CP * mol * temp_k

    def _equalise(self) -> None:
        """Move gas between the parts until both have one pressure."""
        mol, gas = self._mol, self._gas
        a, b = OUTDOOR, INDOOR
        first = self._pressure(a, mol[a], gas[a]) - self._pressure(b, mol[b], gas[b])
        temp_k = gas[a] if first >= 0.0 else gas[b]
        moved, miss = 0.0, first
        start = ((mol[a], gas[a]), (mol[b], gas[b]))
        for _ in range(25):
            stiff = self._pressure(a, mol[a], gas[a]) / (mol[a] * gas[a])
            stiff += self._pressure(b, mol[b], gas[b]) / (mol[b] * gas[b])
            if abs(miss) <= 1e-6:
                break
            moved += miss / (CP / CV * temp_k * stiff)
            for i, sign in ((a, -1.0), (b, 1.0)):
                n, t = start[i]
                mol[i] = n + sign * moved
                gas[i] = (CV * n * t + sign * CP * moved * temp_k) / (CV * mol[i])
            miss = self._pressure(a, mol[a], gas[a]) - self._pressure(b, mol[b], gas[b])

    def _pressure(self, i: int, mol: float, temp_k: float) -> float:
        # While a port blows off, or a vessel is filled in seconds, gas leaves the range of the
        # equation: from the nearer end on, pressure then goes with temperature alone.
        held_k = min(max(temp_k, COLDEST_K), WARMEST_K)
        pressure = density_pressure_pa_abs(mol / self._parts[i].volume_m3, held_k)
        return _known(pressure) * temp_k / held_k


def _density(pressure_pa_abs: float, temp_k: float) -> float:
    """Return the density that `NitrogenCircuit` has at a pressure [mol/m3]."""
    held_k = min(max(temp_k, COLDEST_K), WARMEST_K)
    return _known(density_mol_per_m3(pressure_pa_abs * held_k / temp_k, held_k))


def _known(value: float | NoValue) -> float:
    if isinstance(value, NoValue):
        raise PlantLimitError(f"the simulated nitrogen has no such state: {value.reason}")
    return value
