"""One dashboard process that outlives the browser that shows it."""

import asyncio
import json
import os
import re
import sys
from asyncio.subprocess import PIPE, Process
from collections.abc import Awaitable, Callable, Sequence
from typing import Final

from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

_MODES: Final = re.compile(rb"\x1b\[\?([0-9;]+)[hl]")
_GROUND: Final = re.compile(rb"\x1b\]11;#[0-9A-Fa-f]{6}\x07")
"""What colour is around the cells: OSC 11, as `chargeassist.tui.ground` writes it."""
_FRAME: Final = b"2026"
"""Begins and ends one frame of what is drawn: no mode to be in afterwards."""
_MODES_WITHIN: Final = 4096
"""The terminal's modes, with the hidden cursor, are set in the first bytes of a dashboard."""

ToBrowser = Callable[[bytes], Awaitable[None]]


async def _nobody(_: object = None) -> None:
    """Take what is sent while no browser is there."""


class KeptApp(AppService):
    """A dashboard in a process of its own; browsers attach to it and leave it.

    A tablet that falls asleep or loses its radio must not end a session: what is drawn meanwhile
    goes nowhere, and the next browser gets the whole screen anew.

    Parameters
    ----------
    arguments : sequence of str
        Of ``chargeassist``: ``("live", "job.toml")``.
    """

    def __init__(self, arguments: Sequence[str]) -> None:
        super().__init__(
            "",
            write_bytes=_nobody,
            write_str=_nobody,
            close=_nobody,
            download_manager=DownloadManager(),
        )
        self._arguments = arguments
        self._modes: dict[bytes, bytes] = {}
        self._ground = b""
        self._seen = 0
        self._visit = 0
        self._attaching = asyncio.Lock()
        self._over = False

    @property
    def ended(self) -> bool:
        """Return whether the dashboard has come to its end."""
        return self._over or (self._task is not None and self._task.done())

    async def _open_app_process(self, width: int = 80, height: int = 24) -> Process:
        self._process = await asyncio.create_subprocess_exec(
            *(sys.executable, "-m", "chargeassist", *self._arguments),
            stdin=PIPE,
            stdout=PIPE,
            stderr=PIPE,
            env={**os.environ, **self._build_environment(width, height), "PYTHONUTF8": "1"},
        )
        assert self._process.stdin is not None  # noqa: S101 - asked for just above
        self._stdin = self._process.stdin
        return self._process

    async def on_meta(self, data: bytes) -> None:
        """Note the end, which comes a moment before that of the process."""
        self._over = self._over or json.loads(data).get("type") == "exit"
        await super().on_meta(data)

    async def on_data(self, payload: bytes) -> None:
        """Pass on what is drawn; remember the modes a terminal must be in for it."""
        if self._seen < _MODES_WITHIN:
            self._seen += len(payload)
            self._modes |= {
                found[1]: found[0] for found in _MODES.finditer(payload) if found[1] != _FRAME
            }
        for found in _GROUND.finditer(payload):
            self._ground = found[0]
        try:
            await super().on_data(payload)
        except OSError:
            self.detach(self._visit)

    async def attach(
        self,
        write_bytes: ToBrowser,
        write_str: Callable[[str], Awaitable[None]],
        close: Callable[[], Awaitable[object]],
        size: tuple[int, int],
    ) -> int:
        """Show the dashboard in another browser; the one before is closed.

        Parameters
        ----------
        write_bytes, write_str, close : callables
            Of the browser's socket.
        size : (int, int)
            Columns and rows of its terminal.

        Returns
        -------
        int
            Number of this visit, for `detach`.
        """
        # One after the other: two pages opened at once must not start two sessions.
        async with self._attaching:
            self._visit += 1
            visit = self._visit
            await self.remote_close()
            self.remote_close = close  # type: ignore[assignment]
            if self._task is None:
                self.remote_write_bytes, self.remote_write_str = write_bytes, write_str
                await self.start(*size)
                return visit
            await write_bytes(b"".join([*self._modes.values(), self._ground]))
            self.remote_write_bytes, self.remote_write_str = write_bytes, write_str
            columns, rows = size
            await self.set_terminal_size(columns, rows)
            await self.focus()  # all of the screen is drawn again
            return visit

    def detach(self, visit: int) -> None:
        """Let the browser of that visit go; the dashboard runs on."""
        if visit != self._visit:
            return
        self.remote_write_bytes = self.remote_write_str = self.remote_close = _nobody
