"""The settling detector: whether the reading has settled, and if not, how much is still to come.

"Settled" needs proof: given every reading since the last disturbance, the change still to come must
stay inside a small band with high probability, whatever the plant's dynamics. Noise delays the
proof and never advances it.
"""

import math
from collections.abc import Mapping
from typing import Final

from chargeassist.stream.settling_bank import TransientBank
from chargeassist.stream.settling_bins import WITNESS_JUMP_K, BinMean
from chargeassist.stream.settling_hunting import HuntingSearch
from chargeassist.stream.settling_noise import Ripple
from chargeassist.stream.settling_outlook import OutlookNumbers
from chargeassist.stream.settling_shift import WitnessShift
from chargeassist.stream.settling_words import DetectorState, SettlingCause, clause

__all__ = ["DetectorState", "SettlingCause", "SettlingDetector"]

SETTLED_SLOPE_K_PER_S: Final = 0.1 / 60.0
"""Slope of the transient below which it counts as settled [K/s]."""

MARGIN: Final = 0.91
"""Part of the band that the proof uses; the rest is a reserve for shapes the bank lacks [-]."""

CHANCE_TOLD: Final = 0.92
CHANCE_START: Final = 0.965
CHANCE_BLIND: Final = 0.975
"""Probability of being inside the band from which the reading counts as settled [-]: after a
disturbance was announced; before any; and after one that was noticed but not announced."""

CHANCE_OFF: Final = 0.45
"""Probability below which it no longer counts as settled [-]."""

NEARLY: Final = 0.5
"""Probability from which it counts as nearly settled [-]."""

LEAST_AGE_S: Final = 30.0
"""No verdict sooner than this after a disturbance [s]."""

LEAST_RUN_S: Final = 170.0
"""No verdict sooner than this after the first reading [s]: it takes that long to tell valve hunting
from a transient."""

CONFIRM_S: Final = 4.0
"""The proof must hold for this long [s]."""

BIN_S: Final = 4.0
"""Length of the bins in which readings are averaged [s]. With two or three seconds the noise of
neighbouring means is correlated."""

RELEASE_TOLD: Final = 16.0
RELEASE_BLIND: Final = 8.0
"""Log odds from which a change nobody announced begins a new transient [-]: after a disturbance was
announced, and before any."""

RELEASE_AFTER_S: Final = 250.0
"""No such change is accepted sooner after the first reading [s]: hunting that has not been
recognised yet looks the same."""

DOUBT: Final = 3.5
RELIEF: Final = 0.8
DOUBT_S: Final = 8.0
"""Log odds, with those of the witness, above which the verdict is withdrawn for the time being, and
below which it may return [-] after `DOUBT_S` [s]. Only before any announcement."""

LOST_S: Final = 60.0
RESTART_S: Final = 3600.0
"""Silence after which the reading is lost, and after which everything is forgotten [s]."""

START_S: Final = 90.0
MISFIT: Final = 1.35
"""A start that fits no shape after this time [s], by a misfit above `MISFIT` [-], is judged
anew."""

UNLIKELY: Final = 0.1
CERTAIN: Final = 0.995
"""Between these probabilities each reading may change the verdict [-]."""

PLANT_SHARE: Final = 0.3
"""Prior probability that two steps of one job follow the same shape [-]."""


class SettlingDetector(OutlookNumbers):
    """Judges whether the subcooling has settled after a disturbance.

    A pure function of the calls made: no clock, no randomness; the same calls give bit-identical
    answers. One detector lives for a whole job, so that what one charge step teaches about the
    plant sharpens the next.

    Parameters
    ----------
    band_k : float
        Remaining change that still counts as settled [K].
    plant_share : float
        Prior probability that steps of one job follow the same shape; 0 disables learning [-].

    Raises
    ------
    ValueError
        `band_k` is not between 0 and 10 K.

    Examples
    --------
    >>> detector = SettlingDetector()
    >>> any(detector.update(float(t), {"subcooling": 5.0 + 0.02 * (t % 3)}) for t in range(20))
    False
    >>> detector.state
    <DetectorState.MOVING: 'moving'>
    >>> detector.reason
    'too early: 16 s since the last change'
    """

    def __init__(self, *, band_k: float = 0.3, plant_share: float = PLANT_SHARE) -> None:
        if not 0.0 < band_k < 10.0:
            raise ValueError(f"band_k must lie between 0 and 10 K, got {band_k!r}")
        super().__init__(band_k=band_k, slope_k_per_s=SETTLED_SLOPE_K_PER_S)
        self._inside_k = MARGIN * band_k
        self._plant_share = plant_share
        self._told = False
        self._needed = CHANCE_START
        self._restart()

    def _restart(self) -> None:
        self._bank = TransientBank(plant_share=self._plant_share)
        self._bins = BinMean(BIN_S)
        self._witness_bins = BinMean(BIN_S, jump_k=WITNESS_JUMP_K)
        self._hunting = HuntingSearch()
        self._shift = WitnessShift()
        self._settled = self._doubted = False
        self._good_since: float | None = None
        self._chance = 0.0
        self._t = -math.inf
        self._t_value = -math.inf
        self._reopened_t = self._doubt_t = -math.inf
        self._t_first = math.inf
        self._anew_due = math.inf
        self._anew = (-math.inf, -math.inf)

    def update(self, t: float, values: Mapping[str, float]) -> bool:
        """Take the readings of one moment; return whether the subcooling is settled now.

        Parameters
        ----------
        t : float
            Time since the start [s]; a time not after the last one is ignored.
        values : mapping of str to float
            "subcooling" [K] is judged; "superheat" [K] is the witness of valve hunting and of
            changes nobody announced. Either may be missing or NaN; other keys are ignored.

        Returns
        -------
        bool
            True while settled.
        """
        if not self._t < t < math.inf:
            return self._settled
        if t - self._t > RESTART_S:
            self._restart()
        self._t = t
        witness = self._witness_bins.push(t, values.get("superheat"))
        if witness is not None:
            self._hunting.witness.push(witness[0], witness[1])
            if not self._told:
                self._shift.push(witness[0], witness[1], calm=self._chance > NEARLY)
        reading = self._bins.push(t, values.get("subcooling"))
        taken_t = self._bins.last_t
        if taken_t is not None:
            if taken_t - self._t_value > LOST_S:
                self._drop()
            self._t_value = taken_t
        if reading is not None:
            self._judge(reading[0], reading[1], self._bins.white_var / reading[2])
        elif t - self._t_value > LOST_S:
            self._drop()
        return self._settled

    def disturbed(self, t: float, *, start: bool = False) -> None:
        """Take an announced disturbance, such as a charge step.

        The verdict ends at once and the estimate starts over; what was learnt about plant and noise
        stays.

        Parameters
        ----------
        t : float
            Time of the change [s].
        start : bool
            Whether the plant may do anything for a minute, as after a change of frequency. If it
            then fits no shape, the estimate starts over again.
        """
        rest = self._bins.flush()
        bank = self._bank
        if rest is not None:
            bank.step(rest[0], rest[1], self._bins.white_var / rest[2])
        self._told, self._needed = True, CHANCE_TOLD
        self._anew_due = math.inf
        self._doubted = False
        self._drop()
        if bank.t is not None:
            # A late announcement counts from the last reading, an early one from the next.
            onset_t = max(t, bank.t) if math.isfinite(t) else bank.t
            bank.open(onset_t)
            self._hunting.disturbed(onset_t)
            self._chance = bank.chance_inside(self._inside_k)
            if start:
                self._anew_due = bank.onset_t + START_S

    def _drop(self) -> None:
        self._settled, self._good_since = False, None

    def _judge(self, t: float, value: float, white_var: float) -> None:
        bank = self._bank
        if t < self._t_first:
            self._t_first, self._anew_due = t, t + START_S
        self._hunting.own.push(t, value)
        if self._hunting.is_due(t):
            self._look_for_hunting(t)
        bank.step(t, value, white_var)
        if t >= self._anew_due:
            self._begin_anew(t)
        odds, slot = bank.watch(t)
        needed = RELEASE_TOLD if self._told else RELEASE_BLIND
        run_s = t - self._t_first
        if odds > needed and run_s > RELEASE_AFTER_S:
            bank.reopen(slot)
            self._reopened_t = t
            self._needed = CHANCE_TOLD if self._told else CHANCE_BLIND
            self._doubted = False
            self._drop()
        elif not self._told:
            odds += self._shift.odds(t)
            if odds > DOUBT:
                self._doubted, self._doubt_t = True, t
                self._drop()
            elif odds < RELIEF and t - self._doubt_t > DOUBT_S:
                self._doubted = False
        if bank.fresh:
            self._chance = bank.chance_inside(self._inside_k)
            bank.eager = UNLIKELY < self._chance < CERTAIN
        chance = self._chance
        fresh_s = t - max(bank.onset_t, self._reopened_t)
        if fresh_s < LEAST_AGE_S or run_s < LEAST_RUN_S or self._doubted:
            self._drop()
        elif chance >= self._needed:
            if self._good_since is None:
                self._good_since = t
            if t - self._good_since >= CONFIRM_S:
                self._settled = True
        else:
            self._good_since = None
            if chance < CHANCE_OFF:
                self._settled = False
        # Nothing is expected soon and changes are announced, so longer means will do.
        calm = self._told and self._settled and chance > CERTAIN
        self._bins.width_s = (2.0 if calm else 1.0) * BIN_S

    def _begin_anew(self, t: float) -> None:
        """Judge only what comes from now on, if a start has fitted no shape so far."""
        self._anew_due = math.inf
        bank = self._bank
        if bank.misfit > MISFIT:
            since_t = bank.onset_t
            bank.open(t, teach=False, start=True)
            self._anew = (t, since_t)

    def _look_for_hunting(self, t: float) -> None:
        bank, ripple = self._bank, self._bank.ripple
        known_s = None if ripple is None else ripple.period_s
        found = self._hunting.find(t, bank.onset_t, known_s=known_s)
        if found is None:
            if ripple is not None:
                bank.set_ripple(None)
        elif ripple is None:
            bank.set_ripple(Ripple(*found))
        else:
            ripple.period_s, ripple.amplitude_k = found

    @property
    def state(self) -> DetectorState:
        """The state of the reading."""
        match self.cause:
            case SettlingCause.NO_READING | SettlingCause.LOST:
                return DetectorState.WAITING
            case SettlingCause.STEADY:
                return DetectorState.SETTLED
            case SettlingCause.HUNTING | SettlingCause.UNPROVEN if self._chance >= NEARLY:
                return DetectorState.NEARLY
            case _:
                return DetectorState.MOVING

    @property
    def cause(self) -> SettlingCause:
        """The reason for the state."""
        bank = self._bank
        if bank.t is None or self._t - self._t_value > LOST_S:
            return SettlingCause.NO_READING if bank.t is None else SettlingCause.LOST
        if self._settled:
            return SettlingCause.STEADY
        if self.since_s < LEAST_AGE_S:
            return SettlingCause.YOUNG_STEP
        if bank.t - self._reopened_t < LEAST_AGE_S:
            return SettlingCause.UNANNOUNCED
        slope_k_per_min = 60.0 * abs(bank.slope_k_per_s())
        if abs(bank.remaining()[0]) > self.band_k and slope_k_per_min >= 0.05:
            return SettlingCause.MOVING
        if bank.t - self._t_first < LEAST_RUN_S:
            return SettlingCause.YOUNG_RUN
        return SettlingCause.HUNTING if bank.ripple else SettlingCause.UNPROVEN

    @property
    def reason(self) -> str:
        """One clause, in kelvin: why it has not settled yet, or what the verdict rests on."""
        cause, bank = self.cause, self._bank
        now = bank.t or 0.0
        counted_from = {
            SettlingCause.LOST: self._t - self._t_value,
            SettlingCause.YOUNG_RUN: now - self._t_first,
            SettlingCause.YOUNG_STEP: self.since_s,
            SettlingCause.UNANNOUNCED: now - self._reopened_t,
        }
        remaining, sd = bank.remaining()
        return clause(
            cause,
            seconds=counted_from.get(cause, 0.0),
            slope_k_per_s=bank.slope_k_per_s(),
            remaining_k=remaining,
            remaining_sd_k=sd,
            period_s=self.hunting_period_s,
        )

    @property
    def chance_settled(self) -> float:
        """Probability that the change still to come stays inside the proof's band [-]."""
        return self._chance

    @property
    def since_s(self) -> float:
        """Time since the last disturbance, announced or noticed [s]; 0 before any reading."""
        if self._bank.t is None:
            return 0.0
        onset_t, (anew_t, changed_t) = self._bank.onset_t, self._anew
        return max(self._bank.t - (changed_t if onset_t == anew_t else onset_t), 0.0)

    @property
    def remaining_k(self) -> float | None:
        """Change still to come, positive when the reading is going to rise [K]."""
        return None if self._bank.t is None else self._bank.remaining()[0]

    @property
    def remaining_sd_k(self) -> float | None:
        """Standard deviation of the change still to come [K]."""
        return None if self._bank.t is None else self._bank.remaining()[1]

    @property
    def slope_k_per_s(self) -> float | None:
        """Present slope of the transient [K/s]."""
        return None if self._bank.t is None else self._bank.slope_k_per_s()

    @property
    def hunting_period_s(self) -> float | None:
        """Period of the valve's hunting [s]; None when there is none."""
        ripple = self._bank.ripple
        return None if ripple is None else ripple.period_s

    @property
    def learnt_time_s(self) -> float | None:
        """Typical slowest time constant learnt from earlier steps of this job [s]."""
        return self._bank.plant.time_scale_s()

    @property
    def learnt_share(self) -> float:
        """Probability that the next step has the shape that earlier steps taught [-]."""
        return self._bank.plant.share

    @property
    def _seen(self) -> TransientBank | None:
        return None if self._bank.t is None else self._bank
