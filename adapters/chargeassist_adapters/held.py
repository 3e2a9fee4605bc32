"""Whether the program was held up (asleep, stopped, starved): what waits then has no true time.

A port or a socket keeps what came meanwhile, seconds or hours of it, and all of it would be stamped
with the moment of waking. It is let go and counted instead.
"""

import asyncio

from chargeassist.session.clock import steady_s
from chargeassist.session.time_watch import HELD_S

BEAT_S = 0.5


class HeldWatch:
    """Says, when asked regularly, whether too much time has passed since it was last asked."""

    def __init__(self) -> None:
        self._last = steady_s()
        self._held = False

    @property
    def was_held(self) -> bool:
        """Whether the program was held up at any time so far, or is only now waking."""
        return self._held or steady_s() - self._last > HELD_S

    def look(self) -> bool:
        """Return whether the program was held up since the last look."""
        now = steady_s()
        held = now - self._last > HELD_S
        self._last = now
        self._held = self._held or held
        return held

    async def keep_looking(self) -> None:
        """Look until cancelled."""
        while True:
            await asyncio.sleep(BEAT_S)
            self.look()
