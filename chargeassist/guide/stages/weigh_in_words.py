"""Words of the weigh-in."""

from chargeassist.guide.guard_wording import cited
from chargeassist.guide.stages.weigh_in import LIQUID_LINE_K
from chargeassist.guide.stages.words import Figures, StageWords
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Quantity
from chargeassist.physics.flammable import CAUTION

_WHY_NO_LINE = {
    "line_set_missing": "the job file has no [line_set]; only the plate charge is weighed in",
    "included_missing": "line_set.included is missing: the length the plate charge includes",
    "adder_missing": "no adder: take line_set.adder from the unit's instructions",
    "adder_printed": "the job file has no adder of the maker; other units' manuals print this",
    "short_line_open": "shorter than the plate includes: the instructions say whether to take "
    "refrigerant out; write line_set.short_line",
}


def _per_metre(value: float, system: UnitSystem) -> str:
    return display.reading(value, Quantity.MASS_PER_LENGTH, None, system)


def _length(value: float, system: UnitSystem) -> str:
    return display.reading(value, Quantity.LENGTH, None, system)


def _signed_mass(kg: float, system: UnitSystem) -> str:
    sign = "−" if kg < 0.0 else "+"
    return f"{sign}{display.mass(abs(kg), system)}"


def _line(f: Figures, why: str, system: UnitSystem) -> str:
    words = []
    if "kg" in f:
        words.append(_signed_mass(f["kg"], system))
    if "adder_kg_per_m" in f:
        text = f"{_per_metre(f['adder_kg_per_m'], system)}"
        if "length_m" in f and "included_m" in f:
            text += (
                f" × ({_length(f['length_m'], system)} − {_length(f['included_m'], system)} "
                "in the plate charge)"
            )
        words.append(text)
    if why == "line_left_alone":
        words.append("shorter than the plate includes; the instructions leave the charge alone")
    elif why:
        words.append(_WHY_NO_LINE[why])
    return "; ".join(words)


def _annex(f: Figures, system: UnitSystem) -> str:
    def area(key: str) -> str:
        return display.reading(f[key], Quantity.AREA, None, system)

    if "floor_m2" in f:
        text = f"{area('floor_m2')} for a unit on the floor, {area('wall_m2')} for one at a wall"
    else:
        text = f"the room plays no part up to {display.mass(f['unlimited_kg'], system)}"
    return f"{text}; {CAUTION}"


def _to_go(f: Figures, limited_by: str, system: UnitSystem) -> str:
    target = display.mass(f["target_kg"], system)
    text = f"{display.mass(f['total_kg'], system)} of {target} is in"
    return f"{text}, and no more than {target} may be{cited(limited_by)}" if limited_by else text


def _open(f: Figures, limited_by: str, system: UnitSystem) -> str:
    so_far = (
        f", {display.mass(f['so_far_kg'], system)} more by the scale" if "so_far_kg" in f else ""
    )
    return f"{_to_go(f, limited_by, system)}{so_far}"


def _cylinder(f: Figures, subject: str, system: UnitSystem) -> str:
    text = f"{display.mass(f['net_kg'], system)} ± {display.mass(f['expanded_kg'], system)} in it"
    full = f"it is full at {display.mass(f['highest_gross_kg'], system)} on the scale"
    if subject == "overfull":
        return f"{text}: more than the cylinder may hold; {full}"
    if subject == "short":
        return f"{text}: not enough for what is to go in; {full}"
    return f"{text}; {full}"


def _weighed(f: Figures, system: UnitSystem) -> str:
    return (
        f"{display.mass(f['kg'], system)} in the circuit, {display.mass(f['target_kg'], system)} "
        f"asked for, ± {display.mass(f['expanded_kg'], system)}"
    )


WORDS = StageWords(
    headlines={
        "weigh_in_done": lambda f, s, u: "Open the service valves",
        "weigh_in_rest": lambda f, s, u: "Open the service valves",
    },
    reasons={
        "weigh_in_to_go": lambda f, s, u: (
            _to_go(f, s, u) + "; liquid side, blends as liquid; what no longer flows in is charged "
            "later, with the unit running"
        ),
        "weigh_in_plate_only": lambda f, s, u: (
            _to_go(f, s, u) + " by the plate alone, what the line set takes is not known"
        ),
        "weigh_in_open": lambda f, s, u: _open(f, s, u),
        "weigh_in_full": lambda f, s, u: _open(f, s, u) + ": that is all",
        "weigh_in_scale_lost": lambda f, s, u: (
            f"the scale no longer reads; {_open(f, s, u)} when it last did; then end the step with "
            "the amount"
        ),
        "weigh_in_ebbed": lambda f, s, u: (
            _open(f, s, u) + ", and nothing flows any more: the rest is charged later, with the "
            "unit running"
        ),
        "weigh_in_rest": lambda f, s, u: (
            _to_go(f, s, u) + "; the rest is charged with the unit running: check that no valve is "
            "shut, then start the unit at its test frequency"
        ),
        "weigh_in_over": lambda f, s, u: (
            _to_go(f, s, u) + ("" if s else ": more than plate and line set take")
        ),
        "weigh_in_evacuated": lambda f, s, u: (
            f"{display.mass(f['total_kg'], u)} went in before the vacuum pump ran; tell how much "
            "was recovered or lost, or go on with the run-up if it was pumped down and shut in"
        ),
        "weigh_in_done": lambda f, s, u: (
            _to_go(f, s, u) + "; check that no valve is shut, then start the unit at its test "
            "frequency"
        ),
    },
    rows={
        "plate_charge": ("plate charge", lambda f, s, u: display.mass(f["kg"], u)),
        "line_charge": ("line set", lambda f, s, u: _line(f, s, u)),
        "pipe_check": (
            "against the pipe",
            lambda f, s, u: (
                f"{s}; the pipe full of liquid at {display.temperature(LIQUID_LINE_K, u)} holds "
                f"{_per_metre(f['full_kg_per_m'], u)}"
            ),
        ),
        "allowance": (
            "allowance of the job",
            lambda f, s, u: _signed_mass(f["kg"], u) + ", typed as charge.line_set_allowance",
        ),
        "room_area": (
            "minimum room area",
            lambda f, s, u: (
                f"{display.reading(f['area_m2'], Quantity.AREA, None, u)} by the plate ({s})"
                if "area_m2" in f
                else f"not in the job file; the plate of an {s} unit states it"
            ),
        ),
        "annex_area": ("annex formulas", lambda f, s, u: _annex(f, u)),
        "weighed": (
            "in the circuit",
            lambda f, s, u: f"{display.mass(f['kg'], u)} of {display.mass(f['target_kg'], u)}",
        ),
        "cylinder": ("cylinder", _cylinder),
        "cylinder_wrong": ("cylinder", lambda f, s, u: s),
    },
    checks={"weigh_in": "weigh-in"},
    findings={"weighed_in": lambda f, s, u: _weighed(f, u)},
)
