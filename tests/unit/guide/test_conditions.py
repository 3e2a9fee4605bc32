"""Each condition of a job against the facts: met, not met, not known. Every number is invented."""

from dataclasses import replace

import pytest

from chargeassist.guide import gates, wording
from chargeassist.guide.assistant import Assistant
from chargeassist.guide.conditions import (
    HYSTERESIS_K,
    Condition,
    ConditionState,
    conditions,
    unmet_keys,
)
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    Action,
    Advice,
    ChannelDeclared,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
)
from chargeassist.model.job import ChargeLimits, Hold, Job, Site, Target
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.stream.facts import ChannelFacts, Facts
from tests.unit.guide.bare_facts import bare_facts

LOW_K, HIGH_K = 286.0, 319.0
MET, UNMET, UNKNOWN = ConditionState.MET, ConditionState.UNMET, ConditionState.UNKNOWN


def limit(key: LimitKey, value_si: float) -> Limit:
    return Limit(
        key=key,
        value_si=value_si,
        as_written="invented",
        source="invented manual, page 12",
        edition="2nd",
        authority=Authority.EQUIPMENT,
    )


def job(*limits: Limit, hold_hz: float | None = None) -> Job:
    return Job(
        name="invented",
        refrigerant="R-32",
        target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
        charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.8),
        site=Site(altitude_m=0.0),
        hold=Hold(required_hz=hold_hz),
        limits=limits,
    )


def facts(
    values: dict[Role, float | None] | None = None,
    *,
    t: float = 1000.0,
    running_since_t: float | None = 0.0,
    confirmed: frozenset[str] = frozenset(),
) -> Facts:
    return bare_facts(
        t=t,
        channels=tuple(
            ChannelFacts(channel=Channel(name=role.value, role=role, unit="K"), value_si=value)
            for role, value in (values or {}).items()
        ),
        running_since_t=running_since_t,
        confirmed=confirmed,
    )


def only(one: Limit, seen: Facts, unmet_before: frozenset[LimitKey] = frozenset()) -> Condition:
    (found,) = conditions(job(one), seen, unmet_before)
    assert found.limit is one
    return found


OUTDOOR, RETURN = Role.OUTDOOR_AIR_TEMPERATURE, Role.RETURN_AIR_TEMPERATURE
AIR = [
    (LimitKey.OUTDOOR_LOW, OUTDOOR, LOW_K, -1.0),
    (LimitKey.OUTDOOR_HIGH, OUTDOOR, HIGH_K, 1.0),
    (LimitKey.INDOOR_LOW, RETURN, LOW_K, -1.0),
    (LimitKey.INDOOR_HIGH, RETURN, HIGH_K, 1.0),
]


@pytest.mark.parametrize(("key", "role", "limit_k", "out"), AIR)
def test_air_against_its_limit(key: LimitKey, role: Role, limit_k: float, out: float) -> None:
    one = limit(key, limit_k)
    for beyond_k, state in ((-5.0, MET), (-0.01, MET), (0.0, MET), (0.01, UNMET), (5.0, UNMET)):
        found = only(one, facts({role: limit_k + out * beyond_k}))
        assert (found.state, found.value_si) == (state, limit_k + out * beyond_k)


@pytest.mark.parametrize(("key", "role", "limit_k", "out"), AIR)
def test_what_was_unmet_must_come_back_a_little_further(
    key: LimitKey, role: Role, limit_k: float, out: float
) -> None:
    one, before = limit(key, limit_k), frozenset({key})
    inside = facts({role: limit_k - out * 0.9 * HYSTERESIS_K})
    assert only(one, inside, before).state is UNMET
    assert only(one, inside).state is MET
    assert only(one, inside, frozenset({LimitKey.RUN_BEFORE_READING})).state is MET
    assert only(one, facts({role: limit_k - out * 1.1 * HYSTERESIS_K}), before).state is MET


@pytest.mark.parametrize(("key", "role", "limit_k", "out"), AIR)
def test_what_no_probe_measures_is_not_known_until_it_is_confirmed(
    key: LimitKey, role: Role, limit_k: float, out: float
) -> None:
    one = limit(key, limit_k)
    other = RETURN if role is OUTDOOR else OUTDOOR
    for seen in (facts(), facts({role: None}), facts({other: 300.0})):
        assert only(one, seen) == Condition(limit=one, state=UNKNOWN)
        assert only(one, replace(seen, confirmed=frozenset({"airflow_low"}))).state is UNKNOWN
        assert only(one, replace(seen, confirmed=frozenset({key.value}))).state is MET
    # A word does not outweigh a reading.
    confirmed = frozenset({key.value})
    assert only(one, facts({role: limit_k + out}, confirmed=confirmed)).state is UNMET


def test_the_first_of_two_probes_for_the_same_air_counts() -> None:
    seen = facts({OUTDOOR: 300.0})
    spare = ChannelFacts(channel=Channel(name="spare", role=OUTDOOR, unit="K"), value_si=200.0)
    seen = replace(seen, channels=(*seen.channels, spare))
    assert only(limit(LimitKey.OUTDOOR_LOW, LOW_K), seen).value_si == 300.0


def test_airflow_is_known_by_confirmation_alone() -> None:
    one = limit(LimitKey.AIRFLOW_LOW, 4e-5)
    assert only(one, facts({OUTDOOR: 300.0})).state is UNKNOWN
    assert only(one, facts(confirmed=frozenset({"airflow_low"}))).state is MET


def test_the_run_before_a_reading() -> None:
    one = limit(LimitKey.RUN_BEFORE_READING, 900.0)
    for t, since_t, state, run_s in (
        (1000.0, None, UNMET, 0.0),
        (1000.0, 101.0, UNMET, 899.0),
        (1000.0, 100.0, MET, 900.0),
        (1000.0, 0.0, MET, 1000.0),
    ):
        found = only(one, facts(t=t, running_since_t=since_t))
        assert (found.state, found.value_si) == (state, run_s)


def test_every_condition_is_listed_in_order_and_other_limits_are_none() -> None:
    keys = [LimitKey.AIRFLOW_LOW, LimitKey.STEP_CAP, LimitKey.OUTDOOR_LOW, LimitKey.HOLD_LASTS]
    found = conditions(job(*(limit(key, 290.0) for key in keys)), facts({OUTDOOR: 280.0}))
    assert [item.limit.key for item in found] == [LimitKey.AIRFLOW_LOW, LimitKey.OUTDOOR_LOW]
    assert unmet_keys(found) == {LimitKey.OUTDOOR_LOW}
    assert conditions(job(), facts()) == ()


def test_the_first_unmet_condition_is_the_one_that_is_said() -> None:
    limits = (limit(LimitKey.OUTDOOR_LOW, LOW_K), limit(LimitKey.RUN_BEFORE_READING, 9e3))
    cold = conditions(job(*limits), facts({OUTDOOR: 280.0}))
    advice = gates.condition(facts(), cold)
    assert advice is not None
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "condition_outdoor_low")
    mild = conditions(job(*limits), facts({OUTDOOR: 290.0}))
    advice = gates.condition(facts(), mild)
    assert advice is not None
    assert (advice.action, advice.cause) == (Action.WAIT, "run_time")
    assert wording.reason(advice, UnitSystem.SI).endswith(
        "left of the run before a reading counts "
        "[invented manual, page 12, 2nd (equipment instructions)]"
    )


class Room:
    """An assistant beside a steady unit; 1 Hz readings."""

    def __init__(self, the_job: Job) -> None:
        self.assistant = Assistant(the_job, SessionMode.SIMULATED)
        self.t = 0.0
        self.outdoor_k: float | None = None
        self.said: list[Advice] = []
        for role, unit in (
            (Role.LIQUID_PRESSURE, "Pa"),
            (Role.LIQUID_TEMPERATURE, "K"),
            (OUTDOOR, "K"),
        ):
            channel = Channel(
                name=role.value,
                role=role,
                unit=unit,
                reference=Reference.GAUGE if unit == "Pa" else None,
                accuracy=Accuracy(absolute_si=3000.0 if unit == "Pa" else 0.1),
            )
            self.assistant.step(ChannelDeclared(t=0.0, channel=channel))

    def run(self, seconds: int) -> Snapshot:
        bubble_k = refrigerant("R-32").bubble_temp_k(1.75e6 + 101_325.0)
        assert not isinstance(bubble_k, NoValue)
        values = {"liquid_pressure": 1.75e6, "liquid_temperature": bubble_k - 5.0}
        for _ in range(seconds):
            self.t += 1.0
            if self.outdoor_k is not None:
                values[OUTDOOR.value] = self.outdoor_k
            for name, value in values.items():
                verdicts = self.assistant.step(Reading(t=self.t, channel=name, value=value))
                self.said += [each for each in verdicts if isinstance(each, Advice)]
        snapshot = self.assistant.snapshot()
        assert snapshot is not None
        return snapshot

    def mark(self, kind: MarkKind, *, text: str = "", hertz: float | None = None) -> None:
        self.assistant.step(Mark(t=self.t, kind=kind, text=text, frequency_hz=hertz))


def test_the_run_clock_begins_anew_with_every_change_of_the_hold() -> None:
    room = Room(job(limit(LimitKey.RUN_BEFORE_READING, 600.0), hold_hz=72.0))
    run = room.run(100).conditions[0]
    assert run.value_si == pytest.approx(99.0, abs=1.5)
    room.mark(MarkKind.FREQUENCY_HELD, hertz=72.0)
    snapshot = room.run(400)
    assert snapshot.conditions[0].value_si == pytest.approx(399.0, abs=1.5)
    assert (snapshot.advice.action, snapshot.advice.cause) == (Action.WAIT, "run_time")
    assert snapshot.advice.figures["seconds_s"] == pytest.approx(201.0, abs=1.5)
    room.mark(MarkKind.FREQUENCY_LEFT)
    assert room.run(10).advice.cause == "hold_missing"
    room.mark(MarkKind.FREQUENCY_HELD, hertz=72.0)
    assert room.run(590).advice.cause == "run_time"
    snapshot = room.run(20)
    assert snapshot.conditions[0].state is MET
    assert snapshot.advice.cause == "inside"


def test_confirming_by_a_mark_turns_an_open_verdict_into_one() -> None:
    room = Room(job(limit(LimitKey.AIRFLOW_LOW, 4e-5), limit(LimitKey.OUTDOOR_LOW, LOW_K)))
    snapshot = room.run(800)
    assert snapshot.advice.cause == "inside_conditions_open"
    assert snapshot.advice.subject == "airflow low, outdoor low"
    open_ = [item.subject for item in snapshot.cautions if item.cause == "condition_unknown"]
    assert open_ == ["airflow low", "outdoor low"]
    room.mark(MarkKind.CONFIRMED, text="airflow_low")
    snapshot = room.run(2)
    assert (snapshot.advice.cause, snapshot.advice.subject) == (
        "inside_conditions_open",
        "outdoor low",
    )
    room.mark(MarkKind.CONFIRMED, text="outdoor_low")
    snapshot = room.run(2)
    assert snapshot.advice.cause == "inside"
    assert not any(item.cause == "condition_unknown" for item in snapshot.cautions)
    # A probe that comes and says otherwise is believed over the word.
    room.outdoor_k = LOW_K - 2.0
    assert room.run(3).advice.cause == "condition_outdoor_low"


def test_air_on_its_limit_does_not_switch_the_advice_on_and_off() -> None:
    room = Room(job(limit(LimitKey.OUTDOOR_LOW, LOW_K)))
    room.outdoor_k = LOW_K + 1.0
    assert room.run(800).advice.cause == "inside"
    before = len(room.said)
    for i in range(40):
        room.outdoor_k = LOW_K + (0.1 if i % 2 else -0.1)
        room.run(2)
    assert [each.cause for each in room.said[before:]] == ["condition_outdoor_low"]
    room.outdoor_k = LOW_K + 0.5
    assert room.run(5).advice.cause == "inside"  # at the next look


@pytest.mark.parametrize(
    ("key", "limit_k", "value_k", "where"),
    [
        (LimitKey.OUTDOOR_LOW, LOW_K, LOW_K - 0.1, "under"),
        (LimitKey.OUTDOOR_LOW, LOW_K, LOW_K + 0.2, "still close to"),
        (LimitKey.OUTDOOR_HIGH, HIGH_K, HIGH_K + 0.1, "over"),
        (LimitKey.OUTDOOR_HIGH, HIGH_K, HIGH_K - 0.2, "still close to"),
    ],
)
def test_air_back_inside_its_limit_by_less_than_the_hysteresis_is_not_called_outside(
    key: LimitKey, limit_k: float, value_k: float, where: str
) -> None:
    unmet = Condition(limit=limit(key, limit_k), state=UNMET, value_si=value_k)
    advice = gates.condition(facts(), (unmet,))
    assert advice is not None
    assert f" is {where} " in wording.reason(advice, UnitSystem.SI)
