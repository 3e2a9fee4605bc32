"""The dashboard in a browser: a real server, real sockets, and a real browser."""

import asyncio
import base64
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, closing, contextmanager
from pathlib import Path
from typing import Any

import pytest

from chargeassist.model.events import Mark, MarkKind, Outcome, SessionStopped
from chargeassist.session.record.package import open_record
from chargeassist.tui.pen import DARK, LIGHT
from tests.peers.broker import free_port
from tests.peers.chromium import cell_px, evaluated, page, shown, touched

aiohttp = pytest.importorskip("aiohttp", reason="an extra: pip install 'chargeassist[web]'")
pytest.importorskip("textual_serve", reason="an extra: pip install 'chargeassist[web]'")

WITHIN_S = 60.0


@contextmanager
def served(folder: Path, *words: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Serve a session and yield its address; killed at the end if it has not ended."""
    program = [sys.executable, "-m", "chargeassist", "serve", "--port", str(free_port()), *words]
    with subprocess.Popen(
        program, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=folder
    ) as running:
        assert running.stdout is not None
        found = re.match(
            r"dashboard: (http://127\.0\.0\.1:\d+/[a-z0-9]{10}/)$", running.stdout.readline()
        )
        assert found is not None
        try:
            yield found[1], running
        finally:
            running.terminate()  # it ends the dashboard, a process of its own, in order
            try:
                running.wait(WITHIN_S)
            except subprocess.TimeoutExpired:
                running.kill()


@asynccontextmanager
async def browser(session: Any, url: str, size: tuple[int, int] = (100, 32)) -> AsyncIterator[Any]:
    """Connect as the page does; the server may still be starting."""
    deadline = time.monotonic() + WITHIN_S
    ws: Any = None
    while ws is None:
        try:
            ws = await session.ws_connect(f"{url}ws?width={size[0]}&height={size[1]}")
        except aiohttp.ClientConnectorError:
            assert time.monotonic() < deadline, "the server did not start"
            await asyncio.sleep(0.1)
    async with ws:
        await ws.send_json(["resize", {"width": size[0], "height": size[1]}])
        yield ws


async def seen(ws: Any, wanted: str) -> str:
    """Return what was drawn up to `wanted`, control sequences left out."""
    drawn = ""
    async with asyncio.timeout(WITHIN_S):
        async for message in ws:
            if message.type == aiohttp.WSMsgType.BINARY:
                drawn += message.data.decode("utf-8", "replace")
                if wanted in re.sub(r"\x1b\[[0-9;?]*[A-Za-z$]", "", drawn):
                    return str(drawn)
    raise AssertionError(f"{wanted!r} was not drawn")


def how_it_ended(folder: Path) -> tuple[Outcome, list[Mark]]:
    (path,) = folder.glob("*.session")
    with open_record(path) as record:
        events = list(record.events())
    last = events[-1]
    assert isinstance(last, SessionStopped)
    return last.outcome, [event for event in events if isinstance(event, Mark)]


def how_it_ended_in_time(folder: Path) -> tuple[Outcome, list[Mark]]:
    until = time.monotonic() + WITHIN_S
    while True:
        try:
            return how_it_ended(folder)
        except AssertionError:
            if time.monotonic() > until:
                raise
        time.sleep(0.2)


def counted(folder: Path, rows: str) -> int:
    """Return how many of some rows the one session in `folder` has so far."""
    for path in folder.glob("*.session"):
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as file:
            (count,) = file.execute(f"SELECT count(*) FROM {rows}").fetchone()
            return int(count)
    return 0


def has_values(folder: Path) -> bool:
    return counted(folder, "readings") > 20


def has_marks(folder: Path) -> bool:
    return counted(folder, "events WHERE kind = 'mark'") > 0


def sessions_in(folder: Path) -> int:
    return len(list(folder.glob("*.session")))


async def test_a_browser_that_leaves_does_not_end_the_session_and_the_next_takes_it_over(
    tmp_path: Path,
) -> None:
    with served(tmp_path, "demo", "--hands-on", "--record", str(tmp_path)) as (url, running):
        async with aiohttp.ClientSession() as session:
            async with browser(session, url) as ws:
                first = await seen(ws, "Millrace Lane Library")
                assert "\x1b[?1049h" in first
            async with browser(session, url) as ws:
                again = await seen(ws, "Millrace Lane Library")
                assert "\x1b[?1000h" in again, "the new terminal is told that touches count"
                async with browser(session, url) as newer:
                    await seen(newer, "kPa gauge")
                    async with asyncio.timeout(WITHIN_S):
                        async for _ in ws:
                            pass
                    assert ws.closed, "the older browser is let go"
                    await newer.send_json(["stdin", "n"])
                    await seen(newer, "keeps it")
                    await newer.send_json(["stdin", "fan is on"])
                    await seen(newer, "fan is on")
                    await newer.send_json(["stdin", "\r"])
                    await seen(newer, "Note recorded")
            assert running.poll() is None
            running.send_signal(signal.SIGTERM)
            assert await asyncio.to_thread(running.wait, WITHIN_S) == 143
    outcome, marks = how_it_ended(tmp_path)
    assert outcome is Outcome.ABANDONED
    assert "fan is on" in [mark.text for mark in marks]


@pytest.mark.parametrize("size", [(100, 32), (100, 31), (43, 46)])
async def test_the_next_browser_gets_the_whole_screen_though_nothing_on_it_changes(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    with served(tmp_path, "demo", "--hands-on", "--record", str(tmp_path)) as (url, _):
        async with aiohttp.ClientSession() as session:
            async with browser(session, url) as ws:
                await seen(ws, "kPa gauge")
                await ws.send_json(["stdin", " "])
                await seen(ws, "PAUSED")
                await ws.send_json(["stdin", "?"])
                await seen(ws, "a charge step begins")
                await ws.send_json(["stdin", "\x1b"])
                await seen(ws, "liquid line")
            async with browser(session, url, size) as ws:
                again = await seen(ws, "quit")
    said = re.sub(r"\x1b\[[0-9;?]*[A-Za-z$]", "", again)
    for part in ("PAUSED", "Fix first", "subcooling", "liquid", "caution, electricity", "help"):
        assert part in said, part
    assert "\x1b[?25l" in again, "no cursor stands where nothing is typed"
    assert "\x1b[?2026" not in again.partition("\x1b[?25l")[0], "a mode, no beginning of a frame"


async def test_a_server_that_is_killed_leaves_no_session_running_alone(tmp_path: Path) -> None:
    with served(tmp_path, "demo", "--hands-on", "--record", str(tmp_path)) as (url, running):
        async with aiohttp.ClientSession() as session, browser(session, url) as ws:
            await seen(ws, "kPa gauge")
            running.kill()
            await asyncio.to_thread(running.wait, WITHIN_S)
    outcome, _ = await asyncio.to_thread(how_it_ended_in_time, tmp_path)
    assert outcome is Outcome.ABANDONED


async def test_after_the_end_a_reload_begins_nothing_by_itself(tmp_path: Path) -> None:
    with served(tmp_path, "demo", "--hands-on", "--record", str(tmp_path)) as (url, _):
        async with aiohttp.ClientSession() as session:
            async with browser(session, url) as ws:
                await seen(ws, "subcooling")
                await ws.send_json(["stdin", "q"])
                await seen(ws, "End this session?")
                await ws.send_json(["stdin", "x"])
                async with asyncio.timeout(WITHIN_S):
                    async for _ in ws:
                        pass
            async with session.get(url) as page:
                text = await page.text()
            assert "Begin another one" in text
            async with browser(session, url) as ws:
                assert (await ws.receive()).type == aiohttp.WSMsgType.CLOSE
            assert sessions_in(tmp_path) == 1
            async with session.get(f"{url}?again=1") as page:
                assert "Begin another one" not in await page.text()


async def test_only_this_machine_and_only_with_the_key(tmp_path: Path) -> None:
    with served(tmp_path, "demo") as (url, running):
        async with aiohttp.ClientSession() as session:
            async with browser(session, url) as ws:
                await seen(ws, "subcooling")
            async with session.get(url) as page:
                policy = page.headers["Content-Security-Policy"]
                text = await page.text()
            assert "default-src 'none'" in policy
            assert "//" not in text.replace(url.removeprefix("http:"), ""), (
                "nothing is fetched from elsewhere"
            )
            root = url.rsplit("/", 2)[0]
            for other in ("/", "/ws", "/static/js/textual.js", "/aaaaaaaaaa/", "/aaaaaaaaaa/ws"):
                async with session.get(root + other) as page:
                    assert page.status == 404, other
        assert _listening(running.pid, int(root.rsplit(":", 1)[1])) == {"0100007F"}, (
            "127.0.0.1 and nothing else"
        )


def _listening(pid: int, port: int) -> set[str]:
    """Return the addresses, as Linux writes them in hexadecimal, at which `port` is listened."""
    rows = Path(f"/proc/{pid}/net/tcp").read_text(encoding="ascii").splitlines()[1:]
    found = set()
    for row in rows:
        _, local, _, state, *_ = row.split()
        address, at = local.split(":")
        if state == "0A" and int(at, 16) == port:
            found.add(address)
    return found


async def test_a_real_browser_draws_it_and_its_keys_reach_the_session(
    tmp_path: Path, need_program: Callable[[str, str], str]
) -> None:
    chromium = need_program("chromium", "chromium")
    with served(tmp_path, "demo", "--hands-on", "--record", str(tmp_path)) as (url, running):
        async with asyncio.timeout(3 * WITHIN_S), page(chromium, tmp_path / "profile") as call:
            await shown(call, url)
            while not has_values(tmp_path):  # noqa: ASYNC110 - another process writes them
                await asyncio.sleep(0.2)
            await asyncio.sleep(1.0)
            at = {"x": 700, "y": 20, "button": "left", "clickCount": 1}
            for kind in ("mousePressed", "mouseReleased"):
                await call("Input.dispatchMouseEvent", type=kind, **at)
            pressed = {"key": "Enter", "windowsVirtualKeyCode": 13}
            await call("Input.dispatchKeyEvent", type="keyDown", text="\r", **pressed)
            await call("Input.dispatchKeyEvent", type="keyUp", **pressed)
            while not has_marks(tmp_path):  # noqa: ASYNC110 - another process writes them
                await asyncio.sleep(0.2)
            picture = base64.b64decode((await call("Page.captureScreenshot"))["data"])
            assert (await cell_px(call))[1] < 24, "a pointer needs no lines so far apart"
        running.send_signal(signal.SIGTERM)
        running.wait(WITHIN_S)
    assert len(picture) > 15_000, "a board, not an empty page"
    _, marks = how_it_ended(tmp_path)
    assert [mark.kind for mark in marks] == [MarkKind.CAUTION_READ], "Enter, in the browser"


VIEWPORT = "getComputedStyle(document.querySelector('.xterm-viewport'))"


@pytest.mark.parametrize("size", [(390, 844), (1024, 768)])
async def test_a_finger_finds_lines_high_enough_and_no_bar_stands_beside_them(
    tmp_path: Path, size: tuple[int, int], need_program: Callable[[str, str], str]
) -> None:
    chromium = need_program("chromium", "chromium")
    with served(tmp_path, "demo", "--hands-on", "--record", str(tmp_path)) as (url, _):
        async with asyncio.timeout(3 * WITHIN_S), page(chromium, tmp_path / "profile") as call:
            await touched(call, size)
            await shown(call, url)
            # WCAG 2.2, success criterion 2.5.8: 24 by 24 CSS pixels; a key is three cells wide.
            wide, high = await cell_px(call)
            assert high >= 24
            assert 3 * wide >= 24
            assert await evaluated(call, f"{VIEWPORT}.overflowY") == "hidden"
            assert await evaluated(call, "document.documentElement.scrollHeight") <= size[1]


def _rgb(colour: str) -> str:
    return "rgb({}, {}, {})".format(*bytes.fromhex(colour.removeprefix("#")))


AROUND = """(() => {
  const page = document.documentElement;
  const at = document.elementsFromPoint(page.clientWidth - 1, page.clientHeight - 1);
  const ground = (each) => getComputedStyle(each).backgroundColor;
  return at.map(ground).find((colour) => colour !== "rgba(0, 0, 0, 0)");
})()"""
"""The colour of the page's last pixel, beyond the last whole cell."""


async def test_the_strip_around_the_cells_has_the_ground_of_the_dashboard(
    tmp_path: Path, need_program: Callable[[str, str], str]
) -> None:
    chromium = need_program("chromium", "chromium")
    with served(tmp_path, "demo", "--hands-on", "--record", str(tmp_path)) as (url, _):
        async with asyncio.timeout(3 * WITHIN_S), page(chromium, tmp_path / "profile") as call:
            await shown(call, url)

            async def around(ground: str) -> None:
                while await evaluated(call, AROUND) != _rgb(ground):  # noqa: ASYNC110
                    await asyncio.sleep(0.1)

            await around(DARK.ground)
            pressed = {"key": "d", "windowsVirtualKeyCode": 68}
            await call("Runtime.evaluate", expression="document.querySelector('textarea').focus()")
            await call("Input.dispatchKeyEvent", type="keyDown", text="d", **pressed)
            await around(LIGHT.ground)
            await shown(call, url)  # a browser that comes later
            await around(LIGHT.ground)


def test_what_cannot_be_served_is_told(tmp_path: Path) -> None:
    for words, told in (
        (["serve"], "live job.toml"),
        (["serve", "verify", "x"], "verify"),
        (["serve", "--port", "99999", "demo"], "65535"),
        (["serve", "live", "none.toml"], "none.toml: cannot be read"),
        (["serve", "replay", "none.session"], "none.session: nothing is there"),
    ):
        done = subprocess.run(
            [sys.executable, "-m", "chargeassist", *words],
            capture_output=True,
            text=True,
            check=False,
            cwd=tmp_path,
            env=dict(os.environ),
        )
        assert done.returncode == 2
        assert told in done.stderr


def test_a_port_that_is_taken_is_told(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        done = subprocess.run(
            [sys.executable, "-m", "chargeassist", "serve", "--port", port, "demo"],
            capture_output=True,
            text=True,
            check=False,
            cwd=tmp_path,
            timeout=WITHIN_S,
        )
    assert done.returncode == 2
    assert "choose another --port" in done.stderr
