"""The one dashboard behind the page, whoever looks at it. No process is started here."""

import asyncio

import pytest

pytest.importorskip("textual_serve", reason="an extra: pip install 'chargeassist[web]'")

from chargeassist.web.kept_app import KeptApp


class Browser:
    """A page: what it was sent, and whether it was closed."""

    def __init__(self) -> None:
        self.got: list[bytes] = []
        self.closed = False

    async def send(self, data: bytes) -> None:
        self.got.append(data)

    async def say(self, data: str) -> None:
        self.got.append(data.encode())

    async def close(self) -> None:
        self.closed = True

    async def look_at(self, app: KeptApp) -> int:
        return await app.attach(self.send, self.say, self.close, (80, 24))


async def test_two_pages_that_are_opened_at_once_get_one_dashboard_and_one_of_them_shows_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    started: list[tuple[int, int]] = []
    told: list[object] = []

    async def start(self: KeptApp, width: int, height: int) -> None:
        await asyncio.sleep(0.01)  # as long as a process takes to come up
        started.append((width, height))
        self._task = asyncio.create_task(asyncio.sleep(3600.0))

    async def send_meta(self: KeptApp, data: object) -> bool:
        told.append(data)
        return True

    monkeypatch.setattr(KeptApp, "start", start)
    monkeypatch.setattr(KeptApp, "send_meta", send_meta)
    app = KeptApp(("demo",))
    first, second = Browser(), Browser()
    visits = await asyncio.gather(first.look_at(app), second.look_at(app))
    assert started == [(80, 24)], "two sessions would read the same probes"
    assert sorted(visits) == [1, 2]
    await app.on_data(b"values")
    # A page that is not drawn any more must not stand there as if it were.
    assert first.closed
    assert not second.closed
    assert second.got[-1] == b"values"
    assert b"values" not in first.got
    assert app._task is not None
    app._task.cancel()
    await asyncio.wait({app._task})
