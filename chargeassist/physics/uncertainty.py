"""How far subcooling and superheat can be trusted, and what may be decided from them.

Propagation follows the GUM (JCGM 100:2008, section 5.1.2, equation 10): first order, inputs
uncorrelated. Limits a probe's data sheet states (plus or minus a) are rectangular distributions
with u = a / sqrt(3) (JCGM 100:2008, 4.3.7); an expanded uncertainty stated with k = 2 is halved
(4.3.3). The tests compare the formula with a Monte Carlo propagation (JCGM 101:2008).

Correlation: within one subcooling or one superheat each instrument enters once, so there is none.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import Refrigerant

COVERAGE_FACTOR: Final = 2.0
"""k of every expanded uncertainty here, about 95 % for a normal law (JCGM 100:2008, 6.2, 6.3)."""

DEFAULT_BAROMETER_HALF_WIDTH_PA: Final = USUAL[LimitKey.BAROMETER_ACCURACY].value_si
"""Weather about the standard atmosphere of the site [Pa]. Pressure reduced to sea level mostly lies
within it of 1013 hPa. Altitude is corrected, not covered."""

DEFAULT_CONTACT_HALF_WIDTH_K: Final = USUAL[LimitKey.PIPE_CONTACT].value_si
"""Pipe surface under an insulated clamp against the refrigerant inside [K]."""

PROPERTY_EXPANDED_RELATIVE: Final = {"pure": 0.002, "pseudo-pure": 0.005, "mixture": 0.01}
"""Expanded (k = 2) relative uncertainty of the table's pressure at a given temperature [Pa/Pa].

pure: 0.2 %, assumption (equations of state claim 0.02 to 0.1 % for well-measured fluids).
pseudo-pure: 0.5 %, E. W. Lemmon, Pseudo-pure fluid equations of state for the refrigerant blends
R-410A, R-404A, R-507A, and R-407C, Int. J. Thermophys. 24 (2003) 991-1006, as stated in the header
of the published fluid files.
mixture: 1 %, what NIST states for bubble and dew pressures of its R-32/R-1234yf model; assumption
for the other mixtures.
"""


class Source(StrEnum):
    """What contributes to the uncertainty; the values are fit for a screen."""

    PRESSURE_PROBE = "pressure probe"
    BAROMETER = "atmospheric pressure"
    TEMP_PROBE = "temperature probe"
    CONTACT = "clamp contact"
    PROPERTIES = "refrigerant table"


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementLimits:
    """Declared limits of what one subcooling or superheat is measured with.

    Attributes
    ----------
    pressure_half_width_pa : float
        Limit of the pressure probe at this reading, plus or minus [Pa].
    temp_half_width_k : float
        Limit of the temperature probe, plus or minus [K].
    barometer_half_width_pa : float
        Limit of the atmospheric pressure in use, plus or minus; 0 for an absolute probe [Pa].
    contact_half_width_k : float
        Difference of pipe surface and refrigerant, plus or minus [K].
    property_expanded_relative : float or None
        Expanded (k = 2) relative uncertainty of the saturation pressure [Pa/Pa]; None takes
        `PROPERTY_EXPANDED_RELATIVE` of the refrigerant's model.

    Raises
    ------
    ConfigError
        A limit is negative or no finite number.
    """

    pressure_half_width_pa: float
    temp_half_width_k: float
    barometer_half_width_pa: float = DEFAULT_BAROMETER_HALF_WIDTH_PA
    contact_half_width_k: float = DEFAULT_CONTACT_HALF_WIDTH_K
    property_expanded_relative: float | None = None

    def __post_init__(self) -> None:
        for name in (
            "pressure_half_width_pa",
            "temp_half_width_k",
            "barometer_half_width_pa",
            "contact_half_width_k",
            "property_expanded_relative",
        ):
            value: float | None = getattr(self, name)
            if value is not None and not (0.0 <= value < math.inf):
                raise ConfigError(
                    f"{name}: expected a limit of zero or more, came {value:g}; "
                    f"give the plus-or-minus figure of the data sheet without its sign"
                )


@dataclass(frozen=True, slots=True)
class Component:
    """One line of an uncertainty budget.

    Attributes
    ----------
    name : Source
        Where it comes from.
    u_k : float
        Standard uncertainty it adds to the result [K].
    """

    name: Source
    u_k: float


@dataclass(frozen=True, slots=True)
class Budget:
    """An uncertainty with its parts.

    Attributes
    ----------
    components : tuple of Component
        One for each source.
    combined_u_k : float
        Combined standard uncertainty [K] (JCGM 100:2008, equation 10).
    """

    components: tuple[Component, ...]
    combined_u_k: float

    @property
    def expanded_u_k(self) -> float:
        """Expanded uncertainty U, k = 2 [K]."""
        return COVERAGE_FACTOR * self.combined_u_k

    @property
    def largest(self) -> Component:
        """The component that contributes most: what a better instrument would improve."""
        return max(self.components, key=lambda component: component.u_k)


def subcooling_budget(
    refrigerant: Refrigerant, liquid_pressure_pa_abs: float, limits: MeasurementLimits
) -> Budget | NoValue:
    """Return the uncertainty of a subcooling (bubble point less line temperature).

    Parameters
    ----------
    refrigerant : Refrigerant
        What is in the system; a composition shifted by a leak is not covered.
    liquid_pressure_pa_abs : float
        Pressure of the liquid line [Pa absolute].
    limits : MeasurementLimits
        What the instruments declare.

    Returns
    -------
    Budget or NoValue
        `NoValue` where there is no bubble point.

    Notes
    -----
    With s = dT_bub/dp: u^2 = s^2 (u_p^2 + u_atm^2) + u_T^2 + u_contact^2 + (s p u_ln_p)^2.
    Curvature is neglected: below 0.1 K for pressure limits up to 1 % of an 800 psi scale.
    Fixed errors (altitude, pressure drop, head of liquid) are to be corrected, not added here.

    References
    ----------
    .. [1] JCGM 100:2008, Evaluation of measurement data - Guide to the expression of uncertainty
       in measurement, 4.3.3, 4.3.7 and 5.1.2.
    """
    slope = refrigerant.bubble_slope_k_per_pa(liquid_pressure_pa_abs)
    if isinstance(slope, NoValue):
        return slope
    return _budget(refrigerant, liquid_pressure_pa_abs, slope, limits)


def superheat_budget(
    refrigerant: Refrigerant, suction_pressure_pa_abs: float, limits: MeasurementLimits
) -> Budget | NoValue:
    """Return the uncertainty of a superheat (line temperature less dew point).

    Parameters
    ----------
    refrigerant : Refrigerant
        What is in the system; a composition shifted by a leak is not covered.
    suction_pressure_pa_abs : float
        Pressure of the suction line [Pa absolute].
    limits : MeasurementLimits
        What the instruments declare.

    Returns
    -------
    Budget or NoValue
        `NoValue` where there is no dew point.

    References
    ----------
    .. [1] As `subcooling_budget`, with the dew point's slope.
    """
    slope = refrigerant.dew_slope_k_per_pa(suction_pressure_pa_abs)
    if isinstance(slope, NoValue):
        return slope
    return _budget(refrigerant, suction_pressure_pa_abs, slope, limits)


def _budget(
    refrigerant: Refrigerant,
    pressure_pa_abs: float,
    slope_k_per_pa: float,
    limits: MeasurementLimits,
) -> Budget:
    relative = limits.property_expanded_relative
    if relative is None:
        relative = PROPERTY_EXPANDED_RELATIVE[refrigerant.model]
    pressure_k = slope_k_per_pa * rectangular_u(limits.pressure_half_width_pa)
    barometer_k = slope_k_per_pa * rectangular_u(limits.barometer_half_width_pa)
    properties_k = slope_k_per_pa * pressure_pa_abs * relative / COVERAGE_FACTOR
    components = (
        Component(Source.PRESSURE_PROBE, pressure_k),
        Component(Source.BAROMETER, barometer_k),
        Component(Source.TEMP_PROBE, rectangular_u(limits.temp_half_width_k)),
        Component(Source.CONTACT, rectangular_u(limits.contact_half_width_k)),
        Component(Source.PROPERTIES, properties_k),
    )
    return Budget(components, math.hypot(*(component.u_k for component in components)))


def rectangular_u(half_width: float) -> float:
    """Return the standard uncertainty of limits plus or minus `half_width` [unit of the input].

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7, equation 7.
    """
    return half_width / math.sqrt(3.0)


def expanded_from_half_width(half_width: float) -> float:
    """Return the expanded uncertainty (k = 2) of limits plus or minus `half_width`, in its unit.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7, equation 7.
    """
    return COVERAGE_FACTOR * rectangular_u(half_width)


class Decision(StrEnum):
    """What a measured value says about a tolerance band."""

    PASS = "pass"
    PASS_NOT_CERTAIN = "pass, not certain"
    FAIL_NOT_CERTAIN = "fail, not certain"
    FAIL = "fail"
    TOO_COARSE = "instruments too coarse to judge"


def decide(value: float, expanded_u: float, lowest: float, highest: float) -> Decision:
    """Return what a value with its uncertainty says about a band, all in the same unit.

    Parameters
    ----------
    value : float
        Measured value.
    expanded_u : float
        Its expanded uncertainty U (k = 2), zero or more.
    lowest, highest : float
        The tolerance band, both limits inside; an infinite limit means there is none.

    Returns
    -------
    Decision
        PASS when the band, made narrower by U at both ends, holds the value; FAIL when the band
        made wider by U does not. Between: inside the band PASS_NOT_CERTAIN, outside it
        FAIL_NOT_CERTAIN; but TOO_COARSE when U is larger than the tolerance (half the
        band), for then no value at all could pass. A value so far off that it fails with
        certainty fails also with coarse instruments.

    Raises
    ------
    ValueError
        A number is NaN, U is negative, or the limits are exchanged: an error of the program.

    References
    ----------
    .. [1] JCGM 106:2012, The role of measurement uncertainty in conformity assessment, section 8
       (guarded acceptance and guarded rejection), guard band w = U.
    .. [2] ILAC-G8:09/2019, 4.2.3, non-binary statements with a guard band (from memory).
    """
    if not (expanded_u >= 0.0 and lowest <= highest and not math.isnan(value)):
        raise ValueError(
            f"expected a number, U >= 0 and lowest <= highest, came {value}, U {expanded_u}, "
            f"{lowest} to {highest}"
        )
    if not (lowest - expanded_u <= value <= highest + expanded_u):
        return Decision.FAIL
    if expanded_u > (highest - lowest) / 2.0:
        return Decision.TOO_COARSE
    if lowest + expanded_u <= value <= highest - expanded_u:
        return Decision.PASS
    return Decision.PASS_NOT_CERTAIN if lowest <= value <= highest else Decision.FAIL_NOT_CERTAIN


def conformance_probability(
    value: float, standard_u: float, lowest: float, highest: float
) -> float:
    """Return the chance that the true value lies from `lowest` to `highest`.

    Parameters
    ----------
    value : float
        Measured value, the best estimate.
    standard_u : float
        Its standard uncertainty (k = 1), zero or more [unit of value].
    lowest, highest : float
        Tolerance limits; an infinite limit means there is none [unit of value].

    Returns
    -------
    float
        Probability, 0 to 1; with no uncertainty it is 0 or 1.

    Raises
    ------
    ValueError
        A number is NaN, the uncertainty is negative, or the limits are exchanged.

    Notes
    -----
    Normal law and no knowledge before the measurement: the true value is N(value, standard_u^2).

    References
    ----------
    .. [1] JCGM 106:2012, 7.2 to 7.4.
    """
    if not (standard_u >= 0.0 and lowest <= highest and not math.isnan(value)):
        raise ValueError(
            f"expected a number, u >= 0 and lowest <= highest, came {value}, u {standard_u}, "
            f"{lowest} to {highest}"
        )
    if standard_u == 0.0:
        return 1.0 if lowest <= value <= highest else 0.0
    below = (lowest - value) / standard_u
    above = (highest - value) / standard_u
    # The difference of two tails on the same side keeps its digits far from the band.
    if below > 0.0:
        return _upper_tail(below) - _upper_tail(above)
    return _upper_tail(-above) - _upper_tail(-below)


def _upper_tail(z: float) -> float:
    return 0.5 * math.erfc(z / math.sqrt(2.0))
