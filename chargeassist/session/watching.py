"""What a watcher knows of a session elsewhere, put together from the packs it hears. Pure."""

from dataclasses import dataclass, field

from chargeassist.model.errors import PublishedError
from chargeassist.session.published import VALUES, VERDICTS, read_pack

STALE_S = 5.0
"""Values that have not come anew for longer are old [s]."""

DERIVED = frozenset(
    {
        "subcooling", "subcooling/expanded", "superheat", "superheat/expanded",
        "target/low", "target/high", "settling/seconds",
    }
)  # fmt: skip
"""Names that are no channel."""


@dataclass(slots=True)
class Watched:
    """The newest of each.

    Attributes
    ----------
    values : dict of str to (float, str)
        Number and SenML unit by name; those of the newest pack alone.
    words : dict of str to str
    heard_at : float or None
        When values last came, on the watcher's own clock [s].
    connection : str
        What was last said of the connection.
    not_read : int
        Packs that could not be read.
    running : bool
        Whether the session was heard before it ended: what a broker keeps may be an old end.
    """

    values: dict[str, tuple[float, str]] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)
    heard_at: float | None = None
    connection: str = "connecting"
    not_read: int = 0
    running: bool = False

    def hear(self, subject: str, payload: bytes, now: float) -> bool:
        """Take a pack in; return whether it said something new of the verdicts.

        Parameters
        ----------
        subject : str
            "values" or "verdicts"; others are passed over.
        payload : bytes
        now : float
            The watcher's clock [s].
        """
        if subject not in {VALUES, VERDICTS}:
            return False
        try:
            told = read_pack(payload)
        except PublishedError:
            self.not_read += 1
            return False
        if subject == VALUES:
            self.values, self.heard_at = dict(told.values), now
            self.running = True
            return False
        changed = dict(told.words) != self.words
        self.words = dict(told.words)
        self.running |= not self.ended
        return changed

    @property
    def ended(self) -> bool:
        """Return whether the session said that it has ended."""
        return self.words.get("ended") == "yes"

    def silent_s(self, now: float) -> float | None:
        """Return for how long nothing came, where that is too long and the session goes on."""
        if self.ended or self.heard_at is None or now - self.heard_at <= STALE_S:
            return None
        return now - self.heard_at
