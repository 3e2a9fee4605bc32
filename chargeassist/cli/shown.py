"""How a session is shown: on a screen or as text, and in which units.

Units are those asked for, those of the job, or those usual where the reader lives.
"""

import locale
import os
import sys
from collections.abc import Mapping

from chargeassist.model.display import UnitSystem
from chargeassist.model.job import Job

_US_TERRITORIES = frozenset({"US", "LR", "MM", "United States", "Liberia", "Myanmar"})
"""Territories whose locales measure in US units, by their ISO 3166 codes (Unicode CLDR,
supplemental data, measurementSystem; from memory), and as Windows spells them in the name of a
locale, "English_United States" (from memory; not tried there)."""


def on_screen(*, as_text: bool) -> bool:
    """Return whether a screen is opened: in a browser always, on a terminal unless `as_text`.

    A terminal that calls itself dumb can only add lines (terminfo, entry "dumb").
    """
    if "TEXTUAL_DRIVER" in os.environ:
        return True
    if as_text or os.environ.get("TERM") == "dumb":
        return False
    return sys.stdin.isatty() and sys.stdout.isatty()


def shown_in(asked: str | None, job: Job) -> UnitSystem:
    """Return the units a session of `job` is shown in.

    Parameters
    ----------
    asked : str or None
        "si" or "us" from the command line; it goes first, then the job, then the locale.
    job : Job
    """
    return UnitSystem(asked or job.units or usual_units(os.environ))


def usual_units(environment: Mapping[str, str]) -> UnitSystem:
    """Return the units of the reader's locale, by LC_ALL, LC_MEASUREMENT or LANG (POSIX)."""
    names = (environment.get(key, "") for key in ("LC_ALL", "LC_MEASUREMENT", "LANG"))
    said = next(filter(None, names), "") or locale.getlocale()[0] or ""
    territory = said.partition(".")[0].partition("@")[0].rpartition("_")[2]
    return UnitSystem.US if territory in _US_TERRITORIES else UnitSystem.SI
