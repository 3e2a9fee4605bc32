"""What is found about a probe."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum


class ProbeTrouble(StrEnum):
    """What a probe's readings look like; the values are fit for a screen."""

    STUCK = "stuck"
    LOOSE = "loose"
    LAGGING = "still creeping"
    NOISY = "noisy"
    JUMPING = "jumping"
    OUT_OF_RANGE = "out of range"


class Severity(StrEnum):
    """How much it matters."""

    NOTE = "note"  # the reading is not good yet; wait
    CAUTION = "caution"  # look at the probe before relying on it
    UNUSABLE = "unusable"  # this reading says nothing about the unit


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeFinding:
    """One channel that cannot be believed, and why.

    Attributes
    ----------
    channel : str
    kind : ProbeTrouble
    severity : Severity
    figures : mapping of str to float
        SI numbers of the sentence, each with its unit in the name ("_si": the channel's own).
    since_t : float
        Session time it goes back to [s].
    """

    channel: str
    kind: ProbeTrouble
    severity: Severity
    figures: Mapping[str, float]
    since_t: float


def worst(findings: Iterable[ProbeFinding], channel: str) -> ProbeFinding | None:
    """Return the gravest finding of one channel, None for a healthy one."""
    grave = list(Severity)
    mine = [finding for finding in findings if finding.channel == channel]
    return max(mine, key=lambda finding: grave.index(finding.severity), default=None)
