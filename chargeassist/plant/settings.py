"""What the simulated unit is: the demo's invented one unless said otherwise."""

from dataclasses import dataclass

from chargeassist.model.errors import ConfigError
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantSettings:
    """What the plant is; the defaults are the demo's invented unit.

    Attributes
    ----------
    refrigerant : str
        Any designation of the shipped saturation table.
    plate_kg, charge_kg : float
        Charge on the plate, and in the circuit at the start [kg].
    required_hz, start_hz : float
        Compressor frequency of the charge test, and at the start [Hz].
    outdoor_k : float
        Mean outdoor air [K].
    altitude_m : float
        Of the site; the standard atmosphere gives its pressure [m].
    barometer_pa_abs : float or None
        Measured station pressure, instead of the altitude's [Pa absolute].
    flow_kg_per_s, recovery_kg_per_s : float
        Liquid through the open cylinder valve; recovery [kg/s].
    cylinder_kg, tare_kg : float
        Refrigerant on the scale at the start, and the empty weight under it [kg].
    seed : int
        Of the gusts.

    Raises
    ------
    ConfigError
        A figure is outside what the plant can run with.
    """

    refrigerant: str = "R-32"
    plate_kg: float = 2.30
    charge_kg: float = 1.90
    required_hz: float = 72.0
    start_hz: float = 30.0
    outdoor_k: float = 297.15
    altitude_m: float = 210.0
    barometer_pa_abs: float | None = None
    flow_kg_per_s: float = 0.0011
    recovery_kg_per_s: float = 0.002
    cylinder_kg: float = 5.0
    tare_kg: float = 4.2
    seed: int = 1

    @property
    def station_pa_abs(self) -> float:
        """Atmosphere at the site [Pa absolute]."""
        if self.barometer_pa_abs is not None:
            return self.barometer_pa_abs
        return pressure_at_altitude_pa_abs(self.altitude_m)

    def __post_init__(self) -> None:
        limits = (
            ("plate charge", self.plate_kg, 0.1, 100.0, "kg"),
            ("charge", self.charge_kg, 0.3 * self.plate_kg, 1.6 * self.plate_kg, "kg"),
            ("required frequency", self.required_hz, 10.0, 200.0, "Hz"),
            (
                "start frequency",
                self.start_hz,
                0.1 * self.required_hz,
                1.5 * self.required_hz,
                "Hz",
            ),
            ("outdoor air", self.outdoor_k, 263.15, 323.15, "K"),
            ("station pressure", self.station_pa_abs, 47e3, 110e3, "Pa absolute"),
            ("flow", self.flow_kg_per_s, 1e-5, 0.1, "kg/s"),
            ("recovery", self.recovery_kg_per_s, 1e-5, 0.1, "kg/s"),
            ("refrigerant in the cylinder", self.cylinder_kg, 0.0, 100.0, "kg"),
            ("tare", self.tare_kg, 0.0, 100.0, "kg"),
        )
        for name, value, low, high, unit in limits:
            if not low <= value <= high:
                raise ConfigError(
                    f"the simulated unit needs a {name} from {low:g} to {high:g} {unit}, "
                    f"came {value:g} {unit}"
                )
