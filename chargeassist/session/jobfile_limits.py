"""The limits of a job: those of the profile it names, and its own conditions before them.

::

    profile = "california-installer"

    [conditions]
    source = "installation manual, page 12"
    outdoor_low = "60 °F"
"""

import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import (
    Authority,
    Kind,
    Limit,
    LimitKey,
    Method,
    Profile,
    resolve,
)
from chargeassist.model.text import plain
from chargeassist.session.profiles import limit_value_si, parse_profiles
from chargeassist.session.toml_table import TomlTable

CONDITIONS = (
    LimitKey.OUTDOOR_LOW,
    LimitKey.OUTDOOR_HIGH,
    LimitKey.INDOOR_LOW,
    LimitKey.INDOOR_HIGH,
    LimitKey.RUN_BEFORE_READING,
    LimitKey.WAIT_AFTER_CHANGE,
    LimitKey.AIRFLOW_LOW,
)
"""Limits a job file may give in its own ``[conditions]``."""

_ORDERED = (
    (LimitKey.OUTDOOR_LOW, LimitKey.OUTDOOR_HIGH),
    (LimitKey.INDOOR_LOW, LimitKey.INDOOR_HIGH),
)

_PLAUSIBLE = {
    Kind.TEMP: (223.15, 328.15, "-50 to 55 °C (-58 to 131 °F)"),
    Kind.DURATION: (1.0, 3600.0, "1 s to 60 min"),
}
"""Beyond these a number was written in the wrong unit: 60 °C of outdoor air for 60 °F."""


@dataclass(frozen=True, slots=True)
class JobLimits:
    """The limits that count for one job.

    Attributes
    ----------
    profile : str
        Its name; empty without one.
    all : tuple of Limit
        One per key.
    """

    profile: str
    all: tuple[Limit, ...]

    def has(self, key: LimitKey) -> bool:
        """Return whether there is a limit of `key`."""
        return any(limit.key is key for limit in self.all)

    def value(self, key: LimitKey, default: float | None = None) -> float | None:
        """Return the limit's SI value, `default` without one."""
        return next((limit.value_si for limit in self.all if limit.key is key), default)

    def citation(self, key: LimitKey) -> str:
        """Return where the limit comes from; empty without one."""
        return next((limit.citation for limit in self.all if limit.key is key), "")


@cache
def shipped_profiles() -> dict[str, Profile]:
    """Return the profiles shipped with the program, by name."""
    text = (files("chargeassist") / "data" / "profiles.toml").read_text(encoding="utf-8")
    return parse_profiles(text, "profiles.toml")


def read_limits(top: TomlTable) -> JobLimits:
    """Return the limits of the job file `top`.

    Raises
    ------
    ConfigError
        If the profile is not known or forbids judging by subcooling, or a condition cannot be used.
    """
    name = top.text("profile", default="")
    profiles = [_own_conditions(top.table("conditions", optional=True))]
    if name:
        known = tuple(shipped_profiles())
        profile = shipped_profiles()[top.choice("profile", known)]
        if Method.SUBCOOLING in profile.forbids:
            raise top.error(
                "profile",
                "expected one that judges by subcooling; follow the method of the equipment's "
                "instructions instead",
                f"{name!r}, which does not",
            )
        profiles.append(profile)
    resolved = (resolve(profiles, key) for key in LimitKey)
    limits = JobLimits(name, tuple(limit for limit in resolved if limit is not None))
    for low, high in _ORDERED:
        least, most = limits.value(low), limits.value(high)
        if least is not None and most is not None and least >= most:
            raise top.error(
                f"conditions.{low.value}",
                f"expected less than {high.value}, {_written(limits, high)}",
                _written(limits, low),
            )
    return limits


def _written(limits: JobLimits, key: LimitKey) -> str:
    limit = next(each for each in limits.all if each.key is key)
    return f"{limit.as_written} ({limit.source})"


def _own_conditions(table: TomlTable) -> Profile:
    source = plain(table.text("source", default=""))
    limits: dict[LimitKey, Limit] = {}
    for key in CONDITIONS:
        written = table.text(key.value, default="")
        if not written:
            continue
        try:
            value_si = limit_value_si(key, written)
        except ConfigError as error:
            raise ConfigError(f"{table.where(key.value)}: {error}") from error
        low_si, high_si, words = _PLAUSIBLE.get(key.kind, (-math.inf, math.inf, ""))
        if not low_si <= value_si <= high_si:
            raise table.error(key.value, f"expected {words}", repr(plain(written)))
        limits[key] = Limit(
            key=key,
            value_si=value_si,
            as_written=plain(written),
            source=source,
            edition="",
            authority=Authority.EQUIPMENT,
        )
    if limits and not source.strip():
        raise table.error("source", "expected where these conditions were read", "nothing")
    table.finish()
    return Profile(name="job file", title="conditions of the job file", limits=limits)
