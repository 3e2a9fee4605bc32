"""Numbers that take more cells than their column: none runs into its neighbour or loses its unit.

All moments are invented.
"""

from dataclasses import replace

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Reference
from chargeassist.stream.facts import ChannelState
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import add
from tests.tui.running import Drawn, running

SIZES = [(40, 50), (43, 50), (50, 44), (60, 40), (80, 40), (120, 46)]


def with_a_large_step() -> Snapshot:
    """Return a unit whose first step was the weigh-in, an hour after the session began."""
    base = add()
    first, second = base.facts.ledger
    steps = (
        replace(first, mass_kg=1.96, ended_t=7121.0, before_k=10.4, after_k=12.6),
        replace(second, mass_kg=5.73, ended_t=7922.0),
    )
    return replace(base, facts=replace(base.facts, ledger=steps))


@pytest.mark.parametrize("size", SIZES)
async def test_no_time_of_a_step_runs_into_its_amount(size: tuple[int, int], drawn: Drawn) -> None:
    session = CannedSession([with_a_large_step()])
    async with running(session, size=size, system=UnitSystem.US) as (app, _):
        rows = [row for row in drawn(app) if "1:58:41" in row or "2:12:02" in row]
    # A pound is 453.592 g (NIST SP 811, appendix B): 1.96 kg and 5.73 kg, by hand.
    assert " 1:58:41 " in rows[0]
    assert " 4 lb 5.1 oz " in rows[0]
    assert " 12 lb 10.1 oz " in rows[1]
    # 10.4 K and 12.6 K are 18.7 °F and 22.7 °F.
    assert "18.7 → 22.7 °F" in rows[0]


def with_absolute_pressure() -> Snapshot:
    base = add()
    channels = tuple(
        replace(each, channel=replace(each.channel, reference=Reference.ABSOLUTE))
        if each.channel.role is Role.LIQUID_PRESSURE
        else each
        for each in base.facts.channels
    )
    return replace(base, facts=replace(base.facts, channels=channels))


@pytest.mark.parametrize("size", SIZES)
async def test_an_absolute_pressure_leaves_its_state_in_its_column(
    size: tuple[int, int], drawn: Drawn
) -> None:
    async with running(CannedSession([with_absolute_pressure()]), size=size) as (app, _):
        rows = [row for row in drawn(app) if row.startswith((" liquid", " suction"))]
    (pressure,) = [row for row in rows if " 2318 kPa absolute " in row]
    others = [row for row in rows if row is not pressure]
    assert {row.index("●") for row in others} == {pressure.index("●")}


@pytest.mark.parametrize("size", [(60, 40), (80, 40), (112, 46)])
async def test_a_fast_change_does_not_run_into_its_value(
    size: tuple[int, int], drawn: Drawn
) -> None:
    base = add()
    channels = tuple(
        replace(each, slope_si_per_s=-52_000_000.0, state=ChannelState.MOVING)
        if each.channel.role is Role.LIQUID_PRESSURE
        else each
        for each in base.facts.channels
    )
    shot = replace(base, facts=replace(base.facts, channels=channels))
    async with running(CannedSession([shot]), size=size) as (app, _):
        rows = [row for row in drawn(app) if row.startswith((" liquid", " suction"))]
    # 52 MPa a second is 3 120 000 kPa a minute: as a probe may send it, whatever a circuit does.
    (pressure,) = [row for row in rows if "2318 kPa gauge" in row]
    assert "2318 kPa gauge −3120000 " in pressure
    (other,) = [row for row in rows if "936 kPa gauge" in row]
    assert pressure.index("▲") == other.index("●")
