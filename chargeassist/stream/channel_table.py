"""The channels of one tick as a sequence that is made when it is first looked at.

Most ticks of a long record are looked at by nobody: their channels need not be described. Whoever
keeps facts beyond their tick has them described first (`Processor.describe_channels`).
"""

from collections.abc import Sequence
from typing import overload

from chargeassist.stream.facts import ChannelFacts
from chargeassist.stream.windows import ChannelWindow


class ChannelTable(Sequence[ChannelFacts]):
    """A line per channel at one tick.

    Parameters
    ----------
    windows : tuple of ChannelWindow
        Not ticked again before the lines are described.
    t : float
        Of the tick [s].
    """

    __slots__ = ("_rows", "_t", "_windows")

    def __init__(self, windows: tuple[ChannelWindow, ...], t: float) -> None:
        self._windows = windows
        self._t = t
        self._rows: tuple[ChannelFacts, ...] | None = None

    @overload
    def __getitem__(self, index: int) -> ChannelFacts: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[ChannelFacts, ...]: ...

    def __getitem__(self, index: int | slice) -> ChannelFacts | tuple[ChannelFacts, ...]:
        """Return one line, or several."""
        return self.describe()[index]

    def __len__(self) -> int:
        """Return how many channels there are."""
        return len(self._windows)

    def __eq__(self, other: object) -> bool:
        """Return whether the same lines stand in the same order."""
        return isinstance(other, Sequence) and self.describe() == tuple(other)

    def __hash__(self) -> int:
        """Return a hash over the lines."""
        return hash(self.describe())

    def __repr__(self) -> str:
        return f"ChannelTable({self.describe()!r})"

    def describe(self) -> tuple[ChannelFacts, ...]:
        """Make the lines, once, and return them; from then on the windows may be ticked."""
        if self._rows is None:
            self._rows = tuple(window.facts(self._t) for window in self._windows)
        return self._rows
