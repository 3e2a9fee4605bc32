"""A circuit being evacuated: air, water, ice, leaks, oil, pump, valve, nitrogen and gauges.

Three volumes in a row, the pump's hose, the near part and the far end, hold three gases each:
permanent gas (air or nitrogen), water vapour, and refrigerant vapour. Gas flows together with
pressure, and each gas by itself where the flow is molecular. Each step is implicit and upwind, so
no content becomes negative and each gas is conserved to rounding.

It is a model for training, with assumed figures where none are published; it proves nothing about
a real circuit, and a vacuum does not replace the pressure test.
"""

from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue
from chargeassist.physics import water_vapour
from chargeassist.physics.nitrogen import GAS_CONSTANT
from chargeassist.plant.evacuation_settings import COLDEST_K, WARMEST_K, EvacuationSettings, Place
from chargeassist.plant.grid import OnGrid
from chargeassist.plant.leak import Leak
from chargeassist.plant.micron_gauge import MicronGauge
from chargeassist.plant.oil_stock import OilStock
from chargeassist.plant.vacuum_flow import Volumes, flow_step
from chargeassist.plant.vacuum_line import Line
from chargeassist.plant.vacuum_pump import VacuumPump
from chargeassist.plant.water import vapour_pa_abs
from chargeassist.plant.wet_wall import WetWall

GRID_S: Final = 0.25
"""Longest step [s]."""

GAS: Final = 0
WATER: Final = 1
REFRIGERANT: Final = 2

SUPPLY_MOST_MOL_PER_S: Final = 0.05
"""Most that the nitrogen hose passes (assumption) [mol/s]."""

BREAK_REACHED: Final = 0.99
"""Share of the wanted pressure, at both ends of the circuit, at which nitrogen is shut."""

REFRIGERANT_KG: Final = 0.052
"""Molar mass taken for refrigerant vapour in molecular flow [kg/mol]."""

_MASSES: Final = (0.02896, water_vapour.MOLAR_MASS_KG, REFRIGERANT_KG)
_PLACES: Final = (Place.PUMP, Place.NEAR, Place.FAR)

Triple = list[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class EvacuationTruth:
    """The true state, whatever the gauge shows; tuples run over pump, near, far.

    Attributes
    ----------
    pressure_pa_abs, gas_pa_abs, water_pa_abs, refrigerant_pa_abs : tuple of 3 floats
        Total and partial pressures [Pa absolute].
    near_water_kg, far_water_kg : float
        Liquid and ice on the walls [kg].
    near_ice_share, far_ice_share : float
        Share of these that is ice [-].
    near_water_k, far_water_k : float
        Their temperatures; the wall's where there is none [K].
    oil_water_kg, oil_refrigerant_kg : float
        In the oil of the compressor [kg].
    pump_oil_water_kg : float
        Water in the pump's oil [kg].
    """

    pressure_pa_abs: tuple[float, ...]
    gas_pa_abs: tuple[float, ...]
    water_pa_abs: tuple[float, ...]
    refrigerant_pa_abs: tuple[float, ...]
    near_water_kg: float
    far_water_kg: float
    near_ice_share: float
    far_ice_share: float
    near_water_k: float
    far_water_k: float
    oil_water_kg: float
    oil_refrigerant_kg: float
    pump_oil_water_kg: float


class Evacuation(OnGrid):
    """One circuit with hose, pump and three gauges; it begins at the atmosphere's pressure.

    Parameters
    ----------
    settings : EvacuationSettings

    Attributes
    ----------
    valve_open : bool
        The isolating valve between hose and circuit.
    pump : VacuumPump
    leaked_in_mol : list of 3 floats
        Permanent gas, water and refrigerant that leaks brought in; falls while they let out [mol].
    nitrogen_mol : float
        Let in to break the vacuum [mol].
    """

    def __init__(self, settings: EvacuationSettings) -> None:
        super().__init__(GRID_S)
        self.settings = s = settings
        self._volumes = (s.hose_m3, s.near_m3, s.far_m3)
        self._walls = [s.air_k, s.near_k, s.far_k]
        self._lines = (Line(*s.hose), Line(*s.line))
        self.pump = VacuumPump(s.pump, s.air_k, s.station_pa_abs)
        self.valve_open = True
        masses = (s.near_water_kg, s.far_water_kg)
        self._water = [
            WetWall(s.wall, kg / water_vapour.MOLAR_MASS_KG, wall)
            for kg, wall in zip(masses, self._walls[1:], strict=True)
        ]
        self._oil_water = OilStock.of_water(s)
        self._oil_refrigerant = OilStock.of_refrigerant(s, REFRIGERANT_KG)
        self._leaks: list[tuple[Place, Leak]] = []
        self._break_to: tuple[Place, float] | None = None
        self._gauges = tuple(MicronGauge(s.gauge, s.refrigerant) for _ in _PLACES)
        self.leaked_in_mol = [0.0, 0.0, 0.0]
        self.nitrogen_mol = 0.0
        # Contents by gas and place [mol].
        self._mol: list[Triple] = [[0.0] * 3 for _ in range(3)]
        for j in _PLACES:
            capacity = self._volumes[j] / (GAS_CONSTANT * self._walls[j])
            vapour = s.start_humidity * vapour_pa_abs(self._walls[j])
            self._mol[WATER][j] = capacity * vapour
            self._mol[GAS][j] = capacity * (s.station_pa_abs - vapour)
        for j in _PLACES:
            self._gauges[j].follow(0.0, *self._partials(j))

    @property
    def gas_mol(self) -> float:
        """Permanent gas in hose and circuit [mol]."""
        return sum(self._mol[GAS])

    @property
    def water_mol(self) -> float:
        """Water in hose and circuit: vapour, liquid, ice, and in the compressor's oil [mol]."""
        return sum(self._mol[WATER]) + sum(w.mol for w in self._water) + self._oil_water.mol

    @property
    def refrigerant_mol(self) -> float:
        """Refrigerant in hose and circuit, and in the compressor's oil [mol]."""
        return sum(self._mol[REFRIGERANT]) + self._oil_refrigerant.mol

    def start_pump(self) -> None:
        """Switch the pump on."""
        self.pump.running = True

    def stop_pump(self) -> None:
        """Switch the pump off; its check valve then shuts its inlet."""
        self.pump.running = False

    def change_oil(self) -> None:
        """Fill the pump with dry oil."""
        self.pump.change_oil()

    def set_ballast(self, *, is_open: bool) -> None:
        """Open or shut the gas ballast of the pump."""
        self.pump.ballast_open = is_open

    def set_valve(self, *, is_open: bool) -> None:
        """Open or shut the isolating valve between hose and circuit."""
        self.valve_open = is_open

    def break_with_nitrogen(self, target_pa_abs: float, *, place: Place = Place.NEAR) -> None:
        """Let dry nitrogen in until the place stands at a pressure [Pa absolute].

        Raises
        ------
        ConfigError
            Not a pressure that a vacuum is broken to.
        """
        if not 0.0 < target_pa_abs <= 1.1e6:
            raise ConfigError(
                f"expected a pressure to break to from 0 to 1.1e+06 Pa absolute, came "
                f"{target_pa_abs:g}"
            )
        self._break_to = (place, target_pa_abs)

    def shut_nitrogen(self) -> None:
        """Stop letting nitrogen in."""
        self._break_to = None

    def set_walls(self, *, near_k: float | None = None, far_k: float | None = None) -> None:
        """Warm or cool the metal at either place [K].

        Raises
        ------
        ConfigError
            It is outside what the equations for water hold for.
        """
        for place, value in ((Place.NEAR, near_k), (Place.FAR, far_k)):
            if value is None:
                continue
            if not COLDEST_K <= value <= WARMEST_K:
                raise ConfigError(
                    f"expected a wall from {COLDEST_K:g} to {WARMEST_K:g} K, came {value:g} K"
                )
            self._walls[place] = value

    def add_leak(self, leak: Leak, *, place: Place = Place.NEAR) -> None:
        """Make a hole to the air; at `Place.PUMP` it is one of the hose."""
        self._leaks.append((place, leak))

    def mend_leaks(self) -> None:
        """Close every hole."""
        self._leaks.clear()

    def gauge_pa_abs(self, place: Place = Place.FAR) -> float | NoValue:
        """Return what a gauge at a place shows [Pa absolute]."""
        return self._gauges[place].read_pa_abs()

    def truth(self) -> EvacuationTruth:
        """Return the true state."""
        partials = [self._partials(j) for j in _PLACES]
        near, far = self._water
        return EvacuationTruth(
            pressure_pa_abs=tuple(sum(p) for p in partials),
            gas_pa_abs=tuple(p[GAS] for p in partials),
            water_pa_abs=tuple(p[WATER] for p in partials),
            refrigerant_pa_abs=tuple(p[REFRIGERANT] for p in partials),
            near_water_kg=near.mass_kg,
            far_water_kg=far.mass_kg,
            near_ice_share=near.ice_share,
            far_ice_share=far.ice_share,
            near_water_k=near.temp_k,
            far_water_k=far.temp_k,
            oil_water_kg=self._oil_water.mol * water_vapour.MOLAR_MASS_KG,
            oil_refrigerant_kg=self._oil_refrigerant.mol * REFRIGERANT_KG,
            pump_oil_water_kg=self.pump.oil_water_kg,
        )

    def _partials(self, j: int) -> tuple[float, float, float]:
        per_mol = GAS_CONSTANT * self._walls[j] / self._volumes[j]
        return (
            self._mol[GAS][j] * per_mol,
            self._mol[WATER][j] * per_mol,
            self._mol[REFRIGERANT][j] * per_mol,
        )

    def _advance(self, dt_s: float) -> None:
        old = [self._partials(j) for j in _PLACES]
        totals = [sum(p) for p in old]
        capacity = [self._volumes[j] / (GAS_CONSTANT * self._walls[j]) for j in _PLACES]

        # What comes and goes beside the flow between the places, per gas: a rate from outside
        # [mol/s], and a rate per pascal inside [mol/(s Pa)].
        source: list[Triple] = [[0.0] * 3 for _ in range(3)]
        sink: list[Triple] = [[0.0] * 3 for _ in range(3)]
        self._leak(totals, source, sink)
        leaks_in = [source[g][:] for g in range(3)]
        leaks_out = [sink[g][:] for g in range(3)]
        self._let_nitrogen_in(dt_s, totals, capacity, source)

        pump = self.pump
        pulled = pump.speed_m3_per_s / (GAS_CONSTANT * self._walls[Place.PUMP])
        floor = (pump.gas_pa_abs, pump.water_pa_abs(dt_s), 0.0) if pulled > 0.0 else (0.0,) * 3
        for g in range(3):
            source[g][Place.PUMP] += pulled * floor[g]
            sink[g][Place.PUMP] += pulled

        boil: list[tuple[float, float]] = []
        for i, water in enumerate(self._water):
            j = i + 1
            rate, own_pa = water.exchange(
                dt_s, self._walls[j], old[j][WATER], totals[j] - old[j][WATER]
            )
            boil.append((rate, own_pa))
            source[WATER][j] += rate * own_pa
            sink[WATER][j] += rate
        stocks = ((WATER, self._oil_water), (REFRIGERANT, self._oil_refrigerant))
        given: list[tuple[float, float]] = []
        for g, stock in stocks:
            rate, own_pa = stock.exchange(dt_s)
            given.append((rate, own_pa))
            source[g][Place.NEAR] += rate * own_pa
            sink[g][Place.NEAR] += rate

        lines = (self._lines[0] if self.valve_open else None, self._lines[1])
        volumes = Volumes(self._walls, capacity, lines)
        new = flow_step(dt_s, volumes, self._mol, _MASSES, source, sink)

        for g in range(3):
            for j in _PLACES:
                self._mol[g][j] = capacity[j] * new[g][j]
        taken = [pulled * (new[g][Place.PUMP] - floor[g]) * dt_s for g in range(3)]
        pump.take(dt_s, *taken)
        for i, water in enumerate(self._water):
            rate, own_pa = boil[i]
            j = i + 1
            gone = rate * (own_pa - new[WATER][j]) * dt_s
            water.lose(dt_s, gone, totals[j] - old[j][WATER])
        for (g, stock), (rate, own_pa) in zip(stocks, given, strict=True):
            stock.lose(rate * (own_pa - new[g][Place.NEAR]) * dt_s)
        for j in _PLACES:
            for g in range(3):
                self.leaked_in_mol[g] += (leaks_in[g][j] - leaks_out[g][j] * new[g][j]) * dt_s
            self._gauges[j].follow(dt_s, new[GAS][j], new[WATER][j], new[REFRIGERANT][j])

    def _leak(self, totals: Triple, source: list[Triple], sink: list[Triple]) -> None:
        s = self.settings
        vapour = s.air_humidity * vapour_pa_abs(s.air_k) / s.station_pa_abs
        for place, leak in self._leaks:
            inside = totals[place]
            coming = leak.mol_per_s(s.station_pa_abs, inside, s.air_k)
            source[GAS][place] += (1.0 - vapour) * coming
            source[WATER][place] += vapour * coming
            going = leak.mol_per_s(inside, s.station_pa_abs, self._walls[place])
            for g in range(3):
                sink[g][place] += going / inside

    def _let_nitrogen_in(
        self, dt_s: float, totals: Triple, capacity: Triple, source: list[Triple]
    ) -> None:
        if self._break_to is None:
            return
        place, target = self._break_to
        if min(totals[Place.NEAR], totals[Place.FAR]) >= BREAK_REACHED * target:
            self._break_to = None
            return
        missing = max(target - totals[place], 0.0) * capacity[place]
        rate = min(missing / dt_s, SUPPLY_MOST_MOL_PER_S)
        source[GAS][place] += rate
        self.nitrogen_mol += rate * dt_s
