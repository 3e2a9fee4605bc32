"""Running current, supply voltage and voltage unbalance against what the unit is made for.

No figure of a unit is built in: current, tolerance and nameplate voltage are arguments. Phase order
is a question to the technician (noise, no pressure difference, low current), not a computation.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import (
    COVERAGE_FACTOR,
    Decision,
    conformance_probability,
    decide,
)

VOLTAGE_TOLERANCE: Final = 0.10
"""Supply about the nameplate, as a share [-]. Engineering table after NEMA MG 1:
engineeringtoolbox.com/electrical-motor-voltage-imbalance-d_648.html. Editable default."""

LARGEST_UNBALANCE: Final = 0.05
"""Above this a motor is not to be run at all [-] (NEMA MG 1, as told in
eng-tips.com/threads/nec-standrad-for-voltage-unbalance-for-motors.41982)."""

DERATING: Final[tuple[tuple[float, float], ...]] = (
    (0.010, 1.00),
    (0.015, 0.97),
    (0.020, 0.95),
    (0.025, 0.93),
    (0.030, 0.89),
    (0.035, 0.85),
    (0.040, 0.82),
    (0.045, 0.78),
    (0.050, 0.76),
)
"""Unbalance and share of rated output that is left [-], [-]: points of the NEMA MG 1 curve read by
engineeringtoolbox.com/electrical-motor-voltage-imbalance-d_648.html. Another reading has 0.90 at
3 %; 1.00 is printed at 0.5 %, its end at 1 % is the text of the standard as told there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltageUnbalance:
    """Unbalance of three voltages.

    Attributes
    ----------
    mean_v : float
        [V].
    unbalance : float
        Largest deviation from the mean over the mean, as a share [-].
    worst_leg : int
        Index of the voltage that deviates most.
    expanded : float
        Expanded uncertainty (k = 2) of `unbalance` [-].
    derating : float or NoValue
        Share of its rated output a motor may be loaded to; `NoValue` above 5 %.
    """

    mean_v: float
    unbalance: float
    worst_leg: int
    expanded: float
    derating: float | NoValue


def voltage_unbalance(
    voltages_v: Sequence[float], *, expanded_v: float = 0.0
) -> VoltageUnbalance | NoValue:
    """Return the NEMA unbalance of three line-to-line voltages.

    Parameters
    ----------
    voltages_v : sequence of float, shape (3,)
        Line to line, read with one meter [V].
    expanded_v : float
        Expanded uncertainty (k = 2) of one reading, scatter only: what all three share cancels [V].

    Returns
    -------
    VoltageUnbalance or NoValue
        `NoValue` if a voltage is not above zero: a lost phase is no unbalance.

    Raises
    ------
    ValueError
        Not three voltages, or a negative uncertainty.

    Notes
    -----
    The largest deviation counts, whichever side it is on; two web pages take the highest leg and
    print 1.45 % for 400/395/388 V (1.61 %) and 2.3 % for 208/206/199 V (2.61 %). The deviation
    takes 2/3 of the worst leg's error and 1/3 of each other's: ``u^2 = (4 + 1 + 1)/9 u_V^2``.

    References
    ----------
    .. [1] NEMA MG 1, voltage unbalance, as quoted in
       eng-tips.com/threads/sequence-angles-imbalance.481112 and in a relay maker's manual,
       manualshelf.com/manual/motor-saver/201-575-au/specifications-english/page-5.html.
    .. [2] JCGM 100:2008, 5.1.2.
    """
    if len(voltages_v) != 3 or not expanded_v >= 0.0:
        raise ValueError(f"expected three voltages and U >= 0, came {voltages_v}, {expanded_v}")
    if not all(0.0 < v < math.inf for v in voltages_v):
        return NoValue("one of the three voltages is missing: a lost phase, not an unbalance")
    mean = math.fsum(voltages_v) / 3.0
    worst = max(range(3), key=lambda i: abs(voltages_v[i] - mean))
    share = abs(voltages_v[worst] - mean) / mean
    return VoltageUnbalance(
        mean_v=mean,
        unbalance=share,
        worst_leg=worst,
        expanded=math.sqrt(6.0) / 3.0 * expanded_v / mean,
        derating=derating(share),
    )


def derating(unbalance: float) -> float | NoValue:
    """Return the share of its rated output that a motor keeps at a voltage unbalance [-].

    Parameters
    ----------
    unbalance : float
        As a share, 0 or more [-].

    Returns
    -------
    float or NoValue
        Linear between the points of `DERATING`, 1 below the first; `NoValue` above 5 %.

    References
    ----------
    .. [1] As `DERATING`.
    """
    if not 0.0 <= unbalance < math.inf:
        return NoValue("the unbalance is no share")
    if unbalance > LARGEST_UNBALANCE + 1e-12:
        return NoValue(
            f"{100.0 * unbalance:.1f} % is above 5 %: the motor is not to be run on this supply"
        )
    before = (0.0, 1.0)
    for point in DERATING:
        if unbalance <= point[0]:
            weight = (unbalance - before[0]) / (point[0] - before[0])
            return before[1] + weight * (point[1] - before[1])
        before = point
    return DERATING[-1][1]


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyVoltage:
    """Supply against the nameplate.

    Attributes
    ----------
    deviation : float
        Measured less nameplate, over nameplate [-].
    expanded : float
        Its expanded uncertainty, k = 2 [-].
    decision : Decision
    """

    deviation: float
    expanded: float
    decision: Decision


def judge_voltage(
    voltage_v: float,
    nameplate_v: float,
    *,
    expanded_v: float,
    tolerance: float = VOLTAGE_TOLERANCE,
) -> SupplyVoltage | NoValue:
    """Return how the supply lies about the nameplate voltage.

    Parameters
    ----------
    voltage_v, nameplate_v : float
        [V].
    expanded_v : float
        Expanded uncertainty (k = 2) of the reading [V].
    tolerance : float
        Plus or minus, as a share; the maker's own range comes first [-].

    References
    ----------
    .. [1] As `VOLTAGE_TOLERANCE`; JCGM 106:2012, section 8, for the decision.
    """
    if not (0.0 < nameplate_v < math.inf and 0.0 <= voltage_v < math.inf):
        return NoValue("no voltage to compare, or no nameplate voltage")
    # 228.8 V are 110 % of 208 V, and not a hair more.
    deviation = round((voltage_v - nameplate_v) / nameplate_v, 9)
    expanded = expanded_v / nameplate_v
    return SupplyVoltage(
        deviation=deviation,
        expanded=expanded,
        decision=decide(deviation, expanded, -tolerance, tolerance),
    )


class CurrentSays(StrEnum):
    """What the running current says; the values are fit for a screen."""

    AS_EXPECTED = "current is what the maker gives at this frequency"
    LOW = "current is below what the maker gives at this frequency"
    HIGH = "current is above what the maker gives at this frequency"
    NOT_CERTAIN = "current cannot be told from the maker's limits with this clamp"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningCurrent:
    """A running current against the maker's figure.

    Attributes
    ----------
    deviation : float
        Measured less expected, over expected [-].
    expanded : float
        Its expanded uncertainty, k = 2 [-].
    says : CurrentSays
    decision : Decision
    inside_probability : float
        Chance that the true current lies inside the tolerance [-].
    """

    deviation: float
    expanded: float
    says: CurrentSays
    decision: Decision
    inside_probability: float


def judge_current(
    current_a: float,
    expected_a: float,
    *,
    tolerance: float,
    expanded_a: float,
) -> RunningCurrent | NoValue:
    """Return what the running current says.

    Parameters
    ----------
    current_a : float
        True-RMS reading [A]: an inverter's current is no sine.
    expected_a, tolerance : float
        The maker's figure at the frequency that is held now, and what it may differ, plus or minus
        as a share; there is no default for either [A], [-].
    expanded_a : float
        Expanded uncertainty (k = 2) of the reading [A].

    Returns
    -------
    RunningCurrent or NoValue
        `NoValue` where there is no figure to compare with.

    References
    ----------
    .. [1] JCGM 106:2012, 7.2 and section 8.
    """
    if not 0.0 <= current_a < math.inf:
        return NoValue("the current is no number of zero or more")
    if not (0.0 < expected_a < math.inf and tolerance > 0.0):
        return NoValue("no figure of the maker for the current at this frequency")
    half = tolerance * expected_a
    verdict = decide(current_a, expanded_a, expected_a - half, expected_a + half)
    if verdict in {Decision.PASS, Decision.PASS_NOT_CERTAIN}:
        says = CurrentSays.AS_EXPECTED
    elif verdict is Decision.FAIL:
        says = CurrentSays.HIGH if current_a > expected_a else CurrentSays.LOW
    else:
        says = CurrentSays.NOT_CERTAIN
    return RunningCurrent(
        deviation=(current_a - expected_a) / expected_a,
        expanded=expanded_a / expected_a,
        says=says,
        decision=verdict,
        inside_probability=conformance_probability(
            current_a, expanded_a / COVERAGE_FACTOR, expected_a - half, expected_a + half
        ),
    )


def judge_rated_load(current_a: float, rated_load_a: float, expanded_a: float) -> Decision:
    """Return whether a current stays at or below the rated-load amps.

    Parameters
    ----------
    current_a, rated_load_a : float
        True-RMS reading, and the nameplate's figure [A]. With an inverter that may be the
        compressor's side and not the line's (common practice, no published source).
    expanded_a : float
        Expanded uncertainty (k = 2) of the reading [A].

    Notes
    -----
    More is a reason to look, not a fault: rated-load amps are not a target.

    References
    ----------
    .. [1] JCGM 106:2012, section 8.
    """
    return decide(current_a, expanded_a, -math.inf, rated_load_a)
