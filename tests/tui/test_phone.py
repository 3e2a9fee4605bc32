"""A phone held upright: some 43 columns, on which no number is broken. The session is invented."""

import pytest

from chargeassist.model.display import UnitSystem
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import STATES
from chargeassist.tui.widgets.channel_table import ChannelTable
from chargeassist.tui.widgets.ledger import Ledger
from chargeassist.tui.widgets.number_line import NumberLine
from chargeassist.tui.widgets.panel import Panel
from chargeassist.tui.widgets.values import ValueText
from tests.tui.running import Drawn, running

PHONES = [(43, 50), (43, 40), (43, 30), (43, 20), (40, 45), (50, 44), (57, 30)]
NEVER_WRAPPED = (ValueText, ChannelTable, Ledger, NumberLine)


@pytest.mark.parametrize("state", ["moving", "add", "fix", "step-open"])
async def test_no_line_of_values_is_longer_than_a_phone_is_wide(state: str) -> None:
    session = CannedSession([STATES[state]()])
    async with running(session, size=PHONES[0], system=UnitSystem.US) as (app, pilot):
        for size in PHONES:
            await pilot.resize_terminal(*size)
            await pilot.pause()
            app.paint()
            await pilot.pause()
            panels: list[Panel] = [
                each
                for kind in NEVER_WRAPPED
                for each in app.screen.query(kind)
                if each.region.area
            ]
            assert sum(isinstance(each, ValueText) for each in panels) == 3
            for panel in panels:
                for line in panel.render().plain.split("\n"):
                    assert len(line.rstrip()) <= panel.content_size.width, (size, panel, line)


async def test_a_phone_shows_each_value_and_channel_on_a_line_of_its_own(drawn: Drawn) -> None:
    async with running(CannedSession([STATES["moving"]()]), size=(43, 50)) as (app, _):
        lines = [line.strip() for line in drawn(app)]
    assert "subcooling 3.2 ± 0.4 K target 4.2–5.8 K" in lines
    assert "superheat 7.9 ± 0.6 K 2.2 to 13.9 K" in lines
    assert "▲ moving 70 s to go, about 50 to 120 s" in lines
    assert "liquid press   2318 kPa gauge ▲ moving" in lines
    assert "suction temp          14.6 °C ● settled" in lines
    assert "1      10:55     110 g        0.9 → 2.4 K" in lines


@pytest.mark.parametrize("system", list(UnitSystem))
@pytest.mark.parametrize("state", ["moving", "add", "fix", "step-open", "superheat", "no-target"])
@pytest.mark.parametrize("size", [(43, 50), (45, 60), (43, 20)])
async def test_a_phone_says_which_numbers_are_the_target(
    drawn: Drawn, size: tuple[int, int], state: str, system: UnitSystem
) -> None:
    first = STATES[state]()
    async with running(CannedSession([first]), size=size, system=system) as (app, pilot):
        await pilot.pause()
        app.paint()
        await pilot.pause()
        name = first.job.target.judged.name
        (line,) = [line for line in drawn(app) if line.strip().startswith(f"{name} ")]
    assert line.count("target ") == 1, line


async def test_a_phone_turned_on_its_side_gets_the_wide_board_back(drawn: Drawn) -> None:
    async with running(CannedSession([STATES["moving"]()]), size=(43, 50)) as (app, pilot):
        await pilot.resize_terminal(90, 24)
        await pilot.pause()
        app.paint()
        await pilot.pause()
        assert any("liquid line pressure" in line and "kPa/min" in line for line in drawn(app))
