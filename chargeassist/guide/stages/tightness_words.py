"""Words of the tightness test."""

from chargeassist.guide.stages.words import Figures, StageWords, noted
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Quantity, Reference, find_unit


def _gauge(value_pa: float, system: UnitSystem) -> str:
    return display.pressure(value_pa, Reference.GAUGE, system)


_TENTHS_BELOW_PA = 9_950.0


def _small(value_pa: float, system: UnitSystem) -> str:
    if system is UnitSystem.SI and 0.0 < abs(value_pa) < _TENTHS_BELOW_PA:
        return f"{value_pa / 1000.0:.1f} kPa"  # a change so small is none in whole kilopascal
    return display.pressure(value_pa, None, system)


def _percent(f: Figures) -> str:
    return f"{100.0 * f['value']:g} %"


def _change(f: Figures, system: UnitSystem) -> str:
    if "change_pa" not in f:
        return "not known yet"
    word = "fell by" if f["change_pa"] < 0.0 else "rose by"
    return (
        f"{word} {_small(abs(f['change_pa']), system)} ± {_small(f['expanded_pa'], system)} "
        f"beyond what the temperatures explain{_as_leak(f, 'leak', system)}"
    )


def _as_leak(f: Figures, name: str, system: UnitSystem) -> str:
    """Return a leak as a flow and a yearly loss; empty if the volume is not known."""
    flow = f.get(f"{name}_pa_m3_per_s")
    if flow is None:
        return ""
    return (
        f" ({flow:.2g} Pa m3/s; in use very roughly "
        f"{_roughly(f[f'{name}_kg_per_year'], system)} of refrigerant a year)"
    )


def _roughly(mass_kg: float, system: UnitSystem) -> str:
    """Return a mass to one figure: the model behind it gives no more."""
    large, small = ("lb", "oz") if system is UnitSystem.US else ("kg", "g")
    unit = find_unit(large, Quantity.MASS)
    if mass_kg < unit.scale:
        unit = find_unit(small, Quantity.MASS)
    return f"{float(f'{unit.from_si(mass_kg):.1g}'):g} {unit.symbol}"


def _smallest(f: Figures, system: UnitSystem, *, as_leak: bool = True) -> str:
    if "smallest_pa_per_h" not in f:
        return "no loss could have been seen yet"
    text = f"a loss of {_small(f['smallest_pa_per_h'], system)} an hour would have been seen"
    if as_leak:
        text += _as_leak(f, "smallest", system)
    if f.get("needed_s", 0.0) > 0.0:
        text += f"; {display.duration(f['needed_s'])} more for the leak that is asked for"
    return text


def _readings(f: Figures) -> str:
    if "readings" not in f:
        return ""
    count = round(f["readings"])
    few = "; nobody looked in between" if count < 3 else ""
    return f", by {count} readings taken by hand{few}"


def _by_hand(f: Figures, why: str, system: UnitSystem) -> str:
    count = round(f["readings"])
    parts = [
        f"it stands; {count} reading{'' if count == 1 else 's'} so far"
        + (", one more in between would show a misreading" if count < 2 else ""),
        f"read it again in {display.duration(f['seconds_s'])}, at the end of the hold"
        if f["seconds_s"] > 0.0
        else why,
    ]
    if "smallest_pa_per_h" in f:
        parts.append(_smallest(f, system))
    return "; ".join(part for part in parts if part)


def _standing(f: Figures, why: str, system: UnitSystem) -> str:
    left = f"{display.duration(f['remaining_s'])} of the hold are left" if f["remaining_s"] else ""
    return "; ".join(part for part in (why, left, _smallest(f, system, as_leak=False)) if part)


WORDS = StageWords(
    headlines={
        "nitrogen_raise": lambda f, s, u: f"Raise to {_gauge(f['pressure_pa'], u)}",
        "nitrogen_shut": lambda f, s, u: "Shut the supply",
        "nitrogen_step": lambda f, s, u: "Shut the supply",
        "nitrogen_raise_by_hand": lambda f, s, u: f"Raise to {_gauge(f['pressure_pa'], u)}",
        "nitrogen_reached": lambda f, s, u: "Read the gauge",
        "read_after_hold": lambda f, s, u: "Read the gauge",
        "read_begin": lambda f, s, u: "Read and type",
        "read_end": lambda f, s, u: "Read and type",
        "read_second": lambda f, s, u: "Read and type",
        "tight": lambda f, s, u: "Let the nitrogen out",
        "tight_doubted": lambda f, s, u: "Wait or let out",
        "tightness_over": lambda f, s, u: "Go on to dryness",
    },
    reasons={
        "tightness_missing": lambda f, s, u: f"the job file lacks {s}",
        "tightness_no_signal": lambda f, s, u: "no pressure and pipe temperature to judge by",
        "standing_unread": lambda f, s, u: (
            f"no reading of {s}: bring it back, the test goes on from where it was; or tell again "
            "that the supply is shut, and it begins anew with what reads"
        ),
        "nitrogen_raise": lambda f, s, u: "dry nitrogen through the regulator, slowly, people away",
        "nitrogen_raise_by_hand": lambda f, s, u: (
            "dry nitrogen through the regulator, slowly, people away"
        ),
        "nitrogen_reached": lambda f, s, u: (
            f"raise slowly to {_gauge(f['pressure_pa'], u)}, look at the gauge on the circuit"
            + (f" (last: {_gauge(f['value_pa'], u)})" if "value_pa" in f else "")
        ),
        "read_after_hold": lambda f, s, u: (
            f"the {display.duration(f['hold_s'])} at {_gauge(f['pressure_pa'], u)} are over: look "
            "at the gauge on the circuit"
        ),
        "warm_from_filling": lambda f, s, u: (
            f"filling has warmed the gas: {display.duration(max(1.0, f['seconds_s']))} until the "
            "first reading of the standing test"
        ),
        "read_begin": lambda f, s, u: (
            f"take the first reading of the test: {s}; shade the pipe, read pressure and both "
            f"pipes within {display.duration(f['together_s'])}"
        ),
        "read_second": lambda f, s, u: (
            f"{s} too, within {display.duration(max(f['seconds_s'], 1.0))}: one pipe does not "
            "stand for the whole circuit"
        ),
        "read_end": lambda f, s, u: (
            f"the hold is over, take the last reading: {s}; on the same pipes as the first"
        ),
        "standing_by_hand": lambda f, s, u: _by_hand(f, s, u),
        "nitrogen_hold": lambda f, s, u: (
            f"{_gauge(f['value_pa'], u)} for {display.duration(f['seconds_s'])} more; look and "
            "listen at the joints"
        ),
        "nitrogen_step": lambda f, s, u: (
            f"{_gauge(f['value_pa'], u)}, this step is {_gauge(f['pressure_pa'], u)}: it is held "
            f"for {display.duration(f['seconds_s'])} with the supply shut, an open one hides a "
            "leak; people stay away while it stands"
        ),
        "nitrogen_falls": lambda f, s, u: (
            f"the pressure fell by {_small(f['fall_pa'], u)} in a short hold: find the leak (soap "
            "solution) before raising further"
        ),
        "nitrogen_too_high": lambda f, s, u: (
            f"{_gauge(f['value_pa'], u)} is over {_gauge(f['limit_pa'], u)}, the most allowed: let "
            "nitrogen out now"
        ),
        "nitrogen_shut": lambda f, s, u: (
            f"{_gauge(f['value_pa'], u)} is reached; shut the supply and take the hose off, so "
            "that the circuit stands by itself"
        ),
        "standing": lambda f, s, u: _standing(f, s, u),
        "tight": lambda f, s, u: (
            f"tight as far as this test can see{_readings(f)}: {_smallest(f, u)}; a vacuum does "
            "not replace it"
        ),
        "tight_doubted": lambda f, s, u: (
            f"{_change(f, u)}: not enough to call it a leak, too much to be sure{_readings(f)}; "
            f"{_smallest(f, u)}; let it stand longer to know more, or let the nitrogen out and "
            "leave it at that"
        ),
        "nitrogen_leaks": lambda f, s, u: (
            f"{_change(f, u)}; find the leak with soap solution or a detector, let the nitrogen "
            "out before any joint is opened"
        ),
        "rising_alone": lambda f, s, u: (
            f"{_change(f, u)}: is the supply shut, is a part in the sun where no probe is?"
        ),
        "tightness_over": lambda f, s, u: "the standing test is over and the nitrogen is out",
    },
    rows={
        "raise_step": (
            "raise",
            lambda f, s, u: f"{_gauge(f['pressure_pa'], u)} for {display.duration(f['hold_s'])}",
        ),
        "standing_step": (
            "standing test",
            lambda f, s, u: f"{_gauge(f['pressure_pa'], u)} for {display.duration(f['hold_s'])}",
        ),
        "test_pressure": ("pressure", lambda f, s, u: _gauge(f["value_pa"], u)),
        "compensated": (
            "at the start's temperature",
            lambda f, s, u: (
                f"{display.pressure(f['compensated_pa_abs'], Reference.ABSOLUTE, u)} "
                f"(ideal gas: {display.pressure(f['ideal_check_pa_abs'], Reference.ABSOLUTE, u)})"
            ),
        ),
        "hand_readings": (
            "readings by hand",
            lambda f, s, u: f"{f['readings']:.0f} of the standing test",
        ),
        "tightness_there": ("counts as reached", lambda f, s, u: noted(f"{_percent(f)} below", s)),
        "tightness_over": ("counts as too high", lambda f, s, u: noted(f"{_percent(f)} over", s)),
        "tightness_fall": ("counts as falling", lambda f, s, u: noted(_percent(f), s)),
        "tightness_settling": (
            "left out at the start",
            lambda f, s, u: (
                noted(display.duration(f["value"]), s)
                + (
                    f"; at most a quarter of the hold, {display.duration(f['here_s'])} here"
                    if f.get("here_s", f["value"]) < f["value"]
                    else ""
                )
            ),
        ),
        "tightness_readings": (
            "certain by hand",
            lambda f, s, u: noted(f"{f['value']:.0f} readings", s),
        ),
        "typed_together": (
            "one reading",
            lambda f, s, u: noted(f"within {display.duration(f['value'])}", s),
        ),
        "tightness_atmosphere": (
            "atmosphere, without barometer",
            lambda f, s, u: noted(f"± {_small(f['value'], u)}", s),
        ),
        "tightness_resolution": (
            "step of the gauge",
            lambda f, s, u: f"at most {_percent(f)} of the test pressure; {s}",
        ),
        "smallest_leak": ("change", lambda f, s, u: f"{_change(f, u)}; {_smallest(f, u)}"),
    },
    checks={"standing_pressure": "standing pressure test"},
    findings={
        "reading_withdrawn": lambda f, s, u: "a reading it rested on was withdrawn",
        "found_tight": lambda f, s, u: (
            f"{_gauge(f['pressure_pa'], u)} held {display.duration(f['held_s'])}: "
            f"{_change(f, u)}; {_smallest(f, u)}{_readings(f)}"
        ),
        "found_leaking": lambda f, s, u: (
            f"{_gauge(f['pressure_pa'], u)}: {_change(f, u)}{_readings(f)}"
        ),
        "found_rising": lambda f, s, u: (
            f"{_gauge(f['pressure_pa'], u)}: {_change(f, u)}{_readings(f)}"
        ),
    },
)
