"""Words of evacuation and rise test."""

from chargeassist.guide.stages.hand_vacuum import TOO_SOON
from chargeassist.guide.stages.words import Figures, StageWords, noted
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Reference
from chargeassist.physics.water_vapour import TRIPLE_POINT_PA_ABS


def _abs(value_pa: float, system: UnitSystem) -> str:
    return display.pressure(value_pa, Reference.ABSOLUTE, system)


def _pulling(f: Figures, system: UnitSystem) -> str:
    text = f"{_abs(f['value_pa'], system)}, down to {_abs(f['target_pa'], system)}"
    if "seconds_s" in f:
        text += f" in about {display.duration(f['seconds_s'])} at this pace"
    return text + _again(f)


def _deepening(f: Figures, system: UnitSystem) -> str:
    at = f"{_abs(f['value_pa'], system)} is at the target"
    if "apart_s" in f and "fall_per_min" not in f:
        return f"{at}: let the pump run, two readings tell whether it still falls{_again(f)}"
    return f"{at} and still falling: let the pump run, the circuit is still drying{_again(f)}"


def _again(f: Figures) -> str:
    """Return when the gauge is to be read again; empty where a probe reads it."""
    if "apart_s" not in f:
        return ""
    return f"; read the gauge again after {display.duration(f['apart_s'])} or more"


def _odds(f: Figures, system: UnitSystem) -> str:
    if "dry" not in f:
        return "too early to tell"
    text = (
        f"dry and tight {100 * f['dry']:.0f} %, moist {100 * f['moist']:.0f} %, "
        f"leak {100 * f['leak']:.0f} %"
    )
    if "level_pa" in f and f["leak"] < 0.5:
        level = _unsure(max(f["level_pa"], 0.0), f.get("level_expanded_pa"), system)
        text += f"; levels off at {level}"
    return text


def _unsure(value_pa: float, expanded_pa: float | None, system: UnitSystem) -> str:
    """Return a small pressure, with its uncertainty if the record has one."""
    value, half = (
        None if each is None else _abs(each, system).removesuffix(" absolute")
        for each in (value_pa, expanded_pa)
    )
    return f"{value}" if half is None else f"{value} ± {half}"


def _rising(f: Figures, why: str, system: UnitSystem) -> str:
    left = f["remaining_s"]
    needed = f.get("needed_s", left)
    parts = [f"{_abs(f['value_pa'], system)}: {why}"]
    if needed:
        parts.append(f"about {display.duration(needed)} to go")
    return "; ".join([*parts, _odds(f, system)] if "dry" in f else parts)


def _found(f: Figures, system: UnitSystem) -> str:
    text = f"{_odds(f, system)} after {display.duration(f['elapsed_s'])}"
    if "readings" in f:
        text += f", by {f['readings']:.0f} readings taken by hand"
    if f.get("not_counted"):
        text += f" ({f['not_counted']:.0f} more typed too soon and not counted)"
    if "lowest_pa" in f:
        text += f", lowest {_abs(f['lowest_pa'], system)}"
    return text


def _counted(f: Figures) -> str:
    readings, least = f["readings"], f["least"]
    few = f" of at least {least:.0f}" if readings < least else ""
    return f"{readings:.0f}{few} readings{_certain(f)}"


def _certain(f: Figures) -> str:
    """Return how many readings a certain pass takes, while there are fewer."""
    certain = f.get("certain", 0.0)
    return f" ({certain:.0f} for a certain pass)" if f["readings"] < certain else ""


def _rising_by_hand(f: Figures, why: str, system: UnitSystem) -> str:
    why = why.removeprefix(TOO_SOON).removeprefix("; ")
    parts = [
        f"{_too_soon(f)}{_counted(f)}, the next in {display.duration(max(1.0, f['seconds_s']))}",
        why,
    ]
    if "dry" in f:
        parts.append(_odds(f, system))
    return "; ".join(part for part in parts if part)


def _too_soon(f: Figures) -> str:
    """Return that the last reading does not count, and how far apart two have to be."""
    if "too_soon_s" not in f:
        return ""
    return (
        f"the reading typed {f['too_soon_s']:.0f} s after the last does not count, "
        f"{f['apart_s']:.0f} s is the least; "
    )


def _leak(f: Figures, system: UnitSystem) -> str:
    rate = f.get("leak_pa_per_min")
    if rate is None:
        return "some"
    return f"{_unsure(rate, f.get('leak_expanded_pa_per_min'), system)} a minute"


_BREAK = (
    "break the vacuum with dry nitrogen through a regulator, warm the coil, look at the pump oil, "
    "then pull again"
)

WORDS = StageWords(
    headlines={
        "start_pump": lambda f, s, u: "Start the pump",
        "isolate": lambda f, s, u: "Shut the valve",
        "water_boils": lambda f, s, u: "Break with nitrogen",
        "ice_in_circuit": lambda f, s, u: "Break with nitrogen",
        "pull_stalled": lambda f, s, u: "Isolate and look",
        "break_with_nitrogen": lambda f, s, u: "Shut the nitrogen",
        "pull_again": lambda f, s, u: "Open to the pump",
        "moist": lambda f, s, u: "Break with nitrogen",
        "moist_and_leaking": lambda f, s, u: "Break with nitrogen",
        "dry": lambda f, s, u: "Dry: go on",
        "read_vacuum": lambda f, s, u: "Read the gauge",
        "read_vacuum_rise": lambda f, s, u: "Read the gauge",
    },
    reasons={
        "dryness_missing": lambda f, s, u: f"the job file lacks {s}",
        "start_pump": lambda f, s, u: (
            "fresh oil, short wide hoses, cores out; gauge on the circuit, away from the pump; "
            "valve open"
        ),
        "no_vacuum_yet": lambda f, s, u: (
            "no vacuum reading yet: above its range a gauge shows nothing"
        ),
        "read_vacuum": lambda f, s, u: (
            "what does the vacuum gauge show? Read it every few minutes, two readings tell the pace"
        ),
        "read_vacuum_rise": lambda f, s, u: (
            _too_soon(f)
            + f"reading {f['readings'] + 1:.0f} of the rise test is due"
            + (f", of at least {f['least']:.0f}" if f["readings"] < f["least"] else "")
            + _certain(f)
        ),
        "rising_by_hand": lambda f, s, u: _rising_by_hand(f, s, u),
        "pulling": lambda f, s, u: _pulling(f, u),
        "deepening": lambda f, s, u: _deepening(f, u),
        "isolate": lambda f, s, u: (
            f"{_abs(f['value_pa'], u)} reaches the target: shut the valve between pump and "
            "circuit, then the pump off; the rise test begins"
        ),
        "water_boils": lambda f, s, u: (
            f"stalled at {_abs(f['value_pa'], u)}: water boils at the coldest place "
            f"({_abs(f['water_pa'], u)}); shut the valve, {_BREAK}"
        ),
        "ice_in_circuit": lambda f, s, u: (
            f"stalled at {_abs(f['value_pa'], u)}: ice at the coldest place "
            f"({_abs(f['water_pa'], u)}); shut the valve, {_BREAK}"
        ),
        "pull_stalled": lambda f, s, u: (
            f"stalled at {_abs(f['value_pa'], u)}: ice, gas that comes in, or a pump that can do "
            "no more (is its oil milky?); shut the valve, the rise tells them apart"
        ),
        "break_with_nitrogen": lambda f, s, u: (
            "dry nitrogen to a little above the atmosphere, let it take up the moisture, then shut"
        ),
        "pull_again": lambda f, s, u: "let the nitrogen out, then open the valve to the pump",
        "rising": lambda f, s, u: _rising(f, s, u),
        "vacuum_falls": lambda f, s, u: (
            f"{_abs(f['value_pa'], u)} and falling, as no shut circuit does: is the valve to the "
            "pump shut? Shut it and tell it again, the rise test begins anew"
        ),
        "dry": lambda f, s, u: (
            f"{_odds(f, u)}; leave the valve shut, charge into the vacuum: the compressor stays off"
        ),
        "moist": lambda f, s, u: f"{_odds(f, u)}; {_BREAK}",
        "moist_and_leaking": lambda f, s, u: (
            f"{_odds(f, u)}; {_BREAK}, and look for the leak under pressure"
        ),
        "vacuum_leak": lambda f, s, u: (
            f"{_odds(f, u)}; it rises by {_leak(f, u)}: hoses and cores first, then the circuit, "
            "under nitrogen"
        ),
    },
    rows={
        "vacuum": ("vacuum", lambda f, s, u: _abs(f["value_pa"], u)),
        "vacuum_target": ("down to", lambda f, s, u: _abs(f["value"], u)),
        "rise_limit": ("rise test, at most", lambda f, s, u: _abs(f["value"], u)),
        "rise_skip": (
            "left out at its start",
            lambda f, s, u: display.duration(f["value"]),
        ),
        "vacuum_stall": (
            "stalls at",
            lambda f, s, u: noted(f"{100.0 * f['value']:g} % in five minutes", s),
        ),
        "vacuum_readings": (
            "certain by hand",
            lambda f, s, u: noted(f"{f['value']:.0f} readings", s),
        ),
        "eye_vacuum": ("read by eye", lambda f, s, u: noted(f"± {100.0 * f['value']:g} %", s)),
        "eye_vacuum_step": (
            "its digits run by",
            lambda f, s, u: noted(_abs(f["value"], u), s),
        ),
        "vacuum_deepens": (
            "still dries at",
            lambda f, s, u: noted(f"{100.0 * f['value']:g} %", s),
        ),
        "vacuum_steady_rise": (
            "counts as a leak from",
            lambda f, s, u: noted(f"{100.0 * f['value']:g} %", s),
        ),
        "rise_time": ("rise test, lasts", lambda f, s, u: display.duration(f["value"])),
        "water": (
            "water, coldest place",
            lambda f, s, u: f"{_abs(f['value_pa'], u)} (below {_abs(TRIPLE_POINT_PA_ABS, u)}: ice)",
        ),
        "breaks": ("nitrogen breaks", lambda f, s, u: f"{f['count']:.0f}"),
        "rise_odds": ("what it looks like", lambda f, s, u: _odds(f, u)),
    },
    checks={"vacuum_rise": "rise test"},
    findings={
        "found_dry": lambda f, s, u: _found(f, u),
        "found_moist": lambda f, s, u: _found(f, u),
        "found_leak": lambda f, s, u: f"{_found(f, u)}; {_leak(f, u)}",
        "found_both": lambda f, s, u: _found(f, u),
    },
)
