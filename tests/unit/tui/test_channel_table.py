"""Which channels stand in the table, and in which order."""

from chargeassist.model.channels import Channel, Role
from chargeassist.stream.facts import ChannelFacts, ChannelState
from chargeassist.tui.widgets.channel_table import (
    in_order,
    is_judged_elsewhere,
    without_vacuum_gauge,
)


def facts(role: Role, state: ChannelState) -> ChannelFacts:
    return ChannelFacts(channel=Channel(name=role.value, role=role, unit="Pa"), state=state)


def test_a_vacuum_gauge_that_was_taken_off_is_no_probe_without_signal() -> None:
    silent = [facts(role, ChannelState.NO_SIGNAL) for role in (Role.VACUUM, Role.LIQUID_PRESSURE)]
    assert [each.channel.role for each in without_vacuum_gauge(in_order(silent))] == [
        Role.LIQUID_PRESSURE
    ]
    reads = [facts(Role.VACUUM, ChannelState.SETTLED)]
    assert without_vacuum_gauge(reads) == reads


def test_what_a_stage_goes_by_stands_first() -> None:
    roles = (Role.OUTDOOR_AIR_TEMPERATURE, Role.LIQUID_PRESSURE, Role.CYLINDER_MASS)
    channels = [facts(role, ChannelState.SETTLED) for role in roles]
    first = [each.channel.role for each in in_order(channels, (Role.CYLINDER_MASS,))]
    assert first == [Role.CYLINDER_MASS, Role.LIQUID_PRESSURE, Role.OUTDOOR_AIR_TEMPERATURE]
    assert in_order(channels)[0].channel.role is Role.LIQUID_PRESSURE


def test_a_vacuum_that_creeps_is_not_said_to_be_settled() -> None:
    for state in ChannelState:
        by_rate = state in {ChannelState.SETTLED, ChannelState.MOVING}
        assert is_judged_elsewhere(facts(Role.VACUUM, state)) is by_rate
        assert not is_judged_elsewhere(facts(Role.LIQUID_PRESSURE, state))
