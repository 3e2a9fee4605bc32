"""The verdict about a fault; part of `chargeassist.model.events`, apart for its length."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultJudged:
    """Something was found wrong with unit or probes, or is so no longer.

    Attributes
    ----------
    found : bool
        False: it was found before, and the evidence has gone.
    cause : str
        In words: "indoor coil short of air".
    alternatives : tuple of str
        What cannot be told from it by these readings.
    chance : float or None
        Of all faults together; None where it is seen directly, as hunting is.
    evidence : tuple of str
        What speaks for it, the strongest first: "air split high".
    next_check : str
    figures : Mapping[str, float]
        SI numbers, each with its unit in the name.
    """

    t: float
    found: bool
    cause: str
    alternatives: tuple[str, ...] = ()
    chance: float | None = None
    evidence: tuple[str, ...] = ()
    next_check: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)
