"""The judged line read by hand: which readings count, whether they have settled, what is due."""

import math
from collections.abc import Mapping

from chargeassist.model.channels import Role
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.stream.derived import DerivedValue
from chargeassist.stream.facts import HandFacts, Measured, SettleState, Settling
from chargeassist.stream.progress import MOVING_K_PER_S
from chargeassist.stream.settling_by_hand import HandSettling, HandValue
from chargeassist.stream.settling_witness import LEAVES_K, saturated_below_k
from chargeassist.stream.typed_readings import HandPairs
from chargeassist.stream.windows import ChannelWindow

LEAST_SCATTER_K = 0.02
"""Least scatter assumed of a reading by eye [K], so that the fit has a weight for each (chosen)."""


class HandJudge:
    """Follows the judged line of one session.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        judged = self._judged = job.target.judged
        self._two_phase = False
        self._minimum_wait_s = job.processing.minimum_wait_s
        self._roles = (judged.pressure, judged.temperature)
        self._pace_s = job.limit_si(LimitKey.HAND_PACE)
        self._stands_pace_s = job.limit_si(LimitKey.HAND_PACE_SETTLED)
        self._eye = (job.limit_si(LimitKey.EYE_PRESSURE), job.limit_si(LimitKey.EYE_TEMPERATURE))
        self._pairs = HandPairs(
            *self._roles,
            lasts_s=job.limit_si(LimitKey.HAND_LASTS),
            together_s=job.limit_si(LimitKey.HAND_TOGETHER),
        )
        self._settling = HandSettling(
            job.processing.settled_band_k,
            round(job.limit_si(LimitKey.HAND_READINGS)),
            job.limit_si(LimitKey.HAND_SPAN),
        )
        self._changed_t: float | None = None
        self._newest_counts = True  # the newest whole reading gave a value

    def restart(self, t: float) -> None:
        """Forget every reading: the circuit was changed at `t` [s]."""
        self._pairs.restart()
        self._settling.restart()
        self._changed_t = t
        self._newest_counts = True

    def tick(
        self,
        t: float,
        told: tuple[tuple[float, Role, float], ...],
        probes: Mapping[Role, ChannelWindow],
        derived: DerivedValue | None,
        station_pa_abs: float,
    ) -> None:
        """Take what was typed since the last tick.

        Parameters
        ----------
        t : float
        told : tuple of (float, Role, float)
            Time it was read [s], place, value [SI, pressures gauge].
        probes : mapping of Role to ChannelWindow
            Of the places a probe reads now.
        derived : DerivedValue or None
            Computes the judged value; None until both places have been read.
        station_pa_abs : float
        """
        for role in self._roles:
            probe = probes.get(role)
            if probe is not None and probe.new is not None:
                self._pairs.follow(t, probe.new)
        for read_t, role, value in told:
            if role not in self._roles or role in probes:
                continue
            made = self._pairs.take(read_t, role, value)
            if made is None or derived is None:
                continue
            (at, pressure_pa, temp_k), corrects = made
            found = self._value(at, pressure_pa, temp_k, derived, station_pa_abs, probes)
            if found is None:
                self._newest_counts = corrects and self._newest_counts
            elif corrects and self._newest_counts:
                self._settling.correct(found)
            else:  # also where the slip that is corrected gave no value: it replaced none
                self._settling.add(found)
                self._newest_counts = True

    def _value(
        self,
        t: float,
        pressure_pa: float,
        temp_k: float,
        derived: DerivedValue,
        station_pa_abs: float,
        probes: Mapping[Role, ChannelWindow],
    ) -> HandValue | None:
        """Return the judged value of one reading and the scatter of reading it by eye."""
        half_widths = [
            0.0 if role in probes else eye for role, eye in zip(self._roles, self._eye, strict=True)
        ]
        value = derived.value_k(pressure_pa, temp_k, station_pa_abs)
        other = derived.value_k(pressure_pa + half_widths[0], temp_k, station_pa_abs)
        if isinstance(value, NoValue) or isinstance(other, NoValue):
            return None
        half_width = math.hypot(other - value, half_widths[1])
        return HandValue(t, value, max(half_width / math.sqrt(3.0), LEAST_SCATTER_K))

    def settling(self, reading: Measured | NoValue, since_s: float, blocked: str) -> Settling:
        """Return where settling stands.

        Parameters
        ----------
        reading : Measured or NoValue
            The newest one, while it is not too old.
        since_s : float
            Since the last change [s].
        blocked : str
            Cause that rules a settled reading out; empty for none.
        """
        found, proof = self._settling, self._settling.proof
        state, slope = SettleState.MOVING, None
        if blocked:
            cause = blocked
            if isinstance(reading, NoValue):
                state = SettleState.NO_SIGNAL  # nothing read moves nothing
        elif isinstance(reading, NoValue):
            state, cause = SettleState.NO_SIGNAL, "no_signal"
        elif found.settled and since_s < self._minimum_wait_s:
            state, cause = SettleState.NEARLY, "minimum_wait"
        elif found.settled:
            state, cause = SettleState.SETTLED, "settled"
            if self._is_two_phase(reading):
                state, cause = SettleState.TWO_PHASE, "two_phase"
        elif proof is None:
            cause = "unannounced" if found.unannounced else "by_hand_few"
        else:
            slope = proof.slope_k_per_s
            moves = abs(slope) > MOVING_K_PER_S and abs(proof.remaining_k) > proof.remaining_u_k
            cause = ("rising" if slope > 0.0 else "falling") if moves else "by_hand_scatter"
        return Settling(state=state, cause=cause, slope_k_per_s=slope, since_s=since_s)

    def _is_two_phase(self, reading: Measured) -> bool:
        """Whether a liquid line has settled at saturation, as with probes."""
        level = self.level(reading)
        if level is None or self._judged is not SUBCOOLING:
            return False
        below_k = saturated_below_k(level.expanded_k) + (LEAVES_K if self._two_phase else 0.0)
        self._two_phase = level.value_k < below_k
        return self._two_phase

    def level(self, reading: Measured | NoValue) -> Measured | None:
        """Return the settled value; None while it has not settled."""
        proof = self._settling.proof
        if proof is None or not self._settling.settled or isinstance(reading, NoValue):
            return None
        expanded_k = reading.expanded_k
        return Measured(
            value_k=proof.value_k,
            expanded_k=None if expanded_k is None else proof.combined_k(expanded_k),
        )

    def facts(self, t: float, probes: Mapping[Role, ChannelWindow]) -> HandFacts:
        """Return how the readings stand at `t` [s]."""
        newest_t = self._pairs.newest_t
        if newest_t is not None:
            due_t = newest_t + (self._stands_pace_s if self._settling.settled else self._pace_s)
        elif self._changed_t is not None:
            due_t = self._changed_t + self._pace_s
        else:
            due_t = 0.0
        lacks = self._pairs.lacks(t)
        places = tuple(role for role in self._roles if role not in probes)
        return HandFacts(
            readings=len(self._settling.values),
            least=self._settling.least,
            newest_t=newest_t,
            due_t=due_t,
            places=places,
            wanted=tuple(role for role in places if role in lacks),
        )
