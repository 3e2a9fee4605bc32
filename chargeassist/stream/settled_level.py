"""The settled value: its mean over the last half minute, its witness's, and what is said of it."""

from chargeassist.model.events import Settled, Unsettled
from chargeassist.model.job import Target
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Measured, SettleState, Settling, TargetFacts
from chargeassist.stream.recent import RecentMean
from chargeassist.stream.settling_bins import JUMP_K, WITNESS_JUMP_K

LEVEL_WINDOW_S = 30.0
"""The settled value is the mean over this time [s]."""

PATIENCE = 3
"""A value too far from the mean is taken for a bad contact, unless this many in a row agree."""


class _Level(RecentMean):
    """The mean of the last half minute, without single spikes."""

    def __init__(self, jump_k: float) -> None:
        super().__init__(LEVEL_WINDOW_S)
        self._jump_k = jump_k
        self._refused = 0

    def clear(self) -> None:
        super().clear()
        self._refused = 0

    def add(self, t: float, value: float) -> None:
        mean_k = self.mean()
        if mean_k is not None and abs(value - mean_k) > self._jump_k:
            self._refused += 1
            if self._refused < PATIENCE:
                return
            super().clear()
        self._refused = 0
        super().add(t, value)


class SettledLevel:
    """Keeps the judged value and the one beside it, and the level at which they settled.

    Parameters
    ----------
    target : Target

    Attributes
    ----------
    settled : Measured or None
        None unless settled.
    """

    def __init__(self, target: Target) -> None:
        self._judged = target.judged
        self._moves = target.fixed_k is None
        self._fed = _Level(JUMP_K)
        self._witnesses = _Level(WITNESS_JUMP_K)
        self.settled: Measured | None = None
        self._witness_k: float | None = None

    def clear(self) -> None:
        """Forget the values: something has changed."""
        self._fed.clear()
        self._witnesses.clear()

    def forget_judged(self) -> None:
        """Forget the judged values alone: they had been silent."""
        self._fed.clear()

    def feed(self, t: float, value_k: float) -> None:
        """Take the judged value at `t` [s]."""
        self._fed.add(t, value_k)
        # Of slow probes, with one value in half a minute, a spike that is refused leaves the last.
        self._fed.forget_before(t, keep=1)

    def feed_witness(self, t: float, witness: Measured | NoValue) -> None:
        """Take the value beside it at `t` [s]."""
        if isinstance(witness, Measured):
            self._witnesses.add(t, witness.value_k)
        self._witnesses.forget_before(t)

    def follow(
        self,
        t: float,
        settling: Settling,
        reading: Measured | NoValue,
        target: TargetFacts | NoValue | None,
        by_hand: Measured | None = None,
    ) -> Settled | Unsettled | None:
        """Keep the settled value up to date and return the verdict if it changed.

        Parameters
        ----------
        t, settling, reading, target
            Of this tick.
        by_hand : Measured or None
            The level that readings taken by hand have settled at.
        """
        before = self.settled
        if not settling.stands or isinstance(reading, NoValue):
            self.settled = None
            self._witness_k = None
            return None if before is None else Unsettled(t=t, cause=settling.cause)
        level_k = self._fed.mean() if by_hand is None else by_hand.value_k
        if level_k is None:  # nothing settles without having been fed
            raise AssertionError("settled without a reading")
        self.settled = by_hand or Measured(value_k=level_k, expanded_k=reading.expanded_k)
        # A hunting valve swings the superheat; what counts is where it swings about.
        self._witness_k = self._witnesses.mean()
        if before is not None:
            return None
        moving = target if self._moves and isinstance(target, TargetFacts) else None
        return Settled(
            t=t,
            subcooling_k=self.subcooling_k,
            expanded_k=self.settled.expanded_k,
            superheat_k=self.superheat_k,
            judged=self._judged.method,
            two_phase=settling.state is SettleState.TWO_PHASE,
            target_k=None if moving is None else moving.value_k,
            target_expanded_k=None if moving is None else moving.expanded_k,
        )

    def level(self, reading: Measured) -> Measured:
        """Return the mean of what was lately read, as uncertain as the newest reading."""
        mean_k = self._fed.mean()
        if mean_k is None:
            return reading
        return Measured(value_k=mean_k, expanded_k=reading.expanded_k)

    @property
    def subcooling_k(self) -> float | None:
        """Settled subcooling [K]."""
        return self._judged_k if self._judged is SUBCOOLING else self._witness_k

    @property
    def superheat_k(self) -> float | None:
        """Settled superheat [K]."""
        return self._witness_k if self._judged is SUBCOOLING else self._judged_k

    @property
    def _judged_k(self) -> float | None:
        return None if self.settled is None else self.settled.value_k
