"""What is evacuated, with what, and what is in it; the defaults are invented."""

from dataclasses import dataclass, field
from enum import IntEnum
from typing import Final

from chargeassist.plant.figure_limits import refuse_outside
from chargeassist.plant.micron_gauge import GaugeSettings, refrigerant_reading
from chargeassist.plant.vacuum_line import CORE_OUT, HALF_INCH_HOSE, Tube
from chargeassist.plant.vacuum_pump import PumpSettings
from chargeassist.plant.wet_wall import WallSettings

COLDEST_K: Final = 243.15
WARMEST_K: Final = 328.15
"""Walls and air that can be simulated [K]: what the equations for water hold for, and a roof in the
sun."""


class Place(IntEnum):
    """Where something is; also where a gauge can stand."""

    PUMP = 0  # hose at the pump, before the isolating valve
    NEAR = 1  # outdoor unit, behind the isolating valve
    FAR = 2  # indoor coil, at the far end of the line set


@dataclass(frozen=True, slots=True, kw_only=True)
class EvacuationSettings:
    """What the circuit, the pump and the water are.

    Attributes
    ----------
    near_m3, far_m3, hose_m3 : float
        Volumes [m3].
    hose : tuple of Tube
        From the pump to the circuit: hose, manifold if any, port with its core in or out.
    line : tuple of Tube
        From the near part to the far end.
    pump : PumpSettings
    wall : WallSettings
        How water lies, at either place.
    gauge : GaugeSettings
    refrigerant : str
        Whose vapour may be left in the oil.
    near_k, far_k, air_k : float
        Walls at each place, and the air around the pump [K].
    station_pa_abs : float
        Atmosphere [Pa absolute].
    near_water_kg, far_water_kg : float
        Liquid lying there at the start (ice where the wall is below freezing) [kg].
    oil_water_kg, oil_refrigerant_kg : float
        Dissolved in the oil of the compressor, at the near place [kg].
    oil_full_water_kg : float
        Water that this oil holds in balance with saturated vapour [kg].
    oil_water_s, oil_refrigerant_s : float
        Time in which the oil gives off two thirds of each into vacuum [s].
    start_humidity : float
        Of the air in the circuit at the start, 0 for dry nitrogen [-].
    air_humidity : float
        Of the air that a leak draws in [-].

    Raises
    ------
    ConfigError
        A figure is outside what the model can run with, or the gauge model lacks the refrigerant.
    """

    near_m3: float = 6e-3
    far_m3: float = 4e-3
    hose_m3: float = 3e-4
    hose: tuple[Tube, ...] = (HALF_INCH_HOSE, CORE_OUT)
    line: tuple[Tube, ...] = (Tube(diameter_m=12e-3, length_m=10.0),)
    pump: PumpSettings = field(default_factory=PumpSettings)
    wall: WallSettings = field(default_factory=WallSettings)
    gauge: GaugeSettings = field(default_factory=GaugeSettings)
    refrigerant: str = "R-32"
    near_k: float = 295.15
    far_k: float = 295.15
    air_k: float = 295.15
    station_pa_abs: float = 98_800.0
    near_water_kg: float = 0.0
    far_water_kg: float = 0.0
    oil_water_kg: float = 0.0
    oil_refrigerant_kg: float = 0.0
    oil_full_water_kg: float = 1e-3
    oil_water_s: float = 3600.0
    oil_refrigerant_s: float = 1800.0
    start_humidity: float = 0.5
    air_humidity: float = 0.5

    def __post_init__(self) -> None:
        refuse_outside(
            "the simulated evacuation needs",
            (
                ("near volume", self.near_m3, 1e-4, 1.0, "m3"),
                ("far volume", self.far_m3, 1e-4, 1.0, "m3"),
                ("hose volume", self.hose_m3, 1e-5, 0.01, "m3"),
                ("near wall", self.near_k, COLDEST_K, WARMEST_K, "K"),
                ("far wall", self.far_k, COLDEST_K, WARMEST_K, "K"),
                ("air", self.air_k, COLDEST_K, WARMEST_K, "K"),
                ("station pressure", self.station_pa_abs, 47e3, 110e3, "Pa absolute"),
                ("near water", self.near_water_kg, 0.0, 2.0, "kg"),
                ("far water", self.far_water_kg, 0.0, 2.0, "kg"),
                ("water in the oil", self.oil_water_kg, 0.0, 0.1, "kg"),
                ("refrigerant in the oil", self.oil_refrigerant_kg, 0.0, 0.5, "kg"),
                ("water that the oil can hold", self.oil_full_water_kg, 1e-5, 0.1, "kg"),
                ("time of water in the oil", self.oil_water_s, 10.0, 1e6, "s"),
                ("time of refrigerant in the oil", self.oil_refrigerant_s, 10.0, 1e6, "s"),
                ("humidity at the start", self.start_humidity, 0.0, 1.0, ""),
                ("humidity of the air", self.air_humidity, 0.0, 1.0, ""),
            ),
        )
        refrigerant_reading(self.refrigerant)
