"""Sentences about the conditions a reading counts in: frequency, run time, weather, airflow."""

from collections.abc import Callable
from typing import Final

from chargeassist.guide.guard_wording import over, under
from chargeassist.guide.stages.words import Figures, Phrase
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.stream.hold import stands_still

LOOK_AT_AIR: Final = "; look at filter, coil, blower speed and registers"
"""What to do where indoor air is short."""


def _condition(
    what: str, where: Callable[[float, float], str], f: Figures, source: str, system: UnitSystem
) -> str:
    return (
        f"{what} at {display.temperature(f['value_k'], system)} is "
        f"{where(f['value_k'], f['limit_k'])} {display.temperature(f['limit_k'], system)} "
        f"[{source}]; the target is not given for that"
    )


def _it_runs(actual_hz: float) -> str:
    if stands_still(actual_hz, None, 0.0):
        return "it stands; if it stopped by itself, find out why before it is started again"
    return f"it runs at {_hertz(actual_hz)}"


def _hertz(frequency_hz: float) -> str:
    return f"{frequency_hz:.1f}".removesuffix(".0") + " Hz"


CONDITION_ADVICE: Final[dict[str, Phrase]] = {
    "hold_missing": lambda f, s, u: (
        f"hold the compressor at {_hertz(f['required_hz'])}"
        + (f", {_it_runs(f['actual_hz'])}" if "actual_hz" in f else " and confirm it")
    ),
    "hold_expired": lambda f, s, u: (
        f"the unit's test mode has run out; bring it back to {_hertz(f['required_hz'])} and confirm"
    ),
    "compressor_stands": lambda f, s, u: (
        "the compressor stands ("
        + (
            _hertz(f["actual_hz"])
            if "actual_hz" in f
            else f"{f['value_a']:z.1f} A; or is the clamp around both wires, or none?"
        )
        + "): the charge shows only while it runs; start it, unless the pressure at rest is checked"
    ),
    "run_time": lambda f, s, u: (
        f"{display.duration(max(1.0, f['seconds_s']))} left of the run before a reading counts "
        f"[{s}]"
    ),
    "condition_outdoor_low": lambda f, s, u: _condition("outdoor air", under, f, s, u),
    "condition_outdoor_high": lambda f, s, u: _condition("outdoor air", over, f, s, u),
    "condition_indoor_low": lambda f, s, u: _condition("return air", under, f, s, u),
    "condition_indoor_high": lambda f, s, u: _condition("return air", over, f, s, u),
    "condition_filters_panels": lambda f, s, u: (
        "is the filter clean, are the registers open, is every panel on? Otherwise no reading "
        f"counts [{s}]"
    ),
    "hold_ramps": lambda f, s, u: (
        f"the compressor is on its way to {_hertz(f['required_hz'])}, now "
        f"{_hertz(f['actual_hz'])}: {display.duration(f['ramp_s'])} of at most "
        f"{display.duration(f['limit_s'])} [{s}]"
    ),
    "hold_ramp_long": lambda f, s, u: (
        f"{display.duration(f['ramp_s'])} into the ramp and still at {_hertz(f['actual_hz'])}, not "
        f"{_hertz(f['required_hz'])}; the unit takes at most {display.duration(f['limit_s'])} "
        f"[{s}]: is it in test mode, is there demand, does a protection hold it back?"
    ),
    "condition_airflow_low": lambda f, s, u: (
        f"indoor airflow of {display.airflow_per_capacity(f['value_m3_per_s_per_w'], u)} is "
        f"not enough, {display.airflow_per_capacity(f['limit_m3_per_s_per_w'], u)} are required "
        f"[{s}]{LOOK_AT_AIR}, then type the airflow again"
    ),
}
