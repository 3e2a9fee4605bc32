"""Everything that is wrong with a job file, not only what comes first.

Each table is read on its own, set into a job that is otherwise whole: what stands beside it cannot
hide its error. A table that has been read stays, so that what depends on it (a tolerance on the
profile, test steps on the plate) is judged by what the file says.
"""

from collections.abc import Mapping
from typing import Any

from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import Method
from chargeassist.session.job.jobfile import read_job
from chargeassist.session.job.toml_table import TomlTable

REQUIRED = ("name", "refrigerant", "site", "target", "charge", "source")
_FIRST = ("profile", "conditions", "dryness", "plate")
"""What other tables are judged by, in the order in which they are read."""

_WITH = {"begins": ("begins_source",), "begins_source": ("begins",)}
"""Keys of the file itself that say nothing without each other."""


def stand_in(method: Method) -> dict[str, Any]:
    """Return a job that can be read, to set a table into; no number of it is ever kept."""
    judged = {Method.SUPERHEAT: {"superheat": "8 K"}}.get(method, {"subcooling": "5 K"})
    return {
        "name": "stand-in",
        "refrigerant": "R-32",
        "site": {"altitude": "0 m"},
        "target": {"method": method.value, "tolerance": "1 K", "source": "stand-in", **judged},
        "charge": {"plate": "2 kg", "step_cap": "50 kg"},
        "source": [{"url": "simulator:stand-in"}],
    }


def errors_of(top: TomlTable) -> tuple[str, ...]:
    """Return what is wrong with the job file `top`, at most one per table; empty for a good one."""
    found: list[str] = []
    whole = stand_in(_method(top.data))
    order = sorted(top.data, key=lambda key: _FIRST.index(key) if key in _FIRST else len(_FIRST))
    for key in (*order, *(key for key in REQUIRED if key not in top.data)):
        trial = {other: value for other, value in whole.items() if other != key}
        trial |= {name: top.data[name] for name in (key, *_WITH.get(key, ())) if name in top.data}
        error = error_of(TomlTable(top.file, "", trial))
        if not error:
            whole = trial
        elif error not in found:
            found.append(error)
    error = error_of(TomlTable(top.file, "", top.data))
    return tuple(found) if found or not error else (error,)


def error_of(top: TomlTable) -> str:
    """Return the first error of the job file `top`; empty when it can be read."""
    try:
        read_job(top)
    except ConfigError as error:
        return str(error)
    return ""


def _method(data: Mapping[str, Any]) -> Method:
    target = data.get("target")
    said = target.get("method") if isinstance(target, Mapping) else None
    return Method.SUPERHEAT if said == Method.SUPERHEAT.value else Method.SUBCOOLING
