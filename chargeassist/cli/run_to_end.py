"""A session without a screen: whatever ends the program, everything that came is recorded first."""

import asyncio
import contextlib
import signal
from collections.abc import Callable, Coroutine
from typing import Any

from chargeassist.cli.plain_output import complain
from chargeassist.model.events import Outcome
from chargeassist.session.keeper import UNATTENDED_S
from chargeassist.session.runner import Session

HUNG_UP = 129
"""Exit code where the terminal was closed: the one end that a live session can be resumed after."""

End = Callable[[int, str], None]
"""Ends the session: with an exit code, and the reason that stands in the record."""


class _DiskTalk:
    """Says why a disk refuses the end of a session; the same reason once."""

    def __init__(self) -> None:
        self._said = ""

    def __call__(self, why: str) -> None:
        """Take a reason."""
        if why != self._said:
            self._said = why
            complain(
                f"chargeassist: the end of the record could not be written: {why}. Waiting; "
                "press Ctrl-C again to give up what is not written"
            )


def _nothing(_end: End) -> None:
    pass


def run_to_end(
    session: Session,
    run: Callable[[], Coroutine[Any, Any, None]],
    begin: Callable[[End], None] = _nothing,
) -> int:
    """Run `session` and return the exit code: 0 when it came to its end by itself.

    Parameters
    ----------
    session : Session
    run : callable
        Returns what runs it.
    begin : callable
        Called on the event loop before, with what ends the session early.
    """
    codes: list[int] = []

    def end(code: int, reason: str) -> None:
        codes.append(code)
        if code == HUNG_UP:
            session.break_off()
        else:
            session.end(Outcome.ABANDONED, reason)
        # Nobody may be there any more to free a disk that refuses the end.
        asyncio.get_running_loop().call_later(UNATTENDED_S, session.give_up)

    async def main() -> None:
        loop = asyncio.get_running_loop()
        for name in ("SIGTERM", "SIGHUP"):
            # Not on every system; there the program ends as in a crash, and can be resumed.
            with contextlib.suppress(NotImplementedError, AttributeError):
                number = getattr(signal, name)
                # Whoever had it ignored, as nohup does, wants a session that outlives its terminal.
                if signal.getsignal(number) is not signal.SIG_IGN:
                    loop.add_signal_handler(number, end, 128 + number, "terminated")
        session.wait_for_disk(_DiskTalk())
        begin(end)
        task = asyncio.ensure_future(run())
        try:
            await asyncio.shield(task)
        except asyncio.CancelledError:
            # An interrupt ends the session in order, so that its record is whole.
            session.end(Outcome.ABANDONED, "interrupted")
            # The loop has yet to read that this very signal came; it must not count as the second.
            await asyncio.sleep(0.05)
            # Not on every system; there a second interrupt ends the program at once.
            with contextlib.suppress(NotImplementedError):
                loop.add_signal_handler(signal.SIGINT, session.give_up)
            await task
            raise

    try:
        asyncio.run(main())
    except KeyboardInterrupt:
        return 130
    return codes[0] if codes else 0
