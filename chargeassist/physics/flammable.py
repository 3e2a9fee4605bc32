"""Safety groups, lower flammability limits, and the room-area formulas, as information only.

Ducted units, units with a refrigerant sensor, and rules for whole buildings follow other clauses
than the formulas here: the minimum room area on the plate or in the instructions counts, never a
figure computed here.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.installation import SafetyGroup
from chargeassist.model.job import Job

CAUTION: Final = (
    "for information: ducted units, units with a sensor and building rules follow other clauses; "
    "the plate's minimum room area counts"
)


SAFETY_GROUPS: Final[dict[str, SafetyGroup]] = {
    **dict.fromkeys(
        ("R-22", "R-134a", "R-404A", "R-407A", "R-407C", "R-407F", "R-407H", "R-410A", "R-417A",
         "R-421A", "R-422B", "R-422D", "R-427A", "R-434A", "R-448A", "R-449A", "R-450A", "R-452A",
         "R-466A", "R-507A", "R-513A", "R-515B", "R-744"),
        SafetyGroup.A1,
    ),
    **dict.fromkeys(
        ("R-32", "R-452B", "R-454A", "R-454B", "R-454C", "R-455A", "R-459A", "R-1234yf",
         "R-1234ze(E)"),
        SafetyGroup.A2L,
    ),
    **dict.fromkeys(("R-290", "R-600a", "R-1270"), SafetyGroup.A3),
}  # fmt: skip
"""By designation; ANSI/ASHRAE Standard 34 and its addenda, from memory: the plate counts."""


def safety_group(job: Job) -> SafetyGroup | None:
    """Return the group that the plate states, else the one of the table; None where neither has."""
    return job.plate.safety_group or SAFETY_GROUPS.get(job.refrigerant)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlammabilityLimit:
    """One published lower flammability limit.

    Attributes
    ----------
    value_kg_per_m3 : float
        [kg/m3].
    source : str
    from_memory : bool
        An editable default.
    """

    value_kg_per_m3: float
    source: str
    from_memory: bool = False

    @property
    def said(self) -> str:
        """The limit with its source, in one line."""
        text = f"flammability limit {self.value_kg_per_m3:g} kg/m3, {self.source}"
        return f"{text}, from memory" if self.from_memory else text


_MEMORY: Final = "ISO 817 or IEC 60335-2-40 annex BB"

LOWER_LIMITS: Final[dict[str, tuple[FlammabilityLimit, ...]]] = {
    "R-32": (
        FlammabilityLimit(
            value_kg_per_m3=0.307,
            source="equipment manual after IEC 60335-2-40:2018, manualshive.com/en/manual/"
            "panasonic/wh-adc0309k3e5/4216487, page 242 (found from its charge table)",
        ),
    ),
    "R-454B": (
        FlammabilityLimit(
            value_kg_per_m3=0.296, source="a web page that names no table", from_memory=True
        ),
        FlammabilityLimit(
            value_kg_per_m3=0.353, source="a web page that names no table", from_memory=True
        ),
    ),
    "R-1234yf": (FlammabilityLimit(value_kg_per_m3=0.289, source=_MEMORY, from_memory=True),),
    "R-290": (FlammabilityLimit(value_kg_per_m3=0.038, source=_MEMORY, from_memory=True),),
    "R-600a": (FlammabilityLimit(value_kg_per_m3=0.043, source=_MEMORY, from_memory=True),),
    "R-1270": (FlammabilityLimit(value_kg_per_m3=0.046, source=_MEMORY, from_memory=True),),
}
"""By designation, every value that is in circulation; where there are two, the job has to say which
table it goes by."""

HEIGHTS_M: Final[dict[str, float]] = {"floor": 0.6, "window": 1.0, "wall": 1.8, "ceiling": 2.2}
"""Reference height h0 of the indoor unit [m]: equipment manual after IEC 60335-2-40,
manualslib.es/manual/684152, page 132."""

LOWEST_HEIGHT_M: Final = 0.6
"""A unit that stands lower counts as one of this height [m] (same page)."""

_UNLIMITED_M3: Final = {SafetyGroup.A2L: 6.0, SafetyGroup.A2: 4.0, SafetyGroup.A3: 4.0}
"""Charge over flammability limit up to which the room plays no part [m3]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRule:
    """What the annex formulas give; see `CAUTION`.

    Attributes
    ----------
    unlimited_kg : float
        Charge up to which the room plays no part [kg].
    largest_kg : float or None
        For the room's area, where it was given [kg].
    smallest_area_m2 : float
        For the charge; 0 where the room plays no part [m2].
    caution : str
    """

    unlimited_kg: float
    largest_kg: float | None
    smallest_area_m2: float
    caution: str = CAUTION


def room_rule(
    charge_kg: float,
    limit_kg_per_m3: float,
    height_m: float,
    *,
    group: SafetyGroup = SafetyGroup.A2L,
    area_m2: float | None = None,
) -> RoomRule:
    """Return smallest area and largest charge of a room with an appliance that is not ducted.

    Parameters
    ----------
    charge_kg : float
        Of the whole circuit [kg].
    limit_kg_per_m3 : float
        Lower flammability limit, by the table the job goes by [kg/m3].
    height_m : float
        Reference height h0 of the indoor unit; below 0.6 m it counts as 0.6 m [m].
    group : SafetyGroup
        Of the refrigerant: what burns faster than A2L counts from a smaller charge on.
    area_m2 : float or None
        Floor area [m2].

    Raises
    ------
    ConfigError
        A figure is not above zero, or the refrigerant does not burn.

    Notes
    -----
    ``m1 = 6 LFL`` for A2L, ``4 LFL`` for A2 and A3 (propane's 152 g),
    ``m_max = min(2.5 LFL^1.25 h0 A^0.5, 0.75 LFL h0 A)``,
    ``A_min = (m / (2.5 LFL^1.25 h0))^2``. The second branch of the minimum was found by fitting a
    manual's table, which it reproduces to 1 g; the least area here honours both branches.

    References
    ----------
    .. [1] IEC 60335-2-40, annex GG, as printed in manualslib.es/manual/684152, page 132, and as a
       table in manualshive.com/en/manual/panasonic/wh-adc0309k3e5/4216487, page 242; the factor
       of A2 and A3 from memory.
    """
    if group not in _UNLIMITED_M3:
        raise ConfigError(f"expected a refrigerant that burns, came one of group {group.value}")
    for name, value in (
        ("a charge", charge_kg),
        ("a flammability limit", limit_kg_per_m3),
        ("a height", height_m),
        ("an area", 1.0 if area_m2 is None else area_m2),
    ):
        if not 0.0 < value < math.inf:
            raise ConfigError(f"expected {name} above zero, came {value:g}")
    h = max(height_m, LOWEST_HEIGHT_M)
    root = 2.5 * limit_kg_per_m3**1.25 * h
    linear = 0.75 * limit_kg_per_m3 * h
    unlimited = _UNLIMITED_M3[group] * limit_kg_per_m3
    largest = None
    if area_m2 is not None:
        largest = min(root * math.sqrt(area_m2), linear * area_m2)
    smallest = max((charge_kg / root) ** 2, charge_kg / linear)
    return RoomRule(
        unlimited_kg=unlimited,
        largest_kg=largest,
        smallest_area_m2=0.0 if charge_kg <= unlimited else smallest,
    )
