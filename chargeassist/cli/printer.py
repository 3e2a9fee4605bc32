"""Printing from inside a session or an adapter, where an error of output is nobody's business.

An adapter that hears "broken pipe" takes it for its broker's, and tries again for ever.
"""

from collections.abc import Callable


class Printer:
    """Prints lines until nobody reads them any more.

    Attributes
    ----------
    failure : OSError or None
        Why nothing is printed any more.
    on_failure : callable
        Called once, when that begins.
    """

    def __init__(self) -> None:
        self.failure: OSError | None = None
        self.on_failure: Callable[[], None] = lambda: None

    def __call__(self, text: str) -> None:
        """Print one line; whoever calls this must not raise, so failing is remembered."""
        if self.failure is not None:
            return
        try:
            print(text, flush=True)
        except OSError as error:
            self.failure = error
            self.on_failure()

    def tell_failure(self) -> None:
        """Raise what kept a line from being printed; to be called where it may be raised.

        Raises
        ------
        OSError
            As of `print`.
        """
        if self.failure is not None:
            raise self.failure
