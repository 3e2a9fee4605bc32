"""What the line set adds to the plate charge: the maker's adder, with what it is known to."""

from dataclasses import dataclass

from chargeassist.model.installation import LineSet, ShortLine
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.physics.weigh_in import adders, weigh_in


@dataclass(frozen=True, slots=True, kw_only=True)
class LineCharge:
    """What the line set adds.

    Attributes
    ----------
    kg : float or None
        To be weighed in besides the plate's [kg]; None if it is not known.
    expanded_kg : float
        Expanded uncertainty (k = 2) [kg].
    adder_kg_per_m : float or None
        By which it was reckoned [kg/m].
    source : str
    why : str
        Key of the wording table, if `kg` is None or doubtful.
    """

    kg: float | None = None
    expanded_kg: float = 0.0
    adder_kg_per_m: float | None = None
    source: str = ""
    why: str = ""


def line_charge(job: Job) -> LineCharge:
    """Return what the line set adds to the plate charge.

    Only the maker's adder in the job file counts. Without one, the printed adders of other units
    are shown, but never weighed in.
    """
    line = job.line_set
    if line is None:
        return LineCharge(why="line_set_missing")
    if line.included_m is None:
        return LineCharge(why="included_missing")
    if line.adder_kg_per_m is None:
        return _by_printed(job, line)
    short = line.length_m < line.included_m
    if short and line.short_line is None:
        return LineCharge(
            adder_kg_per_m=line.adder_kg_per_m, source=line.adder_source, why="short_line_open"
        )
    found = weigh_in(
        job.charge.plate_kg,
        length_m=line.length_m,
        adder_kg_per_m=line.adder_kg_per_m,
        allowance_kg=line.included_m * line.adder_kg_per_m,
        short_line=line.short_line or ShortLine.LEAVE,
        length_half_width_m=job.limit_si(LimitKey.LINE_LENGTH_ACCURACY),
    )
    return LineCharge(
        kg=found.adjustment_kg,
        expanded_kg=found.expanded_kg,
        adder_kg_per_m=line.adder_kg_per_m,
        source=line.adder_source,
        why="line_left_alone" if found.left_alone else "",
    )


def _by_printed(job: Job, line: LineSet) -> LineCharge:
    if line.liquid_diameter_m is None or line.metering is None:
        return LineCharge(why="adder_missing")
    printed = adders(job.refrigerant, line.liquid_diameter_m, line.metering)
    if not printed:
        return LineCharge(why="adder_missing")
    return LineCharge(
        adder_kg_per_m=sum(row.kg_per_m for row in printed) / len(printed),
        source="; ".join(dict.fromkeys(row.source for row in printed)),
        why="adder_printed",
    )
