"""What can go wrong with the simulated machine, as amounts that change over time.

Zero (or one, for shares) is healthy. A fault grows in a straight line between two times and stays;
one that ends is another line back.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Final

from chargeassist.model.errors import ConfigError


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineFaults:
    """Amounts of every fault at one moment; the defaults are a healthy machine.

    Attributes
    ----------
    non_condensable_mol : float
        Air or nitrogen in the condenser, per kilogram of plate charge [mol/kg].
    restriction_pa : float
        Further drop of the liquid line at design flow [Pa].
    outdoor_air_share, condenser_surface_share : float
        Of the clean coil's air flow and conductance [1].
    indoor_air_share : float
        Of the design flow [1].
    valve_stuck : float
        Opening the metering device cannot leave; NaN when it is free [1].
    valve_gain : float
        Multiplies its answer to superheat [1].
    bulb_lag_s, front_lag_s : float
        Instead of the unit's when not 0; 11 s and 4 s make the valve hunt [s].
    compressor_leakage : float
        Share of the flow that slips back through its valves [1].
    leak_kg_per_s : float
        Lost from the liquid line at 1.4 MPa above the atmosphere [kg/s].
    """

    non_condensable_mol: float = 0.0
    restriction_pa: float = 0.0
    outdoor_air_share: float = 1.0
    condenser_surface_share: float = 1.0
    indoor_air_share: float = 1.0
    valve_stuck: float = math.nan
    valve_gain: float = 1.0
    bulb_lag_s: float = 0.0
    front_lag_s: float = 0.0
    compressor_leakage: float = 0.0
    leak_kg_per_s: float = 0.0

    def __post_init__(self) -> None:
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if name == "valve_stuck" and math.isnan(value):
                continue
            if not low <= value <= high:
                raise ConfigError(f"the fault {name} goes from {low:g} to {high:g}, came {value!r}")

    def leak_at_kg_per_s(self, over_pa: float) -> float:
        """Return what leaks out at a pressure above the atmosphere [Pa]: it goes with that."""
        return self.leak_kg_per_s * (over_pa / LEAK_REFERENCE_PA)


LEAK_REFERENCE_PA: Final = 1.4e6
"""Pressure above the atmosphere at which `MachineFaults.leak_kg_per_s` is lost [Pa]."""

LIMITS: Final = {
    "non_condensable_mol": (0.0, 0.5),
    "restriction_pa": (0.0, 5e6),
    "outdoor_air_share": (0.05, 1.5),
    "condenser_surface_share": (0.05, 1.5),
    "indoor_air_share": (0.05, 1.5),
    "valve_stuck": (0.0, 3.0),
    "valve_gain": (0.0, 10.0),
    "bulb_lag_s": (0.0, 300.0),
    "front_lag_s": (0.0, 60.0),
    "compressor_leakage": (0.0, 0.9),
    "leak_kg_per_s": (0.0, 0.05),
}
"""Lowest and highest amount of each fault."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultCourse:
    """One amount going from where it is to another.

    Attributes
    ----------
    name : str
        A field of `MachineFaults`.
    amount : float
        Where it goes.
    start_s, full_s : float
        When it begins to change and when it is there [s]; equal for a jump.
    """

    name: str
    amount: float
    start_s: float = 0.0
    full_s: float = 0.0

    def __post_init__(self) -> None:
        if self.name not in LIMITS:
            raise ConfigError(f"expected one of the faults {', '.join(LIMITS)}, came {self.name!r}")
        if not 0.0 <= self.start_s <= self.full_s:
            raise ConfigError(
                f"the fault {self.name} must begin at 0 s or later and be full no earlier, came "
                f"{self.start_s!r} s and {self.full_s!r} s"
            )
        replace(MachineFaults(), **{self.name: self.amount})  # refuses what is out of limits

    @property
    def heals(self) -> bool:
        """Whether it goes to where a sound machine is."""
        sound = getattr(MachineFaults(), self.name)
        return self.amount == sound or (math.isnan(self.amount) and math.isnan(sound))


class FaultSchedule:
    """All courses together, as amounts by time.

    Parameters
    ----------
    base : MachineFaults
        Before any course.
    courses : sequence of FaultCourse
        Applied in order of their starts; a later one takes over from where the amount is. Of those
        that start together one that heals comes first: it ends what was before.
    """

    def __init__(self, base: MachineFaults, courses: Sequence[FaultCourse] = ()) -> None:
        self._base = base
        self._courses = sorted(courses, key=lambda course: (course.start_s, not course.heals))
        # After this nothing changes any more.
        self._last_s = max((course.full_s for course in courses), default=-math.inf)
        self._final: MachineFaults | None = None

    def at(self, t: float) -> MachineFaults:
        """Return the amounts at time `t` [s]; the same object once nothing changes."""
        if t > self._last_s and self._final is not None:
            return self._final
        amounts = {field.name: getattr(self._base, field.name) for field in fields(MachineFaults)}
        for course in self._courses:
            if t < course.start_s:
                break
            before = amounts[course.name]
            healthy = 1.0 if math.isnan(before) else before
            span = course.full_s - course.start_s
            part = 1.0 if t >= course.full_s else (t - course.start_s) / span
            amounts[course.name] = healthy + part * (course.amount - healthy)
        now = MachineFaults(**amounts)
        if t > self._last_s:
            self._final = now
        return now
