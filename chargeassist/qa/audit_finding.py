"""What an auditor decides, and what an audit finds."""

from dataclasses import dataclass
from enum import StrEnum


class Weight(StrEnum):
    """What a finding means for the record."""

    WRONG = "wrong"  # something was done wrong, or what is claimed is not so
    REMARK = "remark"  # nothing is known to be wrong, but something is not stated


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """What an auditor decides.

    Attributes
    ----------
    calibration_months : float
        How long a calibration counts; ISO/IEC 17025 leaves the interval to the owner.
    accept_simulated : bool
        Whether simulated sessions may be among the audited, as in a school.
    """

    calibration_months: float = 12.0
    accept_simulated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that is wrong, or not stated.

    Attributes
    ----------
    rule : str
        Its name, in `RULES` or in `chargeassist.qa.audit.FILE_RULES`.
    text : str
        What, in the units of the job.
    t : float or None
        When [s].
    weight : Weight
        A remark is listed, and counts as no finding.
    """

    rule: str
    text: str
    t: float | None = None
    weight: Weight = Weight.WRONG
