"""Readings of the running circuit taken by hand: gauges and thermometers read off and typed.

Each stands in for the probe of its place: it has a channel of source "typed", with the accuracy the
job declares for its instruments, and feeds the same subcooling, superheat, guards and diagnosis.
What differs is time: a value typed once a minute is no stream, so that settling is proven from
whole readings (`chargeassist.stream.settling_by_hand`), and nothing read before a change counts
after it.
"""

import math
from collections import deque
from collections.abc import Mapping
from typing import Final

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import duration
from chargeassist.model.entries import RUNNING_ROLES, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import Quantity, Reference
from chargeassist.stream.facts import ChannelFacts, ChannelState
from chargeassist.stream.windows import ChannelWindow

TYPED_SOURCE: Final = "typed"
"""Source of the channels that stand for what is typed."""

CORRECTS_S: Final = 15.0
"""The same instrument typed again so soon [s] corrects what was typed before: as long as it takes
to see a slip on the screen and type it again (chosen; no limit of the work)."""


class TypedWindow(ChannelWindow):
    """The live state of one place read by hand: its readings are minutes apart and may leap."""

    def __init__(self, channel: Channel) -> None:
        super().__init__(channel)
        self._leap = math.inf

    def forget_before(self, t: float) -> None:
        """Drop what was read before `t` [s]."""
        if self.last_t < t:
            self.samples.clear()
            self._mean = self.value = None

    def facts(self, t: float) -> ChannelFacts:
        """Return the channel's line: by hand, or what became of the last reading."""
        age = None if self.last_t == -math.inf else max(0.0, t - self.last_t)
        if self.value is None:
            why = "not read yet"
            if age is not None:
                why = f"read {duration(max(age, 1.0))} ago: read again"
            return ChannelFacts(channel=self.channel, age_s=age, why=why)
        return ChannelFacts(
            channel=self.channel, value_si=self.value, age_s=age, state=ChannelState.BY_HAND, why=""
        )


class TypedReadings:
    """Keeps what is typed of the running circuit; one per session.

    Parameters
    ----------
    job : Job

    Attributes
    ----------
    windows : mapping of Role to TypedWindow
        Of the places that were read by hand so far.
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self.windows: dict[Role, TypedWindow] = {}
        self._told: list[tuple[float, Role, float]] = []

    def take(self, mark: Mark) -> None:
        """Keep a typed number until the next tick."""
        if mark.kind is not MarkKind.ENTERED or mark.value_si is None:
            return
        entry = believed(mark.text, mark.value_si)
        role = None if entry is None else RUNNING_ROLES.get(entry)
        if role is not None:
            self._told.append((mark.seen_t, role, mark.value_si))

    def tick(self, t: float, since_t: float) -> tuple[tuple[float, Role, float], ...]:
        """Close the period that ends at `t` [s].

        Parameters
        ----------
        t : float
        since_t : float
            When the circuit was changed last [s]: what was read before says nothing of now.

        Returns
        -------
        tuple of (float, Role, float)
            What was typed since the last tick and counts: when it was read [s], where, and
            the value [SI], pressures gauge.
        """
        if not self._told and not self.windows:
            return ()
        told = tuple(each for each in self._told if each[0] >= since_t)
        self._told.clear()
        for read_t, role, value in told:
            if role not in self.windows:
                self.windows[role] = TypedWindow(typed_channel(self._job, role))
            window = self.windows[role]
            window.forget_before(math.inf)  # two typed at once are no mean: the later one counts
            window.take_live(read_t, value)
        for window in self.windows.values():
            window.tick(t)
        return told

    def forget_before(self, t: float) -> None:
        """Drop what was read before the circuit was changed at `t` [s]."""
        for window in self.windows.values():
            window.forget_before(t)


def typed_channel(job: Job, role: Role) -> Channel:
    """Return the channel that stands for what is read by hand in a place."""
    pressure = role.quantity is Quantity.PRESSURE
    accuracy, _ = hand_accuracy(job, role)
    return Channel(
        name=f"typed_{role.value}",
        role=role,
        unit="Pa" if pressure else "K",
        reference=Reference.GAUGE if pressure else None,
        accuracy=accuracy,
        max_age_s=job.limit_si(LimitKey.HAND_LASTS),
        source=TYPED_SOURCE,
    )


def hand_accuracy(job: Job, role: Role) -> tuple[Accuracy | None, str]:
    """Return how far an instrument read by hand can be trusted, and who says so.

    The job's own instruments come first, then what the job's profile demands of such instruments;
    without either nothing is assumed.
    """
    plan = job.stages.charging
    declared: Mapping[Role, Accuracy | None] = {
        Role.LIQUID_PRESSURE: plan.gauge_accuracy,
        Role.SUCTION_PRESSURE: plan.suction_gauge_accuracy,
    }
    own = declared.get(role, plan.thermometer_accuracy)
    if own is not None:
        return own, plan.source or "job file"
    limit = job.limit(_DEMANDED.get(role, LimitKey.TEMP_ACCURACY))
    if limit is None:
        return None, ""
    return Accuracy(absolute_si=limit.value_si), f"as demanded of instruments: {limit.citation}"


_DEMANDED: Final = {
    Role.LIQUID_PRESSURE: LimitKey.LIQUID_PRESSURE_ACCURACY,
    Role.SUCTION_PRESSURE: LimitKey.SUCTION_PRESSURE_ACCURACY,
}


class HandPairs:
    """Puts pressure and temperature of the judged line together, reading by reading.

    Parameters
    ----------
    pressure, temperature : Role
    lasts_s, together_s : float
        How long a reading counts, and how far apart both of one reading may be read [s].
    """

    def __init__(
        self, pressure: Role, temperature: Role, *, lasts_s: float, together_s: float
    ) -> None:
        self.roles = (pressure, temperature)
        self._together_s = together_s
        self._open: dict[Role, tuple[float, float]] = {}
        self._last: dict[Role, tuple[float, float]] = {}
        self._kept_s = 2.0 * lasts_s
        self._probe: deque[tuple[float, float]] = deque()

    def restart(self) -> None:
        """Forget what was read: something has changed."""
        self._open.clear()
        self._last.clear()
        self._probe.clear()

    @property
    def newest_t(self) -> float | None:
        """When the newest whole reading was taken [s]."""
        return max(t for t, _ in self._last.values()) if self._last else None

    def lacks(self, t: float) -> frozenset[Role]:
        """Return what a reading at `t` [s] still needs, of what is typed."""
        return frozenset(
            role
            for role in self.roles
            if role not in self._open or t - self._open[role][0] > self._together_s
        )

    def follow(self, t: float, value: float) -> None:
        """Take what the probe of the other place reads at `t` [s], where there is one."""
        probe = self._probe
        probe.append((t, value))
        while probe[0][0] < t - self._kept_s:
            probe.popleft()

    def take(
        self, t: float, role: Role, value: float
    ) -> tuple[tuple[float, float, float], bool] | None:
        """Take what was read at `t` [s]; return the whole reading it makes, if it does.

        Returns
        -------
        (float, float, float), bool
            Time [s], pressure [Pa gauge] and temperature [K]; whether that corrects the last.
        """
        before = self._last.get(role)
        if before is not None and 0.0 <= t - before[0] <= CORRECTS_S and role not in self._open:
            self._last[role] = (before[0], value)
            return self._whole(), True
        self._open[role] = (t, value)
        other = self.roles[1] if role is self.roles[0] else self.roles[0]
        if self._probe:
            near = min(self._probe, key=lambda each: abs(each[0] - t))
            if abs(near[0] - t) <= CORRECTS_S:
                self._open[other] = (t, near[1])
        partner = self._open.get(other)
        if partner is None or abs(partner[0] - t) > self._together_s:
            return None
        self._last = dict(self._open)
        self._open = {}
        return self._whole(), False

    def _whole(self) -> tuple[float, float, float]:
        (t_one, pressure), (t_other, temp) = (self._last[role] for role in self.roles)
        return 0.5 * (t_one + t_other), pressure, temp
