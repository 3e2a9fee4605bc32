"""The numbers the technician typed."""

from collections.abc import Mapping

from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.stream.facts import Entered


class TypedNumbers:
    """Keeps the newest of each; one per session."""

    def __init__(self) -> None:
        self.newest: Mapping[Entry, Entered] = {}

    def take(self, mark: Mark) -> None:
        """Take a number; one that is not believed leaves what was known.

        Each makes a new mapping, for the facts of earlier ticks keep what they knew.
        """
        value_si = mark.value_si
        if mark.kind is not MarkKind.ENTERED or value_si is None:
            return
        entry = believed(mark.text, value_si)
        if entry is not None:
            self.newest = {**self.newest, entry: Entered(value_si=value_si, t=mark.t)}
