"""What the one instruction says in words: every reason of settling, values with their limits.

The job and its manual are invented.
"""

import pytest

from chargeassist.guide import wording
from chargeassist.guide.charging import advise
from chargeassist.guide.conditions import ConditionState
from chargeassist.guide.settling_wording import SETTLING
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Advice
from chargeassist.model.limits import LimitKey
from chargeassist.stream.facts import (
    HoldFacts,
    SettleState,
    Settling,
)
from tests.unit.guide.charging_facts import (
    JOB,
    condition,
    moving,
    said,
    settled,
)


def unmet(key: LimitKey, limit_si: float, value_si: float) -> Advice:
    """Return the instruction where one condition is not met."""
    return advise(JOB, settled(3.0), None, condition(key, ConditionState.UNMET, limit_si, value_si))


def test_frequencies_that_round_alike_are_told_apart() -> None:
    hold = HoldFacts(required_hz=72.0, actual_hz=71.6, held=False)
    text = wording.reason(said(moving("hold_missing", hold=hold)), UnitSystem.SI)
    assert text == "hold the compressor at 72 Hz, it runs at 71.6 Hz"


def test_a_compressor_that_stands_is_not_said_to_run() -> None:
    hold = HoldFacts(required_hz=72.0, actual_hz=0.0, held=False)
    text = wording.reason(said(moving("hold_missing", hold=hold)), UnitSystem.SI)
    assert text == (
        "hold the compressor at 72 Hz, it stands; if it stopped by itself, find out why before it "
        "is started again"
    )


@pytest.mark.parametrize("state_cause", sorted(SETTLING))
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
        f"left of the run before a reading counts {source}"
    )
