"""What is called worth a look: a reading that the charge does not account for, and nothing else.

Readings are invented; the directions are those of the table (`chargeassist.guide.fault_signs`).
"""

import pytest

from chargeassist.guide.diagnosis import CHARGING_PRIOR, FeatureReading, diagnose
from chargeassist.guide.fault_cautions import WORTH_A_LOOK, fault_cautions
from chargeassist.guide.fault_found import seen
from chargeassist.guide.fault_terms import Cause, Feature
from chargeassist.guide.fault_watch import FaultWatch
from tests.unit.stream.rig import make_job


def reading(feature: Feature, off: float, *, wide: bool = True) -> FeatureReading:
    """Return a reading so many tolerances away from what is expected."""
    return FeatureReading(
        feature=feature,
        value_si=2.0 * off,
        expected_si=0.0,
        tolerance_si=2.0,
        expanded_si=0.8,
        wide=wide,
    )


def looks(*readings: FeatureReading) -> tuple[str, FaultWatch]:
    """Return what is worth a look by these readings, empty for nothing."""
    watch = FaultWatch(make_job())
    watch.diagnosis = diagnose(readings, CHARGING_PRIOR)
    found = [each for each in fault_cautions(watch, 900.0) if each.cause == "worth_a_look"]
    return found[0].subject if found else "", watch


def test_a_warm_liquid_line_of_a_charge_that_is_short_is_no_reason_to_look() -> None:
    """Approach is what subcooling lacks: a short charge accounts for both."""
    said, watch = looks(
        reading(Feature.SUBCOOLING, -1.3, wide=False),
        reading(Feature.APPROACH, 1.5),
        reading(Feature.CONDENSING, 0.95),
        reading(Feature.SUPERHEAT, 0.0),
        reading(Feature.CHARGE, 0.0, wide=False),
        reading(Feature.SEAL, 0.0, wide=False),
    )
    assert said == ""
    assert watch.diagnosis is not None
    dirty = next(i for i in watch.diagnosis.causes if i.cause is Cause.LOW_OUTDOOR_AIRFLOW)
    # Only because of the rule: it is likely enough, and the approach is high for certain.
    assert dirty.probability >= WORTH_A_LOOK
    assert [each.feature for each in seen(dirty)] == [Feature.APPROACH]


def test_the_same_line_with_a_high_head_is_a_reason() -> None:
    """A shortage lowers the head: what is left speaks for the coil."""
    said, _ = looks(
        reading(Feature.SUBCOOLING, -1.1, wide=False),
        reading(Feature.APPROACH, 1.3),
        reading(Feature.CONDENSING, 1.25),
        reading(Feature.SEAL, 0.0, wide=False),
    )
    assert said.startswith("outdoor coil dirty")
    assert "look at the outdoor coil" in said


@pytest.mark.parametrize("off", [0.0, 0.5, -0.5])
def test_readings_in_their_ranges_ask_for_nothing(off: float) -> None:
    said, _ = looks(*(reading(each, off) for each in (Feature.SUBCOOLING, Feature.AIR_SPLIT)))
    assert said == ""
