"""From facts to one instruction: the order of the questions, every cause, what is never said."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from chargeassist.guide import wording
from chargeassist.guide.charging import Findings, advise
from chargeassist.guide.conditions import ConditionState
from chargeassist.guide.cure import Remedy
from chargeassist.guide.gates import FIRST_READINGS_S
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Guards
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import (
    Forecast,
    HoldFacts,
    Measured,
    OpenStep,
    SettleState,
    Settling,
)
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity
from tests.unit.guide.charging_facts import (
    COARSE_SCALE,
    JOB,
    channel,
    channels,
    condition,
    cure,
    moving,
    said,
    settled,
    step,
)


def unmet(key: LimitKey, limit_si: float, value_si: float) -> Advice:
    found = condition(key, ConditionState.UNMET, limit_si, value_si)
    return advise(JOB, settled(3.0), None, found)


def ramping(ramp_s: float) -> Advice:
    """Return what is said so long into a ramp that may take three minutes."""
    (longest,) = condition(LimitKey.RAMP_LONGEST, ConditionState.MET, 180.0).conditions
    hold = HoldFacts(required_hz=72.0, actual_hz=59.5, held=False, ramp_s=ramp_s)
    return said(moving("hold_missing", hold=hold), job=replace(JOB, limits=(longest.limit,)))


STUCK = ProbeFinding(
    channel="liquid_temperature",
    kind=ProbeTrouble.STUCK,
    severity=Severity.UNUSABLE,
    figures={},
    since_t=880.0,
)

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
    "scale_lost": (
        Action.WAIT,
        lambda: said(
            moving(
                "step_open",
                step_open=OpenStep(begun_t=990.0, so_far_kg=0.04, scale_lost=True),
                channels=channels(liquid_temperature=None),  # all of one source, as a rule
            )
        ),
    ),
    "step_full": (
        Action.WAIT,
        lambda: said(
            moving("step_open", step_open=OpenStep(begun_t=990.0, so_far_kg=0.11)),
            said(settled(3.0)),
        ),
    ),
    "compressor_stands": (
        Action.FIX_FIRST,
        lambda: said(settled(0.1, channels=channels(compressor_current=0.1))),
    ),
    "minimum_wait": (Action.WAIT, lambda: said(moving("minimum_wait"))),
    "clamp_settles": (Action.WAIT, lambda: said(moving("clamp_settles"))),
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
    "circuit_empty": (
        Action.FIX_FIRST,
        lambda: said(settled(5.0, channels=channels(liquid_pressure=2e3, suction_pressure=1e3))),
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
    "condition_airflow_low": (
        Action.FIX_FIRST,
        lambda: unmet(LimitKey.AIRFLOW_LOW, 4e-5, 3e-5),
    ),
    "condition_filters_panels": (
        Action.FIX_FIRST,
        lambda: advise(
            JOB, settled(5.0), None, condition(LimitKey.FILTERS_PANELS, ConditionState.UNKNOWN, 1.0)
        ),
    ),
    "hold_ramps": (Action.WAIT, lambda: ramping(40.0)),
    "hold_ramp_long": (Action.FIX_FIRST, lambda: ramping(200.0)),
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

OF_DRIFTS = frozenset({"leaking", "zero_creeps", "zero_moved"})
"""Causes that follow from a reading that drifts; `test_drift` produces each."""


OF_INSTRUMENTS = frozenset({"cylinder_off"})
"""Causes that follow from a check of a probe; `test_instrument_checks` produces each."""

BY_HAND = frozenset({"read_by_hand", "by_hand_waits", "read_meanwhile", "read_beside"})
"""What is asked for where no probe reads the line; `test_by_hand` and `test_by_hand_asks` do."""


def test_every_cause_is_produced_by_a_case() -> None:
    every = set(CASES) | SUPERHEAT_JUDGED | OF_FAULTS | OF_DRIFTS | OF_INSTRUMENTS | BY_HAND
    assert every == wording.ADVICE.keys()


@pytest.mark.parametrize("cause", sorted(CASES))
def test_cause_is_reached_and_worded_in_both_systems(cause: str) -> None:
    action, case = CASES[cause]
    advice = case()
    assert (advice.cause, advice.action) == (cause, action)
    for system in UnitSystem:
        text = wording.sentence(advice, system)
        # A hand on a valve that should be shut must not read "Wait".
        first = (
            "Shut the valve" if cause in {"step_full", "scale_lost"} else action.value.capitalize()
        )
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


@pytest.mark.parametrize(
    ("role", "cause", "limit_si", "inside", "noise_si"),
    [  # `inside` is the way from the limit to where all is well
        (Role.LIQUID_PRESSURE, "liquid_pressure_high", 3.0e6, -1, 5000.0),
        (Role.SUCTION_PRESSURE, "suction_pressure_low", 6.5e5, 1, 2000.0),
        (Role.DISCHARGE_TEMPERATURE, "discharge_temp_high", 383.15, -1, 0.3),
        (Role.COMPRESSOR_CURRENT, "current_high", 9.0, -1, 0.02),
    ],
)
def test_a_value_on_a_guards_limit_does_not_flicker(
    role: Role, cause: str, limit_si: float, inside: int, noise_si: float
) -> None:
    def at(off_si: float, previous: Advice | None) -> Advice:
        value = {role.value: limit_si + inside * off_si}
        return said(settled(5.0, channels=channels(**value)), previous)

    previous: Advice | None = None
    causes = []
    for i in range(40):
        previous = at(noise_si if i % 2 == 0 else -noise_si, previous)
        causes.append(previous.cause)
    assert causes == ["inside"] + [cause] * 39
    near = at(noise_si, previous)
    assert "still close to the limit" in wording.sentence(near, UnitSystem.SI)
    assert at(5.0 * noise_si + 0.015 * limit_si, near).cause == "inside"


def test_no_probe_at_all_is_said_plainly() -> None:
    facts = settled(3.0, subcooling=NoValue("none"), settled=None, channels=())
    assert said(facts).subject == "the job has no liquid line pressure probe"
