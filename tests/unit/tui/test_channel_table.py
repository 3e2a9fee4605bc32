"""Which channels stand in the table, and in which order."""

from chargeassist.model.channels import Channel, Role
from chargeassist.stream.facts import ChannelFacts, ChannelState
from chargeassist.tui.widgets.channel_table import in_order, of_a_running_unit


def facts(role: Role, state: ChannelState) -> ChannelFacts:
    return ChannelFacts(channel=Channel(name=role.value, role=role, unit="Pa"), state=state)


def test_a_vacuum_gauge_that_was_taken_off_is_no_probe_without_signal() -> None:
    silent = [facts(role, ChannelState.NO_SIGNAL) for role in (Role.VACUUM, Role.LIQUID_PRESSURE)]
    assert [each.channel.role for each in of_a_running_unit(in_order(silent))] == [
        Role.LIQUID_PRESSURE
    ]
    reads = [facts(Role.VACUUM, ChannelState.SETTLED)]
    assert of_a_running_unit(reads) == reads
