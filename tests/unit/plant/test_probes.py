"""Probes of the simulated plant: lag, resolution, noise, seeds."""

import math
import statistics

import pytest

from chargeassist.model.channels import VOLTAGE_ROLES, Role
from chargeassist.model.units import Quantity, find_unit
from chargeassist.plant.probes import PROBE_MODELS, Probe, ProbeModel


def test_every_role_a_running_unit_has_a_probe_in_has_a_model() -> None:
    # A vacuum gauge has its own model; moist air is read off the room by the scenario.
    elsewhere = {Role.VACUUM, Role.RETURN_AIR_WET_BULB, Role.RETURN_AIR_HUMIDITY, *VOLTAGE_ROLES}
    assert set(PROBE_MODELS) == set(Role) - elsewhere


@pytest.mark.parametrize("dt_s", [0.001, 0.01])
def test_step_is_followed_to_63_percent_after_one_time_constant(dt_s: float) -> None:
    # 1 - 1/e, the definition of a first-order time constant.
    probe = Probe(ProbeModel(lag_s=8.0), "a")
    probe.follow(0.0, 0.0)
    for _ in range(round(8.0 / dt_s)):
        probe.follow(1.0, dt_s)
    assert probe.read() == pytest.approx(1.0 - math.exp(-1.0), abs=dt_s)


@pytest.mark.parametrize("dt_s", [0.1, 1.0, 10.0])
def test_ramp_is_trailed_by_rate_times_lag_at_any_sampling(dt_s: float) -> None:
    probe = Probe(ProbeModel(lag_s=8.0), "a")
    probe.follow(0.0, 0.0)
    for k in range(1, round(200.0 / dt_s) + 1):
        probe.follow(0.05 * k * dt_s, dt_s)
    assert probe.read() == pytest.approx(0.05 * (200.0 - 8.0), abs=1e-9)


def test_probe_without_lag_answers_at_once() -> None:
    probe = Probe(ProbeModel(), "a")
    probe.follow(1.0, 0.0)
    probe.follow(5.0, 1.0)
    assert probe.read() == 5.0


def test_lag_can_be_replaced_for_a_probe_that_lost_contact() -> None:
    tight, loose = (Probe(ProbeModel(lag_s=8.0), "a") for _ in range(2))
    for probe, lag_s in ((tight, None), (loose, 70.0)):
        probe.follow(0.0, 0.0)
        probe.follow(0.0, 1.0)
        probe.follow(10.0, 10.0, lag_s)
    assert loose.read() < 0.3 * tight.read()


def test_values_stand_on_the_grid_of_the_unit_the_probe_shows() -> None:
    fahrenheit = find_unit("°F", Quantity.TEMPERATURE)
    model = PROBE_MODELS[Role.LIQUID_TEMPERATURE]
    probe = Probe(model, "a", fahrenheit.to_si(0.0))
    shown = []
    for k in range(200):
        probe.follow(300.0 + 0.013 * k, 1.0)
        shown.append(fahrenheit.from_si(probe.read()) * 10.0)
    assert all(abs(tenths - round(tenths)) < 1e-6 for tenths in shown)
    assert len({round(tenths) for tenths in shown}) > 20


def test_white_noise_has_the_declared_spread() -> None:
    probe = Probe(ProbeModel(noise_si=0.04), "white")
    values = []
    for _ in range(4000):
        probe.follow(9.0, 1.0)
        values.append(probe.read())
    # The spread of a spread from n draws is 1 / sqrt(2 n): 1.1 %; 5 % is more than four of it.
    assert statistics.fmean(values) == pytest.approx(9.0, abs=0.003)
    assert statistics.stdev(values) == pytest.approx(0.04, rel=0.05)


def test_coloured_noise_has_the_declared_spread_and_memory() -> None:
    probe = Probe(ProbeModel(drift_si=1.0, drift_lag_s=10.0), "coloured")
    values = []
    for _ in range(40000):
        probe.follow(0.0, 1.0)
        values.append(probe.read())
    assert statistics.pstdev(values) == pytest.approx(1.0, rel=0.1)
    neighbours = statistics.correlation(values[:-10], values[10:])
    assert neighbours == pytest.approx(math.exp(-1.0), abs=0.06)


def test_noise_belongs_to_the_seed() -> None:
    def values(seed: str) -> list[float]:
        probe = Probe(PROBE_MODELS[Role.LIQUID_PRESSURE], seed)
        out = []
        for _ in range(50):
            probe.follow(2.3e6, 1.0)
            out.append(probe.read())
        return out

    assert values("1 liquid") == values("1 liquid")
    assert values("1 liquid") != values("2 liquid")


def test_reading_a_probe_that_followed_nothing_is_a_programming_error() -> None:
    with pytest.raises(ValueError, match="follow"):
        Probe(ProbeModel(), "a").read()
