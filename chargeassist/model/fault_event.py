"""The verdict about a fault; part of `chargeassist.model.events`, split off for its length."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultJudged:
    """A fault of the unit or its probes was found, or withdrawn.

    Attributes
    ----------
    found : bool
        False if a fault found before is withdrawn because its evidence has gone.
    cause : str
        In words: "indoor coil short of air".
    alternatives : tuple of str
        Other faults that these readings cannot tell apart from it.
    chance : float or None
        Probability of all faults together; None if it is seen directly, as hunting is.
    evidence : tuple of str
        Readings that support it, the strongest first: "air split high".
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
