"""A fall of pressure as a flow and as refrigerant lost in a year, if the circuit's volume is known.

The yearly loss is an order of magnitude, to help people weigh a pass; nothing is judged by it.
"""

from chargeassist.model.job import Job
from chargeassist.model.values import NoValue
from chargeassist.physics.leak_size import leak_pa_m3_per_s, refrigerant_kg_per_year
from chargeassist.physics.molar_mass import molar_mass_kg
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.tightness import Tightness

WORKING_K = 293.15
"""Temperature that gives the refrigerant's pressure over the year [K]: a mean of 20 °C at rest.
Assumption."""


def leak_figures(
    job: Job, found: Tightness, temp_k: float, station_pa_abs: float
) -> dict[str, float]:
    """Return the leak a fall means, and the smallest leak this test could have detected.

    Parameters
    ----------
    job : Job
    found : Tightness
    temp_k : float
        Of the nitrogen, the mean of the pipes [K].
    station_pa_abs : float
        The atmosphere [Pa absolute].

    Returns
    -------
    dict of str to float
        ``smallest_pa_m3_per_s``, ``smallest_kg_per_year``; for a fall beyond its uncertainty also
        ``leak_pa_m3_per_s``, ``leak_kg_per_year``. Empty without the circuit's volume.
    """
    volume_m3 = job.stages.tightness.volume_m3
    fluid = refrigerant(job.refrigerant)
    molar, working = molar_mass_kg(fluid), fluid.dew_pressure_pa_abs(WORKING_K)
    if volume_m3 is None or isinstance(molar, NoValue) or isinstance(working, NoValue):
        return {}
    rates = {"smallest": found.smallest_leak_pa_per_s}
    if found.change_pa < -found.expanded_pa:
        rates["leak"] = -found.rate_pa_per_s
    figures: dict[str, float] = {}
    for name, rate in rates.items():
        if not 0.0 < rate < 1e9:
            continue
        flow = leak_pa_m3_per_s(rate, volume_m3, found.compensated_pa_abs, temp_k)
        if isinstance(flow, NoValue) or found.compensated_pa_abs <= station_pa_abs:
            continue
        figures[f"{name}_pa_m3_per_s"] = flow
        figures[f"{name}_kg_per_year"] = refrigerant_kg_per_year(
            flow,
            test_pa_abs=found.compensated_pa_abs,
            working_pa_abs=working,
            station_pa_abs=station_pa_abs,
            molar_mass_kg=molar,
        )
    return figures
