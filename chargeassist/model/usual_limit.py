"""How a default limit of the program is written, and where its number may come from."""

from typing import Final

from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.units import KELVIN_PER_FAHRENHEIT

OF_THE_PROGRAM: Final = "default of this program"
"""Beginning of the source of a default limit."""

PRACTICE: Final = f"{OF_THE_PROGRAM}: common practice, no published source"
ASSUMED: Final = f"{OF_THE_PROGRAM}: assumption, no published source"
RA3: Final = f"{OF_THE_PROGRAM}: California Title 24, Reference Residential Appendix RA3.2"
F: Final = KELVIN_PER_FAHRENHEIT
"""One degree Fahrenheit of difference [K]."""


def usual(
    key: LimitKey, value_si: float, as_written: str, source: str, note: str
) -> tuple[LimitKey, Limit]:
    """Return a default limit by its key."""
    limit = Limit(
        key=key,
        value_si=value_si,
        as_written=as_written,
        source=source,
        edition="",
        authority=Authority.RULE_OF_THUMB,
        note=note,
    )
    return key, limit
