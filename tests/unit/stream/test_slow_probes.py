"""Probes that send once in ten seconds or less often: spikes, and steps weighed by a slow scale.

Common practice, no published source: battery-saving probes and scales send at 0.1 Hz.
"""

import pytest

from chargeassist.stream.facts import SettleState
from chargeassist.stream.ledger import Ledger
from tests.unit.stream.rig import FOUR, Rig, channel
from tests.unit.stream.step_marks import begun, ended


def every(rig: Rig, seconds: int, subcooling: float) -> None:
    """Let all four probes send once, and be silent until `seconds` have passed."""
    rig.run(1, subcooling=subcooling)
    rig.run(seconds - 1, silent=FOUR)


@pytest.mark.parametrize("seconds", [10, 20, 40])
def test_a_spike_of_slow_probes_leaves_the_settled_value_before_it(seconds: int) -> None:
    rig = Rig(channels=tuple(channel(role, max_age_s=60.0) for role in FOUR))
    for _ in range(60):
        every(rig, seconds, 4.0)
    for subcooling in (8.0, 8.0, 4.0, 4.0):  # with half a minute's mean, none is left at 20 s
        every(rig, seconds, subcooling)
        assert rig.facts is not None
        if rig.facts.settled is not None:
            assert rig.facts.settled.value_k == pytest.approx(4.0, abs=1e-6)
    assert rig.facts is not None
    assert rig.facts.settling.state is SettleState.SETTLED


FLOW_KG_PER_S = 0.0017
FLOWS_S = 63


@pytest.mark.parametrize("interval_s", [1, 2, 5, 10, 20])
@pytest.mark.parametrize("phase_s", [0, 1, 3, 7])
def test_a_slow_scale_is_read_after_the_valve_was_shut(interval_s: int, phase_s: int) -> None:
    """What flowed since its last reading is in the step too, and is no step of its own."""
    ledger = Ledger(2.0)
    t, kg, shown_kg = 0, 10.0, 10.0

    def run(seconds: int, flow_kg_per_s: float = 0.0) -> None:
        nonlocal t, kg, shown_kg
        for _ in range(seconds):
            t += 1
            kg -= flow_kg_per_s
            heard = (t + phase_s) % interval_s == 0
            shown_kg = kg if heard else shown_kg
            ledger.tick(float(t), shown_kg, heard=heard)

    run(60)
    ledger.take(begun(t + 0.2))
    run(FLOWS_S, FLOW_KG_PER_S)
    ledger.take(ended(t + 0.2, None))
    run(120)
    (step,) = ledger.steps
    assert step.mass_kg == pytest.approx(FLOWS_S * FLOW_KG_PER_S, abs=1e-5)
    assert step.measured_by == "scale"
    assert step.ended_t == 60.0 + FLOWS_S + 0.2
    assert ledger.total_kg == pytest.approx(2.0 + FLOWS_S * FLOW_KG_PER_S, abs=1e-5)


def test_a_scale_that_dies_before_it_is_read_again_leaves_the_amount_open() -> None:
    ledger = Ledger(2.0)
    for t in range(1, 61):
        ledger.tick(float(t), 10.0, heard=t % 10 == 0)
    ledger.take(begun(60.2))
    ledger.take(ended(90.2, None))
    for t in range(61, 66):
        assert ledger.tick(float(t), 10.0, heard=False) is None
    done = ledger.tick(66.0, None, heard=False)
    assert done is not None
    assert done.mass_kg is None
