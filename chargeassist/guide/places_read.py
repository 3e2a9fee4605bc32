"""Which channel stands for each place now: its probe, or what was typed while that is silent."""

from chargeassist.model.channels import Role
from chargeassist.stream.facts import ChannelFacts, Facts
from chargeassist.stream.typed_readings import TYPED_SOURCE


def places_read(facts: Facts) -> dict[Role, ChannelFacts]:
    """Return the channel that stands for each place; of several probes of one, the first."""
    found = {item.channel.role: item for item in facts.channels[::-1]}
    if facts.typed:
        for item in facts.channels:
            if item.channel.source == TYPED_SOURCE and item.channel.role in facts.typed:
                found[item.channel.role] = item
    return found
