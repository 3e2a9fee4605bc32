"""The refrigerant circuit: condenser, valve, evaporator, compressor and stores, one step at a time.

Refrigerant and its energy are in the high side, the low side, the accumulator and the oil; each
flow is taken from one and given to another once, so both are conserved to rounding at any step.
Pressures are never integrated: after each step they follow from mass and energy of their side.
"""

import math
from typing import Final

from chargeassist.physics.atmosphere import SEA_LEVEL_PA_ABS
from chargeassist.plant.air import IndoorAir
from chargeassist.plant.compressor import Compressor
from chargeassist.plant.exchange import (
    LEAST_FLOW_KG_PER_S,
    CondenserHeat,
    Drawn,
    EvaporatorHeat,
    Moved,
    condense,
    evaporate,
    throttle,
)
from chargeassist.plant.faults import MachineFaults
from chargeassist.plant.high_side import HighSide
from chargeassist.plant.low_side import LowSide
from chargeassist.plant.metering import Valve, ValveKind
from chargeassist.plant.pipes import standing_pipe_k, suction_port_k
from chargeassist.plant.property_table import Fluid
from chargeassist.plant.reversing import past_the_compressor
from chargeassist.plant.stores import SuctionStores, returned_j_per_kg
from chargeassist.plant.unit import Unit

COMPRESSOR_LAG_S: Final = 0.5
"""Time constant of the flow after a change at the compressor [s] (assumption)."""

LEAST_EXIT_LAG_S: Final = 3.0
LEAST_LINE_LAG_S: Final = 2.0
"""Least lag of the enthalpies at the condenser's end and in the liquid line [s] (assumptions)."""

MOVING_SHARE: Final = 0.02
"""Share of the design flow from which a pipe takes the temperature of what flows in it [1]
(assumption)."""

SUMP_SHARE: Final = 0.6
"""Share of the dew point in the temperature of the oil, the rest is the body's [1] (assumption)."""

STANDING_AIR_SHARE: Final = 0.05
"""Air through the coils with the fans off [share of the running flow] (assumption)."""


class Circuit:
    """All that holds refrigerant, and the metal around it.

    Parameters
    ----------
    fluid : Fluid
    unit : Unit
    valve : ValveKind
    charge_kg : float
        In the circuit at the start [kg].
    outdoor_k : float
        Outdoor air [K].
    indoor : IndoorAir
        Through the evaporator.
    plate_kg : float
        Charge on the plate, which the amount of non-condensable gas is counted by [kg].
    air_density_share : float
        Of outdoor air, and of its pressure, against sea level [1].

    Attributes
    ----------
    heat_in_j : float
        All energy that came in as heat, work or with refrigerant, less what left [J]; equals the
        change of `energy_j`.
    leaked_kg : float
        Lost to the air [kg].
    reversing : bool
        Whether a reversing valve stands between its ends and lets gas by the compressor.
    """

    __slots__ = (
        "_air_density", "_compressor_part", "_fans_on", "_faults", "_front_part", "_front_s",
        "_outlet_part", "_plate_kg", "_step_s", "capacity_w", "compressor", "discharge_k",
        "discharge_pa_abs", "flow_kg_per_s", "fluid", "head_pa_abs", "heat_in_j", "high",
        "indoor", "leak_kg_per_s", "leaked_kg", "liquid_pipe_k", "low", "outdoor_k", "port_k",
        "power_w", "reversing", "stores", "suction_dew_k", "suction_pa_abs", "supply_k", "unit",
        "valve",
    )  # fmt: skip

    def __init__(
        self,
        fluid: Fluid,
        unit: Unit,
        valve: ValveKind,
        *,
        charge_kg: float,
        outdoor_k: float,
        indoor: IndoorAir,
        plate_kg: float,
        air_density_share: float = 1.0,
    ) -> None:
        self.fluid = fluid
        self.unit = unit
        self.indoor = indoor
        self.outdoor_k = outdoor_k
        self._plate_kg = plate_kg
        self._air_density = air_density_share
        self.high = HighSide(fluid, unit, outdoor_k)
        self.low = LowSide(fluid, unit)
        self.valve = Valve(fluid, unit, valve)
        self.compressor = Compressor(fluid, unit)
        self.stores = SuctionStores(fluid, unit)
        self._faults = MachineFaults()
        self._front_s = unit.front_lag_s
        self._fans_on, self.reversing = True, False
        self._step_s = 0.0
        self.flow_kg_per_s = 0.0
        self.heat_in_j = self.leaked_kg = self.leak_kg_per_s = 0.0
        self.power_w = self.capacity_w = 0.0
        self._apply_air()
        self._stand(charge_kg)

    def _stand(self, charge_kg: float) -> None:
        """Begin at rest: pressures equal, liquid where it is colder, the rest vapour."""
        outdoor_k, indoor_k = self.outdoor_k, self.indoor.dry_k
        p = self.fluid.bubble_pressure_pa_abs(min(outdoor_k, indoor_k))
        s = self.fluid.state(p)
        self.stores.fill(p, outdoor_k + 2.0, s[3])
        vapour_kg = self.unit.low_side_m3 * s[5]
        left_kg = charge_kg - self.stores.oil_kg
        low_kg = min(1.15 * vapour_kg + 0.05 * left_kg, 0.5 * left_kg)
        self.discharge_k = self.high.discharge_k = outdoor_k
        self.high.fill(left_kg - low_kg, p, 0.0)
        self.low.fill(low_kg, p, self.high.line_j_per_kg, s[3], indoor_k)
        self.valve.pipe_k = self.valve.bulb_k = self.low.dew_k
        self.high.settle()
        self.low.settle()
        self.liquid_pipe_k = self.port_k = outdoor_k
        self.head_pa_abs = self.discharge_pa_abs = self.high.pressure_pa_abs + self.high.gas_pa
        self.suction_pa_abs = self.low.pressure_pa_abs
        self.suction_dew_k = self.low.dew_k
        self.supply_k = indoor_k

    @property
    def mass_kg(self) -> float:
        """Refrigerant in the circuit [kg]."""
        return self.high.mass_kg + self.low.mass_kg + self.stores.liquid_kg + self.stores.oil_kg

    @property
    def energy_j(self) -> float:
        """Internal energy of refrigerant and metal [J]; stores are counted by their enthalpy."""
        unit = self.unit
        return (
            self.high.energy_j
            + self.low.energy_j
            + self.stores.liquid_j
            + self.stores.oil_j
            + unit.shell_j_per_k * self.discharge_k
            + unit.condenser_wall_j_per_k * self.high.wall_k
            + unit.evaporator_wall_j_per_k * self.low.wall_k
        )

    @property
    def inventories_kg(self) -> tuple[float, float, float, float]:
        """High side, low side, accumulator, oil [kg]."""
        return (
            self.high.mass_kg, self.low.mass_kg, self.stores.liquid_kg, self.stores.oil_kg
        )  # fmt: skip

    @property
    def subcooling_k(self) -> float:
        """What a probe without error would give at the liquid port [K]."""
        return self.fluid.state(self.head_pa_abs)[0] - self.liquid_pipe_k

    @property
    def superheat_k(self) -> float:
        """What a probe without error would give at the suction port [K]."""
        return self.port_k - self.suction_dew_k

    def set_faults(self, faults: MachineFaults) -> None:
        """Let the machine have these faults from now on."""
        if faults is self._faults:
            return
        self._faults = faults
        unit = self.unit
        self.high.gas_mol = faults.non_condensable_mol * self._plate_kg
        self.valve.restriction_pa = faults.restriction_pa
        self.valve.stuck = None if math.isnan(faults.valve_stuck) else faults.valve_stuck
        self.valve.gain = faults.valve_gain
        self.valve.set_bulb_lag(faults.bulb_lag_s)
        self.compressor.leakage = faults.compressor_leakage
        self._front_s = faults.front_lag_s if faults.front_lag_s > 0.0 else unit.front_lag_s
        self._step_s = 0.0
        self._apply_air()

    def set_fans(self, *, on: bool) -> None:
        """Run both fans or let them stand."""
        if on is not self._fans_on:
            self._fans_on = on
            self._apply_air()

    def _apply_air(self) -> None:
        fans = 1.0 if self._fans_on else STANDING_AIR_SHARE
        outdoor = self._faults.outdoor_air_share * fans * self._air_density
        self.high.set_coil(outdoor, self._faults.condenser_surface_share)
        self.indoor.set_flow(self._faults.indoor_air_share * fans)

    def advance(
        self, dt_s: float, frequency_hz: float, added_kg: float, added_j_per_kg: float,
        recovered_kg: float,
    ) -> None:  # fmt: skip
        """Advance by one step.

        Parameters
        ----------
        dt_s : float
            At most a quarter of a second [s].
        frequency_hz : float
            Compressor, 0 when it stands [Hz].
        added_kg, added_j_per_kg : float
            Liquid that entered at the suction port in this step, and its enthalpy [kg], [J/kg].
        recovered_kg : float
            Taken from the liquid port in this step [kg].
        """
        if dt_s != self._step_s:
            self._retime(dt_s)
        high, low = self.high, self.low
        self._set_port_pressures()
        outlet_k = low.outlet_k()
        drawn = self._draw(outlet_k, frequency_hz)
        flow = self.flow_kg_per_s
        warm = condense(high, flow, self.valve.flow_kg_per_s)
        if frequency_hz > 0.0:
            self.valve.follow(dt_s, outlet_k, low.dew_k)
        else:
            self.valve.shut(dt_s)
        through, through_w = throttle(self.valve, high, low, self.head_pa_abs)
        past = past_h = 0.0
        if self.reversing:
            past, past_h = past_the_compressor(high, low, self.unit, dt_s)
        low.front += self._front_part * (low.boiling - low.front)
        cold = evaporate(low, self.indoor, self.unit, flow, drawn.from_low_kg_per_s)
        self.leak_kg_per_s = self._leak_kg_per_s(self.head_pa_abs)
        lost_kg = self.leak_kg_per_s * dt_s + recovered_kg
        moved = Moved(
            flow, flow * high.discharge_j_per_kg, through, through_w, past, past * past_h,
            added_kg, added_kg * added_j_per_kg, lost_kg, lost_kg * high.exit_j_per_kg,
        )  # fmt: skip
        self._book(dt_s, drawn, warm, cold, moved)

        self._follow_ends(dt_s, warm, cold)
        high.discharge_k, high.outdoor_k = self.discharge_k, self.outdoor_k
        high.flow_kg_per_s = flow
        high.settle()
        low.settle()
        sprayed_w = 0.0
        if added_kg > 0.0:
            sprayed_w = added_kg / dt_s * (low.dew_j_per_kg - added_j_per_kg)
        self._show(dt_s, drawn, cold, sprayed_w)

    def _book(
        self, dt_s: float, drawn: Drawn, warm: CondenserHeat, cold: EvaporatorHeat, moved: Moved
    ) -> None:
        """Book what was exchanged in a step: each flow once with each sign."""
        unit, high, low, stores = self.unit, self.high, self.low, self.stores
        high.mass_kg += (
            dt_s * (moved.compressed_kg_per_s - moved.through_kg_per_s - moved.past_kg_per_s)
            - moved.lost_kg
        )
        high.energy_j += (
            dt_s
            * (
                moved.compressed_w - moved.through_w - moved.past_w - warm.to_wall_w
                - warm.desuperheating_w - warm.subcooling_w - warm.line_w
            )
            - moved.lost_j
        )  # fmt: skip
        low.mass_kg += dt_s * (
            moved.through_kg_per_s + moved.past_kg_per_s - drawn.from_low_kg_per_s
        )
        low.energy_j += dt_s * (
            moved.through_w + moved.past_w - drawn.from_low_w + cold.boiling_w + cold.superheating_w
        )
        stores.liquid_kg += moved.added_kg - dt_s * drawn.boil_kg_per_s
        stores.liquid_j += moved.added_j - dt_s * drawn.boil_kg_per_s * drawn.boil_j_per_kg
        stores.oil_kg += dt_s * drawn.oil_kg_per_s
        stores.oil_j += dt_s * drawn.oil_kg_per_s * drawn.oil_j_per_kg
        self.leaked_kg += self.leak_kg_per_s * dt_s
        # The compressor's body takes what the gas does not carry away.
        shell_loss_w = unit.shell_w_per_k * (self.discharge_k - self.outdoor_k)
        shell_w = (
            drawn.shaft_w + drawn.from_low_w + drawn.line_w
            + drawn.boil_kg_per_s * drawn.boil_j_per_kg - drawn.oil_kg_per_s * drawn.oil_j_per_kg
            - moved.compressed_w - shell_loss_w
        )  # fmt: skip
        self.discharge_k += dt_s * shell_w / unit.shell_j_per_k
        high.wall_k += dt_s * (warm.to_wall_w - warm.to_air_w) / unit.condenser_wall_j_per_k
        low.wall_k += dt_s * (cold.air_w - cold.boiling_w) / unit.evaporator_wall_j_per_k
        self.heat_in_j += moved.added_j - moved.lost_j + dt_s * (
            drawn.shaft_w + drawn.line_w - shell_loss_w - warm.to_air_w - warm.desuperheating_w
            - warm.subcooling_w - warm.line_w + cold.air_w + cold.superheating_w
        )  # fmt: skip

    def _retime(self, dt_s: float) -> None:
        self._step_s = dt_s
        self._compressor_part = -math.expm1(-dt_s / COMPRESSOR_LAG_S)
        self._front_part = -math.expm1(-dt_s / self._front_s)
        self._outlet_part = -math.expm1(-dt_s / self.unit.outlet_lag_s)

    def _set_port_pressures(self) -> None:
        """Set what probes read, and what the compressor works between, before the step."""
        unit, high, low = self.unit, self.high, self.low
        share = self.flow_kg_per_s / unit.flow_kg_per_s
        drop = share * share
        low_pa = low.pressure_pa_abs
        self.head_pa_abs = high.pressure_pa_abs + high.gas_pa
        self.discharge_pa_abs = self.head_pa_abs + unit.condenser_drop_pa * drop
        vapour = low.dew_kg_per_m3 if low.dew_kg_per_m3 > 5.0 else 5.0
        suction_pa = low_pa - unit.suction_line_drop_pa * drop * unit.suction_kg_per_m3 / vapour
        self.suction_pa_abs = suction_pa if suction_pa >= 0.4 * low_pa else 0.4 * low_pa

    def _draw(self, outlet_k: float, frequency_hz: float) -> Drawn:
        """Return what compressor and oil draw from low side and accumulator."""
        unit, low, stores = self.unit, self.low, self.stores
        flow, outlet_h = self.flow_kg_per_s, low.outlet_j_per_kg
        sump_k = SUMP_SHARE * low.dew_k + (1.0 - SUMP_SHARE) * self.discharge_k
        oil_flow, oil_h = stores.into_oil(self.suction_pa_abs, sump_k, outlet_h)
        if oil_flow > 0.1 * low.mass_kg:
            oil_flow = 0.1 * low.mass_kg
        boil_flow, boil_h = stores.boil_off()
        line_w = compressed = shaft_w = 0.0
        self.suction_dew_k = low.dew_k
        if frequency_hz > 0.0:
            line_w = unit.suction_line_w_per_k * (self.outdoor_k - outlet_k)
            drawn = flow if flow > LEAST_FLOW_KG_PER_S else LEAST_FLOW_KG_PER_S
            from_low = drawn - boil_flow + oil_flow
            suction_h = (
                from_low * outlet_h + line_w + boil_flow * boil_h - oil_flow * oil_h
            ) / drawn
            compressed, shaft_w = self.compressor.run(
                self.suction_pa_abs, self.discharge_pa_abs, suction_h, frequency_hz / unit.base_hz
            )
            self.suction_dew_k = self.compressor.dew_k
        flow += self._compressor_part * (compressed - flow)
        if flow < 1e-7:
            flow = 0.0
        elif flow > low.mass_kg:  # per second: never more than is there, whatever the map says
            flow = low.mass_kg
        self.flow_kg_per_s = flow
        if flow <= LEAST_FLOW_KG_PER_S:
            line_w = 0.0
        from_low = flow - boil_flow + oil_flow
        if from_low < 0.0:  # what flows back carries what it brings
            outlet_h = returned_j_per_kg(boil_flow, boil_h, oil_flow, oil_h)
        return Drawn(
            from_low, from_low * outlet_h, boil_flow, boil_h, oil_flow, oil_h, line_w, shaft_w
        )

    def _leak_kg_per_s(self, head_pa_abs: float) -> float:
        if self._faults.leak_kg_per_s <= 0.0:
            return 0.0
        station_pa_abs = self._air_density * SEA_LEVEL_PA_ABS
        leak = self._faults.leak_at_kg_per_s(head_pa_abs - station_pa_abs)
        return min(max(leak, 0.0), 0.2 * self.high.mass_kg)

    def _follow_ends(self, dt_s: float, warm: CondenserHeat, cold: EvaporatorHeat) -> None:
        """Update the enthalpies at the ends: they follow as their contents are replaced."""
        high, low = self.high, self.low
        exit_lag_s = max(high.subcooled_kg / warm.out_kg_per_s, LEAST_EXIT_LAG_S)
        line_lag_s = max(high.line_kg / warm.out_kg_per_s, LEAST_LINE_LAG_S)
        exit_h, outlet_h = high.exit_j_per_kg, low.outlet_j_per_kg
        high.line_j_per_kg += (
            dt_s / line_lag_s * (exit_h - warm.line_w / warm.out_kg_per_s - high.line_j_per_kg)
        )
        high.exit_j_per_kg = exit_h + dt_s / exit_lag_s * (warm.exit_target_j_per_kg - exit_h)
        low.outlet_j_per_kg = outlet_h + self._outlet_part * (
            cold.outlet_target_j_per_kg - outlet_h
        )
        low.inlet_j_per_kg = high.line_j_per_kg

    def _show(self, dt_s: float, drawn: Drawn, cold: EvaporatorHeat, sprayed_w: float) -> None:
        """Set what probes, amps and air show after the step."""
        unit, high, low, indoor = self.unit, self.high, self.low, self.indoor
        self.power_w = drawn.shaft_w / unit.motor_efficiency
        self.capacity_w = cold.air_w + cold.superheating_w - indoor.fan_w
        self.supply_k = indoor.supply_k(low.wall_k, low.front, cold.superheating_w)
        moving = MOVING_SHARE * unit.flow_kg_per_s
        if self.valve.flow_kg_per_s > moving:
            self.liquid_pipe_k = high.liquid_k(high.exit_j_per_kg)
        else:
            self.liquid_pipe_k = standing_pipe_k(self.liquid_pipe_k, self.outdoor_k, dt_s)
        from_low = drawn.from_low_kg_per_s
        if from_low < moving:
            self.port_k = standing_pipe_k(self.port_k, self.outdoor_k, dt_s)
        else:
            self.port_k = suction_port_k(
                low, self.suction_dew_k, low.outlet_j_per_kg + drawn.line_w / from_low, from_low,
                sprayed_w,
            )  # fmt: skip
