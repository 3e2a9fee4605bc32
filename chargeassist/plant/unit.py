"""What the simulated machine is made of, sized from the few figures of its plate.

The base is one invented five-ton R-410A machine whose coefficients were tuned by this project until
it met the published operating figures named in the reference tests; none is a maker's figure.
Others are scaled: heat exchangers, air and motor with rated capacity; displacement and mass flow
with the volumetric capacity and the latent heat of the refrigerant; pressure drops with its lift;
volumes and oil with the plate charge and the densities of liquid and vapour.
"""

import math
from dataclasses import dataclass, fields
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import CUBIC_METRE_PER_S_PER_CFM, kelvin_from_fahrenheit
from chargeassist.plant.figure_limits import refuse_outside
from chargeassist.plant.property_table import Fluid, fluid
from chargeassist.plant.reference_compressor import polynomial
from chargeassist.plant.void_fraction import mean_void

BASE_CAPACITY_W: Final = 17.4e3
BASE_PLATE_KG: Final = 4.85
BASE_SUCTION_KG_PER_M3: Final = 34.0
"""Of the base machine: rated capacity [W], charge on its plate [kg], density of its suction gas
[kg/m3]."""

_RATED_SUCTION_F: Final = 46.0
_RATED_DISCHARGE_F: Final = 118.0
_RATED_SUBCOOLING_K: Final = 5.0
"""Dew temperatures [°F] and subcooling [K] at a typical rating."""

_RATED_ZONES: Final = (0.14, 0.13, 0.86)
"""Shares of the base machine's coils at its rating: desuperheating, subcooled, boiling."""

_RATED_OIL_SHARE: Final = 0.16
"""Refrigerant in the base machine's oil at its rating [kg/kg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """Coefficients of one machine; the defaults are the five-ton base [SI].

    Attributes
    ----------
    displacement : float
        Size against the reference compressor [1].
    base_hz : float
        Frequency at which the map holds [Hz].
    flow_loss, power_rise : float
        Shape of flow and power with frequency [1].
    motor_efficiency, power_factor : float
        Of the drive and of the line current [1].
    volts, standby_a : float
        Supply, and current of the standing unit [V], [A].
    outdoor_fan_w : float
        [W].
    shell_j_per_k, shell_w_per_k : float
        Compressor body with its oil, and its loss to outdoor air [J/K], [W/K].
    condenser_m3 : float
        Refrigerant volume [m3].
    condenser_air_w_per_k : float
        Heat capacity rate of the outdoor air [W/K].
    condensing_w_per_k, condenser_air_side_w_per_k, desuperheating_w_per_k, subcooling_w_per_k : \
float
        Conductances if the whole coil did only this [W/K].
    condenser_wall_j_per_k, evaporator_wall_j_per_k : float
        Metal of either coil [J/K].
    condenser_drop_pa, liquid_line_drop_pa, suction_line_drop_pa : float
        Pressure drops at `flow_kg_per_s` [Pa].
    liquid_line_m3, suction_line_m3 : float
        [m3].
    liquid_line_w_per_k, suction_line_w_per_k : float
        From either line to outdoor air [W/K].
    suction_kg_per_m3 : float
        Suction density the drop of its line is given for [kg/m3].
    evaporator_m3 : float
        Refrigerant volume [m3].
    boiling_w_per_k, superheating_w_per_k : float
        Conductances if the whole coil did only this [W/K].
    bypass : float
        Share of the indoor air that passes untouched [1].
    outlet_lag_s, front_lag_s : float
        Of the evaporator's outlet enthalpy, and of the point where boiling ends [s].
    boil_off_s : float
        Time constant of liquid in the accumulator [s].
    oil_kg, oil_solubility, oil_lag_s : float
        Refrigerant in oil is ``solubility * p / p_sat(sump)`` of the oil's mass [kg], [kg/kg], [s].
    flow_kg_per_s : float
        Mass flow the pressure drops and the valve are sized for [kg/s].
    valve_drop_pa, valve_kg_per_m3 : float
        For which opening 1 passes it [Pa], [kg/m3].
    valve_superheat_k, valve_static_k : float
        Superheat at opening 1, and at which a thermostatic valve begins to open [K].
    pipe_lag_s, bulb_lag_s, valve_lag_s : float
        Of the pipe under the bulb, of the bulb, and of the opening [s].
    opening_min, opening_max : float
        Between which the valve moves [1].
    flash_exponent : float
        Of the density of liquid that flashes before the valve [1].
    electronic_gain, electronic_integral : float
        Of the electronic valve's controller [1/K], [1/(K s)].
    indoor_air_kg_per_s, indoor_fan_w : float
        Indoor air, 2 000 cfm of 1.16 kg/m3 by default, and its blower [kg/s], [W].

    Raises
    ------
    ConfigError
        A coefficient is negative or no finite number.
    """

    displacement: float = 1.76
    base_hz: float = 60.0
    flow_loss: float = 0.035
    power_rise: float = 0.06
    motor_efficiency: float = 0.96
    volts: float = 230.0
    power_factor: float = 0.97
    outdoor_fan_w: float = 190.0
    standby_a: float = 0.15
    shell_j_per_k: float = 9000.0
    shell_w_per_k: float = 6.0
    condenser_m3: float = 7.0e-3
    condenser_air_w_per_k: float = 2700.0
    condensing_w_per_k: float = 9500.0
    condenser_air_side_w_per_k: float = 4700.0
    desuperheating_w_per_k: float = 1500.0
    subcooling_w_per_k: float = 1150.0
    condenser_wall_j_per_k: float = 11000.0
    condenser_drop_pa: float = 70e3
    liquid_line_m3: float = 0.75e-3
    liquid_line_w_per_k: float = 4.0
    liquid_line_drop_pa: float = 35e3
    evaporator_m3: float = 7.5e-3
    boiling_w_per_k: float = 6200.0
    bypass: float = 0.12
    superheating_w_per_k: float = 330.0
    evaporator_wall_j_per_k: float = 6500.0
    outlet_lag_s: float = 2.0
    front_lag_s: float = 3.0
    suction_line_m3: float = 4.7e-3
    suction_line_drop_pa: float = 22e3
    suction_line_w_per_k: float = 5.0
    suction_kg_per_m3: float = BASE_SUCTION_KG_PER_M3
    boil_off_s: float = 50.0
    oil_kg: float = 1.7
    oil_solubility: float = 0.35
    oil_lag_s: float = 180.0
    flow_kg_per_s: float = 0.098
    valve_drop_pa: float = 1.35e6
    valve_kg_per_m3: float = 1000.0
    valve_superheat_k: float = 5.5
    valve_static_k: float = 0.0
    pipe_lag_s: float = 3.0
    bulb_lag_s: float = 60.0
    valve_lag_s: float = 1.0
    opening_min: float = 0.04
    opening_max: float = 1.32
    flash_exponent: float = 1.2
    electronic_gain: float = 0.02
    electronic_integral: float = 0.0012
    indoor_air_kg_per_s: float = 2000.0 * CUBIC_METRE_PER_S_PER_CFM * 1.16
    indoor_fan_w: float = 420.0

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if not math.isfinite(value) or value < 0.0:
                raise ConfigError(
                    f"the simulated machine needs {field.name} of 0 or more, came {value!r}"
                )

    @property
    def valve_area_m2(self) -> float:
        """Flow coefficient times area at opening 1 [m2]."""
        return self.flow_kg_per_s / math.sqrt(2.0 * self.valve_kg_per_m3 * self.valve_drop_pa)

    @property
    def high_side_m3(self) -> float:
        """Condenser and liquid line [m3]."""
        return self.condenser_m3 + self.liquid_line_m3

    @property
    def low_side_m3(self) -> float:
        """Evaporator and suction line [m3]."""
        return self.evaporator_m3 + self.suction_line_m3


def sized_unit(
    refrigerant: str, capacity_w: float, plate_kg: float, required_hz: float, volts: float = 230.0
) -> Unit:
    """Return a machine for a plate.

    Parameters
    ----------
    refrigerant : str
        Designation the plant has properties of.
    capacity_w : float
        Rated net cooling at 95/80/67 °F, at the required frequency [W].
    plate_kg : float
        Charge on the plate [kg].
    required_hz : float
        Frequency of the rating and of the charge test [Hz].
    volts : float
        Supply [V].

    Raises
    ------
    ConfigError
        No properties of the refrigerant, or a figure the scaling was not made for.
    """
    refuse_outside(
        "the physical plant is sized for",
        (
            ("rated capacity", capacity_w, 3.5e3, 25e3, "W"),
            ("plate charge", plate_kg, 0.3, 15.0, "kg"),
            ("required frequency", required_hz, 20.0, 150.0, "Hz"),
            ("supply", volts, 90.0, 500.0, "V"),
        ),
    )
    base, other = _rated(fluid("R-410A")), _rated(fluid(refrigerant))
    size = capacity_w / BASE_CAPACITY_W
    flow = size * base.effect_j_per_kg / other.effect_j_per_kg
    lift = other.lift_pa / base.lift_pa
    room = plate_kg / BASE_PLATE_KG * base.contents_kg / other.contents_kg
    b = Unit()
    return Unit(
        displacement=b.displacement * flow * base.map_flow / other.map_flow,
        base_hz=required_hz,
        volts=volts,
        outdoor_fan_w=b.outdoor_fan_w * size,
        shell_j_per_k=b.shell_j_per_k * size,
        shell_w_per_k=b.shell_w_per_k * size,
        condenser_m3=b.condenser_m3 * room,
        condenser_air_w_per_k=b.condenser_air_w_per_k * size,
        condensing_w_per_k=b.condensing_w_per_k * size,
        condenser_air_side_w_per_k=b.condenser_air_side_w_per_k * size,
        desuperheating_w_per_k=b.desuperheating_w_per_k * size,
        subcooling_w_per_k=b.subcooling_w_per_k * size,
        condenser_drop_pa=b.condenser_drop_pa * lift,
        liquid_line_drop_pa=b.liquid_line_drop_pa * lift,
        suction_line_drop_pa=b.suction_line_drop_pa * lift,
        condenser_wall_j_per_k=b.condenser_wall_j_per_k * size,
        liquid_line_m3=b.liquid_line_m3 * room,
        liquid_line_w_per_k=b.liquid_line_w_per_k * size,
        evaporator_m3=b.evaporator_m3 * room,
        boiling_w_per_k=b.boiling_w_per_k * size,
        superheating_w_per_k=b.superheating_w_per_k * size,
        evaporator_wall_j_per_k=b.evaporator_wall_j_per_k * size,
        suction_line_m3=b.suction_line_m3 * room,
        suction_line_w_per_k=b.suction_line_w_per_k * size,
        suction_kg_per_m3=b.suction_kg_per_m3 * other.suction_kg_per_m3 / base.suction_kg_per_m3,
        oil_kg=b.oil_kg * plate_kg / BASE_PLATE_KG,
        flow_kg_per_s=b.flow_kg_per_s * flow,
        valve_drop_pa=b.valve_drop_pa * lift,
        valve_kg_per_m3=b.valve_kg_per_m3 * other.liquid_kg_per_m3 / base.liquid_kg_per_m3,
        indoor_air_kg_per_s=b.indoor_air_kg_per_s * size,
        indoor_fan_w=b.indoor_fan_w * size,
    )


def _two_phase(s: tuple[float, ...], inlet_quality: float) -> float:
    """Return the mean density between a quality and dry vapour [kg/m3]."""
    void = mean_void(math.pow(s[5] / s[4], 2.0 / 3.0), inlet_quality, 1.0)
    return s[4] + (s[5] - s[4]) * void


@dataclass(frozen=True, slots=True)
class _Rated:
    lift_pa: float
    effect_j_per_kg: float
    contents_kg: float
    liquid_kg_per_m3: float
    suction_kg_per_m3: float
    map_flow: float


def _rated(of: Fluid) -> _Rated:
    """Return what sizes a machine at typical rated dew temperatures."""
    suction_k = kelvin_from_fahrenheit(_RATED_SUCTION_F)
    discharge_k = kelvin_from_fahrenheit(_RATED_DISCHARGE_F)
    low_pa = of.bubble_pressure_pa_abs(suction_k)
    evaporating = of.state(low_pa)
    high_pa = of.bubble_pressure_pa_abs(discharge_k)
    condensing = of.state(high_pa)
    liquid = of.liquid_enthalpy_j_per_kg(high_pa, condensing[0] - _RATED_SUBCOOLING_K)
    inlet = (liquid - evaporating[2]) / (evaporating[3] - evaporating[2])
    b = Unit()
    desuperheating, subcooled, boiling = _RATED_ZONES
    # Superheated vapour weighs a little less than at the dew point: 0.85 and 0.96 of it here.
    high_kg = b.condenser_m3 * (
        desuperheating * 0.85 * condensing[5]
        + (1.0 - desuperheating - subcooled) * _two_phase(condensing, 0.0)
        + subcooled * condensing[4]
    )
    low_kg = b.evaporator_m3 * (
        boiling * _two_phase(evaporating, inlet) + (1.0 - boiling) * evaporating[5]
    )
    lines_kg = b.liquid_line_m3 * condensing[4] + b.suction_line_m3 * 0.96 * evaporating[5]
    return _Rated(
        lift_pa=high_pa - low_pa,
        effect_j_per_kg=evaporating[3] - liquid,
        contents_kg=high_kg + low_kg + lines_kg + _RATED_OIL_SHARE * b.oil_kg,
        liquid_kg_per_m3=condensing[4],
        suction_kg_per_m3=evaporating[5],
        map_flow=polynomial(of.flow_map, _RATED_SUCTION_F, _RATED_DISCHARGE_F),
    )
