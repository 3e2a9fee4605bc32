"""Sentences about faults: what was found, what it may be, what comes before refrigerant."""

from chargeassist.guide.stages.words import Figures, Phrase
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import FaultJudged


def fault(item: FaultJudged, system: UnitSystem) -> str:
    """Return what was found wrong, or that it is so no longer."""
    chance = "" if item.chance is None else f" ({item.chance * 100:.0f} % that anything is wrong)"
    if not item.found:
        why = f"; now: {', '.join(item.evidence)}" if item.evidence else ""
        return f"no longer: {item.cause}{chance}{why}"
    words = " or ".join((item.cause, *item.alternatives)) + chance
    if "period_s" in item.figures:
        words += swings(item.figures, system)
    if "offset_pa" in item.figures:
        offset = display.pressure(abs(item.figures["offset_pa"]), None, system)
        words += f", by {offset} ({display.difference(abs(item.figures['shift_k']), system)})"
    if "rate_k_per_s" in item.figures:
        words += f": subcooling {_drifts(item.figures, system)}"
    if "added_kg" in item.figures:
        words += f": {_balance(item.figures, system)}"
    if item.evidence:
        words += f"; speaking for it: {', '.join(item.evidence)}"
    return f"found: {words}" + (f"; next: {item.next_check}" if item.next_check else "")


def swings(figures: Figures, system: UnitSystem) -> str:
    """Return period and size of a valve's hunting."""
    period = display.duration(max(5.0, 5.0 * round(figures["period_s"] / 5.0)))
    return f", period about {period}, superheat by {display.difference(figures['swing_k'], system)}"


def _offset(figures: Figures, subject: str, system: UnitSystem) -> str:
    offset = display.pressure(abs(figures["offset_pa"]), None, system)
    shift = display.difference(abs(figures["shift_k"]), system)
    return f"at rest ({subject}) the pressure stood {offset} ({shift})"


def _drifts(f: Figures, system: UnitSystem) -> str:
    change = display.difference_rate(f["rate_k_per_s"], system)
    way = "falls" if f["rate_k_per_s"] < 0.0 else "rises"
    return f"{way} by {change}, and has for {display.duration(f['over_s'])}"


def _balance(f: Figures, system: UnitSystem) -> str:
    shown = display.mass(f["shown_kg"], system)
    return f"{display.mass(f['added_kg'], system)} went in, and the reading shows {shown} of it"


def _leaks(f: Figures, system: UnitSystem) -> str:
    if "added_kg" in f:
        return _balance(f, system)
    return f"subcooling {_drifts(f, system)} while the liquid line warms and the air keeps still"


def _moved(change_k: float, system: UnitSystem) -> str:
    way = "fallen" if change_k < 0.0 else "risen"
    return f"{way} by {display.difference(abs(change_k), system)}"


def _or_a_clamp(f: Figures) -> str:
    """Return that a loose clamp may be it, too: looked at in a minute, with the unit running."""
    if "clamp_chance" not in f:
        return ""
    chance = f"{f['clamp_chance'] * 100:.0f} %"
    return f", or a loose clamp on the liquid line ({chance}): press it on first"


FAULT_ADVICE: dict[str, Phrase] = {
    "not_the_cure": lambda f, s, u: (
        f"refrigerant is not the cure ({f['chance'] * 100:.0f} % likely); the readings look most "
        f"like: {s}"
    ),
    "standing_high": lambda f, s, u: (
        f"{_offset(f, s, u)} above saturation: air or nitrogen in the circuit, or a pressure probe "
        "that reads high. Open the probe to the air: if its zero is right, recover all of it, "
        "evacuate and weigh in; subcooling cannot be judged until then"
    ),
    "standing_low": lambda f, s, u: (
        f"{_offset(f, s, u)} under saturation: the pressure probe reads low, or no liquid is left. "
        "Open the probe to the air and read its zero; subcooling cannot be judged until then"
    ),
    "cylinder_off": lambda f, s, u: (
        f"{_offset(f, s, u)} {'above' if f['offset_pa'] > 0.0 else 'under'} saturation, and a "
        "cylinder holds nothing but refrigerant: the pressure probe's zero is off. Open it to the "
        "air, put its zero right and confirm it; subcooling cannot be judged until then"
    ),
    "leaking": lambda f, s, u: (
        f"{_leaks(f, u)}: {s}. Open the probe to the air and read its zero; if it is right look "
        "for the leak before adding: what is added does not stay in"
    ),
    "zero_creeps": lambda f, s, u: (
        f"subcooling {_drifts(f, u)} with the liquid pressure alone, while neither liquid line "
        f"nor amps follow: {s}. Open the probe to the air and read its zero, then confirm it"
    ),
    "zero_moved": lambda f, s, u: (
        f"{_offset(f, s, u)} {'higher' if f['offset_pa'] > 0.0 else 'lower'} over saturation than "
        "at the beginning: the pressure probe's zero has moved"
        + ("" if f["offset_pa"] > 0.0 else ", or refrigerant boils off through a leak")
        + ". Open the probe to the air and read it; do not rely on "
        "subcooling read in between"
    ),
    "check_standing": lambda f, s, u: (
        f"{display.difference(f['subcooling_k'], u)} of subcooling may be too much refrigerant "
        f"({f['excess_chance'] * 100:.0f} %), or air in the circuit or a pressure probe that reads "
        f"high ({f['gas_chance'] * 100:.0f} %){_or_a_clamp(f)}. Check the standing pressure before "
        "recovering: stop the unit, let it stand until both pressures are equal and rest, and "
        "compare with saturation at the coldest part"
    ),
}

FAULT_CAUTION: dict[str, Phrase] = {
    "drifts": lambda f, s, u: (
        f"{_balance(f, u) if 'added_kg' in f else 'subcooling ' + _drifts(f, u)}: {s}"
    ),
    "amps_apart": lambda f, s, u: (
        f"liquid pressure and amps no longer go together: since {display.clock(f['since_t_s'])} "
        f"the condensing temperature has {_moved(f['by_pressure_k'], u)} by the pressure and "
        f"{_moved(f['by_amps_k'], u)} by the amps. May be: {s}; or the supply's voltage has changed"
    ),
    "fault_gone": lambda f, s, u: f"no longer, since {display.clock(f['since_t_s'])}: {s}",
    "suspect": lambda f, s, u: f"readings look like: {s} ({f['chance'] * 100:.0f} %)",
    "worth_a_look": lambda f, s, u: f"possible ({f['chance'] * 100:.0f} %): {s}",
    "hunting": lambda f, s, u: (
        f"the expansion valve hunts{swings(f, u)}: check bulb, strap, insulation and load"
    ),
    "hunting_starved": lambda f, s, u: (
        f"the expansion valve hunts{swings(f, u)}; subcooling is short, which alone can make it: "
        "bring the charge up first"
    ),
}
