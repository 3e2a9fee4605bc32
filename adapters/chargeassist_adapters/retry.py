"""How long to wait before trying a lost port or broker again."""

from random import Random

from chargeassist.session.clock import steady_s

LASTS_S = 10.0
"""What breaks earlier after it was made has not come right [s]."""


class Backoff:
    """Delays that double from `first_s` to `ceiling_s`.

    Parameters
    ----------
    first_s, ceiling_s : float
        [s]
    jitter : float
        Share by which a delay is made longer or shorter at random, so that many loggers do not
        all come back to one broker in the same moment.
    random : Random, optional
        Where chance comes from; seeded in tests.
    """

    def __init__(
        self,
        first_s: float = 0.5,
        ceiling_s: float = 5.0,
        *,
        jitter: float = 0.0,
        random: Random | None = None,
    ) -> None:
        self._first_s = first_s
        self._ceiling_s = ceiling_s
        self._jitter = jitter
        self._random = random or Random()
        self._next_s = first_s
        self._made_t: float | None = None

    def next_s(self) -> float:
        """Return the delay before the next try [s] and double the one after it."""
        if self._made_t is not None and not self.broke_soon:
            self.reset()
        self._made_t = None
        delay = self._next_s
        self._next_s = min(2.0 * delay, self._ceiling_s)
        return delay * (1.0 + self._jitter * self._random.uniform(-1.0, 1.0))

    def made(self) -> None:
        """Note that there is a connection: if it lasts, the delays begin anew after it."""
        self._made_t = steady_s()

    @property
    def broke_soon(self) -> bool:
        """Whether a connection was made since the last delay, less than `LASTS_S` ago."""
        return self._made_t is not None and steady_s() - self._made_t < LASTS_S

    def reset(self) -> None:
        """Begin anew: the far end delivered."""
        self._next_s = self._first_s
