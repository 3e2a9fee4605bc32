"""A drill as a dashboard steers it: what it shows is veiled, what it takes are calls."""

from collections.abc import Callable
from typing import Unpack

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import MarkKind, Outcome, SessionMode
from chargeassist.model.job import Job
from chargeassist.model.mark_event import MarkDetails
from chargeassist.stream.facts import Measured
from chargeassist.trainer.calls import CallKind
from chargeassist.trainer.drill import Drill
from chargeassist.trainer.result import JudgedCall
from chargeassist.trainer.veil import veil


class DrillSession:
    """Offers what a dashboard asks of a session.

    Parameters
    ----------
    drill : Drill
    """

    def __init__(self, drill: Drill) -> None:
        self.drill = drill
        self._called: Measured | None = None

    @property
    def job(self) -> Job:
        """The job being charged."""
        return self.drill.session.job

    @property
    def mode(self) -> SessionMode:
        """Whether readings are measured or simulated."""
        return self.drill.session.mode

    @property
    def replayed(self) -> bool:
        """Whether a recording is drilled."""
        return self.drill.session.replayed

    @property
    def record_path(self) -> str | None:
        """Where the session is being recorded; None when it is not."""
        return self.drill.session.record_path

    @property
    def can_pause(self) -> bool:
        """Whether time can be held."""
        return self.drill.session.can_pause

    @property
    def paused(self) -> bool:
        """Whether time is being held."""
        return self.drill.session.paused

    @property
    def speed(self) -> float | None:
        """Session seconds per second."""
        return self.drill.session.speed

    @property
    def last(self) -> JudgedCall | None:
        """The last call."""
        return self.drill.calls[-1] if self.drill.calls else None

    def toggle_pause(self) -> None:
        """Hold time, or let it go on."""
        self.drill.session.toggle_pause()

    def change_speed(self, change: int) -> None:
        """Take the next faster (1) or slower (-1) pace."""
        self.drill.session.change_speed(change)

    def mark(self, kind: MarkKind, **told: Unpack[MarkDetails]) -> None:
        """Refuse: in a drill calls are made.

        Raises
        ------
        ConfigError
            Always.
        """
        raise ConfigError(f"a drill takes calls, no mark such as {kind.value}")

    def call(self, kind: CallKind, mass_kg: float | None = None, fix: str = "") -> None:
        """Take a call at the present time; see `Drill.call`."""
        self.drill.call(kind, mass_kg, fix)
        last = self.drill.calls[-1]
        if kind is CallKind.SETTLED:
            self._called = None if last.reading_k is None else Measured(value_k=last.reading_k)
        else:
            self._called = None

    async def run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        """Run the drill to its end, showing veiled moments."""
        await self.drill.run(lambda snapshot: on_snapshot(veil(snapshot, self._called)))

    def wait_for_disk(self, tell: Callable[[str], None]) -> None:
        """Let the end of the session wait for a disk that refuses it."""
        self.drill.session.wait_for_disk(tell)

    def give_up(self) -> None:
        """Wait no longer for the disk."""
        self.drill.session.give_up()

    def break_off(self) -> None:
        """Do nothing: `stop` ends a drill, for none is resumed."""

    async def stop(self, outcome: Outcome) -> None:
        """End the drill before its time."""
        await self.drill.session.stop(outcome)
