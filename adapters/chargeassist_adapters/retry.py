"""How long to wait before trying a lost port or broker again."""

from random import Random


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

    def next_s(self) -> float:
        """Return the delay before the next try [s] and double the one after it."""
        delay = self._next_s
        self._next_s = min(2.0 * delay, self._ceiling_s)
        return delay * (1.0 + self._jitter * self._random.uniform(-1.0, 1.0))

    def reset(self) -> None:
        """Begin anew: the far end delivered."""
        self._next_s = self._first_s
