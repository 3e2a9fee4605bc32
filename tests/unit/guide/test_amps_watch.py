"""Whether liquid pressure and amps go together from one settled reading to the next."""

import math
from dataclasses import replace

import pytest

from chargeassist.guide.amps_watch import PER_CONDENSING_K, AmpsApart, AmpsWatch
from chargeassist.guide.fault_wording import FAULT_CAUTION
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.stream.facts import ChargeStep, Facts, HoldFacts, Measured
from tests.unit.guide.charging_facts import settled

AMPS = 8.0


def _facts(
    t: float, condensing_k: float, amps: float, steps: int = 0, volts: float | None = None
) -> Facts:
    base = settled(4.0)
    values = {Role.COMPRESSOR_CURRENT: amps, Role.LIQUID_TEMPERATURE: 305.0}
    if volts is not None:
        values[Role.VOLTAGE_AB] = volts
    step = ChargeStep(number=1, mass_kg=0.1, begun_t=1.0, ended_t=2.0, measured_by="technician")
    return replace(
        base,
        t=t,
        liquid_saturation_k=condensing_k,
        suction_saturation_k=280.0,
        superheat=Measured(value_k=6.0),
        values=values,
        ledger=(step,) * steps,
    )


def _after(
    rise_k: float, amps_rise_k: float, *, volts: tuple[float, float] | None = None
) -> AmpsWatch:
    """Return a watch that saw two settled readings, and between them these changes."""
    watch = AmpsWatch()
    first, second = (None, None) if volts is None else volts
    for second_s in range(40):
        watch.tick(_facts(1000.0 + second_s, 310.0, AMPS, 0, first))
    amps = AMPS * math.exp(PER_CONDENSING_K * amps_rise_k)
    if volts is not None:
        amps *= volts[0] / volts[1]
    for second_s in range(60):
        watch.tick(_facts(1300.0 + second_s, 310.0 + rise_k, amps, 1, second))
    return watch


@pytest.mark.parametrize("rise_k", [-2.0, 0.0, 1.5, 3.0])
def test_amps_that_follow_the_condensing_temperature_ask_for_nothing(rise_k: float) -> None:
    """A compressor that follows by a fifth more or less is still one that follows."""
    for share in (0.8, 1.0, 1.2):
        assert _after(rise_k, share * rise_k).found is None


@pytest.mark.parametrize("zero_k", [-1.5, 1.5])
def test_a_zero_that_creeps_moves_the_pressure_alone(zero_k: float) -> None:
    found = _after(1.0 + zero_k, 1.0).found
    assert found is not None
    assert found.by_pressure_k == pytest.approx(1.0 + zero_k)
    assert found.by_amps_k == pytest.approx(1.0)


def test_a_supply_that_is_measured_explains_its_amps() -> None:
    """At 4 % more volts a motor of the same power draws 4 % less."""
    assert _after(0.0, 0.0, volts=(230.0, 239.0)).found is None
    assert _after(0.0, -1.7).found is not None  # the same amps, and nobody measures the volts


@pytest.mark.parametrize("volts", [(None, 230.0), (230.0, None)])
def test_a_voltage_probe_that_comes_or_goes_is_no_change_of_the_amps(
    volts: tuple[float | None, float | None],
) -> None:
    watch = AmpsWatch()
    for second in range(40):
        watch.tick(_facts(1000.0 + second, 310.0, AMPS, 0, volts[0]))
    for second in range(60):
        watch.tick(_facts(1040.0 + second, 310.0, AMPS, 0, volts[1]))
    assert watch.found is None


def test_it_ends_when_they_go_together_again_and_with_a_probe_seen_to() -> None:
    watch = _after(2.0, 0.0)
    assert watch.found is not None
    for second_s in range(90):
        watch.tick(_facts(1400.0 + second_s, 310.0, AMPS, 1))
    assert watch.found is None
    watch = _after(2.0, 0.0)
    watch.forget()
    assert watch.found is None


def test_another_frequency_is_another_compressor() -> None:
    watch = _after(0.0, 0.0)
    lost = _facts(1400.0, 310.0, AMPS, 1)
    watch.tick(replace(lost, hold=HoldFacts(required_hz=72.0, held=False)))
    for second_s in range(60):
        watch.tick(_facts(1500.0 + second_s, 314.0, AMPS, 1))
    assert watch.found is None


def test_the_sentence_says_both_changes() -> None:
    apart = AmpsApart(since_t=1000.0, by_pressure_k=2.0, by_amps_k=-0.5)
    figures = {
        "since_t_s": apart.since_t,
        "by_pressure_k": apart.by_pressure_k,
        "by_amps_k": apart.by_amps_k,
    }
    said = FAULT_CAUTION["amps_apart"](figures, "a zero", UnitSystem.SI)
    assert "risen by 2.0 K by the pressure" in said
    assert "fallen by 0.5 K by the amps" in said
