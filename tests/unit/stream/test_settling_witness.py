"""Witnesses hold a verdict while they move, for a bounded time; a saturated line is no level."""

import math
import random

import pytest

from chargeassist.model.job import Target
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Measured, SettleState, Settling
from chargeassist.stream.ledger import Ledger
from chargeassist.stream.progress import Progress
from chargeassist.stream.settled_level import SettledLevel
from chargeassist.stream.settling import SettlingDetector
from chargeassist.stream.settling_witness import (
    HOLDS_S,
    HOLDS_TWO_PHASE_S,
    WitnessedDetector,
    WitnessSlope,
    WitnessWatch,
    saturated_below_k,
)

BAND_K = 0.3


def watch(
    superheat_per_min: float, amps_share_per_min: float, noise_k: float = 0.05
) -> WitnessWatch:
    """Return a watch that has heard two minutes of witnesses moving like that."""
    noise = random.Random(3)
    made = WitnessWatch(BAND_K)
    for t in range(120):
        made.take(
            float(t),
            8.0 + superheat_per_min * t / 60.0 + noise.gauss(0.0, noise_k),
            9.0 * (1.0 + amps_share_per_min * t / 60.0) + noise.gauss(0.0, 0.01),
        )
    return made


def said(made: WitnessWatch, *, two_phase: bool = False, hunting: bool = False) -> str:
    return made.holds(120.0, proved=True, two_phase=two_phase, hunting=hunting)


def test_what_a_witness_is_worth_to_the_judged_value_decides() -> None:
    # 1.5 K of superheat to come are worth 0.6 K of subcooling, 0.5 K are worth 0.2 K.
    assert said(watch(1.5, 0.0)) == "superheat"
    assert said(watch(-1.5, 0.0)) == "superheat"
    assert said(watch(0.5, 0.0)) == ""
    # 2 % of the amps are a kelvin of condensing temperature, 0.3 % a sixth of one.
    assert said(watch(0.0, 0.02)) == "amps"
    assert said(watch(0.0, 0.003)) == ""


def test_a_slope_inside_its_noise_holds_nothing() -> None:
    assert said(watch(1.5, 0.0, noise_k=4.0)) == ""


def test_a_hunting_valve_makes_superheat_no_witness() -> None:
    assert said(watch(1.5, 0.0), hunting=True) == ""


def test_at_saturation_the_witnesses_are_the_proof_and_count_sooner() -> None:
    assert said(watch(0.5, 0.0), two_phase=True) == "superheat"
    assert said(watch(0.1, 0.0), two_phase=True) == ""


@pytest.mark.parametrize(("two_phase", "most_s"), [(False, HOLDS_S), (True, HOLDS_TWO_PHASE_S)])
def test_the_hold_is_bounded_and_a_verdict_once_given_is_not_taken_back(
    two_phase: bool, most_s: float
) -> None:
    made = WitnessWatch(BAND_K)
    held = []
    for t in range(600):
        made.take(float(t), 8.0 + 0.05 * t, None)  # a load that drifts for ever
        if t >= 100:
            held.append(made.holds(float(t), proved=True, two_phase=two_phase, hunting=False) != "")
    assert sum(held) == most_s
    assert all(held[: int(most_s)])
    made.disturbed()  # the next change is another matter
    for t in range(600, 700):
        made.take(float(t), 8.0 + 0.05 * t, None)
    assert made.holds(700.0, proved=True, two_phase=two_phase, hunting=False) == "superheat"


def test_the_slope_is_that_of_the_line_and_forgets_a_silence() -> None:
    slope = WitnessSlope()
    for t in range(70):
        slope.take(float(t), 3.0 - 0.02 * t)
    assert slope.least_per_s == pytest.approx(0.02)
    slope.take(200.0, 7.0)
    assert slope.least_per_s == 0.0


def test_saturation_is_half_the_uncertainty_within_limits() -> None:
    assert [saturated_below_k(u) for u in (None, 0.4, 1.4, 3.0)] == [0.5, 0.5, 0.7, 1.0]


def settling_at(level_k: float) -> tuple[SettleState, str]:
    detector = SettlingDetector()
    progress = Progress(detector, 30.0)
    found = Settling()
    for second in range(1, 601):
        t = float(second)
        flag = detector.update(t, {"subcooling": level_k + 0.02 * (t % 3)})
        progress.hear(t, Measured(value_k=8.0), 9.0)
        found = progress.settling(
            t, t, Measured(value_k=level_k, expanded_k=0.5), flag=flag, blocked=""
        )
        assert found.stands == (found.state in {SettleState.SETTLED, SettleState.TWO_PHASE})
    return found.state, found.cause


def test_a_reading_pinned_at_saturation_is_not_called_settled() -> None:
    assert settling_at(0.1) == (SettleState.TWO_PHASE, "two_phase")
    assert settling_at(2.0) == (SettleState.SETTLED, "settled")


def test_no_gain_is_learnt_from_a_reading_at_saturation_nor_up_to_it() -> None:
    for first, second in ((False, True), (True, False)):
        ledger = Ledger(2.0)
        ledger.settled(1.2, teaches=first)
        ledger._record(10.0, 10.0, 0.1, "technician")
        ledger.settled(4.0, teaches=second)
        assert ledger.steps[0].after_k == 4.0
        assert ledger.steps[0].gain_k_per_kg is None


def test_single_spikes_do_not_move_the_settled_level() -> None:
    level = SettledLevel(Target(subcooling_k=5.0, tolerance_k=1.0, source="invented"))
    for t in range(60):
        level.feed(float(t), -40.0 if t % 25 == 7 else 5.0)
        level.feed_witness(float(t), NoValue("none"))
    reading = Measured(value_k=5.0, expanded_k=0.5)
    assert level.level(reading).value_k == pytest.approx(5.0)
    for t in range(60, 64):
        level.feed(float(t), 9.0)  # what lasts is believed
    assert level.level(reading).value_k == pytest.approx(9.0)


def test_the_detector_to_be_scored_waits_for_its_witness() -> None:
    def first_t(superheat_per_s: float) -> float:
        detector = WitnessedDetector()
        for t in range(900):
            values = {"subcooling": 5.0 + 0.02 * (t % 3), "superheat": 8.0 + superheat_per_s * t}
            if detector.update(float(t), {**values, "amps": math.nan}):
                return float(t)
        return math.inf

    # The detector itself doubts a moment longer than that, for a bin of four seconds.
    assert first_t(0.03) == pytest.approx(first_t(0.0) + HOLDS_S, abs=5.0)
