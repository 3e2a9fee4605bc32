"""Why a value is not settled yet, in words."""

from collections.abc import Callable

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Quantity
from chargeassist.stream.facts import Settling


def round_to(value: float, step: float) -> float:
    """Return a value as coarse as it is said; never nothing."""
    return max(step, round(value / step) * step)


SETTLING: dict[str, Callable[[Settling, UnitSystem], str]] = {
    "no_signal": lambda s, u: "nothing to judge",
    "too_early": lambda s, u: f"only {display.duration(s.since_s)} since the last change",
    "rising": lambda s, u: "still rising" + _change(s, u),
    "falling": lambda s, u: "still falling" + _change(s, u),
    "hunting": lambda s, u: (
        "the expansion valve hunts"
        + (
            f", period about {display.duration(round_to(s.hunting_period_s, 5.0))}"
            if s.hunting_period_s
            else ""
        )
    ),
    "not_proven": lambda s, u: "close; the proof usually takes a minute or two",
    "young_run": lambda s, u: "watching the first minutes of the run for a hunting valve",
    "unannounced": lambda s, u: "changed without a charge step",
    "by_hand_few": lambda s, u: "by hand: more readings are needed",
    "by_hand_scatter": lambda s, u: "by hand: the readings scatter, more of them are needed",
    "step_open": lambda s, u: "a charge step is open",
    "hold_missing": lambda s, u: "the compressor is not held at its frequency",
    "minimum_wait": lambda s, u: "the minimum wait is not over",
    "settled": lambda s, u: "settled",
    "two_phase": lambda s, u: "no subcooling yet: two-phase at the liquid line",
    "witness_superheat": lambda s, u: "superheat still moves" + _held(s),
    "witness_subcooling": lambda s, u: "subcooling still moves" + _held(s),
    "witness_amps": lambda s, u: "the amps still move" + _held(s),
    "at_rest": lambda s, u: "the unit does not run in this stage",
}


def _held(item: Settling) -> str:
    return "" if item.held_s is None else held_for(item.held_s)


def held_for(seconds_s: float) -> str:
    """Return for how long a witness may hold the verdict."""
    return f" and holds the verdict, {display.duration(round_to(seconds_s, 10.0))} at the most"


def _change(item: Settling, system: UnitSystem) -> str:
    if item.slope_k_per_s is None:
        return ""
    size = display.rate(abs(item.slope_k_per_s), Quantity.TEMPERATURE_DIFFERENCE, system)
    return " " + size.lstrip("+")
