"""Large print and the bell, by pilot. The session is invented."""

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.display import UnitSystem
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import add, fix, moving, replay
from tests.tui.running import Drawn, until


def dashboard(first: Snapshot) -> Dashboard:
    return Dashboard(CannedSession([first]), system=UnitSystem.US, unicode=True)


@pytest.mark.parametrize(("size", "lines"), [((80, 24), 6), ((120, 40), 12)])
async def test_large_print_gives_the_screen_to_sentence_and_value(
    drawn: Drawn, size: tuple[int, int], lines: int
) -> None:
    app = dashboard(moving())
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        app.paint()
        await pilot.pause()
        before = drawn(app)
        assert any("suction" in row for row in before)
        await pilot.press("l")
        await pilot.pause()
        shown = drawn(app)
        assert not any("suction" in row for row in shown), "the tables make room"
        assert any("Wait: " in row for row in shown)
        top = next(n for n, row in enumerate(shown) if row.startswith(" subcooling"))
        digits = shown[top + 1 : top + 1 + lines]
        assert sum("█" in row for row in digits) >= lines - lines // 6, (
            "5.7, six lines high or more"
        )
        assert any("moving" in row and "70" in row for row in shown)
        await pilot.press("l")
        await pilot.pause()
        assert drawn(app) == before


async def test_the_bell_rings_when_it_settles_and_m_makes_it_still() -> None:
    app = dashboard(moving())
    rung: list[int] = []
    async with app.run_test() as pilot:
        await pilot.pause()
        app.bell = lambda: rung.append(1)  # type: ignore[method-assign]
        app._take(add())
        assert len(rung) == 1
        await pilot.press("m")
        app._take(moving())
        app._take(add())
        assert len(rung) == 1
        await pilot.press("m")
        app._take(fix())
        assert len(rung) == 2
        await until(lambda: len(rung) == 3, lambda: "trouble rings twice")


async def test_a_replay_calls_nobody() -> None:
    app = dashboard(replay())
    async with app.run_test() as pilot:
        await pilot.pause()
        app.bell = lambda: pytest.fail("rang")  # type: ignore[method-assign]
        app._take(add())
