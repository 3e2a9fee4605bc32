"""The screen of a watcher, by pilot; the session is invented."""

import asyncio
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from chargeassist.model.display import UnitSystem
from chargeassist.session.board import Pack
from chargeassist.session.published import values_pack, verdicts_pack
from chargeassist.session.watching import DERIVED
from chargeassist.tui.preview import add, moving
from chargeassist.tui.watching import WatchScreen
from chargeassist.tui.widgets.big_text import big
from tests.tui.running import Drawn

AT = 1_780_000_000.0


class Canned:
    """A board at which given packs are heard."""

    def __init__(self) -> None:
        self.hear: Callable[[str, bytes], None] = lambda subject, payload: None
        self.note: Callable[[str], None] = lambda text: None

    async def tell(self, take: Callable[[bool], Any], trouble: Callable[[str], None]) -> None:
        raise AssertionError("a watcher tells nothing")

    async def watch(self, hear: Callable[[str, bytes], None], note: Callable[[str], None]) -> None:
        self.hear, self.note = hear, note
        await asyncio.Event().wait()


def packs(snapshot: Any) -> list[Pack]:
    return [
        ("values", values_pack(snapshot, AT), False),
        ("verdicts", verdicts_pack(snapshot, AT), True),
    ]


async def test_a_watcher_sees_sentence_value_and_channels_and_when_they_stop(drawn: Drawn) -> None:
    now = [100.0]
    board = Canned()
    app = WatchScreen(board, UnitSystem.US, unicode=True, clock=lambda: now[0])
    rung: list[int] = []
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        app.bell = lambda: rung.append(1)  # type: ignore[method-assign]
        assert any("no values yet" in row for row in drawn(app))
        for subject, payload, _ in packs(moving()):
            board.hear(subject, payload)
        board.note("listening to mqtt://localhost:1883, reading-room")
        app.paint()
        await pilot.pause()
        shown = drawn(app)
        assert any("WATCHING" in row and "Millrace Lane Library" in row for row in shown)
        assert any("Wait: subcooling still rising" in row for row in shown)
        assert any("suction line temperature" in row and "°F" in row for row in shown)
        assert any("target 7.6 to 10.4 °F" in row for row in shown)
        await pilot.press("u")
        await pilot.pause()
        assert any("target 4.2 to 5.8 K" in row for row in drawn(app))
        for subject, payload, _ in packs(add()):
            board.hear(subject, payload)
        assert len(rung) == 2, "a new verdict rings"
        now[0] += 60.0
        app.paint()
        await pilot.pause()
        assert any("nothing new for" in row for row in drawn(app))
        board.hear("verdicts", verdicts_pack(replace(add(), finished=True), AT))
        app.paint()
        await pilot.pause()
        assert any("The session has ended." in row for row in drawn(app))
        lines = drawn(app)
        assert lines[2:5] == [f"  {row.rstrip()}" for row in big("ENDED", "wait") or ()], lines
        await pilot.press("a", "e", "f")
        assert app.is_running, "no key tells the session anything"


@pytest.mark.parametrize(("system", "unit"), [(UnitSystem.SI, "K"), (UnitSystem.US, "°F")])
async def test_a_value_of_unknown_uncertainty_has_its_unit(
    drawn: Drawn, system: UnitSystem, unit: str
) -> None:
    board = Canned()
    app = WatchScreen(board, system, unicode=True)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        board.hear(
            "values", b'[{"bn":"chargeassist/","bt":1.78e9,"n":"subcooling","u":"K","v":9.2}]'
        )
        app.paint()
        await pilot.pause()
        assert any(f"subcooling   {unit}, U unknown" in row for row in drawn(app))


async def test_a_vacuum_is_shown_as_one(drawn: Drawn) -> None:
    board = Canned()
    app = WatchScreen(board, UnitSystem.US, unicode=True)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        pack = b'[{"bn":"chargeassist/","bt":1.78e9,"n":"vacuum/absolute","u":"Pa","v":66.66}]'
        board.hear("values", pack)
        app.paint()
        await pilot.pause()
        assert any("500 micron" in row for row in drawn(app))
        await pilot.press("u")
        await pilot.pause()
        assert any("66.7 Pa absolute" in row for row in drawn(app))


@pytest.mark.parametrize("size", [(80, 24), (80, 16), (43, 40), (43, 24)])
async def test_what_went_wrong_and_the_keys_stay_in_sight_of_a_watcher(
    drawn: Drawn, size: tuple[int, int]
) -> None:
    now = [100.0]
    board = Canned()
    app = WatchScreen(board, UnitSystem.US, unicode=True, clock=lambda: now[0])
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        for subject, payload, _ in packs(moving()):
            board.hear(subject, payload)
        now[0] += 90.0
        for _ in range(2):
            app.paint()
            await pilot.pause()
        shown = drawn(app)
    assert any("nothing new for 90 s" in row for row in shown[-3:])
    assert "dark or light" in shown[-1]
    assert len(shown) == size[1]
    assert any("target 7.6" in row and "10.4 °F" in row for row in shown)
    roles = ("liquid", "suction", "discharge", "outdoor", "compressor", "cylinder")
    listed = [row for row in shown if row.strip().startswith(roles)]
    values = [row.split()[-1] for row in listed]
    assert all(each in {"psig", "°F", "A", "oz"} for each in values), listed
    told = sum(
        not name.startswith(("subcooling", "superheat", "target", "settling", "hold", "charge"))
        for name in app.watched.values
        if name not in DERIVED
    )
    missing = told - len(listed)
    assert (f"{missing} more" in "\n".join(shown)) is (missing > 0)
