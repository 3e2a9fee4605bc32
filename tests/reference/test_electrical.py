"""Electrical checks against printed worked examples, recomputed; each row names where it stood."""

import math

import pytest

from chargeassist.model.values import NoValue
from chargeassist.physics.electrical import (
    CurrentSays,
    RunningCurrent,
    SupplyVoltage,
    VoltageUnbalance,
    derating,
    judge_current,
    judge_rated_load,
    judge_voltage,
    voltage_unbalance,
)
from chargeassist.physics.uncertainty import Decision


@pytest.mark.parametrize(
    ("voltages", "percent", "leg"),
    [
        # TC079: relay maker's manual, NEMA MG 1 example, prints 2.5:
        # manualshelf.com/manual/motor-saver/201-575-au/specifications-english/page-5.html
        ((203.0, 210.0, 212.0), 2.56, 0),
        # TC081: hemmotor.com/en/blog/.../asynchronous-motor-voltage-unbalance-derating-nema prints
        # 1.45 by taking the wrong leg; recomputed.
        ((400.0, 395.0, 388.0), 1.606, 2),
        # TC082: a web page prints about 2.3; recomputed.
        ((208.0, 206.0, 199.0), 2.61, 2),
    ],
)
def test_unbalance_is_that_of_the_worst_leg(
    voltages: tuple[float, float, float], percent: float, leg: int
) -> None:
    found = voltage_unbalance(voltages)
    assert isinstance(found, VoltageUnbalance)
    assert 100.0 * found.unbalance == pytest.approx(percent, abs=0.01)
    assert found.worst_leg == leg


@pytest.mark.parametrize(
    ("percent", "share"),
    # TC083 to TC091: engineeringtoolbox.com/electrical-motor-voltage-imbalance-d_648.html
    [(0.5, 1.0), (1.5, 0.97), (2.0, 0.95), (2.5, 0.93), (3.0, 0.89), (3.5, 0.85), (4.0, 0.82),
     (4.5, 0.78), (5.0, 0.76)],
)  # fmt: skip
def test_derating_is_the_printed_curve(percent: float, share: float) -> None:
    assert derating(percent / 100.0) == pytest.approx(share, abs=0.005)


def test_above_five_percent_there_is_no_derating() -> None:
    assert isinstance(derating(0.0501), NoValue)
    found = voltage_unbalance((230.0, 230.0, 200.0))
    assert isinstance(found, VoltageUnbalance)
    assert isinstance(found.derating, NoValue)
    assert isinstance(voltage_unbalance((230.0, 0.0, 230.0)), NoValue)


def test_uncertainty_of_the_unbalance_against_differences() -> None:
    base = (203.0, 210.0, 212.0)
    found = voltage_unbalance(base, expanded_v=1.0)
    assert isinstance(found, VoltageUnbalance)
    variance = 0.0
    for i in range(3):
        moved = list(base)
        moved[i] += 0.001
        other = voltage_unbalance(moved)
        assert isinstance(other, VoltageUnbalance)
        variance += ((other.unbalance - found.unbalance) / 0.001) ** 2
    # The mean in the denominator moves too; that is 3 % of the effect.
    assert found.expanded == pytest.approx(math.sqrt(variance), rel=0.03)


@pytest.mark.parametrize(
    ("volts", "decision"),
    [(230.0, Decision.PASS), (208.5, Decision.PASS_NOT_CERTAIN), (206.0, Decision.FAIL_NOT_CERTAIN),
     (200.0, Decision.FAIL), (256.0, Decision.FAIL)],
)  # fmt: skip
def test_supply_within_ten_percent(volts: float, decision: Decision) -> None:
    found = judge_voltage(volts, 230.0, expanded_v=2.0)
    assert isinstance(found, SupplyVoltage)
    assert found.decision is decision


def test_current_is_judged_by_the_makers_figure_and_cautioned_by_rated_load() -> None:
    def says(amps: float) -> RunningCurrent:
        found = judge_current(amps, 10.0, tolerance=0.1, expanded_a=0.3)
        assert isinstance(found, RunningCurrent)
        return found

    assert says(10.2).says is CurrentSays.AS_EXPECTED
    assert judge_rated_load(10.2, 10.5, 0.3) is Decision.PASS
    assert says(10.9).says is CurrentSays.AS_EXPECTED
    assert judge_rated_load(10.9, 10.5, 0.3) is Decision.FAIL
    assert says(11.1).says is CurrentSays.NOT_CERTAIN
    assert says(11.4).says is CurrentSays.HIGH
    assert says(8.5).says is CurrentSays.LOW
    assert says(11.0).inside_probability == pytest.approx(0.5, abs=0.01)
    assert isinstance(judge_current(10.0, 0.0, tolerance=0.1, expanded_a=0.3), NoValue)


@pytest.mark.parametrize("nameplate_v", [115.0, 208.0, 230.0, 400.0, 460.0, 575.0])
@pytest.mark.parametrize("share", [0.9, 1.1])
def test_a_supply_at_its_tolerance_is_inside_whatever_the_nameplate(
    nameplate_v: float, share: float
) -> None:
    """Plus or minus 10 % (NEMA MG 1) is 187.2 to 228.8 V of 208 V, both inside."""
    found = judge_voltage(round(share * nameplate_v, 3), nameplate_v, expanded_v=0.0)
    assert not isinstance(found, NoValue)
    assert found.decision is Decision.PASS
    assert abs(found.deviation) <= 0.1
    beyond = judge_voltage(round(nameplate_v * (2.0 * share - 1.0), 3), nameplate_v, expanded_v=0.0)
    assert not isinstance(beyond, NoValue)
    assert beyond.decision is Decision.FAIL
