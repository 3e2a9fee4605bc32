"""The final reading: settled inside its band, and held there, before the job is closed.

One settled moment does not end a charge: the reading has to stand for a while, with the frequency
held and every condition met; superheat, approach and amps are recorded with it. Whatever ends the
instruction to stop (a step, a lost hold, weather, a reading that moves) starts the time again.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from chargeassist.guide.crosscheck import CrossCheck
from chargeassist.guide.stages.stage import NextMark
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, Advice, CheckJudged, CheckResult, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Facts
from chargeassist.stream.typed_readings import hand_accuracy

CHECK = "final_reading"

HELD = frozenset({"final_held", "final_held_but"})
"""Causes of a final reading that stood."""

LEFT_S, HELD_S, UNREAD_S = "hold_left_s", "final_held_s", "final_unread_s"
"""Figures beside the instruction to stop [s]: the time left, the time it has stood once that is
enough, and the same if it still has to be read by hand once more."""

_RESULT = {
    "inside": CheckResult.PASS,
    "inside_not_certain": CheckResult.PASS_NOT_CERTAIN,
    "inside_too_coarse": CheckResult.TOO_COARSE,
    "inside_undeclared": CheckResult.NOT_JUDGED,
    "inside_conditions_open": CheckResult.NOT_JUDGED,
}
"""By the cause of the instruction to stop."""

_CLOSE_OUT = NextMark(
    kind=MarkKind.STAGE_BEGUN, text=Stage.CLOSE_OUT.value, label="begin the close-out"
)


@dataclass(slots=True)
class _Held:
    """The present stretch: since when [s], and the range of values so far [K]."""

    since_t: float
    low_k: float
    high_k: float


class FinalReading:
    """Follows one session.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._limit: Limit | None = job.limit(LimitKey.FINAL_HOLD)
        self._held: _Held | None = None
        self._t = self._read_t = 0.0
        self._said: CheckJudged | None = None

    @property
    def figures(self) -> Mapping[str, float]:
        """Figures beside the instruction to stop [s]; empty while there is none."""
        if self._held is None or self._limit is None:
            return {}
        held_s = self._t - self._held.since_t
        left_s = self._limit.value_si - held_s
        if left_s > 0.0:
            return {LEFT_S: left_s}
        read = self._read_t - self._held.since_t >= self._limit.value_si
        return {HELD_S: held_s} if read else {UNREAD_S: held_s}

    @property
    def stands(self) -> bool:
        """Whether it stands and its time is not over."""
        return LEFT_S in self.figures

    @property
    def unread(self) -> bool:
        """Whether the time is over and only one more reading by hand is missing."""
        return UNREAD_S in self.figures

    @property
    def next_mark(self) -> NextMark | None:
        """The mark that begins the close-out, once the reading has stood long enough."""
        return _CLOSE_OUT if HELD_S in self.figures else None

    def tick(
        self, facts: Facts, advice: Advice, check: CrossCheck | None
    ) -> tuple[CheckJudged, ...]:
        """Follow the hold at one tick of the running unit, and judge it once it is over.

        Parameters
        ----------
        facts : Facts
        advice : Advice
            Of this tick; the time goes on while it says to stop inside the band.
        check : CrossCheck or None
            If the job names an approach.
        """
        self._t = self._read_t = facts.t
        if facts.by_hand is not None:
            # Nobody has looked since the newest reading, so it stood only until then.
            self._read_t = facts.by_hand.newest_t or 0.0
        settled = facts.settled
        if advice.action is not Action.STOP or advice.cause not in _RESULT or settled is None:
            self._held = None
            if self._said is None or self._said.cause not in HELD:
                return ()
            figures = {"after_s": facts.t - self._said.t}
            return self._say(facts.t, CheckResult.NOT_JUDGED, "final_reopened", figures)
        value_k = settled.value_k
        if self._held is None:
            self._held = _Held(since_t=facts.t, low_k=value_k, high_k=value_k)
        held = self._held
        held.low_k, held.high_k = min(held.low_k, value_k), max(held.high_k, value_k)
        if self._limit is None or self._read_t - held.since_t < self._limit.value_si:
            return ()
        return self._judge(facts, advice, check, held, self._limit)

    def left(self, t: float) -> tuple[CheckJudged, ...]:
        """Return that the job is closed at `t` [s] without a final reading, if that is so."""
        held, limit, said = self._held, self._limit, self._said
        self._held = None
        if said is not None and (said.cause in HELD or said.t == t):
            return ()
        figures = {"held_s": 0.0 if held is None else t - held.since_t}
        if limit is not None:
            figures["hold_s"] = limit.value_si
        return self._say(t, CheckResult.NOT_JUDGED, "final_left", figures)

    def _judge(
        self, facts: Facts, advice: Advice, check: CrossCheck | None, held: _Held, limit: Limit
    ) -> tuple[CheckJudged, ...]:
        result, subject = _RESULT[advice.cause], advice.subject
        disagreement = None if check is None else check.disagreement
        if disagreement is not None and result is CheckResult.PASS:
            result = CheckResult.PASS_NOT_CERTAIN
        if disagreement is not None:
            subject = f"the approach says {disagreement[0]}"
        cause = "final_held" if subject == "" else "final_held_but"
        said = self._said
        if said is not None and (said.result, said.cause, said.subject) == (result, cause, subject):
            return ()  # nothing new to say
        figures = {
            "held_s": self._read_t - held.since_t,
            "hold_s": limit.value_si,
            "low_k": held.low_k,
            "high_k": held.high_k,
            **_together(facts, check),
            **{
                name: advice.figures[name]
                for name in ("target_k", "tolerance_k", "floor_k", "expanded_k", "conformance")
                if name in advice.figures
            },
        }
        target = self._job.target
        sources = [limit.citation, target.source, target.tolerance_source]
        if check is not None:
            sources.append(check.source)
        if facts.by_hand is not None:
            figures["by_hand"] = float(facts.by_hand.readings)
            said_by = dict.fromkeys(
                hand_accuracy(self._job, role)[1] for role in facts.by_hand.places
            )
            sources += [f"accuracy of what was read by hand: {each}" for each in said_by if each]
        return self._say(facts.t, result, cause, figures, subject, *sources)

    def _say(
        self,
        t: float,
        result: CheckResult,
        cause: str,
        figures: Mapping[str, float],
        subject: str = "",
        *sources: str,
    ) -> tuple[CheckJudged, ...]:
        self._said = CheckJudged(
            t=t,
            stage=Stage.VERIFICATION,
            check=CHECK,
            result=result,
            cause=cause,
            figures=dict(figures),
            subject=subject,
            sources=tuple(dict.fromkeys(each for each in sources if each)),
        )
        return (self._said,)


def _together(facts: Facts, check: CrossCheck | None) -> dict[str, float]:
    """Return the readings taken together at the end of the time; unknown ones are absent."""
    settled = facts.settled
    judged_k = None if settled is None else settled.value_k
    subcooled = facts.judged is SUBCOOLING
    liquid_k = facts.live(Role.LIQUID_TEMPERATURE)
    outdoor_k = facts.live(Role.OUTDOOR_AIR_TEMPERATURE)
    approach_k = None if liquid_k is None or outdoor_k is None else liquid_k - outdoor_k
    if check is not None and not isinstance(check.approach, NoValue):
        approach_k = check.approach.value_k
    typed = facts.entered.get(Entry.CURRENT)
    amps_a = facts.live(Role.COMPRESSOR_CURRENT)
    found = {
        "subcooling_k": judged_k if subcooled else facts.settled_witness_k,
        "superheat_k": facts.settled_witness_k if subcooled else judged_k,
        "approach_k": approach_k,
        "amps_a": typed.value_si if amps_a is None and typed is not None else amps_a,
        "frequency_hz": facts.hold.actual_hz,
    }
    return {name: value for name, value in found.items() if value is not None}
