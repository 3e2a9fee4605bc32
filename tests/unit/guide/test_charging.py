"""From facts to one instruction: the order of the questions, every cause, what is never said."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from chargeassist.guide import wording
from chargeassist.guide.charging import Findings, advise
from chargeassist.guide.conditions import Condition, ConditionState
from chargeassist.guide.cure import Cure, Remedy
from chargeassist.guide.diagnosis import RankedCause
from chargeassist.guide.fault_terms import Cause
from chargeassist.guide.gates import FIRST_READINGS_S
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import ChargeLimits, Guards, Hold, Job, Site, Target
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.units import Quantity, Reference
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import (
    ChannelFacts,
    ChargeStep,
    Facts,
    Forecast,
    HoldFacts,
    Measured,
    OpenStep,
    SettleState,
    Settling,
)
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.8),
    site=Site(altitude_m=0.0),
    hold=Hold(required_hz=72.0),
    guards=Guards(
        liquid_pressure_high_pa_gauge=3.0e6,
        suction_pressure_low_pa_gauge=6.5e5,
        discharge_temp_high_k=383.15,
        current_high_a=9.0,
    ),
)

VALUES = {
    Role.LIQUID_PRESSURE: 2.3e6,
    Role.LIQUID_TEMPERATURE: 305.0,
    Role.SUCTION_PRESSURE: 9.0e5,
    Role.DISCHARGE_TEMPERATURE: 340.0,
    Role.COMPRESSOR_CURRENT: 7.0,
}


def channel(role: Role, value_si: float | None, *, age_s: float | None = 0.5) -> ChannelFacts:
    pressure = role.quantity is Quantity.PRESSURE
    return ChannelFacts(
        channel=Channel(
            name=role.value,
            role=role,
            unit="Pa",
            reference=Reference.GAUGE if pressure else None,
            accuracy=Accuracy(absolute_si=0.2),
        ),
        value_si=value_si,
        age_s=age_s,
    )


def channels(**changed: float | None) -> tuple[ChannelFacts, ...]:
    values = {role.value: value for role, value in VALUES.items()} | changed
    return tuple(channel(Role(name), value) for name, value in values.items())


def settled(value_k: float, expanded_k: float | None = 0.4, **changes: object) -> Facts:
    """Return the facts of a tick at which everything is well and subcooling has settled."""
    reading = Measured(value_k=value_k, expanded_k=expanded_k)
    facts = Facts(
        t=1000.0,
        channels=channels(),
        subcooling=reading,
        superheat=Measured(value_k=6.0, expanded_k=0.5),
        liquid_saturation_k=309.0,
        suction_saturation_k=280.0,
        settling=Settling(state=SettleState.SETTLED, cause="settled", since_s=300.0),
        settled=reading,
        settled_superheat_k=6.0,
        hold=HoldFacts(required_hz=72.0, actual_hz=72.0, held=True, told_by="technician"),
        station_pa_abs=101_325.0,
        step_open=None,
        ledger=(),
        total_kg=1.8,
    )
    return replace(facts, **changes)  # type: ignore[arg-type]


def moving(cause: str = "rising", **changes: object) -> Facts:
    settling = Settling(state=SettleState.MOVING, cause=cause, since_s=100.0, slope_k_per_s=0.01)
    return replace(settled(3.0, settled=None, settling=settling), **changes)  # type: ignore[arg-type]


def step(mass_kg: float | None) -> ChargeStep:
    return ChargeStep(number=1, mass_kg=mass_kg, begun_t=1.0, ended_t=2.0, measured_by="technician")


def said(
    facts: Facts, previous: Advice | None = None, job: Job = JOB, *, expired: bool = False
) -> Advice:
    return advise(job, facts, previous, findings=Findings(hold_expired=expired))


def condition(
    key: LimitKey, state: ConditionState, limit_si: float, value_si: float | None = None
) -> Findings:
    """Return the findings of a tick at which one condition, invented, is in `state`."""
    limit = Limit(
        key=key,
        value_si=limit_si,
        as_written="invented",
        source="invented manual, page 12",
        edition="",
        authority=Authority.EQUIPMENT,
    )
    return Findings(conditions=(Condition(limit=limit, state=state, value_si=value_si),))


def unmet(key: LimitKey, limit_si: float, value_si: float) -> Advice:
    found = condition(key, ConditionState.UNMET, limit_si, value_si)
    return advise(JOB, settled(3.0), None, found)


def cure(remedy: Remedy, cause: Cause = Cause.RESTRICTION) -> Cure:
    ranked = RankedCause(cause=cause, pattern="", probability=0.6, evidence=(), next_check="")
    return Cure(remedy=remedy, cause=ranked, probability=0.83)


STUCK = ProbeFinding(
    channel="liquid_temperature",
    kind=ProbeTrouble.STUCK,
    severity=Severity.UNUSABLE,
    figures={},
    since_t=880.0,
)

COARSE_SCALE = replace(JOB, charge=replace(JOB.charge, scale_resolution_kg=0.1))

LIMITED = replace(JOB, charge=replace(JOB.charge, limit_kg=1.8, limit_source="A2L, invented"))

CASES: dict[str, tuple[Action, Callable[[], Advice]]] = {
    "first_readings": (
        Action.WAIT,
        lambda: said(
            settled(
                3.0,
                t=FIRST_READINGS_S - 1.0,
                subcooling=NoValue("no signal"),
                settled=None,
                channels=(channel(Role.LIQUID_PRESSURE, None, age_s=None),),
            )
        ),
    ),
    "no_signal": (
        Action.FIX_FIRST,
        lambda: said(
            settled(
                3.0,
                subcooling=NoValue("no signal"),
                settled=None,
                channels=channels(liquid_temperature=None),
            )
        ),
    ),
    "no_value": (
        Action.FIX_FIRST,
        lambda: said(settled(3.0, subcooling=NoValue("below the table"), settled=None)),
    ),
    "step_open": (
        Action.WAIT,
        lambda: said(moving("step_open", step_open=OpenStep(begun_t=990.0))),
    ),
    "step_full": (
        Action.WAIT,
        lambda: said(
            moving("step_open", step_open=OpenStep(begun_t=990.0, so_far_kg=0.11)),
            said(settled(3.0)),
        ),
    ),
    "minimum_wait": (Action.WAIT, lambda: said(moving("minimum_wait"))),
    "settling": (Action.WAIT, lambda: said(moving("rising"))),
    "below_target": (Action.ADD, lambda: said(settled(3.0))),
    "inside": (Action.STOP, lambda: said(settled(5.0))),
    "inside_not_certain": (Action.STOP, lambda: said(settled(4.5))),
    "inside_too_coarse": (Action.STOP, lambda: said(settled(5.0, 1.3))),
    "inside_undeclared": (Action.STOP, lambda: said(settled(5.0, None))),
    "step_too_fine": (Action.STOP, lambda: said(settled(3.9), job=COARSE_SCALE)),
    "above_target": (Action.RECOVER, lambda: said(settled(7.0))),
    "hold_missing": (
        Action.FIX_FIRST,
        lambda: said(moving("hold_missing", hold=HoldFacts(required_hz=72.0, held=False))),
    ),
    "hold_expired": (
        Action.FIX_FIRST,
        lambda: said(
            moving("hold_missing", hold=HoldFacts(required_hz=72.0, held=False)), expired=True
        ),
    ),
    "liquid_pressure_high": (
        Action.FIX_FIRST,
        lambda: said(settled(5.0, channels=channels(liquid_pressure=3.01e6))),
    ),
    "suction_pressure_low": (
        Action.FIX_FIRST,
        lambda: said(settled(5.0, channels=channels(suction_pressure=6.4e5))),
    ),
    "discharge_temp_high": (
        Action.FIX_FIRST,
        lambda: said(settled(5.0, channels=channels(discharge_temperature=384.0))),
    ),
    "current_high": (
        Action.FIX_FIRST,
        lambda: said(settled(5.0, channels=channels(compressor_current=9.1))),
    ),
    "impossible_subcooling": (
        Action.FIX_FIRST,
        lambda: said(settled(-3.5)),
    ),
    "low_superheat": (Action.FIX_FIRST, lambda: said(settled(3.0, settled_superheat_k=1.0))),
    "not_the_charge": (Action.FIX_FIRST, lambda: said(settled(5.0, settled_superheat_k=15.0))),
    "over_full": (Action.FIX_FIRST, lambda: said(settled(3.0, total_kg=2.3))),
    "up_to_limit": (Action.FIX_FIRST, lambda: said(settled(3.0), job=LIMITED)),
    "charge_limit": (Action.FIX_FIRST, lambda: said(settled(3.0, total_kg=1.9), job=LIMITED)),
    "mass_unknown": (Action.FIX_FIRST, lambda: said(settled(3.0, ledger=(step(None),)))),
    "probe_trouble": (Action.FIX_FIRST, lambda: said(settled(3.0, findings=(STUCK,)))),
    "run_time": (Action.WAIT, lambda: unmet(LimitKey.RUN_BEFORE_READING, 900.0, 250.0)),
    "condition_outdoor_low": (
        Action.FIX_FIRST,
        lambda: unmet(LimitKey.OUTDOOR_LOW, 285.93, 284.0),
    ),
    "condition_outdoor_high": (
        Action.FIX_FIRST,
        lambda: unmet(LimitKey.OUTDOOR_HIGH, 319.26, 320.0),
    ),
    "condition_indoor_low": (
        Action.FIX_FIRST,
        lambda: unmet(LimitKey.INDOOR_LOW, 294.26, 292.0),
    ),
    "condition_indoor_high": (
        Action.FIX_FIRST,
        lambda: unmet(LimitKey.INDOOR_HIGH, 300.0, 301.5),
    ),
    "not_the_cure": (
        Action.FIX_FIRST,
        lambda: advise(JOB, settled(3.0), None, Findings(cure=cure(Remedy.FIX))),
    ),
    "inside_conditions_open": (
        Action.STOP,
        lambda: advise(
            JOB, settled(5.0), None, condition(LimitKey.AIRFLOW_LOW, ConditionState.UNKNOWN, 4e-5)
        ),
    ),
}


SUPERHEAT_JUDGED = frozenset(
    {
        "superheat_settling", "superheat_over_target", "superheat_under_target", "no_superheat",
        "no_target", "impossible_superheat", "restricted", "overfed",
    }
)  # fmt: skip
"""Causes of jobs judged by superheat; `test_superheat_jobs` produces each."""

OF_FAULTS = frozenset({"check_standing", "standing_high", "standing_low", "inside_but_fault"})
"""Causes that follow from a ranking; `test_objection` produces each."""


def test_every_cause_is_produced_by_a_case() -> None:
    assert set(CASES) | SUPERHEAT_JUDGED | OF_FAULTS == wording.advice_causes()


@pytest.mark.parametrize("cause", sorted(CASES))
def test_cause_is_reached_and_worded_in_both_systems(cause: str) -> None:
    action, case = CASES[cause]
    advice = case()
    assert (advice.cause, advice.action) == (cause, action)
    for system in UnitSystem:
        text = wording.sentence(advice, system)
        # A hand on a valve that should be shut must not read "Wait".
        first = "Shut the valve" if cause == "step_full" else action.value.capitalize()
        assert text.startswith(first)
        assert text == " ".join(text.split())
        for never in ("perfect", "bleed", "top off", "safe", "nan", "None", "{", "}"):
            assert never not in text.lower().replace("bleeding", "")


def test_the_systems_differ_where_there_is_a_number_with_a_unit() -> None:
    advice = said(settled(3.0))
    assert wording.sentence(advice, UnitSystem.SI) == (
        "Add 105 g: 3.0 ± 0.4 K settled, target is 4.2 to 5.8 K; about 1 step, 5 min to go"
    )
    assert wording.sentence(advice, UnitSystem.US) == (
        "Add 3.7 oz: 5.4 ± 0.7 °F settled, target is 7.6 to 10.4 °F; about 1 step, 5 min to go"
    )


# What outranks what, most important first; each is one change to facts where all is well.
RANKING: list[tuple[str, dict[str, object]]] = [
    ("liquid_pressure_high", {"channels": channels(liquid_pressure=3.1e6)}),
    ("no_value", {"subcooling": NoValue("no line"), "settled": None}),
    ("impossible_subcooling", {"subcooling": Measured(value_k=-9.0)}),
    ("step_open", {"step_open": OpenStep(begun_t=990.0)}),
    ("hold_missing", {"hold": HoldFacts(required_hz=72.0, held=False)}),
    ("settling", {"settling": Settling(state=SettleState.MOVING, cause="rising", since_s=99.0)}),
    ("low_superheat", {"settled_superheat_k": 0.5}),
    ("inside", {}),
]


@pytest.mark.parametrize("first", range(len(RANKING)))
def test_the_order_of_the_questions(first: int) -> None:
    changes: dict[str, object] = {}
    for _, more in reversed(RANKING[first:]):
        changes |= more
    facts = replace(settled(5.0), **changes)  # type: ignore[arg-type]
    assert said(facts).cause == RANKING[first][0]


def test_a_guard_speaks_even_while_a_probe_is_silent() -> None:
    facts = settled(
        3.0,
        subcooling=NoValue("no signal"),
        settled=None,
        channels=channels(liquid_temperature=None, liquid_pressure=3.1e6),
    )
    assert said(facts).cause == "liquid_pressure_high"


def test_a_probe_that_was_never_heard_is_missed_after_a_while() -> None:
    never = channel(Role.LIQUID_PRESSURE, None, age_s=None)
    facts = settled(3.0, subcooling=NoValue("no signal"), settled=None, channels=(never,))
    advice = said(facts)
    assert (advice.cause, dict(advice.figures)) == ("no_signal", {})
    once = replace(facts, t=FIRST_READINGS_S - 1.0, channels=(replace(never, age_s=12.0),))
    assert said(once).cause == "no_signal"
    assert said(once).figures == {"age_s": 12.0}


def test_what_is_said_while_it_moves() -> None:
    forecast = Forecast(value_k=5.0, low_k=4.8, high_k=5.2, seconds=74.0)
    settling = Settling(
        state=SettleState.MOVING,
        cause="falling",
        since_s=90.0,
        slope_k_per_s=-0.01,
        forecast=forecast,
    )
    advice = said(settled(3.0, settled=None, settling=settling))
    assert wording.sentence(advice, UnitSystem.US) == (
        "Wait: subcooling still falling 1.1 °F/min, about 70 s to go"
    )
    assert wording.settling(settling, UnitSystem.SI) == (
        "still falling 0.6 K/min, about 70 s to go"
    )
    silent = replace(settling, slope_k_per_s=None, forecast=None)
    assert said(settled(3.0, settled=None, settling=silent)).figures == {}


def test_a_guard_that_is_not_set_says_nothing() -> None:
    wild = channels(
        liquid_pressure=9e6,
        suction_pressure=0.0,
        discharge_temperature=500.0,
        compressor_current=99.0,
    )
    assert said(settled(5.0, channels=wild), job=replace(JOB, guards=Guards())).cause == "inside"


def test_an_absolute_probe_is_compared_as_gauge() -> None:
    item = channel(Role.LIQUID_PRESSURE, 3.0e6 + 50_000.0)
    absolute = replace(item, channel=replace(item.channel, reference=Reference.ABSOLUTE))
    assert said(settled(5.0, channels=(item,))).cause == "liquid_pressure_high"
    assert said(settled(5.0, channels=(absolute,))).cause == "inside"


def test_a_value_on_a_guards_limit_does_not_flicker() -> None:
    previous: Advice | None = None
    causes = []
    for i in range(40):
        value = 3.0e6 + (5000.0 if i % 2 else -5000.0)
        previous = said(settled(5.0, channels=channels(liquid_pressure=value)), previous)
        causes.append(previous.cause)
    assert causes == ["inside"] + ["liquid_pressure_high"] * 39
    assert "still close to the limit" in wording.sentence(
        said(settled(5.0, channels=channels(liquid_pressure=2.99e6)), previous), UnitSystem.SI
    )
    well = said(settled(5.0, channels=channels(liquid_pressure=2.96e6)), previous)
    assert well.cause == "inside"


def test_no_probe_at_all_is_said_plainly() -> None:
    facts = settled(3.0, subcooling=NoValue("none"), settled=None, channels=())
    assert said(facts).subject == "the job has no liquid line pressure probe"


@pytest.mark.parametrize(
    ("value_k", "expanded_k", "cause"),
    [
        (4.601, 0.4, "inside"),
        (5.399, 0.4, "inside"),
        (4.59, 0.4, "inside_not_certain"),
        (5.41, 0.4, "inside_not_certain"),
        (4.2, 0.4, "inside_not_certain"),
        (5.8, 0.4, "inside_not_certain"),
        (5.0, 0.799, "inside"),
        (5.0, 0.81, "inside_too_coarse"),
        (4.3, 5.0, "inside_too_coarse"),
        (5.8, None, "inside_undeclared"),
        (4.19, 0.4, "below_target"),
        (5.81, 0.4, "above_target"),
        (4.19, 5.0, "below_target"),
    ],
)
def test_decisions_about_the_band(value_k: float, expanded_k: float | None, cause: str) -> None:
    # JCGM 106:2012, section 8: accepted with certainty only a guard band U inside the limits.
    assert said(settled(value_k, expanded_k)).cause == cause


def test_conformance_is_shown_with_an_uncertain_stop() -> None:
    advice = said(settled(4.2, 0.4))
    # On the limit, with the other limit 8 u away, half the probability lies inside.
    assert advice.figures["conformance"] == pytest.approx(0.5, abs=1e-6)
    assert "but not certainly (50 % likely)" in wording.sentence(advice, UnitSystem.SI)
    assert "conformance" not in said(settled(4.5, None)).figures


def test_coarse_instruments_are_named_as_such() -> None:
    text = wording.sentence(said(settled(5.0, 1.4)), UnitSystem.US)
    assert text == (
        "Stop: 9.0 ± 2.5 °F is inside 7.6 to 10.4 °F, but these instruments are too coarse to "
        "judge it"
    )


def test_a_stopped_charge_stays_stopped_on_the_edge_and_is_not_called_inside() -> None:
    previous = said(settled(4.3))
    for value_k in (4.25, 4.15, 4.05, 4.25, 4.01):
        previous = said(settled(value_k), previous)
        assert (previous.action, previous.cause) == (Action.STOP, "inside_not_certain")
        inside = " is inside " in wording.sentence(previous, UnitSystem.SI)
        assert inside is (value_k >= 4.2)
    assert said(settled(3.99), previous).action is Action.ADD
    assert said(settled(5.99), previous).action is Action.STOP
    assert said(settled(6.01), previous).action is Action.RECOVER


def test_a_stop_that_never_was_inside_does_not_become_inside() -> None:
    previous = said(settled(4.1), job=COARSE_SCALE)
    assert previous.cause == "step_too_fine"
    assert said(settled(4.1), previous, COARSE_SCALE).cause == "step_too_fine"


def test_the_amount_does_not_flicker_with_the_reading() -> None:
    previous: Advice | None = None
    amounts = []
    for i in range(60):
        previous = said(settled(4.0 + (0.04 if i % 2 else -0.04)), previous)
        amounts.append(previous.mass_kg)
    assert len(set(amounts)) <= 2
    assert len(set(amounts[2:])) == 1


def test_a_kept_amount_shrinks_when_the_reading_drifts_up() -> None:
    previous = said(settled(1.0))
    assert previous.mass_kg == 0.11
    for i in range(31):
        value_k = 1.0 + 0.1 * i
        previous = said(settled(value_k), previous)
        fresh = said(settled(value_k))
        assert previous.mass_kg is not None
        assert fresh.mass_kg is not None
        # Never more than what the model calls prudent now: half as much again, at most, of what
        # would be proposed afresh, which also stops at the middle of the band.
        assert previous.mass_kg <= max(fresh.mass_kg * 1.5, fresh.mass_kg + 0.02)
    assert previous.mass_kg is not None
    assert previous.mass_kg < 0.09


def test_the_amount_never_passes_what_plate_and_line_set_leave() -> None:
    assert said(settled(1.0, total_kg=2.263)).mass_kg == 0.035
    assert said(settled(1.0, total_kg=2.296)).cause == "over_full"


def test_a_line_set_allowance_makes_room() -> None:
    job = replace(JOB, charge=replace(JOB.charge, allowance_kg=0.2))
    assert said(settled(1.0, total_kg=2.3), job=job).cause == "below_target"


def test_an_unknown_amount_does_not_stand_in_the_way_of_stopping_or_recovering() -> None:
    ledger = (step(None),)
    assert said(settled(5.0, ledger=ledger)).action is Action.STOP
    assert said(settled(7.0, ledger=ledger)).action is Action.RECOVER


@pytest.mark.parametrize(
    ("value_k", "superheat_k", "cause"),
    [
        (1.5, 20.0, "below_target"),  # short of charge: both agree
        (3.5, 20.0, "not_the_charge"),  # a shortage shows superheat only without subcooling
        (5.0, 20.0, "not_the_charge"),
        (7.0, 20.0, "not_the_charge"),  # never recover against a restriction
        (3.0, 1.0, "low_superheat"),  # never add to a flooding evaporator
        (7.0, 1.0, "low_superheat"),
        (5.0, 14.3, "inside"),  # 13.9 K + 0.5 K of uncertainty
        (3.0, 1.9, "below_target"),
    ],
)
def test_superheat_that_contradicts(value_k: float, superheat_k: float, cause: str) -> None:
    assert said(settled(value_k, settled_superheat_k=superheat_k)).cause == cause


def test_superheat_on_its_limit_does_not_flicker() -> None:
    previous: Advice | None = None
    causes = []
    for i in range(20):
        superheat_k = 20.0 / 9.0 - 0.5 + (0.2 if i % 2 else -0.2)
        previous = said(settled(3.0, settled_superheat_k=superheat_k), previous)
        causes.append(previous.cause)
    assert set(causes) == {"low_superheat"}


def test_without_superheat_the_charge_is_judged_alone() -> None:
    facts = settled(3.0, settled_superheat_k=None, superheat=NoValue("no probes"))
    assert said(facts).cause == "below_target"


def test_an_open_step_remembers_what_was_proposed() -> None:
    add = said(settled(3.0))
    one = said(moving("step_open", step_open=OpenStep(begun_t=1.0, so_far_kg=0.02)), add)
    two = said(moving("step_open", step_open=OpenStep(begun_t=1.0, so_far_kg=0.05)), one)
    assert wording.reason(two, UnitSystem.SI).startswith("50 g of 105 g in by the scale")
    full = said(moving("step_open", step_open=OpenStep(begun_t=1.0, so_far_kg=0.106)), two)
    assert full.cause == "step_full"


def test_frequencies_that_round_alike_are_told_apart() -> None:
    hold = HoldFacts(required_hz=72.0, actual_hz=71.6, held=False)
    text = wording.reason(said(moving("hold_missing", hold=hold)), UnitSystem.SI)
    assert text == "hold the compressor at 72 Hz, it runs at 71.6 Hz"


@pytest.mark.parametrize("state_cause", sorted(wording.settling_causes()))
@pytest.mark.parametrize("system", list(UnitSystem))
def test_every_reason_of_settling_is_worded(state_cause: str, system: UnitSystem) -> None:
    settling = Settling(
        state=SettleState.MOVING,
        cause=state_cause,
        since_s=12.0,
        slope_k_per_s=-0.01,
        hunting_period_s=33.0,
    )
    assert wording.settling(settling, system)
    assert wording.settling(Settling(cause=state_cause), system)
    if state_cause not in {"settled", "step_open", "hold_missing", "no_signal"}:
        advice = said(settled(3.0, settled=None, settling=settling))
        assert wording.sentence(advice, system).startswith("Wait: ")


def test_the_sentences_of_a_condition_name_value_limit_and_source() -> None:
    # 12 °C is 53.6 °F, 55 °F is 12.8 °C; by hand, °F = 1.8 °C + 32.
    advice = unmet(LimitKey.OUTDOOR_LOW, 273.15 + (55.0 - 32.0) / 1.8, 273.15 + 12.0)
    source = "[invented manual, page 12 (equipment instructions)]"
    rest = f"{source}; the target is not given for that"
    assert wording.sentence(advice, UnitSystem.SI) == (
        f"Fix first: outdoor air at 12.0 °C is under 12.8 °C {rest}"
    )
    assert wording.sentence(advice, UnitSystem.US) == (
        f"Fix first: outdoor air at 53.6 °F is under 55.0 °F {rest}"
    )
    run = unmet(LimitKey.RUN_BEFORE_READING, 900.0, 250.0)
    assert run.figures == {"seconds_s": 650.0}
    assert wording.sentence(run, UnitSystem.SI).endswith(
        f"of the run before a reading are left {source}"
    )


@pytest.mark.parametrize("value_k", [3.0, 5.0, 7.0])
def test_an_unmet_condition_keeps_every_verdict_back(value_k: float) -> None:
    found = condition(LimitKey.OUTDOOR_LOW, ConditionState.UNMET, 285.9, 284.0)
    assert advise(JOB, settled(value_k), None, found).cause == "condition_outdoor_low"


@pytest.mark.parametrize("state", [ConditionState.MET, ConditionState.UNKNOWN])
def test_charging_goes_on_while_no_condition_is_known_to_be_broken(state: ConditionState) -> None:
    found = condition(LimitKey.OUTDOOR_LOW, state, 285.9)
    assert advise(JOB, settled(3.0), None, found).action is Action.ADD
    assert advise(JOB, settled(7.0), None, found).action is Action.RECOVER


def test_a_met_condition_lets_the_verdict_pass_and_an_open_one_does_not() -> None:
    for value_k in (5.0, 4.5):
        met = condition(LimitKey.AIRFLOW_LOW, ConditionState.MET, 4e-5)
        assert advise(JOB, settled(value_k), None, met).cause in {"inside", "inside_not_certain"}
        open_ = condition(LimitKey.AIRFLOW_LOW, ConditionState.UNKNOWN, 4e-5)
        advice = advise(JOB, settled(value_k), None, open_)
        assert (advice.cause, advice.subject) == ("inside_conditions_open", "airflow low")
        assert "no verdict yet, not known: airflow low" in wording.reason(advice, UnitSystem.SI)
        # Coarse or undeclared probes are the graver reason and stay the one that is named.
        assert advise(JOB, settled(5.0, 1.3), None, open_).cause == "inside_too_coarse"
        assert advise(JOB, settled(5.0, None), None, open_).cause == "inside_undeclared"


def test_the_edge_of_the_band_is_kept_with_open_conditions_too() -> None:
    found = condition(LimitKey.AIRFLOW_LOW, ConditionState.UNKNOWN, 4e-5)
    previous = advise(JOB, settled(4.3), None, found)
    assert previous.cause == "inside_conditions_open"
    assert advise(JOB, settled(4.05), previous, found).action is Action.STOP
    assert advise(JOB, settled(4.05), None, found).action is Action.ADD


@pytest.mark.parametrize("remedy", list(Remedy))
def test_only_another_fault_keeps_a_short_charge_from_being_added_to(remedy: Remedy) -> None:
    advice = advise(JOB, settled(3.0), None, Findings(cure=cure(remedy)))
    assert (advice.cause == "not_the_cure") is (remedy is Remedy.FIX)
    if remedy is Remedy.FIX:
        assert advice.subject == Cause.RESTRICTION.value
        assert advice.figures == {"chance": 0.83}
    else:
        assert advice.action is Action.ADD


@pytest.mark.parametrize(("value_k", "cause"), [(5.0, "inside"), (7.0, "above_target")])
def test_a_diagnosis_does_not_speak_where_nothing_is_to_be_added(
    value_k: float, cause: str
) -> None:
    found = Findings(cure=cure(Remedy.FIX))
    assert advise(JOB, settled(value_k), None, found).cause == cause
