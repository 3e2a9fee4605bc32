"""Sentences about readings taken by hand."""

from typing import Final

from chargeassist.guide.by_hand import DUE_S, OTHER_PIPE, OTHER_PRESSURE, READINGS
from chargeassist.guide.settling_wording import SAID
from chargeassist.guide.stages.words import Figures, Phrase
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry

_WHY: Final = {
    "unannounced": "it has changed without a charge step",
    "by_hand_scatter": "the readings scatter, more of them are needed",
    "step_open": SAID["step_open"],
    "clamp_settles": SAID["clamp_settles"],
    "hold_missing": SAID["hold_missing"],
    "compressor_stands": SAID["compressor_stands"],
}


def hand_beside(f: Figures) -> str:
    """Return what advice on a settled reading adds about readings by hand; empty with probes."""
    if READINGS not in f:
        return ""
    due_s = f[DUE_S]
    when = f"the next in {display.duration(max(1.0, due_s))}" if due_s > 0.0 else "read again"
    return f"; by hand, {f[READINGS]:.0f} readings, {when}{_other_line(f)}"


def _other_line(f: Figures) -> str:
    """Return what of the line that is not judged is read meanwhile, as the key names it."""
    subcooling = "subcooling_k" in f
    if OTHER_PRESSURE in f:
        entry = Entry.SUCTION_PRESSURE if subcooling else Entry.LIQUID_PRESSURE
    elif OTHER_PIPE in f:
        entry = Entry.SUCTION_PIPE if subcooling else Entry.LIQUID_PIPE
    else:
        return ""
    return f", meanwhile read the {entry.label}"


def _count(f: Figures) -> str:
    readings, least = f["readings"], f["least"]
    return (
        f"{readings:.0f} of at least {least:.0f} readings"
        if readings < least
        else f"{readings:.0f} readings"
    )


def _moves(f: Figures, subject: str, system: UnitSystem) -> str:
    if "slope_k_per_s" not in f:
        return _WHY.get(subject, "")
    way = "rising" if f["slope_k_per_s"] > 0.0 else "falling"
    return f"still {way} {display.difference_rate(f['slope_k_per_s'], system)}"


def _waits(f: Figures, subject: str, system: UnitSystem) -> str:
    why = _moves(f, subject, system)
    left = display.duration(max(1.0, f["seconds_s"]))
    return f"by hand, {_count(f)} so far{', ' if why else ''}{why}; the next one in {left}"


HAND_ADVICE: Final[dict[str, Phrase]] = {
    "read_by_hand": lambda f, s, u: (
        f"by hand, {_count(f)} so far{', ' + _moves(f, '', u) if 'slope_k_per_s' in f else ''}"
    ),
    "by_hand_waits": _waits,
    "read_meanwhile": lambda f, s, u: (
        f"the judged line is read again in {display.duration(max(1.0, f['seconds_s']))}; "
        f"by hand, {_count(f)} so far"
    ),
    "read_beside": lambda f, s, u: (
        "the judged line alone cannot tell whether refrigerant is the cure"
    ),
}
