"""A browser that takes a dashboard over is sent all of it. The moment is invented."""

import pytest
from textual import events
from textual._compositor import Compositor, LayoutUpdate

from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import moving
from tests.tui.running import running


async def test_the_whole_screen_is_drawn_for_whoever_looks_now(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole = []
    draws = Compositor.render_full_update

    def counted(self: Compositor, simplify: bool = False) -> LayoutUpdate:
        whole.append(1)
        return draws(self, simplify)

    async with running(CannedSession([moving()])) as (app, pilot):
        await pilot.pause()
        monkeypatch.setattr(Compositor, "render_full_update", counted)
        app.paint()
        await pilot.pause()
        assert not whole, "nothing has changed"
        app.post_message(events.AppFocus())
        await pilot.pause()
        assert whole
