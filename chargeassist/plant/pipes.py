"""Temperatures of the two pipes that clamps sit on."""

from typing import Final

from chargeassist.plant.low_side import LowSide

STANDING_LAG_S: Final = 300.0
"""A pipe without flow comes to the outdoor air with this time constant [s] (assumption)."""

SPRAY_SHARE: Final = 0.25
MOST_CHILL_K: Final = 6.0
VAPOUR_J_PER_KG_K: Final = 1100.0
"""Share of the heat taken by sprayed liquid that chills the pipe [1], most that it does [K], and
heat capacity of the vapour it flows with [J/(kg K)] (assumptions)."""


def standing_pipe_k(now_k: float, outdoor_k: float, dt_s: float) -> float:
    """Return the temperature of a pipe without flow a step later [K]."""
    return now_k + dt_s / STANDING_LAG_S * (outdoor_k - now_k)


def suction_port_k(
    low: LowSide, dew_k: float, enthalpy_j_per_kg: float, flow_kg_per_s: float, sprayed_w: float
) -> float:
    """Return the temperature of the suction pipe at its port [K].

    Parameters
    ----------
    low : LowSide
    dew_k : float
        Dew point at the port [K].
    enthalpy_j_per_kg, flow_kg_per_s : float
        Of what flows there [J/kg], [kg/s].
    sprayed_w : float
        Heat that added liquid takes to become vapour [W].
    """
    d = enthalpy_j_per_kg - low.dew_j_per_kg
    port_k = dew_k
    if d > 0.0:
        port_k += ((low.superheat_3 * d + low.superheat_2) * d + low.superheat_1) * d
    if sprayed_w > 0.0:
        # Liquid sprayed in chills the pipe at the port.
        chill_k = SPRAY_SHARE * sprayed_w / (flow_kg_per_s * VAPOUR_J_PER_KG_K)
        port_k -= min(MOST_CHILL_K, chill_k)
    return port_k
