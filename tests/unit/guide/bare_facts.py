"""A tick at which nothing is known but what a test says."""

from dataclasses import replace

from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Facts, HoldFacts, Settling


def bare_facts(t: float = 1000.0, **known: object) -> Facts:
    """Return the facts of a tick at sea level, with 1.8 kg in the circuit and `known` in place."""
    nothing = NoValue("nothing read")
    facts = Facts(
        t=t,
        channels=(),
        subcooling=nothing,
        superheat=nothing,
        liquid_saturation_k=None,
        suction_saturation_k=None,
        settling=Settling(),
        settled=None,
        settled_superheat_k=None,
        hold=HoldFacts(),
        station_pa_abs=101_325.0,
        step_open=None,
        ledger=(),
        total_kg=1.8,
    )
    return replace(facts, **known)  # type: ignore[arg-type]
