"""When typed readings were read: some are typed later, but count from when they were read.

So does a frequency that is confirmed a while after the unit came to it.
"""

from chargeassist.model.entries import believed
from chargeassist.model.events import Mark, MarkKind


class ReadTimes:
    """Keeps when the readings of each kind were taken; one per session."""

    def __init__(self) -> None:
        self._times: dict[str, list[float]] = {}
        self._left_t: float | None = None

    def refusal(self, mark: Mark) -> str:
        """Return why a mark cannot be taken, as one clause; empty where it can.

        A reading from the future was read wrong or timed wrong; one older than the reading of its
        kind before would change what has been judged already.
        """
        if mark.kind is MarkKind.WITHDRAWN and not self._times.get(mark.text):
            return "expected a reading that was typed, and none of this kind is left to withdraw"
        read_t = mark.read_t
        if read_t is None:
            return ""
        if mark.kind not in {MarkKind.ENTERED, MarkKind.FREQUENCY_HELD}:
            return "only a typed reading may have been read earlier than it is told"
        if read_t > mark.t:
            return (
                "expected a reading that has been taken, came one that is to be taken in "
                f"{read_t - mark.t:.0f} s"
            )
        if read_t < 0.0:
            return (
                f"expected a reading since the session began, {mark.t:.0f} s ago, came one "
                f"{mark.t - read_t:.0f} s ago"
            )
        if mark.kind is MarkKind.FREQUENCY_HELD:
            if self._left_t is None or read_t > self._left_t:
                return ""
            left_s, since_s = mark.t - self._left_t, mark.t - read_t
            return (
                f"expected a time since it was told to be no longer held, {left_s:.0f} s ago, came "
                f"{since_s:.0f} s ago"
            )
        times = self._times.get(mark.text)
        before = times[-1] if times else None
        if before is not None and read_t <= before:
            return (
                f"expected a reading after the last one of its kind, {mark.t - before:.0f} s ago, "
                f"came one {mark.t - read_t:.0f} s ago; what was typed stays as it is"
            )
        return ""

    def take(self, mark: Mark) -> bool:
        """Take a mark; return whether it counts."""
        if self.refusal(mark):
            return False
        if mark.kind is MarkKind.ENTERED and believed(mark.text, mark.value_si) is not None:
            self._times.setdefault(mark.text, []).append(mark.seen_t)
        elif mark.kind is MarkKind.FREQUENCY_LEFT:
            self._left_t = mark.t
        elif mark.kind is MarkKind.WITHDRAWN:
            self._times[mark.text].pop()
        return True
