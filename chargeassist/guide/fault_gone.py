"""A withdrawn fault: since when, and what became of its evidence."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.diagnosis import Diagnosis
from chargeassist.guide.evidence import Evidence
from chargeassist.guide.fault_terms import SIGN_WORDS, Feature

SHOWN_S: Final = 600.0
"""How long a withdrawal is shown [s]: the technician may have been away at the coil."""

CLEAR: Final = 0.6
"""A sign counts from this certainty on [1]."""

OTHER_CAUSE: Final = "the readings look more like something else"
PROBE_SEEN_TO: Final = "the technician has seen to the probe"
AT_REST_AGREES: Final = "pressure at rest agrees with saturation"
EVACUATED: Final = "the circuit was opened and is evacuated anew"
KEPT_STILL: Final = "superheat has kept still"
STANDS_AGAIN: Final = "subcooling stands, or what drifted was seen to"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone:
    """A withdrawn fault.

    Attributes
    ----------
    t : float
        Since when [s].
    cause : str
    why : tuple of str
        What became of its evidence.
    """

    t: float
    cause: str
    why: tuple[str, ...]


def what_it_reads(signs: Iterable[Feature], diagnosis: Diagnosis) -> tuple[str, ...]:
    """Return what the readings that spoke for a fault say now: "air split normal".

    Parameters
    ----------
    signs : iterable of Feature
        The readings out of order when the fault was found.
    diagnosis : Diagnosis
        The newest ranking.
    """
    now = {item.feature: item for item in diagnosis.causes[0].evidence}
    return tuple(_reads(feature, now.get(feature)) for feature in signs)


def _reads(feature: Feature, item: Evidence | None) -> str:
    if item is None:
        return f"{feature.value}: nothing measures it now"
    most = max(item.sign)
    if most < CLEAR:
        return f"{feature.value} no longer out of order for certain"
    return f"{feature.value} {SIGN_WORDS[item.sign.index(most)]}"
