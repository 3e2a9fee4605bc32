"""Large print and the bell, by pilot. The session is invented."""

from dataclasses import replace

import pytest

from chargeassist.guide.snapshot import Caution, Snapshot
from chargeassist.model.display import UnitSystem
from chargeassist.model.hazards import Hazard
from chargeassist.tui import words
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import STATES, add, fix, moving, replay
from chargeassist.tui.widgets.big_text import big
from chargeassist.tui.widgets.large_value import LargeValue
from tests.tui.running import Drawn, text, until


def dashboard(first: Snapshot) -> Dashboard:
    return Dashboard(CannedSession([first]), system=UnitSystem.US, unicode=True)


def stands(words: str, shown: list[str], scale: int) -> bool:
    """Return whether `words` stand on the screen in letters of that size."""
    drawn = big(words, double=scale > 0, bare=True)
    assert drawn is not None, f"no letters for {words!r}"
    times = max(1, scale)
    rows = ["".join(cell * times for cell in row).rstrip() for row in drawn for _ in range(times)]
    first = len(shown) - len(rows) + 1
    return any(
        all(row in line for row, line in zip(rows, shown[top:], strict=False))
        for top in range(first)
    )


@pytest.mark.parametrize(("size", "scales"), [((80, 24), (1, 0)), ((112, 36), (2, 1))])
async def test_large_print_gives_the_screen_to_sentence_and_value(
    drawn: Drawn, size: tuple[int, int], scales: tuple[int, int]
) -> None:
    app = dashboard(moving())
    digits, rest = scales
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
        assert any("subcooling" in row and "still" not in row for row in shown)
        assert stands("5.7", shown, digits)
        # Five pixels high or more, as the digits are: to be read from where the cylinder stands.
        assert stands("± 0.8 °F", shown, rest)
        assert stands("MOVING", shown, rest)
        assert stands("70 s", shown, rest)
        assert stands("TARGET", shown, 0)
        assert stands("7.6–10.4", shown, rest)
        assert "50 to 120 s" in text(shown)
        app._take(add())
        app.paint()
        await pilot.pause()
        shown = drawn(app)
        assert stands("SETTLED", shown, rest)
        assert "at 6.7 ± 0.8 °F" in text(shown)
        await pilot.press("l")
        app._take(moving())
        app.paint()
        await pilot.pause()
        assert [row for row in drawn(app) if "suction" in row]


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (112, 36), (150, 50), (43, 50), (43, 30)])
@pytest.mark.parametrize("state", ["moving", "add", "fix", "superheat-moving", "no-target"])
async def test_large_print_names_the_target_and_breaks_no_line(
    drawn: Drawn, state: str, size: tuple[int, int]
) -> None:
    app = dashboard(STATES[state]())
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        await pilot.press("l")
        app.paint()
        await pilot.pause()
        shown = drawn(app)
        value = app._board.query_one(LargeValue)
        width, height = value.content_size
        rows = value.draw(value.scene, width, height).plain.split("\n")
        assert len(rows) <= height
        assert max(len(row) for row in rows) <= width
        said = "\n".join(shown[value.region.y : value.region.bottom])
        assert "target" in said or stands("TARGET", shown, 0) or stands("TARGET", shown, 1)


def with_notices(first: Snapshot, *, unread: bool) -> Snapshot:
    """Return `first` with a hold that runs out, a clock that was set, and a caution to be read."""
    cautions = (
        Caution(cause="hold_expiring", figures={"seconds_s": 240.0}),
        Caution(cause="clock_set", figures={"by_s": 3600.0}),
        Caution(cause="condition_unknown", subject="airflow"),
    )
    hazards = (Hazard.ELECTRICITY, Hazard.PRESSURE) if unread else ()
    return replace(first, cautions=cautions, unread=hazards)


def said_at_length(first: Snapshot) -> Snapshot:
    """Return `first` with a reason that takes four lines."""
    probe = "liquid line temperature of the invented second outdoor unit behind the reading room, "
    advice = replace(fix().advice, subject=2 * probe + "on its bracket")
    return replace(first, advice=advice)


@pytest.mark.parametrize("unread", [False, True])
@pytest.mark.parametrize("long", [False, True])
async def test_large_print_keeps_the_value_however_much_there_is_to_notice(
    drawn: Drawn,
    unread: bool,
    long: bool,
) -> None:
    first = with_notices(moving(), unread=unread)
    app = dashboard(said_at_length(first) if long else first)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("l")
        app.paint()
        await pilot.pause()
        await pilot.pause()
        shown = drawn(app)
    said = text(shown)
    assert stands("5.7", shown, 1), "the value is the last to grow smaller"
    assert stands("TARGET", shown, 0) or long
    if unread:
        assert "caution, electricity" in said
        assert "Enter: read" in said
    else:
        assert "the frequency hold runs out in 4 min" in said
        assert "+2 more" in said
    if not long:
        reason = words.reason(first.advice, UnitSystem.US)
        assert f"Wait: {reason}" in said, "the reason is whole"


async def test_a_long_state_is_written_smaller_before_it_becomes_plain_text(drawn: Drawn) -> None:
    app = dashboard(fix())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("l")
        app.paint()
        await pilot.pause()
        assert stands("NO SIGNAL", drawn(app), 0)


async def test_large_print_without_blocks_is_said_in_lines_of_their_own(drawn: Drawn) -> None:
    app = Dashboard(CannedSession([moving()]), system=UnitSystem.US, unicode=False)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("l")
        app.paint()
        await pilot.pause()
        shown = [row.strip() for row in drawn(app)]
        assert "subcooling   5.7 +/- 0.8 F" in shown
        assert "> moving   70 s to go, about 50 to 120 s" in shown
        assert "target 7.6 to 10.4 F" in shown


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
