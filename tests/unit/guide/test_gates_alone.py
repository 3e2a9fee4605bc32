"""Each gate before a reading, asked alone; every number is invented."""

from dataclasses import replace

import pytest

from chargeassist.guide import gates
from chargeassist.guide.conditions import Condition, ConditionState
from chargeassist.model.channels import Role
from chargeassist.model.events import Action, Advice
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import (
    ChannelFacts,
    Facts,
    HandFacts,
    HoldFacts,
    Measured,
    OpenStep,
    SettleState,
    Settling,
)
from tests.unit.guide.charging_facts import (
    JOB,
    channel,
    channels,
    condition,
    moving,
    settled,
    step,
)

NOTHING = NoValue("no signal from liquid pressure")
PLACES = (Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE)


def unread(t: float, *of: ChannelFacts, **more: object) -> Facts:
    return replace(moving(subcooling=NOTHING), t=t, channels=of, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("t", "age_s", "cause"),
    [(19.9, None, "first_readings"), (20.0, None, "no_signal"), (1.0, 12.0, "no_signal")],
)
def test_a_probe_that_has_sent_nothing_is_waited_for_at_first(
    t: float, age_s: float | None, cause: str
) -> None:
    dead = channel(Role.LIQUID_TEMPERATURE, None, age_s=age_s)
    found = gates.missing(unread(t, channel(Role.LIQUID_PRESSURE, 2.3e6), dead))
    assert found is not None
    assert found.cause == cause
    assert found.action is (Action.WAIT if cause == "first_readings" else Action.FIX_FIRST)
    assert found.subject == Role.LIQUID_TEMPERATURE.label
    assert found.figures == ({} if age_s is None else {"age_s": age_s})


def test_what_is_missing_is_named_and_nothing_where_there_is_a_value() -> None:
    assert gates.missing(settled(3.0)) is None
    none = gates.missing(unread(1000.0, channel(Role.LIQUID_PRESSURE, 2.3e6)))
    assert none is not None
    assert none.subject == f"the job has no {Role.LIQUID_TEMPERATURE.label} probe"
    both = gates.missing(unread(1000.0, *channels()))
    assert both is not None
    assert (both.action, both.subject) == (Action.FIX_FIRST, NOTHING.reason)
    assert none.cause == both.cause == settled(3.0).judged.no_value_cause


def by_hand(places: tuple[Role, ...], *of: ChannelFacts, **more: object) -> Advice | None:
    hand = HandFacts(readings=0, least=3, due_t=0.0, places=places, wanted=places)
    return gates.missing(unread(1000.0, *of, by_hand=hand, **more))


def test_by_hand_only_the_place_of_a_probe_can_be_silent() -> None:
    dead = channel(Role.LIQUID_PRESSURE, None)
    found = by_hand((Role.LIQUID_TEMPERATURE,), dead)
    assert found is not None
    assert (found.cause, found.subject) == ("no_signal", Role.LIQUID_PRESSURE.label)
    alive = channel(Role.LIQUID_PRESSURE, 2.3e6)
    for places, of in (
        ((Role.LIQUID_TEMPERATURE,), (alive,)),
        (PLACES, (dead,)),
        (PLACES, ()),
        ((Role.LIQUID_TEMPERATURE,), ()),
    ):
        found = by_hand(places, *of)
        assert found is not None
        assert (found.action, found.cause) == (Action.DO, "read_by_hand")


def test_by_hand_an_open_step_and_the_hold_come_before_a_reading() -> None:
    assert by_hand(PLACES, step_open=OpenStep(begun_t=990.0)) is None
    assert by_hand(PLACES, hold=HoldFacts(required_hz=72.0, held=False)) is None
    everything = by_hand(PLACES, *channels(), hold=HoldFacts(required_hz=72.0, held=False))
    assert everything is not None
    assert (everything.action, everything.subject) == (Action.FIX_FIRST, NOTHING.reason)


def test_the_air_around_both_coils_is_waited_for_like_a_probe() -> None:
    why = NoValue("no outdoor air temperature")
    early = gates.no_target(replace(settled(3.0), t=19.9), why)
    assert (early.action, early.cause) == (Action.WAIT, "first_readings")
    late = gates.no_target(replace(settled(3.0), t=20.0), why)
    assert (late.action, late.cause, late.subject) == (Action.FIX_FIRST, "no_target", why.reason)


def test_what_has_to_be_put_right_comes_before_the_run_time() -> None:
    def one(key: LimitKey, value_si: float | None, limit_si: float) -> Condition:
        return condition(key, ConditionState.UNMET, limit_si, value_si).conditions[0]

    run = one(LimitKey.RUN_BEFORE_READING, 100.0, 900.0)
    cold = one(LimitKey.OUTDOOR_LOW, 280.0, 286.0)
    waits = one(LimitKey.WAIT_AFTER_CHANGE, 1.0, 300.0)
    facts = settled(3.0)
    for given in ((run, cold), (cold, run), (waits, run, cold)):
        found = gates.condition(facts, given)
        assert found is not None
        assert (found.action, found.cause) == (Action.FIX_FIRST, "condition_outdoor_low")
        assert found.figures == {"value_k": 280.0, "limit_k": 286.0}
        assert found.subject == cold.limit.citation
    found = gates.condition(facts, (waits, run))
    assert found is not None
    assert (found.action, found.cause) == (Action.WAIT, "run_time")
    assert found.figures == {"seconds_s": 800.0}
    unknown = gates.condition(facts, (one(LimitKey.RUN_BEFORE_READING, None, 900.0),))
    assert unknown is not None
    assert unknown.figures == {"seconds_s": 900.0}
    late = gates.condition(facts, (one(LimitKey.RUN_BEFORE_READING, 901.0, 900.0),))
    assert late is not None
    assert late.figures == {"seconds_s": 0.0}
    assert gates.condition(facts, (waits,)) is None


def test_the_figures_of_a_condition_are_in_its_own_unit() -> None:
    air = condition(LimitKey.AIRFLOW_LOW, ConditionState.UNMET, 4e-5, 3e-5).conditions
    found = gates.condition(settled(3.0), air)
    assert found is not None
    assert found.figures == {"value_m3_per_s_per_w": 3e-5, "limit_m3_per_s_per_w": 4e-5}
    panels = condition(LimitKey.FILTERS_PANELS, ConditionState.UNKNOWN, 1.0).conditions
    found = gates.condition(settled(3.0), panels)
    assert found is not None
    assert found.figures == {}


def test_a_refused_reading_is_believed_again_half_a_kelvin_nearer() -> None:
    """3 K under zero is this program's default."""

    def refused(reading_k: float, previous: Advice | None = None, **more: object) -> Advice | None:
        reading = Measured(value_k=reading_k, expanded_k=more.pop("expanded_k", None))  # type: ignore[arg-type]
        facts = replace(settled(3.0, subcooling=reading), **more)  # type: ignore[arg-type]
        return gates.impossible(JOB, facts, previous)

    assert refused(-3.0) is None
    found = refused(-3.01)
    assert found is not None
    assert (found.action, found.cause) == (Action.FIX_FIRST, "impossible_subcooling")
    assert found.figures == {"subcooling_k": -3.01, "limit_k": -3.0}
    assert refused(-2.51, found) is not None
    assert refused(-2.49, found) is None
    assert refused(-2.51, replace(found, cause="below_target")) is None
    assert refused(-3.01, expanded_k=0.5) is None
    assert refused(-3.51, expanded_k=0.5) is not None
    early = Settling(state=SettleState.MOVING, cause="rising", since_s=19.9)
    assert refused(-9.0, settling=early) is None
    assert refused(-9.0, settling=replace(early, since_s=20.0)) is not None
    # At rest both lines say what the weather says.
    assert refused(-9.0, channels=channels(compressor_current=0.0)) is None


def test_a_compressor_stands_by_its_frequency_or_its_amps() -> None:
    by_amps = gates.standing_still(JOB, settled(3.0, channels=channels(compressor_current=0.1)))
    assert by_amps is not None
    assert (by_amps.cause, by_amps.figures) == ("compressor_stands", {"value_a": 0.1})
    both = (*channels(compressor_current=0.1), channel(Role.COMPRESSOR_FREQUENCY, 0.0))
    by_hertz = gates.standing_still(JOB, settled(3.0, channels=both))
    assert by_hertz is not None
    assert by_hertz.figures == {"actual_hz": 0.0}
    assert gates.standing_still(JOB, settled(3.0)) is None
    running = settled(3.0, channels=channels(compressor_current=0.1), running_since_t=10.0)
    assert gates.standing_still(JOB, running) is None


def test_the_amount_of_the_newest_step_without_one_is_asked_for() -> None:
    known, unknown = step(0.1), step(None)
    last = gates.mass_unknown(settled(3.0, ledger=(known, replace(unknown, number=2))))
    assert (last.action, last.cause, last.figures) == (Action.FIX_FIRST, "mass_unknown", {})
    ledger = (unknown, replace(unknown, number=2, came_out=True), replace(known, number=3))
    assert gates.mass_unknown(settled(3.0, ledger=ledger)).figures == {
        "step": 2.0,
        "recovered": 1.0,
    }


def test_the_hold_is_asked_for_waited_for_and_missed() -> None:
    missing = HoldFacts(required_hz=72.0, actual_hz=60.0, held=False)

    def found(hold: HoldFacts, *limits: Limit, expired: bool = False) -> Advice | None:
        job = replace(JOB, limits=limits)
        return gates.hold(job, settled(3.0, hold=hold), expired=expired)

    assert found(replace(missing, held=True)) is None
    assert found(replace(missing, required_hz=None)) is None
    plain = found(missing)
    assert plain is not None
    assert (plain.action, plain.cause) == (Action.FIX_FIRST, "hold_missing")
    assert plain.figures == {"required_hz": 72.0, "actual_hz": 60.0}
    unseen = found(replace(missing, actual_hz=None))
    assert unseen is not None
    assert unseen.figures == {"required_hz": 72.0}
    over = found(missing, expired=True)
    assert over is not None
    assert (over.cause, over.figures) == ("hold_expired", {"required_hz": 72.0})
    longest = Limit(
        key=LimitKey.RAMP_LONGEST,
        value_si=300.0,
        as_written="5 min",
        source="invented manual",
        edition="",
        authority=Authority.EQUIPMENT,
    )
    for ramp_s, action, cause in (
        (300.0, Action.WAIT, "hold_ramps"),
        (300.1, Action.FIX_FIRST, "hold_ramp_long"),
    ):
        ramp = found(replace(missing, ramp_s=ramp_s), longest)
        assert ramp is not None
        assert (ramp.action, ramp.cause, ramp.subject) == (action, cause, longest.citation)
        assert ramp.figures["ramp_s"] == ramp_s
        assert ramp.figures["limit_s"] == 300.0
    unlimited = found(replace(missing, ramp_s=10.0))
    assert unlimited is not None
    assert unlimited.cause == "hold_missing"


def test_what_a_settling_reading_waits_for_is_said_with_its_figures() -> None:
    def found(**of: object) -> Advice:
        settling = replace(
            Settling(state=SettleState.MOVING, cause="rising", since_s=100.0),
            **of,  # type: ignore[arg-type]
        )
        advice = gates.settling(JOB, settled(3.0, settled=None, settling=settling))
        assert advice is not None
        assert advice.action is Action.WAIT
        return advice

    wait_s = JOB.processing.minimum_wait_s
    least = found(cause="minimum_wait", since_s=10.0)
    assert (least.cause, least.figures) == ("minimum_wait", {"seconds_s": wait_s - 10.0})
    clamp = found(cause="clamp_settles", held_s=42.0)
    assert (clamp.cause, clamp.figures) == ("clamp_settles", {"seconds_s": 42.0})
    assert found(cause="clamp_settles", held_s=-1.0).figures == {"seconds_s": 0.0}
    assert found().figures == {}
    every = found(slope_k_per_s=0.01, hunting_period_s=90.0, held_s=30.0)
    assert every.figures == {"slope_k_per_s": 0.01, "period_s": 90.0, "held_s": 30.0}
    assert gates.settling(JOB, settled(3.0)) is None
    # A verdict of settling without a value is none.
    assert gates.settling(JOB, settled(3.0, settled=None)) is not None
