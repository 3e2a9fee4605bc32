"""Circuits under vacuum that several tests start from."""

from chargeassist.physics.water_vapour import saturation_pressure_pa_abs
from chargeassist.plant.evacuation import Evacuation
from chargeassist.plant.evacuation_settings import EvacuationSettings, Place
from chargeassist.plant.leak import Leak
from chargeassist.plant.vacuum_line import CORE_IN, MANIFOLD, QUARTER_INCH_HOSE

SMALL = (QUARTER_INCH_HOSE, MANIFOLD, CORE_IN)


def pulled(settings: EvacuationSettings, seconds: float, leak: Leak | None = None) -> Evacuation:
    plant = Evacuation(settings)
    if leak is not None:
        plant.add_leak(leak)
    plant.start_pump()
    plant.step(seconds)
    return plant


def far_pa(plant: Evacuation) -> float:
    return plant.truth().pressure_pa_abs[Place.FAR]


def rise(plant: Evacuation, seconds: float, every_s: float) -> list[float]:
    """Isolate, and return the far pressure from then on [Pa absolute]."""
    plant.set_valve(is_open=False)
    plant.step(120.0)  # the parts equalise first
    shown = [far_pa(plant)]
    for _ in range(round(seconds / every_s)):
        plant.step(every_s)
        shown.append(far_pa(plant))
    return shown


def saturation(temp_k: float) -> float:
    pressure = saturation_pressure_pa_abs(temp_k)
    assert isinstance(pressure, float)
    return pressure
