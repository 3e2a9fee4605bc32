"""Whether the compressor stands still, as far as the readings show."""

from chargeassist.model.channels import Role
from chargeassist.stream.facts import Facts
from chargeassist.stream.probe_watch import STANDS_HZ


def compressor_stands(facts: Facts, idle_a: float) -> bool:
    """Return whether the compressor stands, by its frequency or, where nothing reads that, by amps.

    Parameters
    ----------
    facts : Facts
    idle_a : float
        It stands below this current [A], the job's limit `LimitKey.IDLE_CURRENT`.
    """
    frequency_hz = facts.live(Role.COMPRESSOR_FREQUENCY)
    if frequency_hz is not None:
        return frequency_hz < STANDS_HZ
    current_a = facts.live(Role.COMPRESSOR_CURRENT)
    return current_a is not None and current_a < idle_a
