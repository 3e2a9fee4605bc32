"""Temperatures against the air around the coils: approach, condensing over ambient, air split.

Cross-checks beside subcooling: they use other probes or use the same ones differently, so two
methods that agree are worth more than one.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chargeassist.model.channels import TEMP_ROUNDING_K
from chargeassist.model.display import fahrenheit_from_kelvin
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import Decision, decide

APPROACH_TOLERANCE_K: Final = USUAL[LimitKey.APPROACH_TOLERANCE].value_si
APPROACH_COLDEST_K: Final = USUAL[LimitKey.APPROACH_OUTDOOR_LOW].value_si
"""Tolerance of the approach, either way, and the outdoor air from which it counts, where the job's
limits do not say [K]."""


@dataclass(frozen=True, slots=True)
class TempDifference:
    """A difference of two temperatures.

    Attributes
    ----------
    value_k : float
        [K].
    expanded_k : float
        Expanded uncertainty, k = 2 [K].
    """

    value_k: float
    expanded_k: float


def temp_difference(
    warm_k: float,
    cold_k: float,
    *,
    warm_expanded_k: float,
    cold_expanded_k: float,
) -> TempDifference | NoValue:
    """Return `warm_k` less `cold_k` with its uncertainty.

    Parameters
    ----------
    warm_k, cold_k : float
        [K].
    warm_expanded_k, cold_expanded_k : float
        Expanded uncertainties, k = 2, of two probes [K].

    Returns
    -------
    TempDifference or NoValue
        Used for the approach (liquid line less outdoor air), the air split (return less supply air)
        and the like. `NoValue` if a number is none.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2, equation 10.
    """
    if not (0.0 < warm_k < math.inf and 0.0 < cold_k < math.inf):
        return NoValue("one of the two temperatures is no temperature")
    if not (warm_expanded_k >= 0.0 and cold_expanded_k >= 0.0):
        raise ValueError(
            f"expected uncertainties >= 0, came {warm_expanded_k} and {cold_expanded_k}"
        )
    return TempDifference(warm_k - cold_k, math.hypot(warm_expanded_k, cold_expanded_k))


class ApproachSays(StrEnum):
    """What the approach says beside subcooling; the values are fit for a screen."""

    SHORT = "approach is high: short of refrigerant, if airflow and coil are in order"
    INSIDE = "approach is inside its tolerance"
    EXCESS = "approach is low: too much refrigerant, if airflow and coil are in order"
    NOT_CERTAIN = "approach cannot be told from its target with these probes"


def judge_approach(
    approach: TempDifference,
    target_k: float,
    outdoor_temp_k: float,
    *,
    tolerance_k: float = APPROACH_TOLERANCE_K,
    coldest_k: float = APPROACH_COLDEST_K,
) -> ApproachSays | NoValue:
    """Return what an approach says about the charge.

    Parameters
    ----------
    approach : TempDifference
        Liquid line less outdoor air.
    target_k : float
        From the unit's own table; values from 7 to 13 °F are in print, there is no default [K].
    outdoor_temp_k : float
        [K].
    tolerance_k : float
        Plus or minus [K].
    coldest_k : float
        Outdoor air from which the approach counts [K].

    Returns
    -------
    ApproachSays or NoValue
        `NoValue` in colder outdoor air.

    Notes
    -----
    Not valid for a grossly wrong charge (same manuals). A high approach means too little
    refrigerant: the liquid leaves the coil warmer because less of the coil is there to cool it.

    References
    ----------
    .. [1] Equipment manuals: manualshive.com/en/manual/lennox/merit-13hpd018/1877800, page 16;
       manualshive.com/en/manual/lennox/ml14xc1-series/1877040, page 29.
    .. [2] JCGM 106:2012, section 8, for the decision.
    """
    if not outdoor_temp_k >= coldest_k - TEMP_ROUNDING_K:
        return NoValue(
            f"the approach counts from {fahrenheit_from_kelvin(coldest_k):.0f} °F "
            f"({coldest_k - KELVIN_AT_0_C:.1f} °C) of outdoor air, "
            f"it is {outdoor_temp_k - KELVIN_AT_0_C:.1f} °C"
        )
    low_k, high_k = target_k - tolerance_k, target_k + tolerance_k
    verdict = decide(approach.value_k, approach.expanded_k, low_k, high_k)
    if verdict is Decision.FAIL:
        return ApproachSays.SHORT if approach.value_k > high_k else ApproachSays.EXCESS
    if verdict in {Decision.PASS, Decision.PASS_NOT_CERTAIN}:
        return ApproachSays.INSIDE
    return ApproachSays.NOT_CERTAIN
