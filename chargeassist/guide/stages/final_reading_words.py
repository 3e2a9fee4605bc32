"""Words of the final reading, in its check and beside the instruction to stop."""

from chargeassist.guide.stages.final_reading import HELD_S, LEFT_S, UNREAD_S
from chargeassist.guide.stages.words import Figures, StageWords
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Quantity

_MISSING = "not read"


def beside(f: Figures) -> str:
    """Return what an instruction to stop adds about the final reading; empty for any other."""
    if LEFT_S in f:
        left = display.duration(max(1.0, f[LEFT_S]))
        return f"; let it run as it is for {left} more, the final reading has to stand"
    if UNREAD_S in f:
        return "; its time is over, read it once more to see that it stood"
    if HELD_S in f:
        stood = display.duration(f[HELD_S])
        return f"; the final reading has stood for {stood}, the close-out comes next"
    return ""


def _difference(f: Figures, name: str, system: UnitSystem) -> str:
    return display.difference(f[name], system) if name in f else _MISSING


def _by_hand(f: Figures) -> str:
    return f", by hand, {f['by_hand']:.0f} readings" if "by_hand" in f else ""


def _read(f: Figures, system: UnitSystem) -> str:
    amps = display.reading(f["amps_a"], Quantity.CURRENT, None, system) if "amps_a" in f else ""
    return (
        f"subcooling {_difference(f, 'subcooling_k', system)}, "
        f"superheat {_difference(f, 'superheat_k', system)}, "
        f"approach {_difference(f, 'approach_k', system)}, amps {amps or _MISSING}"
    )


def _held(f: Figures, but: str, system: UnitSystem) -> str:
    """Return how the reading stood, and everything read together with it."""
    target = (
        f"{display.difference_number(f['target_k'], system)} ± "
        f"{display.difference(f['tolerance_k'], system)}"
    )
    unsure = (
        f"± {display.difference(f['expanded_k'], system)}"
        if "expanded_k" in f
        else "uncertainty not declared"
    )
    between = (
        f"{display.difference_number(f['low_k'], system)} to "
        f"{display.difference(f['high_k'], system)}"
    )
    return (
        f"stood for {display.duration(f['held_s'])} ({display.duration(f['hold_s'])} asked for) "
        f"at {between} ({unsure}{_by_hand(f)}), target {target}; together {_read(f, system)}"
        + (f"; {but}" if but else "")
    )


WORDS = StageWords(
    headlines={},
    reasons={},
    rows={},
    checks={"final_reading": "final reading"},
    findings={
        "final_held": lambda f, s, u: _held(f, "", u),
        "final_held_but": lambda f, s, u: _held(f, f"no clear verdict: {s}", u),
        "final_reopened": lambda f, s, u: (
            f"no longer stands, {display.duration(f['after_s'])} after it was read: the unit or "
            "its charge has changed"
        ),
        "final_left": lambda f, s, u: (
            "closed without one"
            + (f", after {display.duration(f['held_s'])}" if f["held_s"] > 0.0 else "")
            + (f" of the {display.duration(f['hold_s'])} asked for" if "hold_s" in f else "")
        ),
    },
)
