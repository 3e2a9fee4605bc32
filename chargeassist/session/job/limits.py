"""The limits of a job: those of the profile it names, and its own conditions before them.

::

    profile = "california-installer"

    [conditions]
    source = "installation manual, page 12"
    outdoor_low = "60 °F"
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from chargeassist.model.errors import ConfigError
from chargeassist.model.limit_bounds import ORDERED
from chargeassist.model.limits import (
    Authority,
    Kind,
    Limit,
    LimitKey,
    Method,
    Profile,
    resolve,
)
from chargeassist.model.stage_plan import PressureStep
from chargeassist.model.text import plain
from chargeassist.model.usual_limits import USUAL, USUAL_PROFILE
from chargeassist.session.job.overrides import OVERRIDES, read_overrides, set_here
from chargeassist.session.job.profile_files import profiles_beside
from chargeassist.session.job.profiles import limit_value_si, parse_profiles
from chargeassist.session.job.toml_table import TomlTable, came

CONDITIONS = (
    LimitKey.OUTDOOR_LOW,
    LimitKey.OUTDOOR_HIGH,
    LimitKey.INDOOR_LOW,
    LimitKey.INDOOR_HIGH,
    LimitKey.RUN_BEFORE_READING,
    LimitKey.WAIT_AFTER_CHANGE,
    LimitKey.FINAL_HOLD,
    LimitKey.AIRFLOW_LOW,
    LimitKey.FILTERS_PANELS,
    LimitKey.RAMP_LONGEST,
    LimitKey.HOLD_WARNING,
    LimitKey.FLOODBACK_TIME,
    LimitKey.IMPOSSIBLE_READING,
    LimitKey.SHORTAGE_SUBCOOLING,
    LimitKey.OVERFED_SUBCOOLING,
    LimitKey.TYPED_LASTS,
    LimitKey.AIRFLOW_TOLERANCE,
    LimitKey.VOLTAGE_TOLERANCE,
    LimitKey.VOLTAGE_UNBALANCE_AIM,
    LimitKey.VOLTAGE_UNBALANCE_HIGH,
    LimitKey.CYLINDER_FILL,
)
"""Limits a job file may give in its own ``[conditions]``."""

TIGHTNESS_LIMITS = {
    "counts_as_reached": LimitKey.TIGHTNESS_THERE,
    "counts_as_too_high": LimitKey.TIGHTNESS_OVER,
    "counts_as_falling": LimitKey.TIGHTNESS_FALL,
    "left_out": LimitKey.TIGHTNESS_SETTLING,
    "atmosphere": LimitKey.TIGHTNESS_ATMOSPHERE,
    "gauge_step": LimitKey.TIGHTNESS_RESOLUTION,
    "typed_together": LimitKey.TYPED_TOGETHER,
}
"""Keys of ``[tightness]`` that are limits."""

TIGHTNESS_OTHERS = ("steps", "leak", "volume", "gauge_accuracy", "thermometer_accuracy")
"""Its other keys."""

DRYNESS_LIMITS = {
    "target": LimitKey.VACUUM_TARGET,
    "rise_limit": LimitKey.VACUUM_RISE_LIMIT,
    "rise_time": LimitKey.VACUUM_RISE_TIME,
    "equalisation": LimitKey.VACUUM_EQUALISATION,
    "still_dries": LimitKey.VACUUM_DEEPENS,
    "counts_as_leak": LimitKey.VACUUM_STEADY_RISE,
}
"""Keys of ``[dryness]`` that are limits."""

DRYNESS_OTHERS = ("coldest", "gauge_accuracy")
"""Its other keys."""

_PLAUSIBLE = {
    Kind.DURATION: (1.0, 3600.0, "1 s to 60 min"),
    Kind.PRESSURE_ABSOLUTE: (1.0, 5000.0, "1 to 5000 Pa (8 to 37 500 micron)"),
    Kind.FRACTION: (1e-4, 1.0, "0.01 to 100 %"),
    Kind.TEMP_DIFFERENCE: (0.1, 20.0, "0.1 to 20 K (0.2 to 36 °F)"),
    Kind.PRESSURE_DIFFERENCE: (1.0, 1e5, "1 to 100 000 Pa"),
}
"""Beyond these a number of the equipment's instructions was written in the wrong unit; those of any
limit stand in `chargeassist.session.job.profiles`."""


@dataclass(frozen=True, slots=True)
class JobLimits:
    """The limits that count for one job.

    Attributes
    ----------
    profile : str
        Its name; empty without one.
    all : tuple of Limit
        One per key.
    raises : tuple of PressureStep
        Of the first profile that has any.
    role : str
        Of the first profile that has one.
    """

    profile: str
    all: tuple[Limit, ...]
    raises: tuple[PressureStep, ...] = ()
    role: str = ""

    def find(self, key: LimitKey) -> Limit | None:
        """Return the limit of `key`; None where there is none."""
        return next((limit for limit in self.all if limit.key is key), None)

    def has(self, key: LimitKey) -> bool:
        """Return whether there is a limit of `key`."""
        return self.find(key) is not None

    def value(self, key: LimitKey, default: float | None = None) -> float | None:
        """Return the limit's SI value, `default` without one."""
        limit = self.find(key)
        return default if limit is None else limit.value_si

    def one(self, key: LimitKey) -> Limit:
        """Return the limit of `key`, the program's default without one."""
        return self.find(key) or USUAL[key]

    def citation(self, key: LimitKey) -> str:
        """Return where the limit comes from; empty without one."""
        limit = self.find(key)
        return "" if limit is None else limit.citation


@cache
def shipped_profiles() -> dict[str, Profile]:
    """Return the profiles shipped with the program, by name."""
    found: dict[str, Profile] = {}
    for name in ("profiles.toml", "profiles-circuit.toml"):
        text = (files("chargeassist") / "data" / name).read_text(encoding="utf-8")
        found |= parse_profiles(text, name)
    return found


def read_limits(top: TomlTable, method: Method = Method.SUBCOOLING) -> JobLimits:
    """Return the limits of the job file `top`, which judges its charge by `method`.

    Raises
    ------
    ConfigError
        If the profile is not known or forbids the method, or a condition cannot be used.
    """
    named = _profiles(top, method)
    own = [
        _own_limits(top.table("conditions", optional=True), {key.value: key for key in CONDITIONS}),
        _own_limits(
            top.table("tightness", optional=True), TIGHTNESS_LIMITS, others=TIGHTNESS_OTHERS
        ),
        _own_limits(top.table("dryness", optional=True), DRYNESS_LIMITS, others=DRYNESS_OTHERS),
    ]
    profiles = [*own, *named, USUAL_PROFILE]
    found = {key: limit for key in LimitKey if (limit := resolve(profiles, key)) is not None}
    found |= {limit.key: limit for limit in read_overrides(top.table(OVERRIDES, optional=True))}
    limits = JobLimits(
        " + ".join(profile.name for profile in named),
        tuple(found[key] for key in LimitKey if key in found),
        next((profile.raises for profile in named if profile.raises), ()),
        next((profile.role for profile in named if profile.role), ""),
    )
    for low, high in ORDERED:
        least, most = limits.value(low), limits.value(high)
        if least is not None and most is not None and least >= most:
            raise top.error(
                _place_of(limits, low, high),
                f"expected {low.value} to be less than {high.value}, {_written(limits.one(high))}",
                _written(limits.one(low)),
            )
    return limits


def _place_of(limits: JobLimits, low: LimitKey, high: LimitKey) -> str:
    """Return where in the job file two limits contradict each other."""
    own = set_here([limits.one(low), limits.one(high)])
    if own:
        return f"{OVERRIDES}.{own[0].key.value}"
    return f"conditions.{low.value}" if low in CONDITIONS else "profile"


Applied = dict[LimitKey, tuple[float, str, bool]]
"""Limits a job is run by: SI value, the same as written, and whether the job file says it."""


def with_applied(limits: JobLimits, applied: Applied) -> tuple[Limit, ...]:
    """Return all limits of a job, those it is run by without a profile among them.

    Parameters
    ----------
    limits : JobLimits
    applied : Applied
        Where neither the job nor a profile says one, it is a default of the program, and is shown
        as one.
    """
    found = {limit.key: limit for limit in limits.all}
    for key, (value_si, written, own) in applied.items():
        if own or key not in found:
            found[key] = Limit(
                key=key,
                value_si=value_si,
                as_written=written,
                source="job file" if own else "default of this program",
                edition="",
                authority=Authority.EQUIPMENT if own else Authority.RULE_OF_THUMB,
            )
    return tuple(found[key] for key in LimitKey if key in found)


def _written(limit: Limit) -> str:
    return f"{limit.as_written} ({limit.source})"


def _profiles(top: TomlTable, method: Method) -> list[Profile]:
    """Return the profiles the job names: one text, or several in the order of choice."""
    shipped = shipped_profiles()
    written = top.get("profile")
    if written is None:
        return []
    names = written if isinstance(written, list) else [written]
    found: list[Profile] = []
    for name in names:
        if isinstance(name, str) and name.endswith(".toml"):
            profiles = profiles_beside(top, name)
        elif isinstance(name, str) and name in shipped:
            profiles = (shipped[name],)
        else:
            known = ", ".join(shipped)
            raise top.error(
                "profile",
                f'expected one of {known}, or a file of your own beside the job, "house.toml"',
                came(name, shipped),
            )
        for profile in profiles:
            if method in profile.forbids:
                raise top.error(
                    "profile",
                    f"expected one that judges by {method.value}; follow the method of the "
                    "equipment's instructions instead",
                    f"{profile.name!r}, which does not",
                )
            found.append(profile)
    return found


def _own_limits(
    table: TomlTable, keys: Mapping[str, LimitKey], *, others: tuple[str, ...] = ()
) -> Profile:
    """Return what one table of the job file limits: what the equipment's instructions say.

    Parameters
    ----------
    table : TomlTable
    keys : mapping of str to LimitKey
        By their name in the table.
    others : tuple of str
        Keys of the table that someone else reads.
    """
    source = plain(table.text("source", default=""))
    for name in others:
        table.get(name)
    limits: dict[LimitKey, Limit] = {}
    for name, key in keys.items():
        written = table.written(name)
        if written is None:
            continue
        try:
            value_si = limit_value_si(key, written)
        except ConfigError as error:
            raise ConfigError(f"{table.where(name)}: {error}") from error
        low_si, high_si, words = _PLAUSIBLE.get(key.kind, (-math.inf, math.inf, ""))
        if key is LimitKey.VACUUM_RISE_TIME:
            high_si, words = 86_400.0, "1 s to 24 h"
        if not low_si <= value_si <= high_si:
            raise table.error(name, f"expected {words}", repr(plain(written)))
        limits[key] = Limit(
            key=key,
            value_si=value_si,
            as_written=plain(written),
            source=source,
            edition="",
            authority=Authority.EQUIPMENT,
        )
    if limits and not source.strip():
        raise table.error("source", "expected where these were read", "nothing")
    table.finish()
    return Profile(name="job file", title="limits of the job file", limits=limits)
