"""The whole live computation as one fold: events in, facts and verdicts out.

The processor knows no clock. `take` accepts an input event; `tick` closes the processing period
that ends at `t`. Who calls `tick`, and in which order with the events, decides the verdicts, so
that is done in one place for live and replayed sessions alike: `chargeassist.guide.assistant`.
"""

from dataclasses import replace

from chargeassist.model.channels import Role
from chargeassist.model.events import (
    ChannelDeclared,
    InputEvent,
    Mark,
    MarkKind,
    Reading,
    Settled,
    StepRecorded,
    Unsettled,
)
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.limits import LimitKey
from chargeassist.model.reading_run import ReadingRun
from chargeassist.model.units import Quantity
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.stream.channel_table import ChannelTable
from chargeassist.stream.derived import PAIRED, PARTNER, DerivedValue, Line, Pair, is_off
from chargeassist.stream.entered import TypedNumbers
from chargeassist.stream.facts import Facts, HandFacts, Measured, SettleState, Settling, TargetFacts
from chargeassist.stream.hand_judge import HandJudge
from chargeassist.stream.hold import HoldWatch, RunWatch
from chargeassist.stream.ledger import Ledger
from chargeassist.stream.places import Places
from chargeassist.stream.probe_health import ProbeHealth
from chargeassist.stream.probe_watch import ProbeWatch
from chargeassist.stream.progress import Progress
from chargeassist.stream.settled_level import SettledLevel
from chargeassist.stream.settling import SettlingDetector
from chargeassist.stream.target_watch import TargetWatch
from chargeassist.stream.windows import LARGEST_SI, ChannelWindow, PairedMeans

OUTAGE_RESTARTS_S = 60.0
"""After a longer silence [s] the circuit may have moved unseen: settling starts afresh."""


Verdict = Settled | Unsettled | StepRecorded


class Processor:
    """Folds the input events of one session into facts.

    Parameters
    ----------
    job : Job

    Raises
    ------
    UnknownRefrigerantError
        If the job's refrigerant is not in the table.
    ConfigError
        If the site's altitude is outside the standard atmosphere's range.
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._refrigerant = refrigerant(job.refrigerant)
        self._entered = TypedNumbers.of(job)
        self._places = Places(job, self._entered)
        self._paired_at = self._places.version
        self._hand = HandJudge(job)
        self._listeners: dict[str, tuple[ChannelWindow, ProbeWatch]] = {}
        self._table = ChannelTable((), 0.0)
        self._judged_means = PairedMeans()
        self._judged = job.target.judged
        self._judged_probes = self._places.judged_probes(self._judged)
        self._target = TargetWatch.of(job, self._entered)
        self._subcooling: DerivedValue | None = None
        self._superheat: DerivedValue | None = None
        self._hold = HoldWatch(job.hold, job.limit(LimitKey.RAMP_LONGEST))
        self._ledger = Ledger(job.charge.weighed_in_kg)
        self._detector = SettlingDetector(band_k=job.processing.settled_band_k)
        self._level = SettledLevel(job.target)
        self._fed_t: float | None = None
        self._changed_t = 0.0
        self._pending: list[StepRecorded] = []
        self._disturb_at: float | None = None
        self._clamp_s = job.limit_si(LimitKey.PROBE_SETTLING)
        self._clamped_t = self._seen_to_t = -LARGEST_SI
        self._health = ProbeHealth(job.limit_si(LimitKey.IDLE_CURRENT), self._clamp_s)
        self._running = True
        self._run_watch = RunWatch(job.limit_si(LimitKey.IDLE_CURRENT))
        self._progress = Progress(self._detector, job.processing.minimum_wait_s, self._judged)

    def take(self, event: InputEvent) -> None:
        """Take one input event; what it means shows at the next tick."""
        match event:
            case Reading():
                self.take_reading(event)
            case ChannelDeclared():
                window = self._places.declare(event.channel)
                self._listeners[event.channel.name] = (window, self._health.declare(event.channel))
            case Mark(kind=MarkKind.PROBE_SEEN_TO):
                self._health.acknowledge(event.text)
                seen_to = self._places.window(event.text)
                if seen_to is not None and (role := seen_to.channel.role) in PAIRED:
                    if self._disturb_at is not None:  # a step told of in the same period
                        self._health.disturbed(self._disturb_at)
                    self._disturb_at = self._seen_to_t = event.t  # read with it as it was
                    if role.quantity is Quantity.TEMPERATURE:
                        self._clamped_t = event.t
                    if role in {self._judged.pressure, self._judged.temperature}:
                        self._ledger.probe_changed()
            case Mark():
                self._entered.take(event)
                self._places.typed.take(event)
                self._hold.take(event)
                before = (len(self._ledger.steps), self._ledger.is_open)
                self._pending.extend(self._ledger.take(event))
                if (len(self._ledger.steps), self._ledger.is_open) != before:
                    self._disturb_at = event.t  # an amount said later disturbs nothing

    def take_reading(self, reading: Reading) -> None:
        """Take one reading; of a channel that was not declared it is ignored."""
        listeners = self._listeners.get(reading.channel)
        if listeners is None:
            return
        window, watch = listeners
        if window.take(reading) and self._running:
            watch.take(reading.t, reading.value)
        elif self._running and abs(reading.value) <= LARGEST_SI:
            self._health.take(reading)

    def take_run(self, run: ReadingRun, begin: int, end: int) -> None:
        """Take the readings `begin` to `end` of a run that is plain, as `take_reading` would."""
        running = self._running
        samples = zip(run.times[begin:end], run.values[begin:end], strict=True)
        listeners = map(self._listeners.get, run.channels[begin:end])
        for sample, heard_by in zip(samples, listeners, strict=True):
            if heard_by is not None:
                window, watch = heard_by
                window.last_t, value = sample
                window.samples.append(value)
                if running:
                    watch.waiting.append(sample)

    def run(self, t: float, *, running: bool) -> None:
        """Note that from `t` [s] on the unit runs, or rests.

        While it rests (nitrogen, vacuum, weigh-in) neither subcooling nor the probes are judged.
        """
        if running and not self._running:
            self.restart(t)
            self._run_watch.forget()
        self._running = self._places.running = running

    def tick(self, t: float) -> tuple[Facts, tuple[Verdict, ...]]:
        """Close the period that ends at `t` [s].

        Returns
        -------
        facts : Facts
        verdicts : tuple of Settled, Unsettled and StepRecorded events, with this `t`
        """
        told = self._places.tick(t, self._changed_t)
        if self._places.version != self._paired_at:
            self._pair_up()
        live = self._places.live
        verdicts = self._close_steps(t, live.get(Role.CYLINDER_MASS))
        self._hear_change(t, live.get(Role.COMPRESSOR_FREQUENCY))
        if not self._running:
            return self._rest(t, verdicts)
        subcooling, bubble_k = self._derive(self._subcooling, Role.LIQUID_PRESSURE)
        superheat, dew_k = self._derive(self._superheat, Role.SUCTION_PRESSURE)
        by_subcooling = self._judged is SUBCOOLING
        reading, witness = (subcooling, superheat) if by_subcooling else (superheat, subcooling)
        started = self._run_watch.tick(t, live, known=isinstance(reading, Measured))
        if started and self._hold.facts.held:  # else the hold that is won begins it
            self._disturb_at = t
        if self._run_watch.has_stopped:
            self._hold.stopped()
        self._level.feed_witness(t, witness)
        self._progress.hear(t, witness, live.get(Role.COMPRESSOR_CURRENT))
        blocked = "step_open" if self._ledger.is_open else ""
        if not blocked and not self._hold.facts.held:
            blocked = "hold_missing"
        if not blocked and (started or self._run_watch.stands):
            blocked = "compressor_stands"
        if not blocked and t - self._clamped_t < self._clamp_s:
            blocked = "clamp_settles"
        if not blocked and is_off(reading):
            blocked = "impossible"
        probes = self._judged_probes
        by_hand = level = None
        if probes is None:
            flag = self._feed(t, witness)
            since_s = t - self._changed_t
            if isinstance(reading, NoValue):
                settling = Settling(state=SettleState.NO_SIGNAL, cause="no_signal", since_s=since_s)
            else:
                mean = self._level.level(reading)
                settling = self._progress.settling(t, since_s, mean, flag=flag, blocked=blocked)
        else:
            told = tuple(each for each in told if each[0] >= self._changed_t)
            self._hand.tick(t, told, probes, self._derived, self._places.station_pa_abs)
            settling = self._hand.settling(reading, t - self._changed_t, blocked)
            by_hand, level = self._hand.facts(t, probes), self._hand.level(reading)
        if settling.cause == "clamp_settles":
            settling = replace(settling, held_s=self._clamp_s - (t - self._clamped_t))
        target = self._target.tick(t, live, self._places.by_role, self._places.station_pa_abs)
        if (change := self._follow(t, settling, reading, target, level)) is not None:
            if by_hand is not None and isinstance(change, Settled):
                change = replace(change, by_hand=by_hand.readings)
            verdicts.append(change)
        lines = (subcooling, bubble_k), (superheat, dew_k)
        return self._facts(t, lines, settling, target, by_hand), tuple(verdicts)

    def _close_steps(self, t: float, scale_kg: float | None) -> list[Verdict]:
        """Return the charge steps that marks or the scale completed by `t` [s]."""
        verdicts: list[Verdict] = [replace(step, t=t) for step in self._pending]
        self._pending.clear()
        was_open = self._ledger.is_open
        done = self._ledger.tick(t, scale_kg, heard=self._places.heard(Role.CYLINDER_MASS))
        if done is not None:
            verdicts.append(done)
        if done is not None or self._ledger.is_open != was_open:
            self._disturb_at = t
        return verdicts

    def _hear_change(self, t: float, channel_hz: float | None) -> None:
        """Judge the hold; let settling begin anew where the circuit was changed by `t` [s]."""
        ramped = self._hold.tick(t, channel_hz)
        if ramped:
            self._disturb_at = t
            self._run_watch.forget()
        if self._disturb_at is None:
            return
        if self._disturb_at != self._seen_to_t:  # a probe put right moves no pipe but its own
            self._health.disturbed(self._disturb_at)
        started = ramped or self._disturb_at == self._run_watch.since_t
        self._detector.disturbed(self._disturb_at, start=started)
        self._changed_t, self._disturb_at = self._disturb_at, None
        self._progress.forget()
        self._level.clear()
        self._places.changed(t, self._changed_t)
        self._hand.restart(self._changed_t)

    def describe_channels(self) -> None:
        """Describe the channels of the last facts, so that these may outlive their tick."""
        self._table.describe()

    def _rest(self, t: float, verdicts: list[Verdict]) -> tuple[Facts, tuple[Verdict, ...]]:
        """Close a period in which the unit rests."""
        self._judged_means = PairedMeans()
        at_rest = NoValue("the unit does not run in this stage")
        settling = Settling(cause="at_rest", since_s=t - self._changed_t)
        if (change := self._follow(t, settling, at_rest, None)) is not None:
            verdicts.append(change)
        return self._facts(t, ((at_rest, None),) * 2, settling, None), tuple(verdicts)

    @property
    def steps(self) -> int:
        """Charge steps until now, one that is open or waits for its scale among them."""
        return len(self._ledger.steps) + self._ledger.is_open

    @property
    def hold_expired(self) -> bool:
        """Whether a confirmed hold ended because the unit's test mode ran out."""
        return self._hold.expired

    def restart(self, t: float, unseen_s: float = 0.0) -> None:
        """Begin settling afresh at `t` [s]: nothing is known of the time before.

        Nor whether the unit ran, if nothing was seen of it for long [s].
        """
        self._disturb_at = t
        if unseen_s > OUTAGE_RESTARTS_S:
            self._run_watch.forget()

    def _pair_up(self) -> None:
        """Rebuild the derived values: another channel stands for one of their places."""
        self._paired_at, before = self._places.version, self._derived
        self._judged_means = PairedMeans()
        self._judged_probes = self._places.judged_probes(self._judged)
        self._subcooling = self._pair(Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE)
        self._superheat = self._pair(Role.SUCTION_PRESSURE, Role.SUCTION_TEMPERATURE)
        now = self._derived
        if before is not None and now is not None and now.read_by != before.read_by:
            self._ledger.probe_changed()
            self._hand.restart(self._changed_t)

    def _pair(self, pressure: Role, temperature: Role) -> DerivedValue | None:
        one, other = map(self._places.by_role.get, (pressure, temperature))
        if one is None or other is None:
            return None
        pair = Pair(one.channel, other.channel)
        return DerivedValue(self._refrigerant, pair, *self._places.half_widths())

    @property
    def _derived(self) -> DerivedValue | None:
        """What makes the judged value."""
        return self._subcooling if self._judged is SUBCOOLING else self._superheat

    def _derive(self, value: DerivedValue | None, role: Role) -> Line:
        """Return what a line reads: subcooling or superheat, and its saturation temperature."""
        temp_role, line = PARTNER[role]
        if value is None:
            return NoValue(f"no probes for the {line}"), None
        pressure_pa, temp_k = self._places.live.get(role), self._places.live.get(temp_role)
        if pressure_pa is None:
            return NoValue(f"no signal from {role.label}"), None
        saturation_k = value.saturation_k(pressure_pa, self._places.station_pa_abs)
        known_k = None if isinstance(saturation_k, NoValue) else saturation_k
        if temp_k is None:
            return NoValue(f"no signal from {temp_role.label}"), known_k
        return value.measured_at(saturation_k, pressure_pa, temp_k), known_k

    def _feed(self, t: float, witness: Measured | NoValue) -> bool:
        """Give the detector the next judged value once every input of it is new."""
        pressure = self._places.by_role.get(self._judged.pressure)
        temp = self._places.by_role.get(self._judged.temperature)
        derived = self._derived
        if pressure is None or temp is None or derived is None:
            return False
        if (means := self._judged_means.take(pressure, temp)) is None:
            return self._detector.state == "settled"
        value = derived.value_k(*means, self._places.station_pa_abs)
        if isinstance(value, NoValue) or is_off(value):
            return False
        if self._fed_t is not None and t - self._fed_t > OUTAGE_RESTARTS_S:
            self._detector.disturbed(t)
            self._changed_t = t
            self._level.forget_judged()
        self._fed_t = t
        self._level.feed(t, value)
        # It calls what it judges subcooling; only a valve hunts, and an orifice has no witness.
        values = {"subcooling": value}
        if self._judged is SUBCOOLING and isinstance(witness, Measured):
            values["superheat"] = witness.value_k
        amps = self._places.live.get(Role.COMPRESSOR_CURRENT)
        if amps is not None:
            values["amps"] = amps
        return self._detector.update(t, values)

    def _follow(
        self,
        t: float,
        settling: Settling,
        reading: Measured | NoValue,
        target: TargetFacts | NoValue | None,
        by_hand: Measured | None = None,
    ) -> Settled | Unsettled | None:
        """Keep the settled value, tell the ledger, and return the verdict if it changed."""
        change = self._level.follow(t, settling, reading, target, by_hand)
        settled = self._level.settled
        if settled is not None:
            self._ledger.settled(settled.value_k, teaches=settling.cause == "settled")
        elif isinstance(change, Unsettled) and change.cause != "step_open":
            self._ledger.unsettled(change.cause)
        return change

    def _facts(
        self,
        t: float,
        lines: tuple[Line, Line],
        settling: Settling,
        target: TargetFacts | NoValue | None,
        by_hand: HandFacts | None = None,
    ) -> Facts:
        (subcooling, liquid_saturation_k), (superheat, suction_saturation_k) = lines
        self._table = self._places.table(t)
        return Facts(
            t=t,
            channels=self._table,
            subcooling=subcooling,
            superheat=superheat,
            liquid_saturation_k=liquid_saturation_k,
            suction_saturation_k=suction_saturation_k,
            settling=settling,
            settled=self._level.settled,
            settled_superheat_k=self._level.superheat_k,
            settled_subcooling_k=self._level.subcooling_k,
            judged=self._judged,
            target=target,
            hold=self._hold.facts,
            station_pa_abs=self._places.station_pa_abs,
            step_open=self._ledger.open_step(),
            ledger=self._ledger.steps,
            total_kg=self._ledger.total_kg,
            running_since_t=self._run_watch.since_t,
            values=self._places.gauge_values(),
            findings=self._health.tick(t, superheat) if self._running else (),
            confirmed=self._entered.confirmed,
            waived=self._entered.waived,
            entered=self._entered.newest,
            by_hand=by_hand,
            typed=self._places.typed_live,
            evacuated_t=self._entered.evacuated_t,
        )
