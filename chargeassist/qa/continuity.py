"""Where a record has holes: silent channels, lost sources, dropped readings, clocks that jumped."""

from dataclasses import dataclass

from chargeassist.guide.trouble_wording import BOARD, RECORDER, why_held
from chargeassist.model import display
from chargeassist.model.events import (
    BadInput,
    ChannelDeclared,
    ClockSet,
    Event,
    Gap,
    ProgramHeld,
    Reading,
    SessionResumed,
    SessionStopped,
    SourceBack,
    SourceLost,
)
from chargeassist.model.text import plain

CLOCK_STEP_S = 2.0
"""A device's clock that moves by more than this [s] against ours from one reading to the next was
set; transport delays of a second are usual."""


@dataclass(slots=True)
class _Silence:
    """A channel's last reading and its holes, all in [s]."""

    max_age_s: float
    last_t: float
    holes: int = 0
    longest_s: float = 0.0
    longest_from_t: float = 0.0
    offset_s: float | None = None

    def hear(self, t: float) -> None:
        """Take the time of the next reading, or of the end."""
        if t - self.last_t > self.max_age_s:
            self.holes += 1
            if t - self.last_t > self.longest_s:
                self.longest_s, self.longest_from_t = t - self.last_t, self.last_t
        self.last_t = max(self.last_t, t)


class Continuity:
    """Follow the events of a record in order; `notes` says what was not continuous.

    Attributes
    ----------
    gaps, clock_steps : list of str
        One sentence each; a gap is no contradiction, it is what the record itself says.
    """

    def __init__(self) -> None:
        self.gaps: list[str] = []
        self.clock_steps: list[str] = []
        self._channels: dict[str, _Silence] = {}
        self._lost: dict[str, float] = {}
        self._dropped: dict[str, int] = {}
        self._bad: dict[str, int] = {}
        self._last_t = 0.0

    def see(self, event: Event) -> None:
        """Take the next event."""
        self._last_t = max(self._last_t, event.t)
        match event:
            case Reading():
                self._reading(event)
            case ChannelDeclared(channel=channel):
                self._channels.setdefault(channel.name, _Silence(channel.max_age_s, event.t))
            case Gap():
                self._dropped[event.source] = self._dropped.get(event.source, 0) + event.dropped
            case BadInput():
                self._bad[event.source] = self._bad.get(event.source, 0) + event.count
            case SourceLost():
                self._lost.setdefault(event.source, event.t)
            case SourceBack():
                since = self._lost.pop(event.source, event.t)
                self.gaps.append(_lost(event.source, since, event.t))
            case SessionResumed(away_s=away_s):
                self._resumed(event.t, away_s)
            case ClockSet(step_s=step_s):
                self.clock_steps.append(
                    f"{display.clock(event.t)}: the computer's clock was set by {step_s:+.0f} s"
                )
            case ProgramHeld(held_s=held_s, asleep=asleep):
                why = why_held(asleep=asleep)
                self.gaps.append(f"{display.clock(event.t)}: {why} for {held_s:.0f} s until then")
            case SessionStopped():
                for silence in self._channels.values():
                    silence.hear(event.t)
            case _:
                pass

    def finish(self) -> None:
        """Add what only the end shows."""
        for source, since in self._lost.items():
            self.gaps.append(_lost(source, since, self._last_t) + ", to the end")
        for name, channel in self._channels.items():
            if channel.holes:
                self.gaps.append(
                    f"{name}: silent for more than {channel.max_age_s:g} s "
                    f"{_times(channel.holes)}, longest {channel.longest_s:.0f} s "
                    f"from {display.clock(channel.longest_from_t)}"
                )
        for source, count in self._dropped.items():
            self.gaps.append(f"{plain(source, 60)}: {count} readings were dropped")
        for source, count in self._bad.items():
            self.gaps.append(f"{plain(source, 60)}: {count} inputs could not be read")

    def _resumed(self, t: float, away_s: float | None) -> None:
        """Take that the program began anew, its sources too: what is still lost is said again."""
        self.gaps += [_lost(source, since, t) for source, since in self._lost.items()]
        self._lost.clear()
        if away_s is None:
            text = f"{display.clock(t)}: resumed, and the wall clock contradicts the record"
            self.clock_steps.append(text)
        else:
            self.gaps.append(f"{display.clock(t)}: resumed after {away_s:.0f} s away")

    def _reading(self, event: Reading) -> None:
        channel = self._channels.get(event.channel)
        if channel is None:
            return
        channel.hear(event.t)
        if event.device_time is None:
            return
        offset_s = event.device_time - event.t
        if channel.offset_s is not None and abs(offset_s - channel.offset_s) > CLOCK_STEP_S:
            self.clock_steps.append(
                f"{display.clock(event.t)}: {event.channel}: the device's clock moved by "
                f"{offset_s - channel.offset_s:+.1f} s"
            )
        channel.offset_s = offset_s


def _lost(source: str, since_t: float, until_t: float) -> str:
    if source == RECORDER:
        return (
            f"the disk did not take the record from {display.clock(since_t)} for "
            f"{until_t - since_t:.0f} s; it was kept in memory meanwhile"
        )
    if source == BOARD:
        return (
            f"nobody elsewhere was told from {display.clock(since_t)} for {until_t - since_t:.0f} s"
        )
    return f"{plain(source, 60)}: lost from {display.clock(since_t)} for {until_t - since_t:.0f} s"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
