"""Charging by hand: what to read and type next, and what else can be typed.

The advice is the same as with probes; what differs is who reads, and how often.
"""

from collections.abc import Mapping

from chargeassist.guide.stages.stage import NextMark, typed
from chargeassist.model.channels import Role
from chargeassist.model.entries import RUNNING_ROLES, Entry
from chargeassist.model.events import Action, Advice, MarkKind
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import Quantity
from chargeassist.stream.entered import fresh
from chargeassist.stream.facts import Facts
from chargeassist.stream.typed_readings import TYPED_SOURCE

ENTRY_OF: Mapping[Role, Entry] = {role: entry for entry, role in RUNNING_ROLES.items()}

READINGS, DUE_S = "hand_readings", "hand_due_s"
"""Figures beside advice: the number of readings by hand behind it, and the time to the next [s]."""

OTHER_PRESSURE, OTHER_PIPE = "other_pressure_next", "other_pipe_next"
"""Figures beside the instruction to stop: what of the other line is read next, in good time."""

BESIDE_SHARE = 0.5
"""The other line is offered again when its reading has used up this fraction of its time [1], so
that it is fresh when the judged line settles (chosen; it affects no verdict)."""


def asks(facts: Facts) -> Advice | None:
    """Return what to read now, or how long to wait until a reading is useful; None with probes."""
    hand = facts.by_hand
    if hand is None:
        return None
    figures = {"readings": float(hand.readings), "least": float(hand.least)}
    settling = facts.settling
    if settling.slope_k_per_s is not None and settling.cause in {"rising", "falling"}:
        figures["slope_k_per_s"] = settling.slope_k_per_s
    if facts.t < hand.due_t and not hand.begun:
        figures["seconds_s"] = hand.due_t - facts.t
        besides = _besides(facts)
        if besides and not waits_for_hold(facts):
            # The sentence names the same reading as the key: never one line said, another typed.
            return Advice(
                t=facts.t,
                action=Action.DO,
                cause="read_meanwhile",
                subject=_label(besides[0]),
                figures=figures,
            )
        return Advice(
            t=facts.t,
            action=Action.WAIT,
            cause="by_hand_waits",
            subject=settling.cause,
            figures=figures,
        )
    first = next(iter(hand.wanted), facts.judged.pressure)
    return Advice(
        t=facts.t,
        action=Action.DO,
        cause="read_by_hand",
        subject=_label(first),
        figures=figures,
    )


def waits_for_hold(facts: Facts) -> bool:
    """Return whether the compressor still has to be held at the required frequency."""
    return facts.hold.required_hz is not None and not facts.hold.held


def asks_beside(facts: Facts) -> Advice | None:
    """Ask for the other line before refrigerant is ruled out as the cure; None with probes.

    The judged line alone cannot tell a shortage from a fault. The other line can, but after a step
    it has not been read yet.
    """
    missing = _unread_beside(facts)
    if facts.by_hand is None or not missing:
        return None
    return Advice(t=facts.t, action=Action.DO, cause="read_beside", subject=_label(missing[0]))


def _label(role: Role) -> str:
    entry = ENTRY_OF.get(role)
    return role.label if entry is None else entry.label


def next_mark(facts: Facts, *, due: bool = False) -> NextMark | None:
    """Return the reading the one key asks for; None if none is useful now.

    Parameters
    ----------
    facts : Facts
    due : bool, optional
        Whether a reading is wanted now, regardless of the pace.
    """
    hand = facts.by_hand
    if hand is None or facts.step_open is not None or waits_for_hold(facts):
        return None
    if hand.wanted and (due or hand.begun or facts.t >= hand.due_t):
        return typed(ENTRY_OF[hand.wanted[0]])
    # The other line is worth reading meanwhile: it tells whether refrigerant is the cure.
    return next((typed(ENTRY_OF[role]) for role in _besides(facts)), None)


def asked_mark(job: Job, facts: Facts, advice: Advice) -> NextMark | None:
    """Return the reading an instruction waits for; None if it waits for none."""
    if advice.cause == "read_beside":
        return next((typed(ENTRY_OF[role]) for role in _unread_beside(facts)), None)
    return _air_mark(job, facts) if advice.cause == "no_target" else None


def _air_mark(job: Job, facts: Facts) -> NextMark | None:
    """Return the air temperature that a target moving with the weather waits for."""
    if facts.live(Role.OUTDOOR_AIR_TEMPERATURE) is None:
        return typed(Entry.OUTDOOR_AIR)
    known = (
        facts.live(Role.RETURN_AIR_WET_BULB) is not None
        or (job.target.return_wet_bulb_k is not None and Entry.RETURN_WET_BULB not in facts.entered)
        or fresh(
            facts.entered, Entry.RETURN_WET_BULB, facts.t, job.limit_si(LimitKey.TYPED_AIR_LASTS)
        )
        is not None
    )
    # A silent humidity probe has to be looked at; it is no reason to type.
    has_humidity = any(c.channel.role is Role.RETURN_AIR_HUMIDITY for c in facts.channels)
    return None if known or has_humidity else typed(Entry.RETURN_WET_BULB)


def _other_line(facts: Facts) -> tuple[Role, Role]:
    if facts.judged.pressure is Role.SUCTION_PRESSURE:
        return Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE
    return Role.SUCTION_PRESSURE, Role.SUCTION_TEMPERATURE


def _unread_beside(facts: Facts) -> tuple[Role, ...]:
    """Return the places of the other line that have no value now and no probe."""
    probes = {c.channel.role for c in facts.channels if c.channel.source != TYPED_SOURCE}
    line = _other_line(facts)
    return tuple(role for role in line if role not in probes and facts.live(role) is None)


def _besides(facts: Facts) -> tuple[Role, ...]:
    """Return the places of the other line that have not been read lately.

    Empty before the first reading of the judged line after a change: everything still moves then.
    """
    if facts.by_hand is None or facts.by_hand.readings == 0:
        return ()
    witness = _other_line(facts)
    by_probe, recent = set(), set()
    for item in facts.channels:
        if item.channel.source != TYPED_SOURCE:
            by_probe.add(item.channel.role)
        elif (
            item.value_si is not None
            and (item.age_s or 0.0) < BESIDE_SHARE * item.channel.max_age_s
        ):
            recent.add(item.channel.role)
    return tuple(role for role in witness if role not in by_probe | recent)


def figures(facts: Facts) -> Mapping[str, float]:
    """Return the figures shown beside advice on a reading that settled by hand; else none.

    A number of readings [1], and when the next is due [s].
    """
    hand = facts.by_hand
    if hand is None or facts.settled is None:
        return {}
    return {READINGS: float(hand.readings), DUE_S: max(hand.due_t - facts.t, 0.0)}


def beside_final(facts: Facts, *, due: bool) -> Mapping[str, float]:
    """Return which place of the other line is read next while the final reading stands; else none.

    The final reading is judged together with the other line. Where no probe reads it, it is asked
    for in good time: a reading as old as `BESIDE_SHARE` allows still counts at the end.

    Parameters
    ----------
    facts : Facts
    due : bool
        Whether the judged line is wanted now, regardless of the pace.
    """
    places = _besides(facts)
    mark = next_mark(facts, due=due)
    if not places or mark is None or mark.entry is not ENTRY_OF[places[0]]:
        return {}
    return {OTHER_PRESSURE if places[0].quantity is Quantity.PRESSURE else OTHER_PIPE: 1.0}


def told_first(facts: Facts, others: tuple[NextMark, ...]) -> tuple[NextMark, ...]:
    """Return what can be typed, first the places that the charge needs and no probe reads."""
    places = tuple(
        NextMark(kind=MarkKind.ENTERED, label=entry.label, entry=entry)
        for entry, role in RUNNING_ROLES.items()
        if facts.live(role) is None or role in facts.typed
    )
    return (*others, *places) if facts.by_hand is None else (*places, *others)


def amps(job: Job, facts: Facts) -> float | None:
    """Return running amps as typed [A]; None once they are too old for a reading by hand."""
    typed_a = facts.entered.get(Entry.CURRENT)
    if typed_a is None or facts.t - typed_a.t > job.limit_si(LimitKey.HAND_LASTS):
        return None
    return typed_a.value_si
