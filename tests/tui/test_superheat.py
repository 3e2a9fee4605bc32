"""The screen of a fixed orifice: superheat first, its target and why, and what is left."""

from dataclasses import replace
from typing import Any

import pytest

from chargeassist.guide.crosscheck import CrossCheck
from chargeassist.model.display import UnitSystem
from chargeassist.physics.approach import ApproachSays, TempDifference
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import STATES
from tests.tui.running import Drawn


async def picture(name: str, drawn: Drawn, *, keys: tuple[str, ...] = (), **changes: Any) -> str:
    snapshot = replace(STATES[name](), **changes)
    app = Dashboard(CannedSession([snapshot]), system=UnitSystem.US, unicode=True)
    async with app.run_test(size=(120, 52)) as pilot:
        await pilot.pause()
        app.paint()
        await pilot.press(*keys)
        await pilot.pause()
        return " ".join(" ".join(drawn(app)).split())


async def test_superheat_stands_first_with_its_band_and_the_reason_for_it(drawn: Drawn) -> None:
    text = await picture("superheat", drawn)
    # 14.2 K is 25.6 °F; 6.5 ± 2.8 K is 6.7 to 16.7 °F; 29.9 °C is 85.8 °F, 18 °C is 64.4 °F.
    assert text.index("superheat") < text.index("subcooling")
    assert "superheat of 25.6 ± 1.1 °F settled, target is 6.7 to 16.7 °F" in text
    assert "(table: 85.8 °F outdoors, return wet bulb 64.4 °F)" in text
    assert "superheat, °F, last 15 min" in text
    assert "judged as installer: ± 5.0 °F [invented profile]" in text


async def test_a_dash_of_the_table_leaves_no_band_and_says_what_to_do(drawn: Drawn) -> None:
    text = await picture("no-target", drawn)
    assert "Fix first: no target superheat: the table has no value" in text
    assert "weigh the charge in" in text
    assert "target —" in text


async def test_what_is_left_is_on_the_screen_while_it_moves(drawn: Drawn) -> None:
    for name in ("superheat-moving", "moving"):
        text = await picture(name, drawn)
        assert "; then about" in text
        assert "min in all" in text
    assert "min in all" not in await picture("add", drawn)


async def test_the_target_and_its_sources_can_be_looked_at(drawn: Drawn) -> None:
    text = await picture("superheat", drawn, keys=("c",))
    assert "superheat 11.7 ± 5.0 °F, moves with the weather" in text
    assert "(wet bulb: probe)" in text
    assert "tolerance: invented profile" in text
    assert "the installer's limits" in text


@pytest.mark.parametrize(("agrees", "words"), [(True, "as the reading does"), (False, "does not")])
async def test_the_approach_has_its_line(drawn: Drawn, *, agrees: bool, words: str) -> None:
    check = CrossCheck(
        approach=TempDifference(4.0, 0.6), target_k=5.0, tolerance_k=1.0, source="invented table",
        says=ApproachSays.INSIDE, agrees=agrees,
    )  # fmt: skip
    text = await picture("add", drawn, cross_check=check)
    assert "approach 7.2 ± 1.1 °F, wanted 9.0 ± 1.8 °F [invented table]" in text
    assert words in text
