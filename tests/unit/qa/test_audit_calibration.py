"""Calibration in an audit: had run out, or not stated, which is another thing."""

import json
from dataclasses import replace

import pytest

from chargeassist.model.events import Event, SessionStarted
from chargeassist.qa.audit import Audited, as_csv, as_json, as_table
from chargeassist.qa.audit_finding import Finding, Policy, Weight
from tests.unit.qa.audited import findings, with_channels


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("2026-01-15", ""),
        ("cert. 4711, 2025-06", ""),
        ("2024-12-01", "more than 12 months before"),
        ("due 2026-12-01", ""),
        ("valid until 2026-05", ""),  # to its last day
        ("valid until 2026-04", "had run out"),
        ("2025-03-04, due 2027-03-04", ""),
        ("2026-01-15, due 2026-02-15", "had run out"),
        ("due 2026-01-01", "had run out"),
        ("2027-01-01", "calibrated after the session"),
        ("valid 2025-08-01 until 2026-08-01", ""),
        ("valid from 2025-08-01 to 2026-08-01", ""),
        ("due 2026-08-01 (made 2025-08-01)", ""),
        ("2026-03-01, valid 12 months", ""),  # says for how long, and names no end
        ("2026-03-01, due in 12 months", ""),
        ("2026-08-01 due", ""),
        ("2026-03-01 (due)", "had run out"),
        ("cert. 2023-0457, 2026-03-01", ""),  # the number of a certificate is no month
        ("cert. 2023-12, calibrated 2026-03-01", ""),
        ("cert. 12345-67 of 2026-03-01", ""),
        ("2025-05", ""),  # on any of its days
        ("2025-04", "more than 12 months before"),
    ],
)
def test_calibration_is_read_as_typed(good: list[Event], said: str, expected: str) -> None:
    found = findings(with_channels(good, calibrated=said), "calibration_out_of_date")
    assert bool(found) == bool(expected)
    assert all(expected in f.text and f.weight is Weight.WRONG for f in found)
    assert findings(with_channels(good, calibrated=said), "calibration_not_stated") == []


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("last spring", "names no date"),
        ("2026-13-40", "names no date"),
        ("", "no calibration is stated"),
        ("  ", "no calibration is stated"),
    ],
)
def test_a_calibration_not_stated_is_not_one_out_of_date(
    good: list[Event], said: str, expected: str
) -> None:
    unstated = with_channels(good, calibrated=said)
    assert findings(unstated, "calibration_out_of_date") == []
    found = findings(unstated, "calibration_not_stated")
    assert found
    assert all(expected in f.text and f.weight is Weight.REMARK for f in found)
    if not said.strip():
        assert len(found) == 2, "what it was judged by has to state one"


@pytest.mark.parametrize(
    ("said", "day", "months", "out"),
    [
        ("2024-01-15", "2025-01-15", 12.0, False),  # 366 days: a leap year, and twelve months
        ("2024-01-15", "2025-01-16", 12.0, True),
        ("2025-08-31", "2026-02-28", 6.0, False),  # to the last day of a shorter month
        ("2025-08-31", "2026-03-01", 6.0, True),
        ("2025-01-15", "2025-01-30", 0.5, False),
        ("2025-01-15", "2025-01-31", 0.5, True),
        ("1999-01-15", "2025-01-15", 1e9, False),
    ],
)
def test_months_are_those_of_the_calendar(
    good: list[Event], said: str, day: str, months: float, out: bool
) -> None:
    dated = [
        replace(event, started_utc=f"{day}T23:00:00+00:00")
        if isinstance(event, SessionStarted)
        else event
        for event in with_channels(good, calibrated=said)
    ]
    policy = Policy(calibration_months=months, accept_simulated=True)
    assert bool(findings(dated, "calibration_out_of_date", policy)) == out


@pytest.mark.parametrize(
    ("began", "said", "wrong"),
    [
        ("2026-05-03T21:00:00+00:00", "2026-05-04", False),  # at nine in the morning in Auckland
        ("2026-05-03T21:00:00+00:00", "2026-05-05", True),  # nowhere yet
        ("2026-05-04T05:00:00+00:00", "due 2026-05-03", False),  # ten in the evening in Los Angeles
        ("2026-05-04T13:00:00+00:00", "due 2026-05-03", True),  # everywhere past
        ("2026-05-04T05:00:00+00:00", "2025-05-03", False),
        ("2026-05-04T13:00:00+00:00", "2025-05-03", True),
        ("0001-01-01T00:00:00+00:00", "2025-05-03", True),
        ("9999-12-31T23:59:59+00:00", "2025-05-03", True),
    ],
)
def test_the_day_is_that_of_the_place_and_no_probe_is_blamed_for_a_zone(
    good: list[Event], began: str, said: str, wrong: bool
) -> None:
    dated = [
        replace(event, started_utc=began) if isinstance(event, SessionStarted) else event
        for event in with_channels(good, calibrated=said)
    ]
    assert bool(findings(dated, "calibration_out_of_date")) == wrong


def test_a_stated_calibration_needs_the_date_of_the_session(good: list[Event]) -> None:
    undated = [
        replace(event, started_utc="?") if isinstance(event, SessionStarted) else event
        for event in with_channels(good, calibrated="2026-01-15")
    ]
    found = findings(undated, "calibration_out_of_date")
    assert found
    assert all("no readable date" in f.text for f in found)
    unstated = with_channels(undated, calibrated="")
    assert findings(unstated, "calibration_out_of_date") == []
    assert len(findings(unstated, "calibration_not_stated")) == 2


def test_a_remark_is_listed_and_is_no_finding() -> None:
    remark = Finding(rule="calibration_not_stated", text="x", weight=Weight.REMARK)
    done = [Audited(record="a.zip", job="a", findings=(remark,))]
    table = as_table(done)
    assert "a.zip: a: nothing found, 1 remark\n  remark: calibration_not_stated: x\n" in table
    assert "1 record, 1 without findings" in table
    assert ",calibration_not_stated,remark," in as_csv(done)
    assert json.loads(as_json(done))[0]["findings"][0]["weight"] == "remark"
    assert done[0].wrong == ()
