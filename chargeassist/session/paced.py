"""The part of a session that steers its time: pause, pace, and rushing ahead."""

from chargeassist.session.clock import SourceClock, other_speed


class Paced:
    """Steers the clock of a source that brings its own time; a live session has none to steer."""

    _source_clock: SourceClock | None

    @property
    def can_pause(self) -> bool:
        """Whether time can be held, and its pace changed."""
        return self._source_clock is not None

    @property
    def paused(self) -> bool:
        """Whether time is being held."""
        return self._source_clock is not None and self._source_clock.paused

    @property
    def speed(self) -> float | None:
        """Session seconds per second; None for as fast as possible."""
        return 1.0 if self._source_clock is None else self._source_clock.speed

    def toggle_pause(self) -> None:
        """Hold time, or let it go on; without effect where `can_pause` is False."""
        if self._source_clock is not None:
            self._source_clock.toggle_pause()

    def change_speed(self, change: int) -> None:
        """Take the next faster (1) or slower (-1) pace; without effect on a live session."""
        if self._source_clock is not None:
            self._source_clock.set_speed(other_speed(self._source_clock.speed, change))

    def rush_to(self, t: float) -> None:
        """Let time run unpaced to `t` [s], paused or not; without effect on a live session."""
        if self._source_clock is not None:
            self._source_clock.rush_to(t)
