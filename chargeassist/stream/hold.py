"""Whether the compressor is held at the frequency the charge is judged at.

The frequency comes from a channel, or the technician reads it off the unit and confirms it. A
channel with a signal outranks a confirmation. A confirmation counts from when it is given, or from
when the technician says that it has been held since. It ends when the technician says so, when the
amps show that the compressor has stopped, when the unit is stopped for another stage (nobody has
seen the frequency since; whoever began that stage by mistake confirms it again, and says since
when), or when the unit's own test mode is known to run out. That mode's clock starts with the ramp,
not at its end: a ramp that was seen counts with its length, an unseen one as the longest it can be.
"""

from collections.abc import Mapping

from chargeassist.model.channels import Role
from chargeassist.model.events import Mark, MarkKind, Stage
from chargeassist.model.job import Hold
from chargeassist.model.limits import Limit
from chargeassist.stream.facts import HoldFacts
from chargeassist.stream.probe_watch import STANDS_HZ

TICKS_OUT_TO_LOSE = 2
"""Periods outside the tolerance before a channel's hold counts as lost: one may be a spike."""

_STOPPED = frozenset({Stage.TIGHTNESS.value, Stage.DRYNESS.value, Stage.WEIGH_IN.value})
"""Stages for which the unit is stopped: the close-out finds it as it ran."""

STOPPED_S = 10.0
"""A compressor that has stood for so long [s] has stopped: less may be a reading that was torn."""

STANDS_S = 30.0
"""A frequency that has not moved for this long [s] is no longer ramping."""


class Ramp:
    """Since when the frequency has been changing.

    Parameters
    ----------
    step_hz : float
        A change of up to this counts as none [Hz].

    Attributes
    ----------
    since_t : float or None
        When it began [s]; None while the frequency stands.
    """

    def __init__(self, step_hz: float) -> None:
        self._step_hz = step_hz
        self._anchor: tuple[float, float] | None = None
        self.since_t: float | None = None

    def tick(self, t: float, channel_hz: float | None) -> None:
        """Follow the frequency [Hz] at `t` [s]."""
        if channel_hz is None:
            self._anchor, self.since_t = None, None
        elif self._anchor is None:
            self._anchor = (t, channel_hz)
        elif abs(channel_hz - self._anchor[1]) > self._step_hz:
            if self.since_t is None:
                self.since_t = t
            self._anchor = (t, channel_hz)
        elif t - self._anchor[0] >= STANDS_S:
            self.since_t = None


def stands_still(frequency_hz: float | None, current_a: float | None, idle_a: float) -> bool:
    """Return whether the compressor stands, by its frequency or, where nothing reads that, by amps.

    Parameters
    ----------
    frequency_hz, current_a : float or None
        As they are read [Hz], [A].
    idle_a : float
        It stands below this current [A].
    """
    if frequency_hz is not None:
        return frequency_hz < STANDS_HZ
    return current_a is not None and current_a < idle_a


class RunWatch:
    """Since when the unit has run as it is judged.

    Parameters
    ----------
    idle_a : float
        The compressor stands below this current [A].

    Attributes
    ----------
    since_t : float or None
        Its first reading, or when the compressor last started [s]; None before, and once it has
        stopped.
    has_stopped : bool
        Whether a run was seen to end by the newest tick.
    """

    def __init__(self, idle_a: float) -> None:
        self._idle_a = idle_a
        self._stood_t: float | None = None
        self.since_t: float | None = None
        self.has_stopped = False

    def forget(self) -> None:
        """Begin anew: the frequency has changed, or the unit has rested."""
        self.since_t = None

    @property
    def stands(self) -> bool:
        """Whether it has stood for so long that it has stopped, or from the beginning."""
        return self._stood_t is not None and self.since_t is None

    def tick(self, t: float, live: Mapping[Role, float], *, known: bool) -> bool:
        """Follow the unit at `t` [s]; `known` if the judged value can be read.

        Returns
        -------
        bool
            Whether it has started by this tick, after it had stopped.
        """
        self.has_stopped = False
        hertz, amps = live.get(Role.COMPRESSOR_FREQUENCY), live.get(Role.COMPRESSOR_CURRENT)
        if stands_still(hertz, amps, self._idle_a):
            self._stood_t = t if self._stood_t is None else self._stood_t
            if t - self._stood_t >= STOPPED_S:
                self.has_stopped, self.since_t = self.since_t is not None, None
            return False
        started, self._stood_t = self.stands, None
        if self.since_t is None and known:
            self.since_t = t
        return started


class HoldWatch:
    """Follows the required frequency; one per session.

    Parameters
    ----------
    hold : Hold
    ramp_longest : Limit, optional
        How long the unit may take to the frequency.
    """

    def __init__(self, hold: Hold, ramp_longest: Limit | None = None) -> None:
        self._hold = hold
        self._ramp_longest_s = 0.0 if ramp_longest is None else ramp_longest.value_si
        self._ramp = Ramp(hold.tolerance_hz)
        self._mode_t: float | None = None
        self._since_t: float | None = None
        self._confirmed_hz: float | None = None
        self._confirmed_t: float | None = None
        self._ticks_out = 0
        self._overtaken = False  # the channel has shown another frequency since the word was given
        self._expired = False
        self.facts = HoldFacts(required_hz=hold.required_hz, held=hold.required_hz is None)

    def take(self, mark: Mark) -> None:
        """Hear what the technician read off the unit."""
        if mark.kind is MarkKind.FREQUENCY_HELD:
            self._confirmed_hz = (
                mark.frequency_hz if mark.frequency_hz is not None else self._hold.required_hz
            )
            self._confirmed_t = mark.seen_t
            self._expired = self._overtaken = False
        elif mark.kind is MarkKind.FREQUENCY_LEFT or (
            mark.kind is MarkKind.STAGE_BEGUN and mark.text in _STOPPED
        ):
            self._confirmed_hz = self._confirmed_t = None
            self._expired = False

    def stopped(self) -> None:
        """Hear that the compressor was seen to stop: nobody has read its frequency since."""
        self._confirmed_hz = self._confirmed_t = None

    @property
    def expired(self) -> bool:
        """Whether a confirmed hold ended because the unit's test mode ran out."""
        return self._expired

    def tick(self, t: float, channel_hz: float | None) -> bool:
        """Judge the hold at `t` [s]; return whether it was lost or won by this tick.

        Parameters
        ----------
        t : float
        channel_hz : float or None
            Frequency by channel [Hz]; None where there is no channel or no signal.
        """
        required = self._hold.required_hz
        if required is None:
            return False
        before = self.facts.held
        self._ramp.tick(t, channel_hz)
        actual: float | None
        if channel_hz is not None:
            actual, told_by = channel_hz, "channel"
            inside = abs(channel_hz - required) <= self._hold.tolerance_hz
            self._ticks_out = 0 if inside else self._ticks_out + 1
            held = inside or (before and self._ticks_out < TICKS_OUT_TO_LOSE)
            self._overtaken = self._ticks_out >= TICKS_OUT_TO_LOSE
            self._expired = self._expired and not held
            if before and not held:  # what was confirmed is over, also once the channel is silent
                self._confirmed_hz = self._confirmed_t = None
        else:
            if self._overtaken:
                self._confirmed_hz = self._confirmed_t = None
            actual = self._confirmed_hz
            told_by = "technician" if actual is not None else ""
            held = actual is not None and abs(actual - required) <= self._hold.tolerance_hz
            if held and self._ran_out(t):
                self._confirmed_hz = None
                self._expired = True
                held = False
        if held and not before:
            # A confirmation counts from when it was given, a channel from when it was seen.
            confirmed = self._confirmed_t if channel_hz is None else None
            self._since_t = confirmed if confirmed is not None else t
            ramp_t = self._ramp.since_t
            self._mode_t = self._since_t if ramp_t is None else min(ramp_t, self._since_t)
        if not held:
            self._since_t = self._mode_t = None
        self.facts = HoldFacts(
            required_hz=required,
            actual_hz=actual,
            held=held,
            since_t=self._since_t,
            expires_s=self._expires_s(t, told_by) if held else None,
            told_by=told_by,
            ramp_s=self._ramp_s(t) if not held else None,
        )
        return held != before

    def _ramp_s(self, t: float) -> float | None:
        return None if self._ramp.since_t is None else t - self._ramp.since_t

    def _ran_out(self, t: float) -> bool:
        lasts, since = self._hold.lasts_s, self._confirmed_t
        if lasts is None or since is None:
            return False
        return t - since >= lasts - self._ramp_longest_s

    def _expires_s(self, t: float, told_by: str) -> float | None:
        if self._hold.lasts_s is None:
            return None
        # The unit's own clock began again when the technician last brought it back, and that as
        # early as the longest ramp before it was read.
        since_t = self._mode_t
        if told_by == "technician" and self._confirmed_t is not None:
            since_t = self._confirmed_t - self._ramp_longest_s
        if since_t is None:
            return None
        return max(0.0, since_t + self._hold.lasts_s - t)
