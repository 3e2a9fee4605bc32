"""Random jobs: repeatable, varied, and solvable by the charge they say."""

from collections import Counter

import pytest

from chargeassist.plant.probe_grades import GRADES
from chargeassist.plant.probe_set import ProbeFaultKind
from chargeassist.plant.probes import PROBE_MODELS
from tests.benchmarks.plant.random_units import (
    TARGET_HIGH_K,
    TARGET_LOW_K,
    RandomJob,
    random_job,
)

SEEDS = range(16)


@pytest.fixture(scope="module")
def jobs() -> list[RandomJob]:
    return [random_job(seed) for seed in SEEDS]


def test_same_seed_same_job(jobs: list[RandomJob]) -> None:
    again = random_job(5)
    assert again == jobs[5]
    one, other = jobs[5].plant(), again.plant()
    for plant in (one, other):
        plant.command_frequency()
        plant.run_until(60.0)
    assert dict(one.truth()) == dict(other.truth())
    assert random_job(6) != jobs[5]


def test_jobs_are_of_all_kinds(jobs: list[RandomJob]) -> None:
    assert len({j.settings.refrigerant for j in jobs}) >= 4
    assert len({j.settings.valve for j in jobs}) == 2
    assert {j.grade for j in jobs} == set(GRADES)
    assert len({j.settings.capacity_w for j in jobs}) >= 4
    assert len({j.target_subcooling_k for j in jobs}) >= 8
    for job in jobs:
        assert TARGET_LOW_K <= job.target_subcooling_k <= TARGET_HIGH_K
        assert 0.69 < job.settings.charge_kg / job.full_kg < 0.95
        assert job.settings.start_hz < job.settings.required_hz
        assert job.trouble == ""
        assert set(job.models) == set(PROBE_MODELS)


@pytest.mark.parametrize("seed", [0, 1, 2, 3, 5, 8, 13])
def test_the_full_charge_gives_the_target_and_the_found_one_less(
    seed: int, jobs: list[RandomJob]
) -> None:
    job = jobs[seed]
    plant = job.plant()
    plant.command_frequency()
    plant.run_until(900.0)
    found_k = plant.subcooling_k
    plant.begin_step(job.full_kg - plant.circuit_kg)
    plant.run_until(3600.0)
    values = []
    for second in range(400):  # gusts of outdoor air average out
        plant.run_until(3600.0 + second)
        values.append(plant.subcooling_k)
    assert plant.trip is None
    assert sum(values) / len(values) == pytest.approx(job.target_subcooling_k, abs=0.3)
    assert found_k < job.target_subcooling_k - 1.0


def test_calibration_errors_stay_inside_the_declared_limits(jobs: list[RandomJob]) -> None:
    for job in jobs:
        assert len(job.probe_faults) == 4
        for fault in job.probe_faults:
            assert fault.trouble is ProbeFaultKind.ZERO
            assert abs(fault.amount) <= job.accuracies[fault.role].absolute_si
        probes = job.probes()
        probes.follow(job.plant().truth(), 0.0)
        assert set(probes.read()) == set(PROBE_MODELS)


def test_faulty_jobs_have_one_trouble_each_and_many_kinds_of_it() -> None:
    kinds = Counter(random_job(seed, faulty=True).trouble for seed in SEEDS)
    assert "" not in kinds
    assert len(kinds) >= 6
