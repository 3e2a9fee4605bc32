"""What the assistant says to a physical plant with a fault: add, or look for something else.

The plant conserves mass and energy and knows nothing of the table of signs; the assistant gets what
probes without error would deliver from its steady state. Computed, not measured.
"""

import pytest

from chargeassist.guide import fault_wording, wording
from chargeassist.guide.fault_gone import EVACUATED, PROBE_SEEN_TO, SHOWN_S
from chargeassist.guide.fault_terms import Cause, Feature
from chargeassist.guide.fault_watch import DIAGNOSE_EVERY_S, HUNTING_CAUSE
from chargeassist.guide.hunting import Hunting, HuntingWatch
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    Action,
    Mark,
    MarkKind,
    Stage,
)
from chargeassist.plant.faults import MachineFaults
from chargeassist.plant.physical_settings import PhysicalSettings
from tests.unit.guide.faulty_unit import PLATE_KG, FaultyUnit, judged, steady, target_k


def test_the_unit_in_order_is_called_inside() -> None:
    snapshot = judged(PLATE_KG)
    assert snapshot.advice.action is Action.STOP
    assert not any(item.cause == "suspect" for item in snapshot.cautions)


@pytest.mark.parametrize("charge_kg", [2.15, 2.07, 1.9, 1.7, 1.6])
def test_a_plain_shortage_is_always_cured(charge_kg: float) -> None:
    snapshot = judged(charge_kg)
    assert (snapshot.advice.action, snapshot.advice.cause) == (Action.ADD, "below_target")
    assert not any(item.cause == "suspect" for item in snapshot.cautions)


RESTRICTED = [
    (2.3, {"restriction_pa": 1.0e6}),
    (2.3, {"restriction_pa": 1.6e6}),
    (2.1, {"restriction_pa": 1.0e6}),
    (2.3, {"valve_stuck": 0.5}),
]


@pytest.mark.parametrize(("charge_kg", "faults"), RESTRICTED)
def test_a_restriction_at_its_target_is_not_fed(charge_kg: float, faults: dict[str, float]) -> None:
    snapshot = judged(charge_kg, **faults)
    assert (snapshot.advice.action, snapshot.advice.cause) == (Action.FIX_FIRST, "not_the_charge")
    diagnosis = snapshot.diagnosis
    assert diagnosis is not None
    assert diagnosis.causes[0].cause is Cause.RESTRICTION
    assert snapshot.fault is None  # one ranking is none yet


@pytest.mark.parametrize(
    ("charge_kg", "faults", "among"),
    [
        (2.1, {"outdoor_air_share": 0.5}, {Cause.LOW_OUTDOOR_AIRFLOW}),
        (2.0, {"outdoor_air_share": 0.4}, {Cause.LOW_OUTDOOR_AIRFLOW}),
        # Valves that leak and a valve that stands open look alike by general ranges.
        (2.3, {"compressor_leakage": 0.5}, {Cause.VALVE_LEAKAGE, Cause.VALVE_OPEN}),
    ],
)
def test_a_fault_that_reads_short_is_not_filled_up(
    charge_kg: float, faults: dict[str, float], among: set[Cause]
) -> None:
    snapshot = judged(charge_kg, **faults)
    advice = snapshot.advice
    assert snapshot.facts.settled is not None
    assert snapshot.facts.settled.value_k < target_k() - 0.8
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "not_the_cure")
    assert advice.subject in among
    chance = advice.figures["chance"]
    assert 0.6 <= chance <= 1.0
    for system in UnitSystem:
        assert wording.sentence(advice, system) == (
            f"Fix first: refrigerant is not the cure ({chance * 100:.0f} % likely); "
            f"the readings look most like: {advice.subject}"
        )


@pytest.mark.parametrize(
    ("faults", "cause"),
    [
        ({"restriction_pa": 1.0e6}, Cause.RESTRICTION),
        ({"indoor_air_share": 0.5}, Cause.LOW_INDOOR_AIRFLOW),
        ({"compressor_leakage": 0.35}, Cause.VALVE_LEAKAGE),
        ({"outdoor_air_share": 0.4}, Cause.LOW_OUTDOOR_AIRFLOW),
    ],
)
def test_a_fault_is_found_when_it_lasts_and_ends_with_its_evidence(
    faults: dict[str, float], cause: Cause
) -> None:
    unit = FaultyUnit(PLATE_KG, MachineFaults(**faults), target_k())
    wet_k = PhysicalSettings().return_wet_k
    unit.assistant.step(
        Mark(t=0.0, kind=MarkKind.ENTERED, text=Entry.RETURN_WET_BULB.value, value_si=wet_k)
    )
    unit.settled()
    snapshot = unit.run(40)
    assert snapshot.fault is not None
    assert cause in {snapshot.fault.cause, *snapshot.fault.alternatives}
    assert snapshot.advice.action is Action.FIX_FIRST
    assert unit.found[-1].found
    assert any(item.cause == "suspect" for item in snapshot.cautions)
    # Put right while it runs: what stands ends, with a verdict that says so.
    unit.values = steady(PLATE_KG, MachineFaults())[0]
    for _ in range(900):
        snapshot = unit.run(1)
        if snapshot.fault is None:
            break
    assert snapshot.fault is None
    gone = unit.found[-1]
    assert not gone.found
    # The screen says since when, and what has become of the evidence it was found by.
    assert any(item.endswith(" normal") for item in gone.evidence)
    said = next(item for item in snapshot.cautions if item.cause == "fault_gone")
    assert said.figures == {"since_t_s": gone.t}
    for system in UnitSystem:
        assert gone.evidence[0] in wording.caution(said, system)
        assert fault_wording.fault(gone, system).startswith(f"no longer: {gone.cause} (")
    assert unit.run(5).advice.action is Action.STOP
    assert not any(item.cause == "fault_gone" for item in unit.run(int(SHOWN_S)).cautions)


def test_a_probe_seen_to_between_two_rankings_leaves_one() -> None:
    """Two in a row find a fault; what was ranked before a probe was put right is none of them."""
    unit = FaultyUnit(PLATE_KG, MachineFaults(restriction_pa=1.0e6), target_k())
    unit.settled()
    unit.run(5)
    unit.assistant.step(Mark(t=unit.t, kind=MarkKind.PROBE_SEEN_TO, text="supply_air_temperature"))
    assert unit.run(int(DIAGNOSE_EVERY_S) - 5).fault is None
    assert unit.run(40).fault is not None


def test_gas_found_at_rest_ends_with_the_evacuation_that_cures_it() -> None:
    unit = FaultyUnit(2.3, MachineFaults(non_condensable_mol=0.1), target_k(), weighed_in_kg=0.0)
    unit.settled()
    unit.type_standing(3.0)
    assert unit.run(2).fault is not None
    for stage in (Stage.DRYNESS, Stage.CHARGING):
        unit.assistant.step(Mark(t=unit.t, kind=MarkKind.STAGE_BEGUN, text=stage.value))
    unit.values = steady(PLATE_KG, MachineFaults())[0]
    snapshot = unit.run(2)
    assert snapshot.fault is None
    assert snapshot.standing is None
    assert not unit.found[-1].found
    assert unit.found[-1].evidence == (EVACUATED,)


def test_too_much_refrigerant_is_still_recovered() -> None:
    # Non-condensables look the same by general ranges; the scale says what it is.
    assert judged(2.7).advice.action is Action.RECOVER


def test_where_nobody_knows_what_is_in_the_standing_pressure_comes_first() -> None:
    unit = FaultyUnit(2.7, MachineFaults(), target_k(), weighed_in_kg=0.0)
    snapshot = unit.settled()
    assert (snapshot.advice.action, snapshot.advice.cause) == (Action.FIX_FIRST, "check_standing")
    for system in UnitSystem:
        assert "before recovering" in wording.sentence(snapshot.advice, system)


def test_a_standing_pressure_at_saturation_lets_recovering_go_on() -> None:
    unit = FaultyUnit(2.7, MachineFaults(), target_k(), weighed_in_kg=0.0)
    unit.settled()
    unit.type_standing(0.1)
    snapshot = unit.run(31)
    assert snapshot.standing is not None
    assert snapshot.standing.told_by == "technician"
    assert snapshot.advice.action is Action.RECOVER


def test_a_standing_pressure_above_saturation_is_no_reason_to_recover() -> None:
    unit = FaultyUnit(2.3, MachineFaults(non_condensable_mol=0.1), target_k(), weighed_in_kg=0.0)
    unit.settled()
    unit.type_standing(3.0)
    snapshot = unit.run(31)
    assert (snapshot.advice.action, snapshot.advice.cause) == (Action.FIX_FIRST, "standing_high")
    assert "air or nitrogen" in wording.sentence(snapshot.advice, UnitSystem.SI)
    assert snapshot.diagnosis is not None
    assert snapshot.diagnosis.causes[0].cause is Cause.NON_CONDENSABLES
    # Its zero was off after all, and has been set.
    unit.assistant.step(Mark(t=unit.t, kind=MarkKind.PROBE_SEEN_TO, text="liquid_pressure"))
    assert unit.run(31).standing is None


def test_causes_are_ranked_while_settled_only_and_anew_every_while() -> None:
    unit = FaultyUnit(2.1, MachineFaults(outdoor_air_share=0.5), target_k())
    assert unit.run(5).diagnosis is None
    first = unit.settled().diagnosis
    assert first is not None
    # The pattern goes away while the reading stays settled: noticed at the next look.
    unit.values = {
        **unit.values,
        Role.OUTDOOR_AIR_TEMPERATURE: unit.values[Role.OUTDOOR_AIR_TEMPERATURE] + 9.0,
    }
    assert unit.run(int(DIAGNOSE_EVERY_S) - 2).diagnosis is first
    later = unit.run(4)
    assert later.diagnosis is not None
    assert later.diagnosis is not first
    assert later.advice.action is Action.ADD
    unit.assistant.step(Mark(t=unit.t, kind=MarkKind.STEP_BEGUN))
    assert unit.run(2).diagnosis is None


def test_what_the_pressure_at_rest_says_is_a_finding_until_a_probe_is_seen_to() -> None:
    unit = FaultyUnit(2.3, MachineFaults(non_condensable_mol=0.1), target_k(), weighed_in_kg=0.0)
    unit.settled()
    unit.type_standing(3.0)
    snapshot = unit.run(2)
    assert snapshot.fault is not None
    assert snapshot.fault.cause is Cause.NON_CONDENSABLES
    assert snapshot.fault.alternatives == (Cause.ZERO_SHIFTED,)
    found = unit.found[-1]
    assert found.found
    assert found.evidence == ("pressure at rest above saturation",)
    assert found.chance is not None
    assert found.chance > 0.99
    assert "above saturation" in fault_wording.fault(found, UnitSystem.SI)
    # It stands whatever the readings look like, and goes with the probe that was seen to.
    assert unit.run(65).fault is snapshot.fault
    unit.assistant.step(Mark(t=unit.t, kind=MarkKind.PROBE_SEEN_TO, text="liquid_pressure"))
    unit.run(2)
    assert not unit.found[-1].found
    assert unit.found[-1].cause == Cause.NON_CONDENSABLES.value
    assert unit.found[-1].evidence == (PROBE_SEEN_TO,)


def test_a_pressure_at_rest_under_saturation_is_the_probe() -> None:
    unit = FaultyUnit(2.3, MachineFaults(), target_k(), weighed_in_kg=0.0)
    unit.settled()
    unit.type_standing(-3.0)
    fault = unit.run(2).fault
    assert fault is not None
    assert (fault.cause, fault.alternatives) == (Cause.ZERO_SHIFTED, ())
    unit.type_standing(0.1)  # read again, it agrees
    assert unit.run(2).fault is None


def test_an_amount_that_does_not_fit_is_found_but_keeps_no_refrigerant_out() -> None:
    """Subcooling is there with a fifth of the plate still in the cylinder: something reads high."""
    unit = FaultyUnit(PLATE_KG, MachineFaults(), target_k(), weighed_in_kg=0.75 * PLATE_KG)
    unit.settled()
    snapshot = unit.run(40)
    fault = snapshot.fault
    assert fault is not None
    assert fault.by_amount
    assert Cause.PROBE_LOOSE in {fault.cause, *fault.alternatives}
    assert "amount weighed in" in unit.found[-1].next_check
    assert snapshot.advice.action is Action.STOP
    # Short by the reading as well, it is charged all the same.
    unit = FaultyUnit(2.1, MachineFaults(), target_k(), weighed_in_kg=0.7 * PLATE_KG)
    unit.settled()
    assert unit.run(40).advice.action is Action.ADD


def test_outdoor_air_that_was_typed_stands_for_a_probe_for_half_an_hour() -> None:
    unit = FaultyUnit(PLATE_KG, MachineFaults(outdoor_air_share=0.4), target_k())
    outdoor_k = unit.values.pop(Role.OUTDOOR_AIR_TEMPERATURE)
    snapshot = unit.settled()
    offered = {mark.entry for mark in snapshot.tellable}
    assert {Entry.OUTDOOR_AIR, Entry.STANDING_PRESSURE, Entry.STANDING_TEMPERATURE} <= offered
    snapshot = unit.run(40)
    assert snapshot.diagnosis is not None
    before = snapshot.diagnosis.probability(Cause.LOW_OUTDOOR_AIRFLOW)
    unit.assistant.step(
        Mark(t=unit.t, kind=MarkKind.ENTERED, text=Entry.OUTDOOR_AIR.value, value_si=outdoor_k)
    )
    snapshot = unit.run(65)
    assert snapshot.facts.live(Role.OUTDOOR_AIR_TEMPERATURE) == outdoor_k
    assert Entry.OUTDOOR_AIR in {mark.entry for mark in snapshot.tellable}  # may be typed anew
    assert snapshot.diagnosis is not None
    assert snapshot.diagnosis.probability(Cause.LOW_OUTDOOR_AIRFLOW) > max(0.5, 2.0 * before)
    assert unit.run(1800).facts.live(Role.OUTDOOR_AIR_TEMPERATURE) is None


@pytest.mark.parametrize(
    ("faults", "asked"),
    [(MachineFaults(), ""), (MachineFaults(compressor_leakage=0.18), "performance table")],
)
def test_a_fault_too_weak_to_be_found_is_worth_the_check_that_tells(
    faults: MachineFaults, asked: str
) -> None:
    """It accuses nobody and keeps nothing out; the technician learns what to look at."""
    unit = FaultyUnit(PLATE_KG, faults, target_k())
    unit.settled()
    snapshot = unit.run(65)
    looks = [item for item in snapshot.cautions if item.cause == "worth_a_look"]
    assert snapshot.fault is None
    assert bool(looks) is bool(asked)
    for item in looks:
        for system in UnitSystem:
            assert asked in wording.caution(item, system)


def test_a_valve_that_hunts_is_not_judged_by_what_swings_with_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Means of a swing are no reading of a steady valve; a probe was accused by them."""
    swings = Hunting(period_s=60.0, swing_k=12.0, starved=False)
    monkeypatch.setattr(HuntingWatch, "tick", lambda *_: swings)
    unit = FaultyUnit(PLATE_KG, MachineFaults(), target_k())
    unit.values[Role.SUCTION_TEMPERATURE] += 25.0
    unit.settled()
    snapshot = unit.run(65)
    assert snapshot.diagnosis is not None
    assert {Feature.SUPERHEAT, Feature.EVAPORATING} <= snapshot.diagnosis.missing
    assert [each.cause for each in unit.found] == [HUNTING_CAUSE]
