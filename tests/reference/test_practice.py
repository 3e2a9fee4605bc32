"""Two readings every technician of the trade would answer alike, put to the whole program.

Source of both: common practice, no published source. The saturation temperature the first one rests
on is published: R-410A, 105 °F at about 341 psig and 80 °F at about 236 psig, bubble point, as on
pocket charts (from memory); the table itself is checked in test_saturation_published.py.
"""

import pytest

from chargeassist.guide import wording
from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    Action,
    Advice,
    ChannelDeclared,
    Reading,
    SessionMode,
    Settled,
    VerdictEvent,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.units import Quantity, Reference, parse, parse_pressure
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant

PRACTICE = "common practice, no published source"
FAHRENHEIT_K = 5.0 / 9.0

CASES = [
    # liquid line under its saturation temperature [°F], answer, source
    (3.7, Action.ADD, PRACTICE),
    (10.0, Action.STOP, PRACTICE),
    (9.4, Action.STOP, PRACTICE),
    (10.6, Action.STOP, PRACTICE),
    (17.0, Action.RECOVER, PRACTICE),
]


def make_job() -> Job:
    return Job(
        name="invented",
        refrigerant="R-410A",
        target=Target(
            subcooling_k=10.0 * FAHRENHEIT_K,
            tolerance_k=3.0 * FAHRENHEIT_K,
            source="invented plate; tolerance as California RA3.2 for an installer",
        ),
        charge=ChargeLimits(
            plate_kg=parse("7 lb 4 oz", Quantity.MASS),
            weighed_in_kg=parse("6 lb", Quantity.MASS),
            step_cap_kg=parse("4 oz", Quantity.MASS),
        ),
        site=Site(altitude_m=0.0),
        units="us",
    )


def charge(subcooling_f: float) -> tuple[Snapshot, list[VerdictEvent]]:
    """Feed constant readings at 1 Hz until they settle; return the last picture and verdicts."""
    pressure_pa, reference = parse_pressure("248 psig")
    assert reference is Reference.GAUGE
    bubble_k = refrigerant("R-410A").bubble_temp_k(pressure_pa + 101_325.0)
    assert not isinstance(bubble_k, NoValue)
    assistant = Assistant(make_job(), SessionMode.SIMULATED)
    for role, accuracy in (
        (Role.LIQUID_PRESSURE, parse_pressure("1 psig")[0]),
        (Role.LIQUID_TEMPERATURE, 0.5 * FAHRENHEIT_K),
    ):
        gauge = Reference.GAUGE if role is Role.LIQUID_PRESSURE else None
        channel = Channel(
            name=role.value,
            role=role,
            unit="psig" if gauge else "°F",
            reference=gauge,
            accuracy=Accuracy(absolute_si=accuracy),
        )
        assistant.step(ChannelDeclared(t=0.0, channel=channel))
    line_k = bubble_k - subcooling_f * FAHRENHEIT_K
    verdicts: list[VerdictEvent] = []
    for second in range(1, 901):
        for name, value in (("liquid_pressure", pressure_pa), ("liquid_temperature", line_k)):
            verdicts += assistant.step(Reading(t=second - 0.5, channel=name, value=value))
        snapshot = assistant.snapshot()
        if snapshot is not None and snapshot.facts.settled is not None:
            return snapshot, verdicts
    raise AssertionError("constant readings did not settle in fifteen minutes")


@pytest.mark.parametrize(("subcooling_f", "action", "source"), CASES)
def test_the_answer_of_common_practice(subcooling_f: float, action: Action, source: str) -> None:
    assert source == PRACTICE
    snapshot, verdicts = charge(subcooling_f)
    assert snapshot.advice.action is action
    settled = snapshot.facts.settled
    assert settled is not None
    assert settled.value_k / FAHRENHEIT_K == pytest.approx(subcooling_f, abs=0.01)
    before = [v for v in verdicts if isinstance(v, Advice)]
    # Until the reading has settled there is only waiting.
    first = next(i for i, v in enumerate(verdicts) if isinstance(v, Settled))
    assert {v.action for v in verdicts[:first] if isinstance(v, Advice)} == {Action.WAIT}
    assert before[-1].action is action


def test_the_first_answer_is_worded_for_the_trade() -> None:
    snapshot, _ = charge(3.7)
    text = wording.sentence(snapshot.advice, UnitSystem.US)
    assert text.startswith("Add ")
    assert "3.7 ± " in text
    assert "target is 7.0 to 13.0 °F" in text


def test_the_second_answer_is_certain_with_these_probes() -> None:
    snapshot, _ = charge(10.0)
    assert snapshot.advice.cause == "inside"
    assert snapshot.advice.figures["conformance"] > 0.95
