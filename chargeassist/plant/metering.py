"""Metering devices: thermostatic valve with a bulb, electronic valve, fixed orifice."""

import math
from enum import StrEnum
from typing import Final

from chargeassist.plant.property_table import Fluid, Row
from chargeassist.plant.unit import Unit

SMALL_DROP_PA: Final = 2e4
"""Below this pressure difference flow is taken linear, so that equalising ends smoothly [Pa]."""

FLOW_LAG_S: Final = 0.4
CLOSING_LAG_S: Final = 5.0
"""Time constants of the flow through the valve, and of the valve closing when the machine stands
[s] (assumptions)."""

STANDING_INTEGRAL: Final = 0.5
"""Where the electronic valve's controller begins at the next start [1] (assumption)."""

SENSOR_LAG_S: Final = 6.0
"""Of the electronic valve's temperature sensor on the pipe [s] (assumption)."""


class ValveKind(StrEnum):
    """How refrigerant is metered into the evaporator."""

    THERMOSTATIC = "thermostatic"
    ELECTRONIC = "electronic"
    ORIFICE = "orifice"


class Valve:
    """A metering device: its opening, and what it passes.

    A thermostatic valve opens with the bulb's superheat over the boiling pressure (no equaliser
    drop); pipe and bulb follow late, which makes it hunt when they are about as slow as the
    boiling front. An electronic one has a proportional and integral controller on the same
    superheat. An orifice stays at 1.

    Parameters
    ----------
    fluid : Fluid
    unit : Unit
    kind : ValveKind

    Attributes
    ----------
    pipe_k, bulb_k : float
        Of the suction pipe under the bulb, and of the bulb [K].
    opening : float
        Share of the design opening.
    flow_kg_per_s : float
        Into the evaporator, negative when it flows back [kg/s].
    stuck : float or None
        Opening it cannot leave.
    gain : float
        Multiplies the answer of the opening to superheat [1].
    restriction_pa : float
        Further pressure drop of the liquid line at design flow [Pa].
    """

    __slots__ = (
        "_area_m2", "_bulb_part", "_bulb_s", "_flow_part", "_fluid", "_integral", "_kind",
        "_log_low", "_opening_part", "_own_bulb_s", "_per_step", "_pipe_part", "_rows", "_step_s",
        "_unit", "bulb_k", "flow_kg_per_s", "gain", "opening", "pipe_k", "restriction_pa", "stuck",
    )  # fmt: skip

    def __init__(self, fluid: Fluid, unit: Unit, kind: ValveKind) -> None:
        self._fluid = fluid
        self._unit = unit
        self._kind = kind
        # Enthalpies and densities of the two saturated lines, as the flash needs them.
        self._rows: list[Row] = [row[4:12] for row in fluid.rows]
        self._log_low = fluid.log_low
        self._per_step = fluid.per_step
        self._area_m2 = unit.valve_area_m2
        self._own_bulb_s = SENSOR_LAG_S if kind is ValveKind.ELECTRONIC else unit.bulb_lag_s
        self._bulb_s = self._own_bulb_s
        self._integral = 1.0
        self._step_s = 0.0
        self.pipe_k = self.bulb_k = 285.0
        self.opening = 1.0 if kind is ValveKind.ORIFICE else unit.opening_min
        self.flow_kg_per_s = 0.0
        self.stuck: float | None = None
        self.gain = 1.0
        self.restriction_pa = 0.0

    def set_bulb_lag(self, bulb_s: float) -> None:
        """Set how late the bulb follows the pipe [s]; 0 gives it back its own lag."""
        self._bulb_s = bulb_s if bulb_s > 0.0 else self._own_bulb_s
        self._step_s = 0.0

    def _retime(self, dt_s: float) -> None:
        self._step_s = dt_s
        self._pipe_part = -math.expm1(-dt_s / self._unit.pipe_lag_s)
        self._bulb_part = -math.expm1(-dt_s / self._bulb_s)
        self._opening_part = -math.expm1(-dt_s / self._unit.valve_lag_s)
        self._flow_part = -math.expm1(-dt_s / FLOW_LAG_S)

    def follow(self, dt_s: float, outlet_k: float, dew_k: float) -> None:
        """Let the device answer to the evaporator's outlet for `dt_s` [s]."""
        if dt_s != self._step_s:
            self._retime(dt_s)
        unit = self._unit
        self.pipe_k += self._pipe_part * (outlet_k - self.pipe_k)
        self.bulb_k += self._bulb_part * (self.pipe_k - self.bulb_k)
        superheat_k = self.bulb_k - dew_k
        if self.stuck is not None:
            wanted = self.stuck
        elif self._kind is ValveKind.ORIFICE:
            wanted = 1.0
        else:
            if self._kind is ValveKind.THERMOSTATIC:
                static_k = unit.valve_static_k
                wanted = (superheat_k - static_k) / (unit.valve_superheat_k - static_k)
                wanted = 1.0 + self.gain * (wanted - 1.0)
            else:
                error_k = self.gain * (superheat_k - unit.valve_superheat_k)
                integral = self._integral + unit.electronic_integral * error_k * dt_s
                self._integral = min(max(integral, unit.opening_min), unit.opening_max)
                wanted = self._integral + unit.electronic_gain * error_k
            if wanted < unit.opening_min:
                wanted = unit.opening_min
            elif wanted > unit.opening_max:
                wanted = unit.opening_max
        self.opening += self._opening_part * (wanted - self.opening)

    def shut(self, dt_s: float) -> None:
        """Let it close towards its least opening, as it does when the compressor stands."""
        if dt_s != self._step_s:
            self._retime(dt_s)
        part = -math.expm1(-dt_s / CLOSING_LAG_S)
        if self.stuck is None and self._kind is not ValveKind.ORIFICE:
            self.opening += part * (self._unit.opening_min - self.opening)
            self._integral = STANDING_INTEGRAL

    def pass_flow(
        self,
        upstream_pa_abs: float,
        downstream_pa_abs: float,
        line_j_per_kg: float,
        line_kg_per_m3: float,
        vapour_kg_per_m3: float,
    ) -> float:
        """Return the flow through liquid line and valve [kg/s], following in `FLOW_LAG_S`.

        Both drops go with the square of the flow, so the flow is explicit. Flash gas at the
        valve's inlet lowers the effective density (exponent: assumption).

        Parameters
        ----------
        upstream_pa_abs, downstream_pa_abs : float
            Condenser outlet and evaporator [Pa absolute].
        line_j_per_kg, line_kg_per_m3 : float
            In the liquid line [J/kg], [kg/m3].
        vapour_kg_per_m3 : float
            At the evaporator, for flow that goes back [kg/m3].
        """
        unit = self._unit
        resistance = (unit.liquid_line_drop_pa + self.restriction_pa) / (
            unit.flow_kg_per_s * unit.flow_kg_per_s
        )
        drop = upstream_pa_abs - downstream_pa_abs
        if drop >= 0.0:
            before = self.flow_kg_per_s
            valve_pa = upstream_pa_abs - resistance * before * before
            if valve_pa < downstream_pa_abs:
                valve_pa = downstream_pa_abs
            x = (math.log(valve_pa) - self._log_low) * self._per_step
            i = int(x) if x > 0.0 else 0
            if i >= len(self._rows):
                i = len(self._rows) - 1
                x = i + 1.0
            w = x - i
            hl, dhl, hg, dhg, rl, drl, rg, drg = self._rows[i]
            hl += w * dhl
            density = line_kg_per_m3
            if line_j_per_kg > hl:
                rl += w * drl
                rg += w * drg
                quality = (line_j_per_kg - hl) / (hg + w * dhg - hl)
                if quality > 1.0:
                    quality = 1.0
                density = rl / math.pow(1.0 + quality * (rl / rg - 1.0), 2.0 * unit.flash_exponent)
        else:
            density = vapour_kg_per_m3
        area = self._area_m2 * self.opening
        conductance = 1.0 / (1.0 / (2.0 * density * area * area + 1e-18) + resistance)
        if drop > SMALL_DROP_PA:
            flow = math.sqrt(conductance * drop)
        else:
            size = drop if drop > -SMALL_DROP_PA else -SMALL_DROP_PA
            flow = math.sqrt(conductance / SMALL_DROP_PA) * size
        self.flow_kg_per_s += self._flow_part * (flow - self.flow_kg_per_s)
        return self.flow_kg_per_s
