"""What left the cylinder against what subcooling gained of it. All numbers are invented."""

from dataclasses import replace

import pytest

from chargeassist.guide import fault_wording, wording
from chargeassist.guide.balance import STANDS_S, BalanceWatch, LossWatch, Shortfall
from chargeassist.guide.charging import Findings, advise
from chargeassist.guide.drift import DriftCause
from chargeassist.guide.fault_verdicts import drift_verdicts
from chargeassist.guide.snapshot import Caution
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action
from chargeassist.stream.facts import ChargeStep, Facts, HoldFacts
from tests.unit.guide.charging_facts import JOB, channels, settled

PLATE_KG = JOB.charge.plate_kg
STEP_KG = 0.05 * PLATE_KG
GAIN = 33.0 / PLATE_KG
"""What a plate lets one expect [K/kg]."""


def course(*levels: tuple[float, float], begin_kg: float = 1.8, held: bool = True) -> list[Facts]:
    """Return settled facts: each reading [K] and what was added before it [kg], five minutes apart.

    A step teaches the gain between its two readings, as the ledger does.
    """
    found: list[Facts] = []
    ledger: tuple[ChargeStep, ...] = ()
    total_kg = begin_kg
    for number, (value_k, added_kg) in enumerate(levels):
        if added_kg:
            before_k = levels[number - 1][0]
            step = ChargeStep(
                number=number, mass_kg=added_kg,
                begun_t=300.0 * number, ended_t=300.0 * number + 60.0,
                measured_by="scale", before_k=before_k, after_k=value_k,
                gain_k_per_kg=(value_k - before_k) / added_kg, gain_over_kg=added_kg,
            )  # fmt: skip
            ledger = (*ledger, step)
            total_kg += added_kg
        facts = settled(value_k, ledger=ledger, total_kg=total_kg)
        found.append(replace(facts, t=300.0 * number + 250.0, hold=HoldFacts(held=held)))
    return found


def watched(facts: list[Facts], *, unexplained: bool = True) -> tuple[BalanceWatch, list[int]]:
    """Return the watch, and at which of the readings it stood."""
    watch = BalanceWatch(JOB)
    stood = [k for k, each in enumerate(facts) if watch.tick(each, unexplained=unexplained)]
    return watch, stood


def rising(share: float, steps: int = 4, first_k: float = 2.0) -> list[Facts]:
    """Return steps of which a share shows."""
    gained_k = share * GAIN * STEP_KG
    return course((first_k, 0.0), *((first_k + k * gained_k, STEP_KG) for k in range(1, steps + 1)))


@pytest.mark.parametrize("share", [0.5, 0.7, 1.0, 1.6])
def test_units_that_differ_from_the_usual_gain_lose_nothing(share: float) -> None:
    """One standard deviation is 0.4: half of the usual is no proof of a leak."""
    assert watched(rising(share))[1] == []


@pytest.mark.parametrize("share", [0.1, 0.0, -0.5])
def test_steps_that_do_not_show_are_named(share: float) -> None:
    watch, stood = watched(rising(share))
    assert stood
    found = watch.found
    assert found is not None
    assert found.cause is DriftCause.LEAK
    assert found.alternatives == (DriftCause.ZERO,)
    assert found.added_kg >= STEP_KG
    assert found.shown_kg <= 0.15 * found.added_kg


def test_what_earlier_steps_taught_makes_a_later_loss_plain() -> None:
    """Two steps gain what they should, the third a third of it."""
    gained_k = GAIN * STEP_KG
    levels = [(2.0, 0.0), (2.0 + gained_k, STEP_KG), (2.0 + 2.0 * gained_k, STEP_KG)]
    facts = course(*levels, (2.0 + 2.2 * gained_k, STEP_KG))
    assert watched(facts)[1] == [3]


def test_a_line_without_its_seal_gains_nothing_for_good_reason() -> None:
    facts = course(*((0.1, STEP_KG if k else 0.0) for k in range(4)), begin_kg=1.2)
    assert watched(facts)[1] == []


def test_all_that_goes_in_and_no_seal_is_named_unless_a_fault_explains_it() -> None:
    begin_kg = JOB.charge.full_kg - 2.0 * STEP_KG
    facts = course(*((0.1, STEP_KG if k else 0.0) for k in range(3)), begin_kg=begin_kg)
    watch, stood = watched(facts)
    assert stood == [2]
    assert watch.found is not None
    assert watch.found.added_kg == pytest.approx(JOB.charge.full_kg)
    assert watched(facts, unexplained=False)[1] == []


def test_an_amount_told_after_its_step_had_settled_is_in_the_reading_before_the_next_step() -> None:
    """Two hundred grams by word, told late, and then a usual step that shows in full."""
    late_kg, gained_k = 4.0 * STEP_KG, GAIN * STEP_KG
    first, told, after = course(
        (2.0, 0.0), (2.0 + 4.0 * gained_k, late_kg), (2.0 + 5.0 * gained_k, STEP_KG)
    )
    unsaid = (replace(told.ledger[0], mass_kg=None, gain_k_per_kg=None, gain_over_kg=None),)
    untold = replace(told, t=told.t - 30.0, ledger=unsaid, total_kg=first.total_kg)
    assert watched([first, untold, told, after])[1] == []


@pytest.mark.parametrize("why", ["hold", "mass", "weather"])
def test_what_explains_a_reading_that_gains_nothing(why: str) -> None:
    facts = rising(0.0)
    if why == "hold":
        facts = [facts[0], replace(facts[1], hold=HoldFacts(held=False)), *facts[2:3]]
    if why == "mass":
        nobody_said = replace(facts[1].ledger[0], mass_kg=None)
        facts = [facts[0], replace(facts[1], ledger=(nobody_said,))]
    if why == "weather":
        facts = [
            replace(each, channels=channels(outdoor_air_temperature=outdoor_k))
            for each, outdoor_k in zip(facts[:2], (300.0, 297.0), strict=True)
        ]
    assert watched(facts)[1] == []


@pytest.mark.parametrize("place", [Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE])
def test_what_another_instrument_reads_compares_with_nothing_before(place: Role) -> None:
    """A gauge in place of a probe that reads higher by all that the step gained."""
    before, after = rising(0.0, steps=1)
    by_hand = replace(after, typed=frozenset({place}))
    assert watched([before, by_hand])[1] == []
    assert watched([replace(before, typed=frozenset({place})), after])[1] == []
    assert watched([replace(before, typed=frozenset({place})), by_hand])[1] == [1]


def test_a_leak_stands_when_a_probe_is_seen_to_that_did_not_read_it() -> None:
    losses = LossWatch(JOB)
    for each in rising(0.0, steps=1):
        losses.tick(each, unexplained=True)
    found = losses.tick(rising(0.0, steps=1)[-1], unexplained=True)
    assert found is not None
    losses.seen_to(frozenset({Role.SUPPLY_AIR_TEMPERATURE}))
    assert losses.tick(rising(0.0, steps=1)[-1], unexplained=True) is found
    losses.seen_to(frozenset({Role.LIQUID_PRESSURE}))
    assert losses.tick(rising(0.0, steps=1)[-1], unexplained=True) is None


def test_a_suction_gauge_in_place_of_a_probe_leaves_the_balance_alone() -> None:
    before, after = rising(0.0, steps=1)
    by_hand = replace(after, typed=frozenset({Role.SUCTION_PRESSURE}))
    assert watched([before, by_hand])[1] == [1]


def test_a_reading_that_stands_afterwards_is_not_leaking() -> None:
    """The hose was loose, and is not any more: five minutes without a step tell."""
    facts = rising(0.0)
    watch, stood = watched(facts)
    assert stood
    last = facts[-1]
    for after_s in range(0, int(STANDS_S) + 20, 10):
        watch.tick(replace(last, t=last.t + after_s), unexplained=True)
    assert watch.found is None


def test_it_keeps_refrigerant_out_and_says_why() -> None:
    watch, _ = watched(rising(0.0))
    found = watch.found
    assert isinstance(found, Shortfall)
    advice = advise(JOB, rising(0.0)[-1], None, Findings(drift=found))
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "leaking")
    verdict = drift_verdicts(None, found, 900.0)[0]
    caution = Caution(cause="drifts", subject=found.words, figures=found.figures)
    for system in UnitSystem:
        assert "went in, and the reading shows" in wording.sentence(advice, system)
        assert "more left the cylinder" in fault_wording.fault(verdict, system)
        assert "went in" in wording.caution(caution, system)
    assert drift_verdicts(found, None, 1200.0)[0].found is False


def test_a_probe_seen_to_begins_anew() -> None:
    watch = LossWatch(JOB)
    for each in rising(0.0):
        watch.tick(each, unexplained=True)
    assert watch.tick(rising(0.0)[-1], unexplained=True) is not None
    watch.seen_to(frozenset({Role.LIQUID_PRESSURE}))
    assert watch.tick(rising(0.0)[-1], unexplained=True) is None
