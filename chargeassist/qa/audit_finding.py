"""What an auditor decides, and what an audit finds."""

from dataclasses import dataclass


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
    """One thing that is wrong.

    Attributes
    ----------
    rule : str
        Its name, in `RULES` or in `chargeassist.qa.audit.FILE_RULES`.
    text : str
        What, in the units of the job.
    t : float or None
        When [s].
    """

    rule: str
    text: str
    t: float | None = None
