"""Whether the compressor stands still, as far as the readings show."""

from chargeassist.model.channels import Role
from chargeassist.stream.facts import Facts
from chargeassist.stream.hold import stands_still


def compressor_stands(facts: Facts, idle_a: float) -> bool:
    """Return whether the compressor stands, by its frequency or, where nothing reads that, by amps.

    Parameters
    ----------
    facts : Facts
    idle_a : float
        It stands below this current [A], the job's limit `LimitKey.IDLE_CURRENT`.
    """
    return stands_still(
        facts.live(Role.COMPRESSOR_FREQUENCY), facts.live(Role.COMPRESSOR_CURRENT), idle_a
    )
