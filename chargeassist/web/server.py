"""``serve``: the dashboard in the browser of a tablet, on this machine's loopback by default.

The page and its socket lie under a key of this run, so that no other page in the browser and no
other program's user can reach them by guessing an address. The link is plain HTTP: on a network
others use, put it behind an encrypted tunnel.
"""

import asyncio
import contextlib
import secrets
import signal
import socket
import string
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from aiohttp import web
from aiohttp.web_runner import GracefulExit
from textual_serve.server import Server, to_int

from chargeassist.web.kept_app import KeptApp

_KEY_LETTERS: Final = "abcdefghjkmnpqrstuvwxyz23456789"
_KEY_LENGTH: Final = 10
_MOST_CELLS: Final = 500
_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; font-src 'self'; "
    "img-src 'self' data:; connect-src 'self' ws: wss:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)


class TabletServer(Server):
    """Serves one dashboard to whichever browser came last.

    Parameters
    ----------
    arguments : sequence of str
        Of ``chargeassist``.
    host : str
    port : int

    Attributes
    ----------
    url : str
        Where the page is, key included.
    """

    def __init__(self, arguments: Sequence[str], host: str, port: int) -> None:
        super().__init__("", host=host, port=port, title="chargeassist")
        self._arguments = tuple(arguments)
        self._key = "".join(secrets.choice(_KEY_LETTERS) for _ in range(_KEY_LENGTH))
        self._app: KeptApp | None = None
        self._again = False
        named = socket.gethostname() if host in {"0.0.0.0", "::"} else host
        shown_host = f"[{named}]" if ":" in named else named
        self.url = f"http://{shown_host}:{port}/{self._key}/"

    def run(self) -> int:
        """Serve until a signal comes.

        Returns
        -------
        int
            128 and the signal's number.

        Raises
        ------
        OSError
            If the address cannot be listened at.
        """
        loop = asyncio.new_event_loop()
        codes: list[int] = []

        def end(number: int) -> None:
            codes.append(128 + number)
            raise GracefulExit

        for number in (signal.SIGINT, signal.SIGTERM):
            with contextlib.suppress(NotImplementedError):  # on Windows Ctrl-C interrupts
                loop.add_signal_handler(number, end, number)
        web.run_app(
            self._make_app(),
            host=self.host,
            port=self.port,
            handle_signals=False,
            loop=loop,
            print=None,
        )
        return codes[0] if codes else 128 + signal.SIGINT

    async def _make_app(self) -> web.Application:
        app = web.Application()
        app.add_routes(
            [
                web.get(f"/{self._key}/", self.page),
                web.get(f"/{self._key}/ws", self.handle_websocket),
                web.static(f"/{self._key}/static", self.statics_path),
            ]
        )
        app.on_shutdown.append(self.on_shutdown)
        return app

    async def on_shutdown(self, app: web.Application) -> None:
        """End the dashboard, and with it its session, in order."""
        if self._app is not None and not self._app.ended:
            await self._app.stop()

    async def page(self, request: web.Request) -> web.Response:
        """Return the page; after the end of a session it says so and starts none by itself."""
        if "again" in request.query:
            self._again = True
            raise web.HTTPSeeOther(f"/{self._key}/")
        ended = self._app is not None and self._app.ended and not self._again
        name = "ended.html" if ended else "dashboard.html"
        text = string.Template((Path(__file__).parent / name).read_text(encoding="utf-8"))
        scheme = "wss" if request.secure else "ws"
        return web.Response(
            text=text.substitute(
                socket=f"{scheme}://{request.host}/{self._key}/ws",
                letters=str(min(48, max(8, to_int(request.query.get("letters", "16"), 16)))),
            ),
            content_type="text/html",
            headers={
                "Content-Security-Policy": _POLICY,
                "Referrer-Policy": "no-referrer",
                "Cache-Control": "no-store",
                "X-Content-Type-Options": "nosniff",
            },
        )

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """Show the dashboard to this browser until it leaves or another one comes."""
        browser = web.WebSocketResponse(heartbeat=15)
        await browser.prepare(request)
        if self._app is not None and self._app.ended and not self._again:
            await browser.close()
            return browser
        if self._app is None or self._app.ended:
            self._app, self._again = KeptApp(self._arguments), False
        app = self._app
        size = _cells(request, "width", 80), _cells(request, "height", 24)
        visit = await app.attach(browser.send_bytes, browser.send_str, browser.close, size)
        try:
            await self._process_messages(browser, app)
        finally:
            app.detach(visit)
        return browser


def _cells(request: web.Request, name: str, usual: int) -> int:
    """Return how many columns or rows of a terminal a browser says it has."""
    return min(_MOST_CELLS, max(1, to_int(request.query.get(name, ""), usual)))
