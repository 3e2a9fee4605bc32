"""The rule by which a drill is scored; ours, and meant to be explained in five minutes.

Everybody begins with 100 points. Points are lost for what would have cost something on a real job,
never for being slower or bolder than the tool:

early
    "Settled" called while the value was still more than the settled band from where it came to
    rest: 1 point for each 10 s too early, 10 at most a call. It is a habit, so it costs even where
    nothing came of it.
value
    The value on the screen when "settled" was called was further than the settled band and the
    job's tolerance together from where it came to rest: 5 points. Who goes by it doses by a wrong
    number, whether the call was early or a probe was wrong.
too soon
    Refrigerant was added or recovered before the last change had settled: 10 points a step. The
    gain of both steps is then unknown, and the next dose is a guess.
too much
    More was added at once than the job allows, by more than its scale can show: 10 points a step.
    It costs even where it happened to end well, for nothing could have stopped it.
waiting
    More than 120 s after the value had settled nothing was called: 1 point for each 30 s over, 10
    at most a stretch. To prove that a value is settled takes a minute or two; more is the
    customer's time. Where the tool itself needed longer, its "settled" is what is counted from;
    where it had said nothing either, nothing is counted.
overshoot
    With the most charge it held after something was added, the machine comes to rest beyond the
    tolerance: 20 points and 1 for each 0.1 K beyond, 40 at most, once. What is too much must be
    recovered. If the high-pressure switch opens it is 40. What a fault does that came after the
    last charge step, or another frequency, is nobody's overshoot.
wrong cure
    Refrigerant was added or recovered while something else was wrong that no cylinder cures, or
    something was "fixed" that was in order, or a fault was never called: 30 points, once. Another
    fault was named than the one there was: 15, for the direction was right. Of several the dearest
    counts. Adding, recovering and
    leaving a fault uncalled cost so much only where the tool, with the same readings and the
    patience they need, says "fix first"; else it has not been shown that anybody could know.
    A fault that the tool does not find either, and whose readings at the end lie outside the range
    of any sound unit by more than their uncertainty, in the direction of that fault: 10 if it was
    never called. The ranges are what everybody can look up, so who calls it is better than the tool
    and keeps the points. A fault that moves no reading out of its range costs nothing: a head
    pressure a little up might be this unit's own, and a wrong zero shows in no running machine.
end
    The drill ended without "stop" or a "fix" that ends it, or "stop" was called outside the
    tolerance (of a machine that swings its middle counts), or while the machine stands: 20 points.

Nobody is asked to see more than shows: what the tool, with the same readings, had called settled
by then is neither early nor too soon, though the machine may have moved on by a little.

What happens to the machine by itself (a fault, another frequency, a defrost) counts from 10 s after
its begin: before that no screen shows it. What has gone by itself may be called for as long. A
fault that grows counts from 10 s after half of it is there; it may be called from its begin. Of a
valve that hunts the middle of the swings is what settles, and what is charged. A zero that was off
before the drill began shows nowhere in a running machine: what it adds is on nobody's account.

No result is below 0. In a recording nobody knows where the machine would have come to rest; the
same rule is then held against the tool's own verdicts, and the result says so. Amounts cost nothing
there: what was done stands beside them.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from chargeassist.model.display import UnitSystem, clock, mass
from chargeassist.model.events import Action
from chargeassist.model.job import Job
from chargeassist.trainer.calls import GOES_ON, CallKind
from chargeassist.trainer.result import JudgedCall, Part
from chargeassist.trainer.showing import Look, about_the_unit, in_words, shown_of
from chargeassist.trainer.truth import NOTICED_S, Stretch, stretch_at

RULES: Final = (
    "early",
    "value",
    "too soon",
    "too much",
    "waiting",
    "overshoot",
    "wrong cure",
    "end",
)
FULL: Final = 100.0
"""Points everybody begins with."""

WAIT_S: Final = 120.0
"""So long after the value has settled nothing need be called [s]."""

SHOWED: Final = 10.0
"""For a fault that shows and was never called, where the tool does not find it either."""

STEPS: Final = {CallKind.ADD, CallKind.RECOVER}
_ROUNDING_K: Final = 1e-9
"""A value at the very edge of the band is inside it, however its figures were rounded [K]."""

CYLINDER_DOES_NOT_CURE: Final = frozenset(
    {"restriction", "gas", "outdoor coil", "indoor coil", "valve open", "compressor", "leak"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """What calls are held against.

    Attributes
    ----------
    stretches : sequence of Stretch
        By time.
    faults_at : callable
        Words of the faults at a time [s], however small.
    grown_at : callable or None
        Words of those large enough to be seen; the same where left out.
    left : Look or None
        What the end of the drill offered; None where that is not known.
    patience : callable or None
        What the tool says after a time [s] if nothing more is done: at first, or by the end of its
        patience; see `patiently`. None where that is not known.
    end_t : float
        Of the drill [s].
    known : bool
        Whether it is the machine's truth; else the tool's verdicts.
    told : sequence of Stretch or None
        As the tool saw them; None where that is not known.
    target_k : float or None
        Where the job gives no number: the target there was [K].
    """

    stretches: Sequence[Stretch]
    faults_at: Callable[[float], frozenset[str]]
    end_t: float
    known: bool = True
    told: Sequence[Stretch] | None = None
    target_k: float | None = None
    grown_at: Callable[[float], frozenset[str]] | None = None
    left: Look | None = None
    patience: Callable[[float, bool], Look] | None = None

    def seen_at(self, t: float) -> frozenset[str]:
        """Return the faults that have been there long enough to be seen at `t` [s]."""
        grown_at = self.faults_at if self.grown_at is None else self.grown_at
        return grown_at(t) & grown_at(max(0.0, t - NOTICED_S))


def score(
    job: Job, calls: Sequence[JudgedCall], reference: Reference
) -> tuple[float, tuple[Part, ...]]:
    """Return the points of a drill and why they are not 100.

    Parameters
    ----------
    job : Job
    calls : sequence of JudgedCall
        By time, with the reading at each.
    reference : Reference
    """
    parts = [
        *_settled_calls(job, calls, reference),
        *_steps(calls, reference),
        *_doses(job, calls, reference),
        *_waiting(calls, reference),
        *_overshoot(job, calls, reference),
        *_cure(job, calls, reference),
        *_end(job, calls, reference),
    ]
    kept = tuple(sorted(parts, key=lambda part: part.t))
    return max(0.0, FULL - sum(part.points for part in kept)), kept


def _part(rule: str, points: float, t: float, why: str) -> Part:
    return Part(rule=rule, points=round(points, 1), t=round(t, 1), why=why)


def _settled_calls(job: Job, calls: Iterable[JudgedCall], reference: Reference) -> Iterable[Part]:
    for call in calls:
        if call.kind != CallKind.SETTLED:
            continue
        stretch = stretch_at(reference.stretches, call.t)
        if stretch.settled_t is None or stretch.value_k is None:
            if reference.known and call.tool_late_s is None:
                why = f"called settled at {clock(call.t)}, and it never settles"
                yield _part("early", 10.0, call.t, why)
            continue
        early_s = stretch.settled_t - call.t
        if early_s > 0.0 and call.tool_late_s is None:
            why = f"called settled at {clock(call.t)}, {early_s:.0f} s too early"
            yield _part("early", min(10.0, early_s / 10.0), call.t, why)
        if call.reading_k is None:
            continue
        error_k = call.reading_k - stretch.value_k - stretch.shown_k
        allowed_k = job.processing.settled_band_k + job.target.tolerance_k + stretch.swing_k / 2.0
        if abs(error_k) > allowed_k:
            why = (
                f"the screen said {call.reading_k:.1f} K at {clock(call.t)}, "
                f"it comes to rest at {stretch.value_k:.1f} K"
            )
            yield _part("value", 5.0, call.t, why)


def _steps(calls: Iterable[JudgedCall], reference: Reference) -> Iterable[Part]:
    for call in calls:
        if call.kind not in STEPS:
            continue
        stretch = stretch_at(reference.stretches, call.t)
        if stretch.settled_t is None or call.tool_late_s is not None:
            continue
        if call.t < stretch.settled_t:
            soon_s = stretch.settled_t - call.t
            why = f"{call.kind} at {clock(call.t)}, {soon_s:.0f} s before the last change settled"
            yield _part("too soon", 10.0, call.t, why)


def _doses(job: Job, calls: Iterable[JudgedCall], reference: Reference) -> Iterable[Part]:
    if not reference.known:
        return
    most_kg = job.charge.step_cap_kg + job.charge.scale_resolution_kg
    for call in calls:
        if call.kind == CallKind.ADD and call.mass_kg is not None and call.mass_kg > most_kg:
            why = (
                f"{mass(call.mass_kg, UnitSystem.SI)} at once at {clock(call.t)}; the job allows "
                f"{mass(job.charge.step_cap_kg, UnitSystem.SI)}"
            )
            yield _part("too much", 10.0, call.t, why)


def _waiting(calls: Sequence[JudgedCall], reference: Reference) -> Iterable[Part]:
    ordered = sorted(calls, key=lambda call: call.t)
    stretches = reference.stretches
    for k, stretch in enumerate(stretches):
        # Of a recording stretches are known that come after the end of the drill.
        next_t = stretches[k + 1].begin_t if k + 1 < len(stretches) else reference.end_t
        end_t = min(next_t, reference.end_t)
        if stretch.settled_t is None or stretch.settled_t >= end_t:
            continue
        # Whoever has called settled may think about the dose; the clock begins anew with a call.
        inside = [call for call in ordered if stretch.settled_t < call.t <= end_t]
        from_t = stretch.settled_t
        if inside:
            # Nobody is asked to be quicker than the tool: it too has to prove what it says.
            tool_s = inside[0].tool_late_s
            from_t = inside[0].t if tool_s is None else max(from_t, inside[0].t - tool_s)
        elif reference.told is not None:
            from_t = max(from_t, _told_t(reference.told, stretch.begin_t, end_t))
        marks = [min(from_t, end_t), *(call.t for call in inside), end_t]
        longest_s, since = max((b - a, a) for a, b in pairwise(marks))
        over_s = longest_s - WAIT_S
        if over_s > 0.0:
            why = f"settled at {clock(marks[0])}; no call for {longest_s:.0f} s"
            yield _part("waiting", min(10.0, over_s / 30.0), since, why)


def _told_t(told: Sequence[Stretch], begin_t: float, end_t: float) -> float:
    """Return when the tool said "settled" between two times [s]; the later one if it did not."""
    times = [each.settled_t for each in told if each.settled_t is not None]
    return next((t for t in times if begin_t < t < end_t), end_t)


def _goal_k(job: Job, reference: Reference) -> float | None:
    """Return the target [K]; None where there is none to miss."""
    return reference.target_k if job.target.fixed_k is None else job.target.fixed_k


def _overshoot(job: Job, calls: Sequence[JudgedCall], reference: Reference) -> Iterable[Part]:
    added = [call.t for call in calls if call.kind == CallKind.ADD]
    if not added or not reference.known:
        return
    sign, target_k = job.target.judged.charge_sign, _goal_k(job, reference)
    worst_k, at_t = 0.0, 0.0
    for stretch in reference.stretches:
        if stretch.begin_t < added[0] or _faulted_since(added, stretch, reference):
            continue
        if stretch.over_pressure:
            why = f"what was in at {clock(stretch.begin_t)} opens the high-pressure switch"
            yield _part("overshoot", 40.0, stretch.begin_t, why)
            return
        if stretch.rest_k is not None and stretch.held and target_k is not None:
            rest_k = stretch.rest_k + stretch.shown_k
            over_k = sign * (rest_k - target_k) - job.target.tolerance_k
            if over_k > worst_k:
                worst_k, at_t = over_k, stretch.begin_t
    if worst_k > 0.0:
        why = f"what was in at {clock(at_t)} comes to rest {worst_k:.1f} K beyond the tolerance"
        yield _part("overshoot", min(40.0, 20.0 + worst_k / 0.1), at_t, why)


def _faulted_since(added: Sequence[float], stretch: Stretch, reference: Reference) -> bool:
    """Return whether a fault has come between the last dose before a stretch and that stretch."""
    dosed_t = max(t for t in added if t <= stretch.begin_t)
    # One that grows is nothing at its very begin.
    new = reference.faults_at(stretch.begin_t + 0.001) - reference.faults_at(dosed_t)
    return bool(new & CYLINDER_DOES_NOT_CURE)


def _cure(job: Job, calls: Sequence[JudgedCall], reference: Reference) -> Iterable[Part]:
    """Yield the dearest of the wrong cures: a cheap one before it pays for no other."""
    found = [*_wrong_cures(calls, reference), *_never_called(job, calls, reference)]
    if found:
        yield max(found, key=lambda part: part.points)


def _wrong_cures(calls: Sequence[JudgedCall], reference: Reference) -> Iterable[Part]:
    for call in calls:
        # What has just gone by itself still shows, too.
        there = reference.faults_at(call.t) | reference.faults_at(max(0.0, call.t - NOTICED_S))
        blocking = reference.seen_at(call.t) & CYLINDER_DOES_NOT_CURE
        if call.kind in STEPS and blocking and _known(_look_of(call, reference)):
            why = f"{call.kind} at {clock(call.t)}, although: {_words(blocking)}"
            why += _patience_tells(call, reference)
            yield _part("wrong cure", 30.0, call.t, why)
            return
        if call.kind == CallKind.FIX and call.fix not in there:
            if there:
                why = f"fix: {call.fix} at {clock(call.t)}; it was: {_words(there)}"
                yield _part("wrong cure", 15.0, call.t, why)
            else:
                why = f"fix: {call.fix} at {clock(call.t)}; nothing of that kind was wrong"
                yield _part("wrong cure", 30.0, call.t, why)


def _never_called(job: Job, calls: Sequence[JudgedCall], reference: Reference) -> Iterable[Part]:
    missed = reference.seen_at(reference.end_t) & CYLINDER_DOES_NOT_CURE
    # A fix after which the drill goes on leaves time for the next; any other ends it.
    if not missed or any(_ends_with_a_fix(call) for call in calls):
        return
    last = calls[-1] if calls else None
    stopped = last is not None and last.kind == CallKind.STOP
    look = _look_of(last, reference) if last is not None and stopped else reference.left
    if _known(look):
        why = f"never called: {_words(missed)}"
        why += _patience_tells(last, reference) if last is not None and stopped else ""
        yield _part("wrong cure", 30.0, reference.end_t, why)
        return
    for word in sorted(missed):
        if look is not None and (shown := shown_of(word, look.showed, job)):
            told = "; ".join(in_words(each) for each in shown)
            why = f"never called: {word}, though it shows ({told}); the tool did not name it either"
            yield _part("wrong cure", SHOWED, reference.end_t, why)
            return


def _look_of(call: JudgedCall, reference: Reference) -> Look | None:
    """Return what a call could be made by; None where that is not known."""
    if _takes_patience(call):
        if reference.patience is None:
            return None
        return reference.patience(call.t, call.kind == CallKind.STOP)
    said = about_the_unit(call.tool_said, call.tool_cause)
    return Look(said, call.showed) if said else None


def _takes_patience(call: JudgedCall) -> bool:
    """Return whether the tool has not come to its end: to stop is to leave, and that it has not."""
    said = about_the_unit(call.tool_said, call.tool_cause)
    ends = {CallKind.STOP, Action.FIX_FIRST, ""}
    return said not in ends if call.kind == CallKind.STOP else said == Action.WAIT


def _patience_tells(call: JudgedCall, reference: Reference) -> str:
    """Return what a trainee has to know who sees that the tool had not said "fix first" yet."""
    waited = _takes_patience(call) and reference.patience is not None
    return "; a little later the same readings tell the tool so" if waited else ""


def _known(look: Look | None) -> bool:
    """Return whether a fault could be known of; taken so where nobody knows what was offered."""
    return look is None or look.said == Action.FIX_FIRST.value


def _end(job: Job, calls: Sequence[JudgedCall], reference: Reference) -> Iterable[Part]:
    last = calls[-1] if calls else None
    # A fix after which the drill goes on is no end of it.
    if last is None or not (last.kind == CallKind.STOP or _ends_with_a_fix(last)):
        yield _part("end", 20.0, reference.end_t, "it ended without stop or fix")
        return
    if last.kind != CallKind.STOP:
        return
    stretch, target_k = stretch_at(reference.stretches, last.t), _goal_k(job, reference)
    if stretch.rest_k is None:
        why = "stop, and the tool had not called it settled"
        if reference.known:
            why = f"stop at {clock(last.t)}, and the machine stands"
        yield _part("end", 20.0, last.t, why)
        return
    if target_k is None:
        return
    off_k = stretch.rest_k + stretch.shown_k - target_k
    if abs(off_k) > job.target.tolerance_k + _ROUNDING_K:
        rest = f"{off_k:+.1f}".replace("-", "−")
        why = f"stop at {clock(last.t)}; it comes to rest {rest} K from the target"
        yield _part("end", 20.0, last.t, why)


def _ends_with_a_fix(call: JudgedCall) -> bool:
    return call.kind == CallKind.FIX and call.fix not in GOES_ON


def _words(faults: Iterable[str]) -> str:
    return ", ".join(sorted(faults))
