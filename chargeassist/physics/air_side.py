"""Airflow, temperature split and capacity of the indoor coil at the site's air density.

The trade's factors (1.08, 4.5, 0.68 in cfm, °F and Btu/h) hold for standard air at sea level; here
the volume of the air is that of its own temperature, humidity and station pressure.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from chargeassist.model.values import NoValue
from chargeassist.physics.moist_air import MoistAir, moist_air

DRY_AIR_J_PER_KG_K: Final = 1006.0
VAPOUR_J_PER_KG_K: Final = 1860.0
"""Heat capacities in ASHRAE Handbook - Fundamentals (2017), chapter 1, equation 30 [J/(kg K)]."""

SMALLEST_RISE_K: Final = 2.0
"""Below this change of temperature no flow is told from a heat [K] (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A figure with its uncertainty.

    Attributes
    ----------
    value : float
        In SI: m3/s, W or m3/s per W, as the function says.
    expanded : float
        Expanded uncertainty, k = 2, same unit.
    """

    value: float
    expanded: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """What the coil takes from the air.

    Attributes
    ----------
    total, sensible, latent : Estimate
        [W]; heat of the fan, if it is in the stream between the probes, is in all of it.
    sensible_heat_ratio : float
        Sensible over total [-].
    """

    total: Estimate
    sensible: Estimate
    latent: Estimate
    sensible_heat_ratio: float


def heat_capacity_j_per_kg_k(air: MoistAir) -> float:
    """Return the heat capacity of moist air per mass of dry air [J/(kg K)]."""
    return DRY_AIR_J_PER_KG_K + VAPOUR_J_PER_KG_K * air.humidity_ratio


def coil_capacity(
    return_air: MoistAir,
    supply_air: MoistAir,
    flow: Estimate,
    *,
    dry_bulb_expanded_k: float,
    wet_bulb_expanded_k: float,
) -> Capacity | NoValue:
    """Return total, sensible and latent capacity with their uncertainties.

    Parameters
    ----------
    return_air, supply_air : MoistAir
        Before and after the coil, at one station pressure.
    flow : Estimate
        Volume flow, at the volume of the return air [m3/s].
    dry_bulb_expanded_k, wet_bulb_expanded_k : float
        Expanded uncertainties (k = 2) of one probe; the two places have probes of their own [K].

    Returns
    -------
    Capacity or NoValue
        `NoValue` where the flow is none, the stations differ, or a state cannot be.

    Notes
    -----
    ``Q = V/v (h1 - h2)``, ``Q_s = V/v c_p (T1 - T2)`` with c_p of the mean humidity. The enthalpy
    of the condensate that runs off is left in, as the trade's ``4.5 cfm dh`` leaves it: below
    1.5 %.
    Uncertainty by differences over plus and minus one standard uncertainty of each input.

    References
    ----------
    .. [1] ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 26 and 30.
    .. [2] JCGM 100:2008, 5.1.2 and 5.1.3, note 2.
    """
    if not (0.0 < flow.value < math.inf and flow.expanded >= 0.0):
        return NoValue("no airflow to multiply with")
    if abs(return_air.station_pa_abs - supply_air.station_pa_abs) > 500.0:
        return NoValue("return and supply air have different station pressures")

    def heats(before: MoistAir, after: MoistAir, volume: float) -> tuple[float, float, float]:
        dry = volume / before.volume_m3_per_kg
        total = dry * (before.enthalpy_j_per_kg - after.enthalpy_j_per_kg)
        mean = 0.5 * (heat_capacity_j_per_kg_k(before) + heat_capacity_j_per_kg_k(after))
        sensible = dry * mean * (before.dry_bulb_k - after.dry_bulb_k)
        return total, sensible, total - sensible

    best = heats(return_air, supply_air, flow.value)
    variances = [0.0, 0.0, 0.0]

    def vary(evaluate: Callable[[float], tuple[float, float, float] | NoValue], u: float) -> None:
        # A wet bulb at saturation can be moved one way only: the one-sided difference then counts.
        high, low = evaluate(u), evaluate(-u)
        for i in range(3):
            up = best[i] if isinstance(high, NoValue) else high[i]
            down = best[i] if isinstance(low, NoValue) else low[i]
            sides = 2.0 - isinstance(high, NoValue) - isinstance(low, NoValue)
            if sides > 0.0:
                variances[i] += ((up - down) / sides) ** 2

    def moved(air: MoistAir, dry_k: float, wet_k: float) -> MoistAir | NoValue:
        return moist_air(air.dry_bulb_k + dry_k, air.wet_bulb_k + wet_k, air.station_pa_abs)

    for dry_share, wet_share, u in (
        (1.0, 0.0, 0.5 * dry_bulb_expanded_k),
        (0.0, 1.0, 0.5 * wet_bulb_expanded_k),
    ):

        def of_return(
            step: float, d: float = dry_share, w: float = wet_share
        ) -> tuple[float, float, float] | NoValue:
            air = moved(return_air, d * step, w * step)
            return air if isinstance(air, NoValue) else heats(air, supply_air, flow.value)

        def of_supply(
            step: float, d: float = dry_share, w: float = wet_share
        ) -> tuple[float, float, float] | NoValue:
            air = moved(supply_air, d * step, w * step)
            return air if isinstance(air, NoValue) else heats(return_air, air, flow.value)

        vary(of_return, u)
        vary(of_supply, u)
    vary(lambda step: heats(return_air, supply_air, flow.value + step), 0.5 * flow.expanded)
    parts = [
        Estimate(value=value, expanded=2.0 * math.sqrt(variance))
        for value, variance in zip(best, variances, strict=True)
    ]
    return Capacity(
        total=parts[0],
        sensible=parts[1],
        latent=parts[2],
        sensible_heat_ratio=best[1] / best[0] if best[0] else math.nan,
    )


def flow_by_heat(
    heat: Estimate,
    before: MoistAir,
    after_k: float,
    *,
    dry_bulb_expanded_k: float,
) -> Estimate | NoValue:
    """Return the volume flow that a known sensible heat warms or cools by so much [m3/s].

    Parameters
    ----------
    heat : Estimate
        Electric heat (volts times amps), a furnace's output, or a known sensible capacity [W].
    before : MoistAir
        Air before it, at whose volume the flow counts; its humidity stays as it is.
    after_k : float
        Dry bulb after it [K].
    dry_bulb_expanded_k : float
        Expanded uncertainty (k = 2) of one probe [K].

    Returns
    -------
    Estimate or NoValue
        `NoValue` for no heat, or a change below `SMALLEST_RISE_K`.

    References
    ----------
    .. [1] cfm = V A 3.414 / (1.08 dT): easymanua.ls/heat-controller/rse1318-1a/manual, page 14;
       here with the site's air instead of 1.08.
    """
    change = after_k - before.dry_bulb_k
    if not 0.0 < heat.value < math.inf:
        return NoValue("no heat to divide by a temperature difference")
    if not abs(change) >= SMALLEST_RISE_K:
        return NoValue(
            f"the air changes by {abs(change):.1f} K, too little to tell the flow "
            f"({SMALLEST_RISE_K:.1f} K or more)"
        )
    flow = heat.value * before.volume_m3_per_kg / (heat_capacity_j_per_kg_k(before) * abs(change))
    relative = math.hypot(heat.expanded / heat.value, math.sqrt(2.0) * dry_bulb_expanded_k / change)
    return Estimate(value=flow, expanded=flow * relative)
