"""Limits a job sets itself, in the place of those of its profile and of the program.

::

    [overrides]
    source = "house rule 7, 2026-05"
    authority = "equipment instructions"    # left out: rule of thumb
    settled_band = "0.2 K"
    hand_pace = "45 s"

Any limit can stand there; it counts whatever the rank of what it takes the place of, and
``job check``, screen, record and report name it with this source.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.text import plain
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.profiles import limit_value_si
from chargeassist.session.job.toml_table import TomlTable

OVERRIDES: Final = "overrides"
SET_HERE: Final = "set in this job: "
"""How the source of such a limit begins."""

OTHERS: Final = "charging and its conditions"

_GROUPS: Final[Mapping[str, tuple[str, ...]]] = {
    "tightness": ("tightness",),
    "dryness": ("vacuum",),
    "weigh-in": ("adder", "line_length", "cylinder_fill", "scale", "step_cap"),
    "readings by hand": ("hand", "typed", "eye", "heater"),
    "standing pressure": ("standing", "idle"),
    "instruments": (
        "probe", "ice_bath", "cylinder_rest", "calibration", "temp_accuracy", "liquid_pressure",
        "suction_pressure", "discharge_clamp", "pipe_contact", "barometer",
    ),
    "expected values": (
        "column", "split", "approach", "condensing", "boiling", "superheat_", "shortage",
        "subcooling_high", "overfed", "impossible",
    ),
    "supply and air": ("voltage", "airflow", "filters", "amps", "current"),
}  # fmt: skip
"""Begins of the keys of each group, the first that fits; all others are `OTHERS`."""


def group_of(key: LimitKey) -> str:
    """Return the group a limit is asked for and listed in."""
    fits = (name for name, begins in _GROUPS.items() if key.value.startswith(begins))
    return next(fits, OTHERS)


def groups() -> dict[str, tuple[LimitKey, ...]]:
    """Return the limits of each group, in their order; those of the program have a default."""
    found: dict[str, list[LimitKey]] = {name: [] for name in (*_GROUPS, OTHERS)}
    for key in LimitKey:
        found[group_of(key)].append(key)
    return {name: tuple(keys) for name, keys in found.items() if keys}


def read_overrides(table: TomlTable) -> tuple[Limit, ...]:
    """Return the limits the job sets itself.

    Raises
    ------
    ConfigError
        If one cannot be used, or nothing says where they are from.
    """
    source = plain(table.text("source", default=""), 200)
    ranks = {authority.words: authority for authority in Authority}
    said = table.choice("authority", tuple(ranks), default=Authority.RULE_OF_THUMB.words)
    found = []
    for key in LimitKey:
        written = table.written(key.value)
        if written is None:
            continue
        try:
            value_si = limit_value_si(key, written)
        except ConfigError as error:
            raise ConfigError(f"{table.where(key.value)}: {error}") from error
        limit = Limit(
            key=key,
            value_si=value_si,
            as_written=plain(written, 60),
            source=f"{SET_HERE}{source}",
            edition="",
            authority=ranks[said],
            note=USUAL[key].note if key in USUAL else "",
        )
        found.append(limit)
    if found and not source.strip():
        raise table.error("source", "expected who set these limits, and why", "nothing")
    table.finish()
    return tuple(found)


def set_here(limits: Iterable[Limit]) -> tuple[Limit, ...]:
    """Return those of the limits that the job sets itself."""
    return tuple(limit for limit in limits if limit.source.startswith(SET_HERE))


def listed() -> Iterator[str]:
    """Yield every default of the program as a commented line of the table, group by group."""
    for name, keys in groups().items():
        usual = [USUAL[key] for key in keys if key in USUAL]
        if usual:
            yield f"# {name}:"
        for limit in usual:
            said = f"{limit.key.words}; {limit.citation}"
            yield f'# {limit.key.value} = "{limit.as_written}"    # {said}'
