"""Where a record has holes: silent channels, lost sources, dropped readings, clocks that jumped."""

from dataclasses import dataclass

from chargeassist.guide.trouble_wording import BOARD, RECORDER, why_held
from chargeassist.model import display
from chargeassist.model.channels import Quality
from chargeassist.model.events import (
    BadInput,
    ChannelDeclared,
    ClockSet,
    Event,
    Gap,
    ProgramHeld,
    Reading,
    SessionResumed,
    SourceBack,
    SourceLost,
)
from chargeassist.model.text import plain

CLOCK_STEP_S = 2.0
"""A device's clock that moves by more than this [s] against ours from one reading to the next was
set; transport delays of a second are usual."""

BATCH_S = 0.5
"""Readings of a channel that arrive within so short a time [s] may have been sent together, the
older ones late; the newest of them says how the device's clock stands."""

STEPS_TOLD = 20
"""So many steps of one device's clock are told, the others are counted."""


@dataclass(slots=True)
class _Silence:
    """A channel's last reading and its holes, all in [s]."""

    max_age_s: float
    last_t: float
    holes: int = 0
    longest_s: float = 0.0
    longest_from_t: float = 0.0

    def hear(self, t: float) -> None:
        """Take the time of the next reading, or of the end."""
        if t - self.last_t > self.max_age_s:
            self.holes += 1
            if t - self.last_t > self.longest_s:
                self.longest_s, self.longest_from_t = t - self.last_t, self.last_t
        self.last_t = max(self.last_t, t)


@dataclass(slots=True)
class _DeviceClock:
    """By how much a device's clock is ahead of ours, in [s].

    Attributes
    ----------
    ahead_s : float or None
        Before what is arriving now; None before the first.
    began_t, newest_t, newest_s : float
        Of what is arriving now: when that began, and its newest reading with what that says.
    steps : int
        How often it was set.
    """

    ahead_s: float | None
    began_t: float
    newest_t: float
    newest_s: float
    steps: int = 0


class Continuity:
    """Follow the events of a record in order; `finish` completes what was not continuous.

    Attributes
    ----------
    gaps, clock_steps : list of str
        One sentence each; a gap is no contradiction, it is what the record itself says.
    """

    def __init__(self) -> None:
        self.gaps: list[str] = []
        self.clock_steps: list[str] = []
        self._set: list[tuple[float, str]] = []
        self._channels: dict[str, _Silence] = {}
        self._clocks: dict[str, _DeviceClock] = {}
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
                self._set.append((event.t, f"the computer's clock was set by {step_s:+.0f} s"))
            case ProgramHeld(held_s=held_s, asleep=asleep):
                why = why_held(asleep=asleep)
                self.gaps.append(f"{display.clock(event.t)}: {why} for {held_s:.0f} s until then")
            case _:
                pass

    def finish(self) -> None:
        """Add what only the end shows."""
        for source, since in self._lost.items():
            self.gaps.append(_lost(source, since, self._last_t) + ", to the end")
        for name, channel in self._channels.items():
            channel.hear(self._last_t)
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
        for name, clock in self._clocks.items():
            self._compare(name, clock)
        self._set.sort(key=lambda one: one[0])
        self.clock_steps += [f"{display.clock(t)}: {text}" for t, text in self._set]
        for name, clock in self._clocks.items():
            if clock.steps > STEPS_TOLD:
                more = clock.steps - STEPS_TOLD
                self.clock_steps.append(f"{name}: the device's clock moved {_times(more)} more")

    def _resumed(self, t: float, away_s: float | None) -> None:
        """Take that the program began anew, its sources too: what is still lost is said again."""
        self.gaps += [_lost(source, since, t) for source, since in self._lost.items()]
        self._lost.clear()
        if away_s is None:
            self._set.append((t, "resumed, and the wall clock contradicts the record"))
        else:
            self.gaps.append(f"{display.clock(t)}: resumed after {away_s:.0f} s away")

    def _reading(self, event: Reading) -> None:
        channel = self._channels.get(event.channel)
        # What a broker remembered, or came long after its time, is no sign of life.
        if channel is None or event.quality is Quality.RETAINED:
            return
        channel.hear(event.t)
        if event.device_time is None:
            return
        ahead_s = event.device_time - event.t
        clock = self._clocks.get(event.channel)
        if clock is None:
            self._clocks[event.channel] = _DeviceClock(None, event.t, event.t, ahead_s)
        elif event.t - clock.began_t > BATCH_S:
            self._compare(event.channel, clock)
            clock.ahead_s, clock.began_t = clock.newest_s, event.t
            clock.newest_t, clock.newest_s = event.t, ahead_s
        elif ahead_s > clock.newest_s:
            clock.newest_t, clock.newest_s = event.t, ahead_s

    def _compare(self, name: str, clock: _DeviceClock) -> None:
        """Tell whether the clock of a device was set before what arrived last."""
        if clock.ahead_s is None or abs(clock.newest_s - clock.ahead_s) <= CLOCK_STEP_S:
            return
        clock.steps += 1
        if clock.steps <= STEPS_TOLD:
            moved = f"{name}: the device's clock moved by {clock.newest_s - clock.ahead_s:+.1f} s"
            self._set.append((clock.newest_t, moved))


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
