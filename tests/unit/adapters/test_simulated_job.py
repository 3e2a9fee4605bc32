"""A whole job behind the simulator: which circuit is there after which mark."""

from pathlib import Path

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import SourceSpec
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist_adapters.simulated_job import WholeJob, channels_of
from chargeassist_adapters.simulator import SimulatorSource

NAMES = ("nitrogen-tight", "vacuum-dry", "millrace-lane-library")


def make(names: tuple[str, ...] = NAMES) -> WholeJob:
    parts = tuple(find_scenario(name, Path(), 7) for name in names)
    return WholeJob(parts, channels_of(parts, "simulated unit"))


def begun(t: float, stage: str) -> Mark:
    return Mark(t=t, kind=MarkKind.STAGE_BEGUN, text=stage)


def test_each_stage_has_its_circuit_with_a_time_of_its_own() -> None:
    job = make()
    job.act(begun(10.0, "tightness"))
    job.act(Mark(t=12.0, kind=MarkKind.NITROGEN_ON))
    job.run_until(40.0)
    assert job.truth()["pressure_pa_abs"] > 3e5
    assert "vacuum" not in job.read(40.0, 1.0)
    job.act(begun(100.0, "dryness"))
    job.act(Mark(t=101.0, kind=MarkKind.PUMP_ON))
    job.run_until(1100.0)
    assert job.truth()["far_pa_abs"] < 500.0
    assert job.read(1100.0, 1.0)["vacuum"] < 1000.0
    job.act(begun(1200.0, "weigh-in"))
    job.run_until(1201.0)
    full_kg = job.read(1201.0, 1.0)["cylinder_mass"]
    assert "vacuum" not in job.read(1201.0, 1.0)
    assert "compressor_current" not in job.read(1201.0, 1.0)
    job.act(Mark(t=1210.0, kind=MarkKind.STEP_BEGUN))
    job.run_until(1390.0)
    job.act(Mark(t=1390.0, kind=MarkKind.STEP_ENDED))
    job.run_until(1400.0)
    read = job.read(1400.0, 199.0)
    charge_kg = job.truth()["circuit_kg"]
    assert charge_kg > 1.5
    assert full_kg - read["cylinder_mass"] == pytest.approx(charge_kg, abs=0.01)
    job.act(begun(1410.0, "run-up"))
    assert job.truth()["circuit_kg"] == pytest.approx(charge_kg, abs=0.05)
    job.run_until(1420.0)
    running = job.read(1420.0, 1.0)
    assert "liquid_pressure" in running
    # It is the same cylinder on the same scale.
    assert running["cylinder_mass"] == pytest.approx(read["cylinder_mass"], abs=0.01)
    job.act(begun(1430.0, "verification"))  # the unit that runs already goes on
    assert job.truth()["circuit_kg"] == pytest.approx(charge_kg, abs=0.05)


@pytest.mark.parametrize(
    "names",
    [("nitrogen-tight", "nitrogen-leak", "dirty-condenser"), ("dirty-condenser", "vacuum-dry")],
)
def test_another_order_is_refused(names: tuple[str, ...]) -> None:
    with pytest.raises(ConfigError, match="different stages, the last a unit that runs"):
        make(names)


def test_the_address_joins_scenarios_by_a_plus() -> None:
    spec = SourceSpec(name="all", url=f"simulator:{'+'.join(NAMES)}?seed=7")
    source = SimulatorSource.from_spec(spec, Path())
    roles = {channel.role for channel in source.channels}
    assert {Role.VACUUM, Role.CYLINDER_MASS, Role.COMPRESSOR_FREQUENCY} <= roles
    with pytest.raises(ConfigError, match="no-such"):
        SimulatorSource.from_spec(SourceSpec(name="all", url="simulator:no-such+x"), Path())


def test_a_circuit_that_was_under_nitrogen_is_evacuated_from_dry_gas() -> None:
    """Moist air would give its water to the oil while the pump still stands."""
    left = {}
    for names in (NAMES, NAMES[1:]):
        job = make(names)
        job.act(begun(10.0, "dryness"))
        left[names] = job.truth()["near_water_pa_abs"]
    assert left[NAMES] == 0.0
    assert left[NAMES[1:]] > 500.0  # half of what 22 °C can hold, 2.6 kPa


def test_a_whole_job_is_not_over_when_its_scenarios_would_be() -> None:
    spec = SourceSpec(name="all", url=f"simulator:{'+'.join(NAMES)}?seed=7")
    assert SimulatorSource.from_spec(spec, Path())._length_s == 24.0 * 3600.0
    single = SourceSpec(name="one", url="simulator:vacuum-dry")
    assert SimulatorSource.from_spec(single, Path())._length_s == 45.0 * 60.0


def test_without_a_scale_the_word_of_the_technician_counts() -> None:
    parts = tuple(find_scenario(name, Path(), 7) for name in NAMES)
    bare = tuple(c for c in channels_of(parts, "unit") if c.role is not Role.CYLINDER_MASS)
    job = WholeJob(parts, bare)
    job.act(begun(10.0, "weigh-in"))
    job.act(Mark(t=20.0, kind=MarkKind.STEP_BEGUN))
    job.run_until(30.0)
    job.act(Mark(t=30.0, kind=MarkKind.STEP_ENDED, mass_kg=1.9))
    job.run_until(400.0)
    assert job.truth()["circuit_kg"] == pytest.approx(1.9, abs=0.01)
    job.act(begun(410.0, "run-up"))
    assert job.truth()["circuit_kg"] == pytest.approx(1.9, abs=0.05)


def test_a_unit_started_without_a_charge_runs_with_the_least_it_can() -> None:
    job = make()
    job.act(begun(10.0, "run-up"))
    job.run_until(20.0)
    assert job.truth()["circuit_kg"] == pytest.approx(0.3 * 2.3, abs=0.05)


def test_a_weigh_in_gone_back_to_from_the_running_unit_goes_on_with_that_unit() -> None:
    job = make()
    job.act(begun(10.0, "weigh-in"))
    job.act(Mark(t=11.0, kind=MarkKind.STEP_BEGUN))
    job.run_until(120.0)
    job.act(Mark(t=120.0, kind=MarkKind.STEP_ENDED))
    job.act(begun(130.0, "run-up"))
    job.run_until(140.0)
    before = job.read(140.0, 1.0)["cylinder_mass"]
    job.act(begun(150.0, "weigh-in"))
    job.act(Mark(t=151.0, kind=MarkKind.STEP_BEGUN, mass_kg=0.1))
    job.run_until(400.0)
    assert before - job.read(400.0, 260.0)["cylinder_mass"] == pytest.approx(0.1, abs=0.01)


def test_a_dryness_test_begun_again_begins_with_an_empty_circuit() -> None:
    job = make()
    job.act(begun(10.0, "weigh-in"))
    job.act(Mark(t=11.0, kind=MarkKind.STEP_BEGUN))
    job.run_until(120.0)
    assert job.truth()["circuit_kg"] > 0.5
    job.act(begun(130.0, "dryness"))
    job.act(begun(140.0, "weigh-in"))
    assert job.truth()["circuit_kg"] == 0.0
