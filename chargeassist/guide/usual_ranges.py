"""What counts as normal for any unit in order, by the limits of one job: worked out once for it.

They are as wide as physics and installation practice leave open, and each end is a limit with its
source. What the unit's own documents say comes before them (`documented`, `expectation`).
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
        Evaporating temperature less return air, below zero [K]; where its state gives nothing
        better.
    air_split : Expected
        The same of the split [K].
    coil : CoilLimits
        What gives something better.
    approach_low_k : float
        A liquid line is warmer than outdoor air by this at least [K].
    amount_within : float
        Half width of the charge in order, of the plate [1].
    efficiency_low, efficiency_high : float
        Isentropic efficiency of a compressor in order [1].
    efficiency_basis : str
    rated_load_low : Limit
        Share of its rated-load amps a fixed speed draws at least [1].
    discharge_clamp_k : float
        Expanded uncertainty (k = 2) of a discharge clamp where nobody says [K].
    contact_k : float
        Half width of what pipe and refrigerant differ by [K].
    typed_air_k : float
        Half width of an air temperature that was typed [K].
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

        A unit that holds a frequency is of a younger make, and its condensing range ends earlier.
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
    """Return both ends as written, and who says so."""
    cited = "; ".join(dict.fromkeys((low.citation, high.citation)))
    return f"{low.as_written} to {high.as_written} {what}: {cited}"
