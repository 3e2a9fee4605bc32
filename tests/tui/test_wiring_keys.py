"""Where the cursor is on the guided probes screen without colours, and which keys do what there."""

import pytest

from chargeassist.session.wiring.hearing import FoundPlace
from chargeassist.tui.screens import wiring_where
from chargeassist.tui.wiring import WiringApp
from tests.tui.running import Drawn


def found(monkeypatch: pytest.MonkeyPatch, *addresses: str) -> None:
    """Let the machine have these ports, whichever it has."""
    ports = tuple(FoundPlace(address, "invented adapter") for address in addresses)
    monkeypatch.setattr(wiring_where, "places", lambda: (ports, []))


@pytest.mark.parametrize(("unicode", "here", "resting"), [(True, "▶", "▷"), (False, ">", "-")])
async def test_the_chosen_line_has_a_mark_and_not_only_a_colour(
    drawn: Drawn, monkeypatch: pytest.MonkeyPatch, *, unicode: bool, here: str, resting: str
) -> None:
    found(monkeypatch, "serial:/dev/ttyA", "serial:/dev/ttyB")
    app = WiringApp(unicode=unicode)
    async with app.run_test(size=(80, 24)) as pilot:

        def rows() -> list[str]:
            return [row.strip() for row in drawn(app) if "invented adapter" in row]

        await pilot.pause()
        first, second = rows()
        assert first.startswith(f"{here}serial:/dev/ttyA")
        assert second.startswith("serial:/dev/ttyB")
        await pilot.press("down")
        await pilot.pause()
        first, second = rows()
        assert first.startswith("serial:/dev/ttyA")
        assert second.startswith(f"{here}serial:/dev/ttyB")
        await pilot.press("a")
        await pilot.pause()
        assert rows()[1].startswith(f"{resting}serial:/dev/ttyB"), "the cursor is elsewhere"


async def test_no_key_is_named_that_would_be_typed_instead(
    drawn: Drawn, monkeypatch: pytest.MonkeyPatch
) -> None:
    found(monkeypatch)
    app = WiringApp(unicode=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        shown = "\n".join(drawn(app)[-3:])
        assert "q leave" not in shown
        assert "Esc" in shown
        await pilot.press("escape")
        await pilot.pause()
        assert "q leave" in "\n".join(drawn(app)[-3:])
        await pilot.press("q")
        await pilot.pause()
        assert not app.is_running
