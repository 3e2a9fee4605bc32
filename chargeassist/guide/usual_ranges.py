"""Normal ranges of any sound unit, by the limits of one job.

They are as wide as physics and installation practice leave open, and each end is a limit with its
source. The unit's own documents come before them (`documented`, `expectation`).
"""

from dataclasses import dataclass
from typing import Self

from chargeassist.guide.expected import Expected
from chargeassist.model.job import Job
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.physics.coil import CoilLimits


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualRanges:
    """The ranges of one job.

    Attributes
    ----------
    condensing : Expected
        Condensing temperature over outdoor air [K].
    boiling : Expected
        Evaporating temperature less return air, below zero [K]; used if the state of the air gives
        nothing better.
    air_split : Expected
        Air split [K]; used likewise.
    coil : CoilLimits
        Limits of the indoor coil, from which the state of the air gives both more closely.
    approach_low_k : float
        A liquid line is warmer than outdoor air by at least this [K].
    amount_within : float
        Half width of the normal charge, as a fraction of the plate charge [1].
    efficiency_low, efficiency_high : float
        Isentropic efficiency of a sound compressor [1].
    efficiency_basis : str
        Source of those two.
    rated_load_low : Limit
        Smallest fraction of its rated-load amps a fixed-speed compressor draws [1].
    discharge_clamp_k : float
        Expanded uncertainty (k = 2) of a discharge clamp without declared accuracy [K].
    contact_k : float
        Half width of the difference between pipe and refrigerant [K].
    typed_air_k : float
        Half width of a typed air temperature [K].
    """

    condensing: Expected
    boiling: Expected
    air_split: Expected
    coil: CoilLimits
    approach_low_k: float
    amount_within: float
    efficiency_low: float
    efficiency_high: float
    efficiency_basis: str
    rated_load_low: Limit
    discharge_clamp_k: float
    contact_k: float
    typed_air_k: float

    @classmethod
    def of(cls, job: Job) -> Self:
        """Return the ranges of a job.

        The condensing range of a unit held at a frequency, a newer design, ends lower.
        """
        limit, si = job.limit_or_usual, job.limit_si
        fixed_speed = job.hold.required_hz is None
        condensing = (
            limit(LimitKey.CONDENSING_LOW),
            limit(LimitKey.CONDENSING_HIGH if fixed_speed else LimitKey.CONDENSING_HIGH_HELD),
        )
        boiling = limit(LimitKey.BOILING_LEAST), limit(LimitKey.BOILING_MOST)
        split = limit(LimitKey.SPLIT_LOW), limit(LimitKey.SPLIT_HIGH)
        efficiency = limit(LimitKey.EFFICIENCY_LOW), limit(LimitKey.EFFICIENCY_HIGH)
        return cls(
            condensing=_range(*condensing, "over outdoor air"),
            boiling=Expected(
                low_si=-boiling[1].value_si,
                high_si=-boiling[0].value_si,
                basis=_basis(*boiling, "under return air"),
            ),
            air_split=_range(*split, "between return and supply air"),
            coil=CoilLimits(
                share=si(LimitKey.COIL_SHARE),
                dry_humidity=si(LimitKey.HUMIDITY_LOW),
                damp_humidity=si(LimitKey.HUMIDITY_HIGH),
                split_room_k=si(LimitKey.SPLIT_ROOM),
                boiling_room_k=si(LimitKey.BOILING_ROOM),
            ),
            approach_low_k=si(LimitKey.APPROACH_LOW),
            amount_within=si(LimitKey.AMOUNT_WITHIN),
            efficiency_low=efficiency[0].value_si,
            efficiency_high=efficiency[1].value_si,
            efficiency_basis=_basis(*efficiency, "isentropic efficiency"),
            rated_load_low=limit(LimitKey.RATED_LOAD_LOW),
            discharge_clamp_k=si(LimitKey.DISCHARGE_CLAMP),
            contact_k=si(LimitKey.PIPE_CONTACT),
            typed_air_k=si(LimitKey.TYPED_AIR_ACCURACY),
        )


def _range(low: Limit, high: Limit, what: str) -> Expected:
    return Expected(low_si=low.value_si, high_si=high.value_si, basis=_basis(low, high, what))


def _basis(low: Limit, high: Limit, what: str) -> str:
    """Return both ends as written, with their sources."""
    cited = "; ".join(dict.fromkeys((low.citation, high.citation)))
    return f"{low.as_written} to {high.as_written} {what}: {cited}"
