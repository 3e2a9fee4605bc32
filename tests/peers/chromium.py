"""A real browser without a window, steered over its debugging socket."""

import asyncio
import json
import subprocess
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp

Call = Callable[..., Awaitable[dict[str, Any]]]
"""A method of the debugging protocol with its parameters; returns its result."""


@asynccontextmanager
async def page(chromium: str, profile: Path) -> AsyncIterator[Call]:
    """Start `chromium` with its own `profile` and yield the calls of its one page."""
    with subprocess.Popen(  # noqa: ASYNC220 - starts at once, and is killed at the end
        [
            *(chromium, "--headless=new", "--no-sandbox", "--disable-gpu"),
            *("--remote-debugging-port=0", f"--user-data-dir={profile}"),
            *("--window-size=1100,760", "about:blank"),
        ],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as running:
        try:
            port = await _port_of(profile)
            async with aiohttp.ClientSession() as session:
                async with session.get(f"http://127.0.0.1:{port}/json/list") as answer:
                    pages = [each for each in await answer.json() if each["type"] == "page"]
                address = pages[0]["webSocketDebuggerUrl"]
                async with session.ws_connect(address, max_msg_size=0) as ws:
                    yield _calls(ws)
        finally:
            running.kill()


def _calls(ws: aiohttp.ClientWebSocketResponse) -> Call:
    number = 0

    async def call(method: str, **parameters: object) -> dict[str, Any]:
        nonlocal number
        number += 1
        await ws.send_str(json.dumps({"id": number, "method": method, "params": parameters}))
        while True:
            answer = json.loads((await ws.receive()).data)
            if answer.get("id") == number:
                result: dict[str, Any] = answer["result"]
                return result

    return call


async def _port_of(profile: Path) -> str:
    place = profile / "DevToolsActivePort"
    while True:
        if place.exists() and len(words := place.read_text(encoding="ascii").split()) == 2:
            return words[0]
        await asyncio.sleep(0.1)


async def evaluated(call: Call, expression: str) -> Any:
    """Return the value of a script's `expression`."""
    return (await call("Runtime.evaluate", expression=expression))["result"]["value"]


async def touched(call: Call, size: tuple[int, int]) -> None:
    """Make the page one of `size` CSS pixels on which fingers point."""
    width, height = size
    metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": True}
    await call("Emulation.setDeviceMetricsOverride", **metrics)
    await call("Emulation.setTouchEmulationEnabled", enabled=True)


_NOTE_SIZE = """
const Socket = WebSocket;
window.WebSocket = function (url) {
  window.asked = new URL(url).searchParams;
  return new Socket(url);
};
"""


async def shown(call: Call, url: str) -> None:
    """Open a dashboard and return once it has drawn something."""
    await call("Page.enable")
    await call("Page.addScriptToEvaluateOnNewDocument", source=_NOTE_SIZE)
    await call("Page.navigate", url=url)
    while "-first-byte" not in await evaluated(  # noqa: ASYNC110 - no event of its own
        call, "document.body?.className ?? ''"
    ):
        await asyncio.sleep(0.2)


async def cell_px(call: Call) -> tuple[float, float]:
    """Return width and height of a cell [CSS px], by the columns and rows the page asked for."""
    screen = "document.querySelector('.xterm-screen')"
    width = await evaluated(call, f"{screen}.offsetWidth / asked.get('width')")
    height = await evaluated(call, f"{screen}.offsetHeight / asked.get('height')")
    return float(width), float(height)
