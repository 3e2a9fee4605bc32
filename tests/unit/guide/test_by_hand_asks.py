"""What the program asks for where typed readings leave something open: the other line, the air."""

from dataclasses import replace

import pytest

from chargeassist.guide.by_hand import asked_mark, beside_final
from chargeassist.guide.charging import Findings, advise
from chargeassist.guide.cure import Remedy
from chargeassist.guide.fault_found import Fault
from chargeassist.guide.fault_terms import Cause
from chargeassist.guide.stages.final_reading import HELD
from chargeassist.guide.wording import sentence
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, Mark, MarkKind
from chargeassist.model.job import Hold, Target
from chargeassist.model.limits import Method
from chargeassist.stream.facts import Facts, HandFacts, Measured, SettleState
from tests.unit.guide.charging_facts import JOB as CHARGE_JOB
from tests.unit.guide.charging_facts import channel, settled
from tests.unit.guide.charging_facts import cure as cure_that
from tests.unit.guide.test_by_hand import BUBBLE_K, JOB, LIQUID_PA, Hands

FIX = Findings(cure=cure_that(Remedy.FIX))


def by_hand_at(**changes: object) -> Facts:
    """Facts at which subcooling, read by hand, has settled below its band."""
    places = (Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE)
    hand = HandFacts(readings=4, least=4, newest_t=995.0, due_t=1100.0, places=places)
    return replace(settled(3.0, by_hand=hand, channels=(), values={}), **changes)  # type: ignore[arg-type]


def test_the_other_line_is_read_before_it_is_said_that_refrigerant_is_no_cure() -> None:
    """After a step nobody has read superheat, and subcooling alone tells no short charge apart."""
    facts = by_hand_at()
    advice = advise(CHARGE_JOB, facts, None, FIX)
    assert (advice.action, advice.cause) == (Action.DO, "read_beside")
    assert sentence(advice, UnitSystem.SI).startswith("Read the pressure of the suction line: ")
    mark = asked_mark(CHARGE_JOB, facts, advice)
    assert mark is not None
    assert mark.entry is Entry.SUCTION_PRESSURE
    half = by_hand_at(values={Role.SUCTION_PRESSURE: 9e5})
    mark = asked_mark(CHARGE_JOB, half, advise(CHARGE_JOB, half, None, FIX))
    assert mark is not None
    assert mark.entry is Entry.SUCTION_PIPE
    both = by_hand_at(values={Role.SUCTION_PRESSURE: 9e5, Role.SUCTION_TEMPERATURE: 285.0})
    assert advise(CHARGE_JOB, both, None, FIX).cause == "not_the_cure"


def test_with_probes_nobody_is_asked_to_read_the_other_line() -> None:
    assert advise(CHARGE_JOB, settled(3.0), None, FIX).cause == "not_the_cure"
    silent = channel(Role.SUCTION_PRESSURE, None), channel(Role.SUCTION_TEMPERATURE, None)
    facts = by_hand_at(channels=silent)
    assert advise(CHARGE_JOB, facts, None, FIX).cause == "not_the_cure"


def test_a_target_that_moves_asks_for_the_air_nobody_measures() -> None:
    target = Target(method=Method.SUPERHEAT, tolerance_k=2.8, source="published table")
    hands = Hands(replace(JOB, refrigerant="R-410A", target=target))
    hands.run(25.0)  # by then every probe of the air would have been heard
    asked = []
    for entry, value in ((Entry.SUCTION_PRESSURE, 9e5), (Entry.SUCTION_PIPE, 290.0)):
        hands.run(2.0)
        hands.enter(entry, value)
    for value in (303.15, 291.15):
        hands.run(2.0)
        advice, mark = hands.snapshot.advice, hands.snapshot.waits_for
        assert advice.cause == "no_target"
        assert "type what it is" in advice.subject
        assert mark is not None
        assert mark.entry is not None
        asked.append(mark.entry)
        hands.enter(mark.entry, value)
    assert asked == [Entry.OUTDOOR_AIR, Entry.RETURN_WET_BULB]
    hands.run(10.0)
    assert hands.snapshot.advice.cause != "no_target"


def test_what_nobody_has_read_moves_nothing() -> None:
    hands = Hands(replace(JOB, hold=Hold(required_hz=72.0)))
    hands.run(2.0)
    settling = hands.snapshot.facts.settling
    assert (settling.state, settling.cause) == (SettleState.NO_SIGNAL, "hold_missing")


def test_nothing_is_read_before_the_frequency_is_held() -> None:
    """What was read before says nothing of after: the hold comes first, and Enter asks for none."""
    hands = Hands(replace(JOB, hold=Hold(required_hz=72.0)))
    hands.run(2.0)
    assert hands.snapshot.advice.cause == "hold_missing"
    assert hands.snapshot.waits_for is None
    hands.step(Mark(t=hands.t, kind=MarkKind.FREQUENCY_HELD, frequency_hz=72.0))
    hands.run(70.0)
    mark = hands.snapshot.waits_for
    assert hands.snapshot.advice.cause == "read_by_hand"
    assert mark is not None
    assert mark.entry is Entry.LIQUID_PRESSURE


def test_the_other_line_is_read_before_a_fault_takes_the_place_of_stop() -> None:
    fault = Fault(cause=Cause.VALVE_OPEN, alternatives=(), chance=0.8, since_t=9.0)
    found = Findings(fault=fault)
    reading = Measured(value_k=5.0, expanded_k=0.4)
    unread = by_hand_at(subcooling=reading, settled=reading)
    assert advise(CHARGE_JOB, unread, None, found).cause == "read_beside"
    assert advise(CHARGE_JOB, unread, None).action is Action.STOP
    known = {Role.SUCTION_PRESSURE: 9e5, Role.SUCTION_TEMPERATURE: 285.0}
    read = by_hand_at(subcooling=reading, settled=reading, values=known)
    assert advise(CHARGE_JOB, read, None, found).cause == "inside_but_fault"


@pytest.mark.parametrize(
    ("method", "asked"),
    [
        (Method.SUBCOOLING, (Entry.SUCTION_PRESSURE, Entry.SUCTION_PIPE)),
        (Method.SUPERHEAT, (Entry.LIQUID_PRESSURE, Entry.LIQUID_PIPE)),
    ],
)
def test_the_other_line_is_asked_for_in_words_while_the_final_reading_stands(
    method: Method, asked: tuple[Entry, Entry]
) -> None:
    """Who types only what the sentence asks for has read both lines when the time is over."""
    target = Target(
        method=method, subcooling_k=5.0, superheat_k=5.0, tolerance_k=2.8, source="invented"
    )
    hands = Hands(replace(JOB, target=target))
    values = {
        Entry.LIQUID_PRESSURE: LIQUID_PA, Entry.LIQUID_PIPE: BUBBLE_K - 5.0,
        Entry.SUCTION_PRESSURE: 9e5, Entry.SUCTION_PIPE: 285.0,
    }  # fmt: skip
    named = []
    hands.run(1.0)
    while hands.t < 1500.0 and not any(e.cause in HELD for e in hands.checks("final_reading")):
        mark, says = hands.snapshot.waits_for, hands.says
        stop = hands.snapshot.advice.action is Action.STOP
        if mark is not None and mark.entry is not None:
            told = f"ead the {mark.entry.label}" in says
            judged = mark.entry not in asked and (", read again" in says or "read it once" in says)
            assert told or judged, "never one line said, another typed"
            if stop and mark.entry in asked:
                named.append(mark.entry)
            hands.enter(mark.entry, values[mark.entry])
        hands.run(5.0)
    (final,) = [e for e in hands.checks("final_reading") if e.cause in HELD]
    assert {"subcooling_k", "superheat_k"} <= final.figures.keys()
    assert tuple(named[:2]) == asked


def test_with_probes_nothing_is_asked_for_while_the_final_reading_stands() -> None:
    assert beside_final(settled(5.0), due=False) == {}
