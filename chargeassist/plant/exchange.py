"""What the parts of the circuit exchange in one step: refrigerant, heat and work.

Each function works from the state at the beginning of the step and books nothing: the booking is
done in one place, `chargeassist.plant.circuit`, once with each sign.
"""

from typing import Final, NamedTuple

from chargeassist.plant.air import IndoorAir
from chargeassist.plant.high_side import HighSide
from chargeassist.plant.low_side import LowSide
from chargeassist.plant.metering import Valve
from chargeassist.plant.unit import Unit

LEAST_FLOW_KG_PER_S: Final = 1e-4
"""Below it a flow counts as none where something is divided by it [kg/s]."""


class Drawn(NamedTuple):
    """What leaves the low side, and the work done on it.

    Attributes
    ----------
    from_low_kg_per_s, from_low_w : float
        Out of the low side, negative where more boils off or leaves the oil than is drawn
        [kg/s], and the energy that goes with it [W].
    boil_kg_per_s, boil_j_per_kg : float
        Out of the accumulator, and its enthalpy [kg/s], [J/kg].
    oil_kg_per_s, oil_j_per_kg : float
        Into the oil, negative out of it, and its enthalpy [kg/s], [J/kg].
    line_w : float
        Heat from outdoor air into the suction line [W].
    shaft_w : float
        Work of the compressor [W].
    """

    from_low_kg_per_s: float
    from_low_w: float
    boil_kg_per_s: float
    boil_j_per_kg: float
    oil_kg_per_s: float
    oil_j_per_kg: float
    line_w: float
    shaft_w: float


class CondenserHeat(NamedTuple):
    """Heat of the condenser and the liquid line.

    Attributes
    ----------
    out_kg_per_s : float
        Through the liquid line, for what is divided by it [kg/s].
    to_wall_w, to_air_w : float
        From condensing refrigerant to the wall, and from that to the air [W].
    desuperheating_w, subcooling_w, line_w : float
        From the other zones and the liquid line to the air [W].
    exit_target_j_per_kg : float
        Enthalpy that the coil's end tends to [J/kg].
    """

    out_kg_per_s: float
    to_wall_w: float
    to_air_w: float
    desuperheating_w: float
    subcooling_w: float
    line_w: float
    exit_target_j_per_kg: float


class EvaporatorHeat(NamedTuple):
    """Heat of the evaporator.

    Attributes
    ----------
    boiling_w, superheating_w : float
        Into the boiling and the dry zone's refrigerant [W].
    air_w : float
        From indoor air into the wall of the boiling zone [W].
    outlet_target_j_per_kg : float
        Enthalpy that the coil's end tends to [J/kg].
    """

    boiling_w: float
    superheating_w: float
    air_w: float
    outlet_target_j_per_kg: float


class Moved(NamedTuple):
    """Refrigerant that goes from one part to another in a step, in or out, with its energy.

    Attributes
    ----------
    compressed_kg_per_s, compressed_w : float
        Into the condenser [kg/s], [W].
    through_kg_per_s, through_w : float
        Through the metering device, negative when it goes back [kg/s], [W].
    past_kg_per_s, past_w : float
        Past the compressor, through a reversing valve between its ends [kg/s], [W].
    added_kg, added_j : float
        Liquid from the cylinder in the whole step [kg], [J].
    lost_kg, lost_j : float
        Leaked and recovered in the whole step [kg], [J].
    """

    compressed_kg_per_s: float
    compressed_w: float
    through_kg_per_s: float
    through_w: float
    past_kg_per_s: float
    past_w: float
    added_kg: float
    added_j: float
    lost_kg: float
    lost_j: float


def condense(high: HighSide, flow_kg_per_s: float, valve_kg_per_s: float) -> CondenserHeat:
    """Return the heat of the condenser.

    Parameters
    ----------
    high : HighSide
    flow_kg_per_s, valve_kg_per_s : float
        From the compressor, and through the valve [kg/s].
    """
    out = valve_kg_per_s
    if out < LEAST_FLOW_KG_PER_S:
        out = LEAST_FLOW_KG_PER_S
    to_wall_w, to_air_w = high.condensing_heat_w()
    exit_target = high.outlet_j_per_kg(out)
    subcooling_w = out * (high.bubble_j_per_kg - exit_target)
    if subcooling_w < 0.0:
        subcooling_w = 0.0
    return CondenserHeat(
        out, to_wall_w, to_air_w, flow_kg_per_s * high.discharge_d, subcooling_w,
        high.line_heat_w(out), exit_target,
    )  # fmt: skip


def throttle(valve: Valve, high: HighSide, low: LowSide, head_pa_abs: float) -> tuple[float, float]:
    """Return the flow through the valve, negative when it goes back, and the energy with it.

    Parameters
    ----------
    valve : Valve
        At the opening it has come to.
    high, low : HighSide, LowSide
    head_pa_abs : float
        At the liquid port [Pa absolute].

    Returns
    -------
    float, float
        [kg/s], [W].
    """
    through = valve.pass_flow(
        head_pa_abs, low.pressure_pa_abs, high.line_j_per_kg, high.line_kg_per_m3,
        low.dew_kg_per_m3,
    )  # fmt: skip
    # Per second: never more than is there.
    if through >= 0.0:
        if through > high.mass_kg:
            through = valve.flow_kg_per_s = high.mass_kg
        return through, through * high.line_j_per_kg
    if through < -low.mass_kg:
        through = valve.flow_kg_per_s = -low.mass_kg
    return through, through * low.dew_j_per_kg


def evaporate(
    low: LowSide, indoor: IndoorAir, unit: Unit, flow_kg_per_s: float, from_low_kg_per_s: float
) -> EvaporatorHeat:
    """Return the heat of the evaporator.

    Parameters
    ----------
    low : LowSide
    indoor : IndoorAir
    unit : Unit
    flow_kg_per_s, from_low_kg_per_s : float
        To the compressor, and out of the low side [kg/s].
    """
    boiling_w = unit.boiling_w_per_k * low.front * (low.wall_k - low.boiling_k(flow_kg_per_s))
    air_w = indoor.heat_w(low.wall_k, low.front)
    outlet_target = low.outlet_target_j_per_kg(
        from_low_kg_per_s, indoor.dry_k, unit.superheating_w_per_k * indoor.superheating_share
    )
    superheating_w = from_low_kg_per_s * (outlet_target - low.dew_j_per_kg)
    if superheating_w < 0.0:
        superheating_w = 0.0
    return EvaporatorHeat(boiling_w, superheating_w, air_w, outlet_target)
