"""Sentences about limits passed: of pressure, temperature, amps, superheat and charge."""

from typing import Final

from chargeassist.guide.stages.words import Phrase
from chargeassist.model import display
from chargeassist.model.units import Reference


def cited(source: str) -> str:
    """Return a source in brackets after a sentence; empty where there is none."""
    return f" [{source}]" if source else ""


def over(value: float, limit: float) -> str:
    """Return where a value stands that was found over its limit; it may be back by a little."""
    return "over" if value > limit else "still close to"


def under(value: float, limit: float) -> str:
    """Return where a value stands that was found under its limit; it may be back by a little."""
    return "under" if value < limit else "still close to"


GUARD_ADVICE: Final[dict[str, Phrase]] = {
    "circuit_empty": lambda f, s, u: (
        f"the circuit is at {display.pressure(f['value_pa'], Reference.GAUGE, u)}: nothing is in "
        "it, or a hose is not on; do not start the compressor; begin with a stage before the charge"
    ),
    "liquid_pressure_high": lambda f, s, u: (
        f"liquid line at {display.pressure(f['value_pa'], Reference.GAUGE, u)} is "
        f"{over(f['value_pa'], f['limit_pa'])} the limit of "
        f"{display.pressure(f['limit_pa'], Reference.GAUGE, u)}; check coil, fan and valves"
        f"{cited(s)}"
    ),
    "suction_pressure_low": lambda f, s, u: (
        f"suction line at {display.pressure(f['value_pa'], Reference.GAUGE, u)} is "
        f"{under(f['value_pa'], f['limit_pa'])} the limit of "
        f"{display.pressure(f['limit_pa'], Reference.GAUGE, u)}; the coil may freeze: check "
        f"airflow and restrictions{cited(s)}"
    ),
    "discharge_temp_high": lambda f, s, u: (
        f"discharge line at {display.temperature(f['value_k'], u)} is "
        f"{over(f['value_k'], f['limit_k'])} the limit of {display.temperature(f['limit_k'], u)}; "
        f"stop before the oil suffers, look for a shortage, a restriction or a dirty coil{cited(s)}"
    ),
    "current_high": lambda f, s, u: (
        f"compressor draws {f['value_a']:.1f} A, {over(f['value_a'], f['limit_a'])} the limit of "
        f"{f['limit_a']:.1f} A; check voltage, coil and fan{cited(s)}"
    ),
    "low_superheat": lambda f, s, u: (
        f"superheat of {display.difference(f['superheat_k'], u)} is "
        f"{under(f['superheat_k'], f['limit_k'])} "
        f"{display.difference(f['limit_k'], u)}: liquid may reach the compressor; "
        "do not let it run like this for long; find out why before adding"
    ),
    "charge_limit": lambda f, s, u: (
        f"{display.mass(f['total_kg'], u)} is in, over the limit of "
        f"{display.mass(f['limit_kg'], u)}{cited(s)}; shut the valve and recover what is over"
    ),
}
