"""What the physical plant simulates: plate, charge, weather, drive; the demo's unit by default."""

from dataclasses import dataclass, field
from typing import Final

from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs
from chargeassist.plant.faults import FaultCourse, MachineFaults
from chargeassist.plant.figure_limits import refuse_outside
from chargeassist.plant.metering import ValveKind
from chargeassist.plant.unit import Unit, sized_unit

LOWEST_SHARE: Final = 0.15
HIGHEST_SHARE: Final = 1.5
"""Of the required frequency, between which a running drive stays [1] (assumption)."""

LEAST_CHARGE_SHARE: Final = 0.3
MOST_CHARGE_SHARE: Final = 1.6
"""Of the plate charge, between which the plant can run [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhysicalSettings:
    """What the plant is; the defaults are the demo's invented unit.

    Attributes
    ----------
    refrigerant : str
        One of `chargeassist.plant.property_table.fluid_names`.
    capacity_w : float
        Rated net cooling at 95/80/67 °F and the required frequency [W].
    plate_kg, charge_kg : float
        Charge on the plate, and in the circuit at the start [kg].
    required_hz, start_hz : float
        Compressor frequency of the charge test, and at the start [Hz]; a start of 0 is a machine
        at rest with equal pressures.
    settle_s : float
        How long it ran at `start_hz` before time 0 [s].
    ramp_hz_per_s : float
        How fast the drive changes frequency [Hz/s].
    hold_s : float
        After a command the frequency is held for so long, then the machine goes by its load
        again; 0 for ever [s].
    load_hz : float
        Frequency the machine takes by itself once the hold has expired [Hz].
    oil_return_at_s, oil_return_for_s, oil_return_hz : float
        The drive interrupts for oil return: when (negative for never), how long, and to which
        frequency [s], [s], [Hz].
    defrost_at_s, defrost_for_s : float
        A heat pump interrupts for a defrost: when (negative for never) and how long. The
        compressor stops, the reversing valve lets the pressures meet, and it starts again; the
        reversed run itself is not simulated [s].
    valve : ValveKind
        Metering device.
    outdoor_k, return_k, return_wet_k : float
        Mean outdoor air; return air, dry and wet bulb [K].
    gust_k : float
        Standard deviation of outdoor air around its mean [K].
    altitude_m, barometer_pa_abs : float, float or None
        Of the site; a measured station pressure replaces the altitude's [m], [Pa absolute].
    volts : float
        Supply [V].
    flow_kg_per_s, recovery_kg_per_s : float
        Liquid through the open cylinder valve; recovery [kg/s].
    hose_s : float
        Time constant of what the hose holds back [s].
    cylinder_kg, tare_kg : float
        Refrigerant on the scale at the start, and the empty weight under it [kg].
    faults : MachineFaults
        At the start.
    courses : tuple of FaultCourse
        How faults change later.
    unit : Unit or None
        Instead of the one sized from the plate.
    seed : int
        Of the gusts.

    Raises
    ------
    ConfigError
        A figure is outside what the plant can run with.
    """

    refrigerant: str = "R-32"
    capacity_w: float = 10.6e3
    plate_kg: float = 2.30
    charge_kg: float = 1.90
    required_hz: float = 72.0
    start_hz: float = 30.0
    settle_s: float = 900.0
    ramp_hz_per_s: float = 1.0
    hold_s: float = 0.0
    load_hz: float = 40.0
    oil_return_at_s: float = -1.0
    oil_return_for_s: float = 60.0
    oil_return_hz: float = 90.0
    defrost_at_s: float = -1.0
    defrost_for_s: float = 180.0
    valve: ValveKind = ValveKind.THERMOSTATIC
    outdoor_k: float = 297.15
    return_k: float = 297.15
    return_wet_k: float = 290.35
    gust_k: float = 0.2
    altitude_m: float = 210.0
    barometer_pa_abs: float | None = None
    volts: float = 230.0
    flow_kg_per_s: float = 0.0011
    recovery_kg_per_s: float = 0.002
    hose_s: float = 6.0
    cylinder_kg: float = 5.0
    tare_kg: float = 4.2
    faults: MachineFaults = field(default_factory=MachineFaults)
    courses: tuple[FaultCourse, ...] = ()
    unit: Unit | None = None
    seed: int = 1

    @property
    def station_pa_abs(self) -> float:
        """Atmosphere at the site [Pa absolute]."""
        if self.barometer_pa_abs is not None:
            return self.barometer_pa_abs
        return pressure_at_altitude_pa_abs(self.altitude_m)

    def machine(self) -> Unit:
        """Return the given unit, or the one sized from the plate."""
        if self.unit is not None:
            return self.unit
        return sized_unit(
            self.refrigerant, self.capacity_w, self.plate_kg, self.required_hz, self.volts
        )

    def __post_init__(self) -> None:
        lowest_hz, highest_hz = LOWEST_SHARE * self.required_hz, HIGHEST_SHARE * self.required_hz
        lowest_kg = LEAST_CHARGE_SHARE * self.plate_kg
        highest_kg = MOST_CHARGE_SHARE * self.plate_kg
        running_from_hz = 0.0 if self.start_hz == 0.0 else lowest_hz
        refuse_outside(
            "the physical plant needs",
            (
                ("charge", self.charge_kg, lowest_kg, highest_kg, "kg"),
                ("start frequency", self.start_hz, running_from_hz, highest_hz, "Hz"),
                ("running time before the start", self.settle_s, 0.0, 7200.0, "s"),
                ("ramp", self.ramp_hz_per_s, 0.05, 20.0, "Hz/s"),
                ("hold", self.hold_s, 0.0, 86400.0, "s"),
                ("frequency by load", self.load_hz, 0.0, highest_hz, "Hz"),
                ("length of oil return", self.oil_return_for_s, 0.0, 600.0, "s"),
                ("length of a defrost", self.defrost_for_s, 0.0, 900.0, "s"),
                ("oil return frequency", self.oil_return_hz, 0.0, highest_hz, "Hz"),
                ("outdoor air", self.outdoor_k, 263.15, 325.15, "K"),
                ("return air", self.return_k, 283.15, 313.15, "K"),
                ("return wet bulb", self.return_wet_k, 273.15, self.return_k, "K"),
                ("gusts", self.gust_k, 0.0, 2.0, "K"),
                ("station pressure", self.station_pa_abs, 47e3, 110e3, "Pa absolute"),
                ("flow", self.flow_kg_per_s, 1e-5, 0.1, "kg/s"),
                ("recovery", self.recovery_kg_per_s, 1e-5, 0.1, "kg/s"),
                ("hose", self.hose_s, 0.1, 60.0, "s"),
                ("refrigerant in the cylinder", self.cylinder_kg, 0.0, 100.0, "kg"),
                ("tare", self.tare_kg, 0.0, 100.0, "kg"),
            ),
        )
        self.machine()  # refuses what cannot be sized
