"""A missing value and the reason it is missing."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NoValue:
    """Stands in for a number that is not known; never 0 and never NaN.

    Attributes
    ----------
    reason : str
        One clause, fit for a screen: "pressure below the table (60 kPa absolute)".
    """

    reason: str

    def __bool__(self) -> bool:
        """Return False, so that ``value or fallback`` and ``if value`` treat it as absent."""
        return False
