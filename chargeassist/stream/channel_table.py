"""The channels of one tick, described only when somebody looks at them.

Most ticks of a long record are never looked at, so their channels need not be described. Code that
keeps facts beyond their tick calls `Processor.describe_channels` first.
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
        """Return the lines, made at the first call; after it the windows may be ticked again."""
        if self._rows is None:
            self._rows = tuple(window.facts(self._t) for window in self._windows)
        return self._rows
