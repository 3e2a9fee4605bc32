"""Rules of an audit about calibration: it had run out, or none is stated."""

import calendar
import datetime as dt
import re
from collections.abc import Iterator
from typing import Final

from chargeassist.model.channels import Channel
from chargeassist.model.text import plain
from chargeassist.qa.audit_finding import Finding, Policy, Weight
from chargeassist.qa.rescore import Rescored, started_at

_DATE: Final = re.compile(r"(\d{4})-(\d{2})(?:-(\d{2}))?")
_ENDS: Final = re.compile(r"\b(due|expires?|until|valid|before)\b", re.IGNORECASE)
_DAYS_PER_MONTH: Final = 365.25 / 12.0


def calibration_out_of_date(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a probe whose stated calibration had run out, or was made after the session."""
    began = started_at(session.started)
    return [
        Finding(rule="calibration_out_of_date", text=f"{_name(channel)}: {text}")
        for channel in session.channels
        if (date := _date(channel)) is not None
        and (text := _wrong(channel, date, None if began is None else began.date(), policy))
    ]


def calibration_not_stated(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a calibration without a date, or none where the charge was judged by it.

    A remark: not stated is not out of date. Whether it was calibrated has to be asked elsewhere.
    """
    return [
        Finding(rule="calibration_not_stated", text=text, weight=Weight.REMARK)
        for text in _unstated(session)
    ]


def _unstated(session: Rescored) -> Iterator[str]:
    judged = session.job.target.judged
    needed = {judged.pressure, judged.temperature}
    for channel in session.channels:
        if channel.calibrated.strip() and _date(channel) is None:
            said = plain(channel.calibrated, 60)
            yield f"{_name(channel)}: calibration {said!r} names no date (expected YYYY-MM-DD)"
        elif not channel.calibrated.strip() and channel.role in needed:
            yield f"{_name(channel)}: no calibration is stated"


def _date(channel: Channel) -> dt.date | None:
    """Return the date that the calibration of `channel` names; None where it names none.

    Where it says both when it was made and when it ends, the end counts; a month ends on its last
    day.
    """
    said, ends = channel.calibrated, _ENDS.search(channel.calibrated)
    match = (ends and _DATE.search(said, ends.end())) or _DATE.search(said)
    if match is None:
        return None
    year, month = int(match[1]), int(match[2])
    try:
        last = 1 if ends is None else calendar.monthrange(year, month)[1]
        return dt.date(year, month, int(match[3] or last))
    except ValueError:  # no such month, or no such day in it
        return None


def _wrong(channel: Channel, date: dt.date, day: dt.date | None, policy: Policy) -> str:
    """Return what is wrong with a calibration of `date` on `day`, or ""."""
    said = plain(channel.calibrated, 60)
    if day is None:
        return f"calibrated {said}; the session has no readable date to hold that against"
    if _ENDS.search(channel.calibrated):
        return f"calibration had run out ({said})" if day > date else ""
    if date > day:
        return f"calibrated after the session ({said})"
    if (day - date).days > policy.calibration_months * _DAYS_PER_MONTH:
        return f"last calibrated {said}, more than {policy.calibration_months:g} months before"
    return ""


def _name(channel: Channel) -> str:
    serial = f" ({plain(channel.serial, 40)})" if channel.serial else ""
    return f"{channel.role.label}{serial}"
