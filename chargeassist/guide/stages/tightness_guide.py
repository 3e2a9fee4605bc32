"""Tightness, by probes or by hand: which of the two reads the circuit now."""

from chargeassist.guide.stages.stage import StageStep
from chargeassist.guide.stages.tightness import TightnessByProbes
from chargeassist.guide.stages.tightness_by_hand import TightnessByHand, is_by_hand
from chargeassist.model.events import Mark
from chargeassist.model.job import Job
from chargeassist.stream.facts import Facts


class TightnessGuide:
    """Guides the stage by probes, or by typed readings where there are none.

    Both ways take every mark, so that one can take over from the other.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._probes = TightnessByProbes(job)
        self._hand = TightnessByHand(job)

    def begin(self, t: float) -> None:
        """Nothing begins by itself."""

    def take(self, mark: Mark) -> None:
        """Take one mark."""
        self._probes.take(mark)
        self._hand.take(mark)

    def tick(self, facts: Facts) -> StageStep:
        """Return what to do next, and what the readings say."""
        by_hand = is_by_hand(facts, has_readings=self._hand.has_readings)
        return (self._hand if by_hand else self._probes).tick(facts)
