"""The places of the circuit: which probe, or which typed reading, stands for each."""

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import Job
from chargeassist.model.judged import JudgedQuantity
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import Reference
from chargeassist.physics.atmosphere import station_pressure_pa_abs
from chargeassist.stream.channel_table import ChannelTable
from chargeassist.stream.entered import TypedNumbers
from chargeassist.stream.typed_readings import TypedReadings, TypedWindow
from chargeassist.stream.windows import ChannelWindow, slope_every_ticks

LOWEST_STATION_PA, HIGHEST_STATION_PA = 40_000.0, 115_000.0
"""A barometer outside this [Pa] is broken, or reads gauge pressure: the last value stands."""


class Places:
    """Keeps the channels of one session, and what is typed beside them.

    Parameters
    ----------
    job : Job
    entered : TypedNumbers

    Attributes
    ----------
    by_role : mapping of Role to ChannelWindow
        What stands for a place: its probe, or what was typed since that fell silent.
    live : mapping of Role to float
        Live values as their channels count them [SI].
    station_pa_abs : float
        Station pressure [Pa absolute].
    typed : TypedReadings
    running : bool
        Whether the unit runs: while it rests nothing typed stands for a probe.
    version : int
        Changes whenever another channel stands for a place, and with the first barometer reading.
    """

    def __init__(self, job: Job, entered: TypedNumbers) -> None:
        self._entered = entered
        self._windows: dict[str, ChannelWindow] = {}
        self._probes: dict[Role, ChannelWindow] = {}
        self._absolute: tuple[Role, ...] = ()
        self._typed_roles: tuple[Role, ...] = ()
        self._lines: tuple[ChannelWindow, ...] = ()
        self.by_role: dict[Role, ChannelWindow] = {}
        self.live: dict[Role, float] = {}
        self.station_pa_abs = station_pressure_pa_abs(job.site)
        self.typed = TypedReadings(job)
        self._barometer_pa = job.limit_si(LimitKey.BAROMETER_ACCURACY)
        self._contact_k = job.limit_si(LimitKey.PIPE_CONTACT)
        self._slope_every_ticks = slope_every_ticks(job.processing.period_s)
        self._barometer_read = False
        self.running = True
        self.version = 0

    def declare(self, channel: Channel) -> ChannelWindow:
        """Take a channel and return its window; the first of a place stands for it."""
        window = ChannelWindow(channel, len(self._windows), self._slope_every_ticks)
        # A name declared again (a resumed session) replaces its channel, also where it was in use.
        for role, used in list(self._probes.items()):
            if used.channel.name == channel.name:
                del self._probes[role]
        self._windows[channel.name] = window
        self._probes.setdefault(channel.role, window)
        self._use()
        self._line_up()
        return window

    def window(self, name: str) -> ChannelWindow | None:
        """Return the window of a channel."""
        return self._windows.get(name)

    def tick(self, t: float, since_t: float) -> tuple[tuple[float, Role, float], ...]:
        """Close the period that ends at `t` [s] and return what was typed in it.

        Parameters
        ----------
        t : float
        since_t : float
            When the circuit was changed last [s].
        """
        for window in self._windows.values():
            window.tick(t)
        told = self.typed.tick(t, since_t)
        if self.typed.windows:
            self._use()
        self._fill(t)
        return told

    def changed(self, t: float, at_t: float) -> None:
        """Drop, at tick `t`, what was typed before the circuit was changed at `at_t` [s]."""
        if self.typed.windows:
            self.typed.forget_before(at_t)
            self._fill(t)

    def _use(self) -> None:
        used: dict[Role, ChannelWindow] = dict(self._probes)
        typed_roles = []
        if self.running:
            for role, typed in self.typed.windows.items():
                probe = used.get(role)
                if probe is None or (probe.value is None and typed.last_t > probe.last_t):
                    used[role] = typed
                    typed_roles.append(role)
        if used == self.by_role:
            return
        self.by_role, self._typed_roles = used, tuple(typed_roles)
        self.version += 1
        self._absolute = tuple(
            role
            for role, window in used.items()
            if window.channel.counted_from is Reference.ABSOLUTE
        )
        self._line_up()

    def _line_up(self) -> None:
        """Put the channels in the order of their table: probes as declared, then what is typed."""
        typed = (self.by_role[role] for role in self._typed_roles)
        self._lines = (*self._windows.values(), *typed)

    def _fill(self, t: float) -> None:
        """Read what is live, and the station pressure."""
        live = self.live = self._entered.air(t)
        for role, window in self.by_role.items():
            if window.value is not None:
                live[role] = window.value
        station = live.get(Role.BAROMETER)
        if station is not None and LOWEST_STATION_PA <= station <= HIGHEST_STATION_PA:
            self.station_pa_abs = station
            if not self._barometer_read:
                self._barometer_read = True
                self.version += 1  # what is derived is known better from now on

    def heard(self, role: Role) -> bool:
        """Return whether a reading of `role` came in the period that was closed last."""
        window = self.by_role.get(role)
        return window is not None and window.new is not None

    def judged_probes(self, judged: JudgedQuantity) -> dict[Role, ChannelWindow] | None:
        """Return the probes of the judged line; None where no place of it is read by hand."""
        found, by_hand = {}, False
        for role in (judged.pressure, judged.temperature):
            window = self.by_role.get(role)
            if window is None or isinstance(window, TypedWindow):
                by_hand = True
            else:
                found[role] = window
        return found if by_hand else None

    def table(self, t: float) -> ChannelTable:
        """Return the lines of all channels at `t` [s], and of what is typed instead of one."""
        return ChannelTable(self._lines, t)

    @property
    def typed_live(self) -> frozenset[Role]:
        """Places whose live value was typed."""
        if not self._typed_roles:
            return frozenset()
        return frozenset(role for role in self._typed_roles if role in self.live)

    def gauge_values(self) -> dict[Role, float]:
        """Return the live values [SI]; pressures are gauge."""
        if not self._absolute:
            return self.live
        values = dict(self.live)
        for role in self._absolute:
            if role in values:
                values[role] -= self.station_pa_abs
        return values

    def half_widths(self) -> tuple[float, float]:
        """Return the limits, plus or minus, of station pressure [Pa] and clamp contact [K]."""
        window = self.by_role.get(Role.BAROMETER)
        known = window.channel.half_width(self.station_pa_abs) if window is not None else None
        if known is None or not self._barometer_read:
            return self._barometer_pa, self._contact_k
        return known, self._contact_k
