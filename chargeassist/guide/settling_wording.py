"""Sentences about settling: why a value has not settled yet, or no longer is."""

from collections.abc import Callable, Mapping
from typing import Final

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.stream.facts import Settling


def round_to(value: float, step: float) -> float:
    """Return `value` rounded to a multiple of `step`, at least one `step`."""
    return max(step, round(value / step) * step)


SAID: Final[Mapping[str, str]] = {
    "minimum_wait": "the minimum wait is not over",
    "young_run": "watching the first three minutes of the run for a hunting valve",
    "by_hand_few": "by hand: more readings are needed",
    "by_hand_scatter": "by hand: the readings scatter, more of them are needed",
    "step_open": "a charge step is open",
    "clamp_settles": "a pipe clamp was just put on",
    "impossible": "no circuit reads this: look at the probes",
    "hold_missing": "the compressor is not held at its frequency",
    "compressor_stands": "the compressor stands, or has just been started",
    "at_rest": "the unit does not run in this stage",
}
"""Causes worded alike beside the value and in the instruction to wait."""


def _as_said(text: str) -> Callable[[Settling, UnitSystem], str]:
    return lambda s, u: text


SETTLING: dict[str, Callable[[Settling, UnitSystem], str]] = {
    **{cause: _as_said(text) for cause, text in SAID.items()},
    "no_signal": lambda s, u: "nothing to judge",
    "too_early": lambda s, u: f"only {display.duration(s.since_s)} since the last change",
    "rising": lambda s, u: "still rising" + _change(s, u),
    "falling": lambda s, u: "still falling" + _change(s, u),
    "hunting": lambda s, u: (
        "swings"
        + (
            f", period about {display.duration(round_to(s.hunting_period_s, 5.0))}"
            if s.hunting_period_s
            else ""
        )
    ),
    "not_proven": lambda s, u: "close; the proof usually takes a minute or two",
    "unannounced": lambda s, u: "changed without a charge step",
    "settled": lambda s, u: "settled",
    "two_phase": lambda s, u: "no subcooling yet: two-phase at the liquid line",
    "witness_superheat": lambda s, u: "superheat still moves" + _held(s),
    "witness_subcooling": lambda s, u: "subcooling still moves" + _held(s),
    "witness_amps": lambda s, u: "the amps still move" + _held(s),
}

NO_LONGER: Final[Mapping[str, str]] = {
    **SAID,
    "minimum_wait": "something has changed, and the minimum wait begins again",
    "young_run": "the run has begun again",
    "step_open": "a charge step has begun",
    "no_signal": "no signal",
    "impossible": "no circuit reads this: look at the probes",
    "too_early": "something has changed",
    "rising": "it is rising",
    "falling": "it is falling",
    "hunting": "it swings",
    "not_proven": "it may have begun to move",
    "unannounced": "it changed without a charge step",
    "witness_superheat": "superheat is moving",
    "witness_subcooling": "subcooling is moving",
    "witness_amps": "the amps are moving",
}
"""Why a value that had settled no longer counts as settled."""


def no_longer_settled(cause: str) -> str:
    """Return that a value is no longer settled, and why.

    Parameters
    ----------
    cause : str
        Of the `Unsettled` verdict; one that this version does not know is shown as recorded.
    """
    return f"no longer settled: {NO_LONGER.get(cause, cause.replace('_', ' '))}"


def _held(item: Settling) -> str:
    return "" if item.held_s is None else held_for(item.held_s)


def held_for(seconds_s: float) -> str:
    """Return how long a witness that still moves is waited for, as a clause."""
    return f", which is waited for up to {display.duration(round_to(seconds_s, 10.0))}"


def _change(item: Settling, system: UnitSystem) -> str:
    if item.slope_k_per_s is None:
        return ""
    return f" {display.difference_rate(item.slope_k_per_s, system)}"
