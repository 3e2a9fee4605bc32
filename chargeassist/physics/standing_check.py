"""Checking a pressure probe against saturation: a cylinder or an idle circuit at rest.

A zero that has shifted cannot be seen while the unit runs; it shows where pressure is known from
temperature alone. Air or nitrogen beside the refrigerant shows in the same way, as pressure above
saturation: opening the probe to the air tells the two apart.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import Refrigerant
from chargeassist.physics.uncertainty import (
    PROPERTY_EXPANDED_RELATIVE,
    Decision,
    decide,
    expanded_from_half_width,
)

REST_S: Final = USUAL[LimitKey.CYLINDER_REST].value_si
"""A cylinder rests this long before the check, where the job's limits do not say [s]: California
Title 24, Reference Residential Appendix RA3.2 (2008), gauge check,
manualshelf.com/manual/airflow/ra3/specifications-english/page-13.html."""


class StandsOn(StrEnum):
    """What the probe stands on."""

    CYLINDER = "cylinder"  # part liquid, an insulated sensor on its wall
    IDLE_CIRCUIT = "idle circuit"  # equalised; the coldest part that holds liquid rules


class StandingVerdict(StrEnum):
    """What the check says; the values are fit for a screen."""

    AGREES = "agrees with saturation"
    AGREES_NOT_CERTAIN = "agrees with saturation, not certain"
    SHIFTED_NOT_CERTAIN = "seems shifted, not certain"
    SHIFTED = "shifted"
    TOO_COARSE = "temperature too uncertain to judge the pressure probe"
    NOT_RESTED = "not at rest long enough"


_VERDICT: Final = {
    Decision.PASS: StandingVerdict.AGREES,
    Decision.PASS_NOT_CERTAIN: StandingVerdict.AGREES_NOT_CERTAIN,
    Decision.FAIL_NOT_CERTAIN: StandingVerdict.SHIFTED_NOT_CERTAIN,
    Decision.FAIL: StandingVerdict.SHIFTED,
    Decision.TOO_COARSE: StandingVerdict.TOO_COARSE,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingCheck:
    """The outcome.

    Attributes
    ----------
    verdict : StandingVerdict
    offset_pa : float
        Reading less saturation pressure [Pa].
    expanded_pa : float
        Its expanded uncertainty, k = 2 [Pa].
    limit_pa : float
        What was allowed, plus or minus [Pa].
    subcooling_shift_k : float
        What the offset does to a subcooling read at this pressure [K].
    """

    verdict: StandingVerdict
    offset_pa: float
    expanded_pa: float
    limit_pa: float
    subcooling_shift_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadAtRest:
    """What was read where refrigerant stands at rest, and how well that is known.

    Attributes
    ----------
    pressure_pa_abs : float
        As the probe reads, made absolute with the station pressure [Pa absolute].
    temp_k : float
        Of the cylinder wall at the liquid, or of the coldest part of the circuit [K].
    temp_expanded_k : float
        Expanded uncertainty (k = 2) of `temp_k`, contact included [K].
    station_half_width_pa : float
        How well the station pressure in the reading is known, plus or minus; 0 for a probe that
        counts from vacuum [Pa]. The probe's own declared limit is what is being tested.
    rest_s : float or None
        How long it has rested [s]; None where nobody knows counts as not rested.
    stands_on : StandsOn
    """

    pressure_pa_abs: float
    temp_k: float
    temp_expanded_k: float
    station_half_width_pa: float
    rest_s: float | None = None
    stands_on: StandsOn = StandsOn.CYLINDER


def standing_check(
    refrigerant: Refrigerant, read: ReadAtRest, *, limit_pa: float, rest_needed_s: float = REST_S
) -> StandingCheck | NoValue:
    """Compare a pressure probe with saturation at the measured temperature.

    Parameters
    ----------
    refrigerant : Refrigerant
        What is in the cylinder or circuit.
    read : ReadAtRest
    limit_pa : float
        What the probe may be off: its declared limit, or a profile's [Pa].
    rest_needed_s : float
        How long it has to have rested [s].

    Returns
    -------
    StandingCheck or NoValue
        `NoValue` where there is no saturation pressure at this temperature.

    Notes
    -----
    A blend in a cylinder that is mostly liquid stands at its bubble point; how far below, as the
    cylinder empties, is not known here: a quarter of the step from bubble to dew pressure is
    allowed for (assumption). In a circuit it stands anywhere between the two: the middle, plus or
    minus half the step. Both are rectangular limits.

    References
    ----------
    .. [1] California Title 24, Reference Residential Appendix RA3.2 (2008), gauge check.
    .. [2] JCGM 100:2008, equation 10; JCGM 106:2012, section 8.
    """
    bubble = refrigerant.bubble_pressure_pa_abs(read.temp_k)
    dew = refrigerant.dew_pressure_pa_abs(read.temp_k)
    if isinstance(bubble, NoValue):
        return bubble
    if isinstance(dew, NoValue):
        return dew
    slope = refrigerant.bubble_slope_k_per_pa(bubble)
    if isinstance(slope, NoValue):
        return slope
    if not 0.0 < read.pressure_pa_abs < math.inf:
        return NoValue("the pressure is no pressure above zero")
    step_pa = bubble - dew
    if read.stands_on is StandsOn.CYLINDER:
        expected_pa, composition_pa = bubble, 0.25 * step_pa
    else:
        expected_pa, composition_pa = 0.5 * (bubble + dew), 0.5 * step_pa
    expanded_pa = math.hypot(
        read.temp_expanded_k / slope,
        expanded_from_half_width(read.station_half_width_pa),
        PROPERTY_EXPANDED_RELATIVE[refrigerant.model] * expected_pa,
        expanded_from_half_width(composition_pa),
    )
    offset_pa = read.pressure_pa_abs - expected_pa
    if read.rest_s is None or read.rest_s < rest_needed_s:
        verdict = StandingVerdict.NOT_RESTED
    else:
        verdict = _VERDICT[decide(offset_pa, expanded_pa, -limit_pa, limit_pa)]
    return StandingCheck(
        verdict=verdict,
        offset_pa=offset_pa,
        expanded_pa=expanded_pa,
        limit_pa=limit_pa,
        subcooling_shift_k=offset_pa * slope,
    )
