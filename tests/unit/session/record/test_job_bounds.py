"""A recorded job with numbers that no job file gives is refused by name."""

import json

import pytest

from chargeassist.model.errors import RecordError
from chargeassist.session.job.demo import DEMO_JOBS, demo_job
from chargeassist.session.record.codec import job_from_json, job_to_json
from chargeassist.session.record.job_bounds import check_job


@pytest.mark.parametrize("name", DEMO_JOBS)
def test_a_job_that_was_read_from_a_file_is_inside(name: str) -> None:
    job = demo_job(name)
    assert check_job(job, "x") is job


@pytest.mark.parametrize(
    ("table", "key", "value", "said"),
    [
        ("processing", "period_s", 1e-9, r"period_s: expected 0.1 to 60, got 1e-09"),
        ("plate", "phases", 10**400, r"phases: expected -1e\+10 to 1e\+10, got inf"),
        ("target", "approach_tolerance_k", 0.0, r"approach_tolerance_k: expected 0.01 to 20"),
        ("charge", "allowance_kg", 1e-15, r"allowance_kg: expected 0, or a size from 1e-12 on"),
    ],
)
def test_what_no_job_file_gives_is_refused(table: str, key: str, value: float, said: str) -> None:
    data = json.loads(job_to_json(demo_job("library")))
    data[table][key] = value
    with pytest.raises(RecordError, match=f"^here: job: {table}.{said}"):
        check_job(job_from_json(json.dumps(data)), "here")


@pytest.mark.parametrize("key", ["approach_low", "column_discharge", "standing_allowed"])
def test_a_limit_of_nothing_is_refused(key: str) -> None:
    """A range without a width divides by it somewhere; no job file can set one."""
    data = json.loads(job_to_json(demo_job("library")))
    (limit,) = [each for each in data["limits"] if each["key"] == key]
    limit["value_si"] = 0.0
    with pytest.raises(RecordError, match=f"^here: job: limit {key}: expected"):
        check_job(job_from_json(json.dumps(data)), "here")
