"""What stands under nitrogen in the simulated standing test, and in what weather."""

from dataclasses import dataclass

from chargeassist.plant.figure_limits import refuse_outside


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Pipes and coil on one side of the wall; the figures of both defaults are invented.

    Attributes
    ----------
    volume_m3 : float
        [m3].
    metal_j_per_k : float
        Heat capacity of pipes and coil [J/K].
    air_w_per_k : float
        From metal to still air [W/K]; capacity over this is the lag of the pipes.
    gas_w_per_k : float
        From gas to metal [W/K].
    """

    volume_m3: float
    metal_j_per_k: float
    air_w_per_k: float
    gas_w_per_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NitrogenSettings:
    """What stands under nitrogen, and in what weather.

    Attributes
    ----------
    outdoor, indoor : Part
    outdoor_k, indoor_k : float
        Mean air at each [K].
    outdoor_swing_k : float
        Half the daily range of the outdoor air [K].
    swing_period_s, swing_start_s : float
        Its period, and when it first passes the mean upwards [s].
    station_pa_abs : float
        Atmosphere at the site [Pa absolute].
    supply_mol_per_s_pa : float
        Flow from the regulator per pascal below its setting [mol/(s Pa)].
    supply_most_mol_per_s : float
        Most that its hose passes [mol/s].
    supply_below_air_k : float
        How much colder than outdoor air the expanded gas arrives [K] (assumption: some 0.2 K per
        bar of throttling, mostly made up for in the hose).
    vent_m : float
        Width of the opened service port [m].

    Raises
    ------
    ConfigError
        A figure is outside what the model can run with.
    """

    outdoor: Part = Part(volume_m3=7e-3, metal_j_per_k=9e3, air_w_per_k=15.0, gas_w_per_k=40.0)
    indoor: Part = Part(volume_m3=3e-3, metal_j_per_k=5e3, air_w_per_k=6.0, gas_w_per_k=25.0)
    outdoor_k: float = 297.15
    indoor_k: float = 296.15
    outdoor_swing_k: float = 0.0
    swing_period_s: float = 86_400.0
    swing_start_s: float = 0.0
    station_pa_abs: float = 98_800.0
    supply_mol_per_s_pa: float = 2e-6
    supply_most_mol_per_s: float = 0.1
    supply_below_air_k: float = 10.0
    vent_m: float = 2e-3

    def __post_init__(self) -> None:
        refuse_outside(
            "the simulated standing test needs",
            (
                ("outdoor volume", self.outdoor.volume_m3, 1e-4, 1.0, "m3"),
                ("indoor volume", self.indoor.volume_m3, 1e-4, 1.0, "m3"),
                ("outdoor metal", self.outdoor.metal_j_per_k, 100.0, 1e7, "J/K"),
                ("indoor metal", self.indoor.metal_j_per_k, 100.0, 1e7, "J/K"),
                ("outdoor metal to air", self.outdoor.air_w_per_k, 0.0, 1e4, "W/K"),
                ("indoor metal to air", self.indoor.air_w_per_k, 0.0, 1e4, "W/K"),
                ("outdoor gas to metal", self.outdoor.gas_w_per_k, 0.0, 1e4, "W/K"),
                ("indoor gas to metal", self.indoor.gas_w_per_k, 0.0, 1e4, "W/K"),
                ("outdoor air", self.outdoor_k, 243.15, 323.15, "K"),
                ("indoor air", self.indoor_k, 263.15, 323.15, "K"),
                ("outdoor swing", self.outdoor_swing_k, 0.0, 15.0, "K"),
                ("swing period", self.swing_period_s, 60.0, 1e7, "s"),
                ("station pressure", self.station_pa_abs, 47e3, 110e3, "Pa absolute"),
                ("supply by pressure", self.supply_mol_per_s_pa, 1e-9, 1e-3, "mol/(s Pa)"),
                ("greatest supply", self.supply_most_mol_per_s, 1e-3, 2.0, "mol/s"),
                ("cooling of the supply", self.supply_below_air_k, 0.0, 30.0, "K"),
                ("vent", self.vent_m, 1e-4, 5e-3, "m"),
            ),
        )
