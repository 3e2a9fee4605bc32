"""Compare the verdicts of a replay with those the record holds, bit for bit."""

from pathlib import Path

from chargeassist.model import display
from chargeassist.model.events import Event, VerdictEvent
from chargeassist.session.codec import encode_event
from chargeassist.session.package import open_record


class VerdictComparison:
    """A listener for a replayed session that remembers its verdicts and compares.

    Parameters
    ----------
    path : Path
        The record that is replayed.

    Raises
    ------
    RecordError
        If it cannot be read.
    """

    def __init__(self, path: Path) -> None:
        with open_record(path) as record:
            self.job = record.job
            self._recorded = [
                _line(event) for event in record.events() if isinstance(event, VerdictEvent)
            ]
        self._replayed: list[str] = []

    def __call__(self, event: Event) -> None:
        """Remember a verdict."""
        if isinstance(event, VerdictEvent):
            self._replayed.append(_line(event))

    @property
    def compared(self) -> int:
        """How many verdicts the longer of the two sides holds."""
        return max(len(self._recorded), len(self._replayed))

    def differences(self) -> tuple[str, ...]:
        """Return a line for each place where the two sides differ; empty when they agree."""
        missing = "nothing"
        pairs = [
            (
                self._recorded[i] if i < len(self._recorded) else missing,
                self._replayed[i] if i < len(self._replayed) else missing,
            )
            for i in range(self.compared)
        ]
        return tuple(
            f"verdict {number}: recorded {recorded}, replayed {replayed}"
            for number, (recorded, replayed) in enumerate(pairs, start=1)
            if recorded != replayed
        )


def _line(event: Event) -> str:
    kind, body = encode_event(event)
    return f"{display.clock(event.t)} (t={event.t!r}) {kind} {body}"
