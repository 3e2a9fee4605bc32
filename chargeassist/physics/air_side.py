"""Airflow, temperature split and capacity of the indoor coil at the site's air density.

The trade's factors (1.08, 4.5, 0.68 in cfm, °F and Btu/h) hold for standard air at sea level; here
the volume of the air is that of its own temperature, humidity and station pressure.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.values import NoValue
from chargeassist.physics.moist_air import MoistAir, moist_air

DRY_AIR_J_PER_KG_K: Final = 1006.0
VAPOUR_J_PER_KG_K: Final = 1860.0
"""Heat capacities in ASHRAE Handbook - Fundamentals (2017), chapter 1, equation 30 [J/(kg K)]."""

ONE_PLACE_PA: Final = 500.0
"""Station pressures of one place differ by less [Pa]: a blower makes a tenth of it (assumption)."""

SMALLEST_RISE_K: Final = 2.0
"""Below this change of temperature no flow is told from a heat [K] (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A figure with its uncertainty.

    Attributes
    ----------
    value : float
        [m3/s], [W] or [m3/s per W], as the function says.
    expanded : float
        Expanded uncertainty, k = 2, in the same unit.
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
    """

    total: Estimate
    sensible: Estimate
    latent: Estimate


_Heats = tuple[float, float, float]
"""Total, sensible and latent [W]."""


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
    if abs(return_air.station_pa_abs - supply_air.station_pa_abs) > ONE_PLACE_PA:
        return NoValue("return and supply air have different station pressures")

    def at(
        before: tuple[float, float] = (0.0, 0.0),
        after: tuple[float, float] = (0.0, 0.0),
        more_m3_per_s: float = 0.0,
    ) -> _Heats | NoValue:
        """Return the heats with either air's dry and wet bulb moved [K], and with more flow."""
        one, other = _moved(return_air, *before), _moved(supply_air, *after)
        if isinstance(one, NoValue) or isinstance(other, NoValue):
            return NoValue("no such air")
        return _heats(one, other, flow.value + more_m3_per_s)

    best = _heats(return_air, supply_air, flow.value)
    u_dry_k, u_wet_k = 0.5 * dry_bulb_expanded_k, 0.5 * wet_bulb_expanded_k
    u_flow = 0.5 * flow.expanded
    variances = [0.0, 0.0, 0.0]
    for high, low in (
        (at(before=(u_dry_k, 0.0)), at(before=(-u_dry_k, 0.0))),
        (at(after=(u_dry_k, 0.0)), at(after=(-u_dry_k, 0.0))),
        (at(before=(0.0, u_wet_k)), at(before=(0.0, -u_wet_k))),
        (at(after=(0.0, u_wet_k)), at(after=(0.0, -u_wet_k))),
        (at(more_m3_per_s=u_flow), at(more_m3_per_s=-u_flow)),
    ):
        for i, u in enumerate(_half_differences(best, high, low)):
            variances[i] += u**2
    total, sensible, latent = (
        Estimate(value=value, expanded=2.0 * math.sqrt(variance))
        for value, variance in zip(best, variances, strict=True)
    )
    return Capacity(total=total, sensible=sensible, latent=latent)


def _heats(before: MoistAir, after: MoistAir, flow_m3_per_s: float) -> _Heats:
    """Return total, sensible and latent heat of a volume flow of return air [W]."""
    dry = flow_m3_per_s / before.volume_m3_per_kg
    total = dry * (before.enthalpy_j_per_kg - after.enthalpy_j_per_kg)
    mean = 0.5 * (heat_capacity_j_per_kg_k(before) + heat_capacity_j_per_kg_k(after))
    sensible = dry * mean * (before.dry_bulb_k - after.dry_bulb_k)
    return total, sensible, total - sensible


def _moved(air: MoistAir, dry_k: float, wet_k: float) -> MoistAir | NoValue:
    """Return air whose dry and wet bulb are so much higher [K]."""
    if dry_k == wet_k == 0.0:
        return air
    return moist_air(air.dry_bulb_k + dry_k, air.wet_bulb_k + wet_k, air.station_pa_abs)


def _half_differences(best: _Heats, high: _Heats | NoValue, low: _Heats | NoValue) -> _Heats:
    """Return half of each difference between two sides; one-sided where only one can be.

    A wet bulb at saturation can be moved one way only.
    """
    sides = 2.0 - isinstance(high, NoValue) - isinstance(low, NoValue)
    if sides == 0.0:
        return 0.0, 0.0, 0.0
    up = best if isinstance(high, NoValue) else high
    down = best if isinstance(low, NoValue) else low
    total, sensible, latent = ((a - b) / sides for a, b in zip(up, down, strict=True))
    return total, sensible, latent


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
