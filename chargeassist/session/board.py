"""Boards elsewhere: where a session tells its values and verdicts, and where they are watched.

A board is an adapter, found by the scheme of its address like a source is. It must never hold up
or end a session: it is given the newest state and sends it when it can.
"""

import asyncio
import contextlib
import time
from collections.abc import Awaitable, Callable, Sequence
from importlib.metadata import entry_points
from typing import Protocol

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.trouble_wording import BOARD
from chargeassist.model.errors import ConfigError, SourceError
from chargeassist.model.text import plain, without_credentials
from chargeassist.session.intake import Intake, SourceSink
from chargeassist.session.published import (
    NO_VALUES,
    VALUES,
    VERDICTS,
    values_pack,
    verdicts_pack,
)
from chargeassist.session.source import Clock

GROUP = "chargeassist.boards"
"""Entry-point group of boards, by URL scheme."""

PERIOD_S = 1.0
"""Values are told at most so often [s]."""

FAREWELL_S = 2.0
"""An unreachable board does not hold up the end of a session for longer [s]."""


class Board(Protocol):
    """One address at which packs are told or watched."""

    async def tell(
        self, take: Callable[[bool], "Awaitable[list[Pack]]"], trouble: Callable[[str], None]
    ) -> None:
        """Send what `take` gives until cancelled; what cannot be sent is left out.

        Parameters
        ----------
        take : callable
            Takes whether the connection is new, and returns an awaitable of the next packs.
        trouble : callable
            Told in words why nothing can be sent, and "" when it can.
        """

    async def watch(self, hear: Callable[[str, bytes], None], note: Callable[[str], None]) -> None:
        """Call `hear` with subject and payload of each pack until cancelled.

        Parameters
        ----------
        hear : callable
        note : callable
            Told in words when the connection is made or lost.
        """


Pack = tuple[str, bytes, bool]
"""Subject, payload, and whether it is kept for those who come later."""


def make_board(address: str) -> Board:
    """Return the board at `address`.

    Raises
    ------
    ConfigError, SourceError
        If no adapter offers one for its scheme, or the address cannot be used.
    """
    scheme = address.partition(":")[0]
    points = [point for point in entry_points(group=GROUP) if point.name == scheme]
    if not points:
        known = ", ".join(sorted({f"{point.name}:" for point in entry_points(group=GROUP)}))
        shown = plain(without_credentials(address, 80))
        raise ConfigError(
            f"{shown!r}: expected an address such as mqtt://host/place; known: {known}"
        )
    try:
        cls = points[0].load()
    except (ImportError, AttributeError) as error:
        raise SourceError(f"the board for {scheme!r} cannot be imported: {error}") from error
    board: Board = cls.from_address(address)
    return board


class Teller:
    """Keeps the newest state of a session for a board.

    Parameters
    ----------
    board : Board
    wall : callable, optional
        Unix time [s].
    """

    def __init__(self, board: Board, wall: Callable[[], float] = time.time) -> None:
        self._board = board
        self._wall = wall
        self._newest: Snapshot | None = None
        self._news = asyncio.Event()
        self._all_told = asyncio.Event()
        self._said: tuple[object, ...] = ()
        self._told_at = -PERIOD_S

    def take(self, snapshot: Snapshot) -> None:
        """Note the newest snapshot; never waits."""
        self._newest = snapshot
        self._all_told.clear()
        self._news.set()

    async def run(self, intake: Intake, clock: Clock) -> None:
        """Tell until cancelled; what is wrong with the board is told to `intake`, and ends nothing.

        It is lost and back like a source.
        """
        sink = SourceSink(intake, clock, BOARD, ())

        def trouble(reason: str) -> None:
            if reason:
                sink.lost(reason)
            else:
                sink.back()

        try:
            await self._board.tell(self._next, trouble)
        except Exception as error:  # noqa: BLE001  whatever it is, the session goes on
            sink.lost(f"ended by a program error: {type(error).__name__}: {error}")

    async def told(self) -> None:
        """Wait until the newest state has been sent."""
        await self._all_told.wait()

    async def _next(self, new: bool) -> list[Pack]:  # noqa: FBT001 - as a board calls it
        if new:
            self._said = ()
            if self._newest is not None:
                self._news.set()
        elif not self._news.is_set():
            self._all_told.set()  # whoever asks for more has sent what there was
        await self._news.wait()
        wait_s = self._told_at + PERIOD_S - time.monotonic()
        if wait_s > 0.0:
            await asyncio.sleep(wait_s)
        self._news.clear()
        self._told_at = time.monotonic()
        snapshot = self._newest
        assert snapshot is not None  # noqa: S101 - set before the event
        return self.packs(snapshot)

    def packs(self, snapshot: Snapshot) -> list[Pack]:
        """Return what is to be told of `snapshot`: values there are, verdicts when they changed."""
        now = self._wall()
        values = values_pack(snapshot, now)
        packs: list[Pack] = [(VALUES, values, False)] if values != NO_VALUES else []
        words = (snapshot.advice, snapshot.stage, snapshot.facts.settling.state, snapshot.finished)
        if words != self._said:
            self._said = words
            packs.append((VERDICTS, verdicts_pack(snapshot, now), True))
        return packs


async def say_farewell(tellers: Sequence[Teller], running: Sequence["asyncio.Task[None]"]) -> None:
    """Give boards a moment to tell the end, then let them go."""
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(FAREWELL_S if tellers else 0.0):
            for teller in tellers:
                await teller.told()
    for task in running:
        task.cancel()
    await asyncio.gather(*running, return_exceptions=True)
