"""Faults as findings: found when they persist, withdrawn when they have gone.

A ranking changes with each settled reading; what the technician is told must not. A fault is found
when two rankings in a row speak against refrigerant. It then stands, also through charge steps and
unsettled times, until two in a row no longer do. Both are verdicts and go into the record.

A job judged by superheat has a fixed orifice, and uses the table of signs for it.
"""

from functools import partial
from typing import Final

from chargeassist.guide.amps_watch import AMPS_GO_WITH, AmpsApart, AmpsWatch
from chargeassist.guide.balance import LossWatch
from chargeassist.guide.contact import ContactWatch
from chargeassist.guide.cure import Cure, Remedy, refrigerant_is_cure
from chargeassist.guide.diagnosis import (
    CHARGING_PRIOR,
    Diagnosis,
    rank,
)
from chargeassist.guide.drift import NEXT_CHECK as DRIFT_CHECK
from chargeassist.guide.drift import SUBCOOLING_LINE, Drift, DriftCause
from chargeassist.guide.evidence import Said
from chargeassist.guide.expectation import amounts_known, excess_explained
from chargeassist.guide.fault_found import (
    NOT_A_FAULT,
    Fault,
    fault_of,
    found_verdict,
    seen,
)
from chargeassist.guide.fault_gone import (
    AT_REST_AGREES,
    EVACUATED,
    OTHER_CAUSE,
    PROBE_SEEN_TO,
    Gone,
    what_it_reads,
)
from chargeassist.guide.fault_terms import NEXT_CHECK, Cause, Feature
from chargeassist.guide.fault_verdicts import HUNTING_CAUSE as HUNTING_CAUSE
from chargeassist.guide.fault_verdicts import drift_verdicts, hunting_verdict
from chargeassist.guide.features import feature_readings
from chargeassist.guide.first_check import to_check
from chargeassist.guide.hunting import Hunting, HuntingWatch
from chargeassist.guide.standing import Standing, StandingWatch
from chargeassist.guide.usual_ranges import UsualRanges
from chargeassist.model.channels import Role
from chargeassist.model.events import FaultJudged, Mark, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.values import NoValue
from chargeassist.physics.standing_check import StandingVerdict
from chargeassist.stream.facts import Facts

DIAGNOSE_EVERY_S: Final = 30.0
"""Time between two rankings while a reading stays settled [s]."""

IN_A_ROW: Final = 2
"""Rankings in a row that find or withdraw a fault."""

GONE_BELOW: Final = 0.5
"""A finding, which begins at `cure.DECIDED_FROM`, ends when all faults together are less likely
than this [1]."""

STANDING_EVIDENCE: Final = {
    True: "pressure at rest above saturation",
    False: "pressure at rest below saturation",
}

_AMOUNTS: Final = frozenset({Feature.CHARGE})
_SWINGS: Final = frozenset(
    {
        Feature.SUPERHEAT,
        Feature.EVAPORATING,
        Feature.COMPRESSION,
        Feature.FEED,
        Feature.CONTACT,
    }
)
"""Readings that swing with a hunting valve, and never have the value a steady valve would give."""

MOVED_EVIDENCE: Final = "pressure at rest stands elsewhere than at the beginning"
MOVED_CHANCE: Final = 0.95
"""Chance that it is the probe: nothing gets into a closed circuit under pressure [1].
Assumption."""

OF_PROBES: Final = frozenset({Cause.PROBE_LOOSE, Cause.ZERO_SHIFTED})


def _roles(facts: Facts, names: set[str]) -> frozenset[Role]:
    """Return the roles of the channels of these names."""
    return frozenset(item.channel.role for item in facts.channels if item.channel.name in names)


class FaultWatch:
    """Finds and withdraws the faults of a session; call `tick` once per tick.

    Parameters
    ----------
    job : Job

    Attributes
    ----------
    diagnosis : Diagnosis or None
        The newest ranking; None while unsettled.
    cure : Cure or None
        Whether refrigerant is the cure; None while unsettled.
    fault : Fault or None
        The fault that stands.
    hunting : Hunting or None
        A valve that hunts.
    drift : Drift or None
        A leak or a creeping zero.
    gone : Gone or None
        The finding that was withdrawn last.
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._standing = StandingWatch(job)
        self._usual = UsualRanges.of(job)
        self._hunting = HuntingWatch()
        self._diagnosed_t: float | None = None
        self._against = 0
        self._gone = 0
        self._first: Cause | None = None
        self._seen_to: set[str] = set()
        self._at_rest: Fault | None = None
        self.diagnosis: Diagnosis | None = None
        self.cure: Cure | None = None
        self.fault: Fault | None = None
        self.hunting: Hunting | None = None
        self._losses = LossWatch(job)
        self._contact = ContactWatch()
        self._amps = AmpsWatch()
        self._probes_seen_to: set[str] = set()
        self.drift: Drift | None = None
        self.gone: Gone | None = None
        self._rest_over = AT_REST_AGREES

    @property
    def ranked_t(self) -> float | None:
        """Time of the newest ranking [s]."""
        return self._diagnosed_t

    @property
    def amps_apart(self) -> AmpsApart | None:
        """Liquid pressure and amps that disagree."""
        return self._amps.found

    @property
    def standing(self) -> Standing | None:
        """The newest standing check that says something."""
        found = self._standing.result
        return found if found is not None and found.decided else None

    def take(self, mark: Mark) -> None:
        """Take a mark of the technician."""
        self._standing.take(mark)
        if mark.kind is MarkKind.PROBE_SEEN_TO:
            self._diagnosed_t = None
            self._against = self._gone = 0
            self._seen_to.add(mark.text)
            self._rest_over = PROBE_SEEN_TO
            self._probes_seen_to.add(mark.text)
        if mark.kind is MarkKind.STAGE_BEGUN and mark.text == Stage.DRYNESS.value:
            # The circuit is evacuated: earlier findings are about another filling.
            self._against = self._gone = 0
            self._standing.forget()
            self._losses.forget()
            self._contact.forget()
            self._amps.forget()
            self._rest_over = EVACUATED

    def forget(self) -> None:
        """Drop the ranking: unsettled, or another stage."""
        self.diagnosis, self.cure, self._diagnosed_t = None, None, None

    def tick(self, facts: Facts) -> tuple[FaultJudged, ...]:
        """Take one tick; return what was found or withdrawn."""
        repaired = self._after_probe(facts) if self._seen_to else ()
        self._standing.tick(facts)
        self._contact.tick(facts)
        self._amps.tick(facts)
        verdicts = self._hunt(facts) + self._drift(facts)
        verdicts += repaired + self._stood(facts.t)
        if facts.settled is None:
            self.forget()
            return verdicts
        if self._diagnosed_t is not None and facts.t - self._diagnosed_t < DIAGNOSE_EVERY_S:
            return verdicts
        if facts.by_hand is not None and self._diagnosed_t is not None:
            # Ranking the same reading twice would be no second opinion.
            newest_t = facts.by_hand.newest_t
            if newest_t is None or newest_t <= self._diagnosed_t:
                return verdicts
        self._diagnosed_t = facts.t
        standing = self.standing
        prior = dict(CHARGING_PRIOR)
        if not amounts_known(self._job, facts):
            # Too much is as likely as too little.
            prior[Cause.OVERCHARGE] = prior[Cause.UNDERCHARGE]
        if standing is not None:
            for cause, likelihood in standing.likelihood().items():
                prior[cause] *= likelihood
        readings = feature_readings(self._job, facts, usual=self._usual)
        contact = self._contact.reading()
        said = Said(readings if contact is None else (*readings, contact))
        ranked = partial(
            rank, said, prior, orifice=facts.judged is not SUBCOOLING, seen_to=self._seen(facts)
        )
        swings = frozenset() if self.hunting is None else _SWINGS
        self.diagnosis = ranked(without=swings)
        # A wrong amount or line set length is a reason to look, but none to refuse refrigerant.
        by_measured = self.diagnosis
        if Feature.CHARGE in said.signs:
            by_measured = ranked(without=swings | _AMOUNTS)
        self.cure = refrigerant_is_cure(by_measured)
        return verdicts + self._follow(facts, self.diagnosis)

    def _seen(self, facts: Facts) -> frozenset[Role]:
        """Return the roles of the probes the technician has seen to."""
        if not self._probes_seen_to:
            return frozenset()
        return _roles(facts, self._probes_seen_to)

    def _after_probe(self, facts: Facts) -> tuple[FaultJudged, ...]:
        """Withdraw the fault of a probe once the technician has seen to one.

        What was found by other probes stays.
        """
        roles = _roles(facts, self._seen_to) or frozenset(Role)  # of no name known: any
        self._seen_to = set()
        self._losses.seen_to(roles)
        if roles & SUBCOOLING_LINE:
            self._contact.forget()
        if roles & AMPS_GO_WITH:
            self._amps.forget()
        known = self.fault
        if known is None or known.cause not in OF_PROBES or known is self._at_rest:
            return ()
        self.fault = None
        return (self._end(known, facts.t, (PROBE_SEEN_TO,)),)

    def _end(
        self, fault: Fault, t: float, why: tuple[str, ...], chance: float | None = None
    ) -> FaultJudged:
        """Withdraw a fault and remember why."""
        cause = fault.cause.value
        self.gone = Gone(t=t, cause=cause, why=why)
        return FaultJudged(t=t, found=False, cause=cause, chance=chance, evidence=why)

    def _stood(self, t: float) -> tuple[FaultJudged, ...]:
        """Find or withdraw what the pressure at rest shows; it outranks every running reading.

        It stands until another check at rest agrees with saturation, the technician has seen to the
        pressure probe, or the circuit is evacuated again.
        """
        standing = self.standing
        moved = None if standing is None else standing.moved
        shifted = moved is not None or (
            standing is not None and standing.check.verdict is StandingVerdict.SHIFTED
        )
        known = self._at_rest
        if shifted is (known is not None):
            return ()
        before = self.fault
        gone: tuple[FaultJudged, ...] = ()
        if before is not None and (known is None or before is known):
            why = OTHER_CAUSE if known is None else self._why_rest_is_over
            gone = (self._end(before, t, (why,)),)
        if standing is None or not shifted:
            self._at_rest = None
            if before is known:
                self.fault = None
            return gone
        offset_pa, shift_k = standing.check.offset_pa, standing.check.subcooling_shift_k
        evidence, chance = STANDING_EVIDENCE[offset_pa > 0.0], standing.shifted_chance
        if moved is not None:
            offset_pa, shift_k = moved.offset_pa, moved.shift_k
            evidence, chance = MOVED_EVIDENCE, MOVED_CHANCE
        high = offset_pa > 0.0 and moved is None
        cause = Cause.NON_CONDENSABLES if high else Cause.ZERO_SHIFTED
        check = NEXT_CHECK[Cause.ZERO_SHIFTED]
        alternatives: tuple[Cause | DriftCause, ...] = (Cause.ZERO_SHIFTED,) if high else ()
        if moved is not None and offset_pa < 0.0:
            # Liquid that boils off through a leak is colder than what is around it.
            alternatives = (DriftCause.LEAK,)
            check += f"; if it is not that: {DRIFT_CHECK[DriftCause.LEAK]}"
        fault = Fault(
            cause=cause,
            alternatives=alternatives,
            chance=chance,
            since_t=t,
        )
        self._at_rest = self.fault = fault
        self._against = self._gone = 0
        return (
            *gone,
            FaultJudged(
                t=t,
                found=True,
                cause=cause.value,
                alternatives=tuple(each.value for each in fault.alternatives),
                chance=fault.chance,
                evidence=(evidence,),
                next_check=check,
                figures={"offset_pa": offset_pa, "shift_k": shift_k},
            ),
        )

    @property
    def _why_rest_is_over(self) -> str:
        return self._rest_over if self._standing.result is None else AT_REST_AGREES

    def _hunt(self, facts: Facts) -> tuple[FaultJudged, ...]:
        if facts.judged is not SUBCOOLING:
            return ()  # a fixed orifice cannot hunt
        before = self.hunting
        target = self._job.target
        low_k = (target.subcooling_k or 0.0) - target.tolerance_k
        now = self.hunting = self._hunting.tick(facts, low_k)
        said = None if now is before else hunting_verdict(before, now, facts.t)
        if said is None:
            return ()
        self._keep_gone(said)
        return (said,)

    def _drift(self, facts: Facts) -> tuple[FaultJudged, ...]:
        """Find or withdraw leaks and creeping zeros."""
        before, unexplained = self.drift, self.fault is None
        now = self.drift = self._losses.tick(facts, unexplained=unexplained)
        said = () if now is before else drift_verdicts(before, now, facts.t)
        for each in said:
            self._keep_gone(each)
        return said

    def _keep_gone(self, said: FaultJudged) -> None:
        if not said.found:
            self.gone = Gone(t=said.t, cause=said.cause, why=said.evidence)

    def _explained(self, facts: Facts) -> bool:
        """Whether the reading is above its target and the weighed amounts explain that."""
        goal = facts.goal(self._job.target)
        if facts.settled is None or isinstance(goal, NoValue) or facts.judged is not SUBCOOLING:
            return False
        return facts.settled.value_k > goal.high_k and excess_explained(self._job, facts)

    def _follow(self, facts: Facts, diagnosis: Diagnosis) -> tuple[FaultJudged, ...]:
        t = facts.t
        if self._at_rest is not None:
            return ()  # what the pressure at rest showed stands
        faults = [item for item in diagnosis.causes if item.cause not in NOT_A_FAULT]
        chance = sum([item.probability for item in faults])
        first = faults[0]
        against = (
            refrigerant_is_cure(diagnosis).remedy is Remedy.FIX
            and first.probability > diagnosis.probability(Cause.IN_ORDER)
            and bool(seen(first))
            and not self._explained(facts)
        )
        self._against = self._against + 1 if against else 0
        self._gone = self._gone + 1 if chance < GONE_BELOW else 0
        known = self.fault
        if known is not None and self._gone >= IN_A_ROW:
            self.fault = None
            return (self._end(known, t, what_it_reads(known.signs, diagnosis), chance),)
        if self._against < IN_A_ROW:
            return ()
        named = to_check(faults)
        again, self._first = self._first is named[0].cause, named[0].cause
        causes = tuple(item.cause for item in named)
        # A known cause that is still possible stays first, unless a clamp is now the likeliest.
        kept = known is not None and known.cause in causes
        kept = kept and not (again and first.cause is Cause.PROBE_LOOSE)
        if known is not None and (kept or known.cause is causes[0]):
            others = (cause for cause in causes if cause is not known.cause)
            self.fault = fault_of(first, (known.cause, *others), chance, known.since_t)
            return ()
        if known is not None and not again:
            return ()  # just after a repair the readings resemble many faults
        self.fault = fault_of(first, causes, chance, t)
        gone: tuple[FaultJudged, ...] = ()
        if known is not None:
            gone = (self._end(known, t, (OTHER_CAUSE,), chance),)
        return (*gone, found_verdict(t, self.fault, named[0] if seen(named[0]) else first))
