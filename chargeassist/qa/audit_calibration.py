"""Rules of an audit about calibration: it had run out, or none is stated."""

import calendar
import datetime as dt
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from chargeassist.model.channels import Channel
from chargeassist.model.text import plain
from chargeassist.qa.audit_finding import Finding, Policy, Weight
from chargeassist.qa.rescore import Rescored, started_at

_DATE: Final = re.compile(r"(?<!\d)(?<!\d-)(\d{4})-(\d{2})(?:-(\d{2}))?(?!-?\d)", re.ASCII)
_ENDS: Final = re.compile(
    r"\b(?:(?:due|expires?|until)\b|(?:valid|before)\W+(?=\d{4}-\d)|valid\W+from\b(?=.*\bto\b))",
    re.IGNORECASE,
)
_DAYS_PER_MONTH: Final = 365.25 / 12.0
WESTMOST_H: Final = -12.0
EASTMOST_H: Final = 14.0
"""Offsets from UTC between which every place lies [h]; the tz database (from memory)."""


@dataclass(frozen=True, slots=True)
class _Said:
    """The date a calibration names: a day, or a month from its first day to its last.

    Attributes
    ----------
    first, last : date
    ends : bool
        Whether it is when the calibration ends, not when it was made.
    """

    first: dt.date
    last: dt.date
    ends: bool = False


def calibration_out_of_date(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a probe whose stated calibration had run out, or was made after the session."""
    days = _days(started_at(session.started))
    return [
        Finding(rule="calibration_out_of_date", text=f"{_name(channel)}: {text}")
        for channel in session.channels
        if (date := _date(channel)) is not None and (text := _wrong(channel, date, days, policy))
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


def _date(channel: Channel) -> _Said | None:
    """Return what the calibration of `channel` says of its date; None where it names none.

    Where it says both when it was made and when it ends, the end counts, which is the later. Of
    two days it was made on the first counts, and a day before a month, which may be half a number
    of the certificate.
    """
    said = channel.calibrated
    found = [(at.start(), date) for at in _DATE.finditer(said) if (date := _read(at)) is not None]
    if not found:
        return None
    ends = _ENDS.search(said)
    if ends is not None:
        after = said[ends.end() :]
        # "due in 12 months" counts from a day that was said before, and is none itself.
        if any(at >= ends.end() for at, _ in found) or not re.search(r"\d", after):
            return replace(max((date for _, date in found), key=lambda d: d.last), ends=True)
    days = [date for _, date in found if date.first == date.last]
    return days[0] if days else found[0][1]


def _read(match: re.Match[str]) -> _Said | None:
    """Return the day or the month that `match` is; None where there is none such."""
    year, month = int(match[1]), int(match[2])
    try:
        if match[3]:
            day = dt.date(year, month, int(match[3]))
            return _Said(day, day)
        return _Said(
            dt.date(year, month, 1), dt.date(year, month, calendar.monthrange(year, month)[1])
        )
    except ValueError:  # calendar has its own kind of it for months
        return None


def _days(began: dt.datetime | None) -> tuple[dt.date, dt.date] | None:
    """Return the first and the last day that it may have been where a session began.

    A certificate has the date of the place; the record has the time in UTC, and not the place.
    """
    if began is None:
        return None
    days = []
    for hours in (WESTMOST_H, EASTMOST_H):
        try:
            days.append((began + dt.timedelta(hours=hours)).date())
        except OverflowError:  # at an end of the calendar
            days.append(began.date())
    return days[0], days[1]


def _wrong(
    channel: Channel, date: _Said, days: tuple[dt.date, dt.date] | None, policy: Policy
) -> str:
    """Return what is wrong with a calibration of `date` on whichever of `days`, or ""."""
    said = plain(channel.calibrated, 60)
    if days is None:
        return f"calibrated {said}; the session has no readable date to hold that against"
    earliest, latest = days
    if date.ends:
        return f"calibration had run out ({said})" if earliest > date.last else ""
    if date.first > latest:
        return f"calibrated after the session ({said})"
    if earliest > _months_after(date.last, policy.calibration_months):
        return f"last calibrated {said}, more than {policy.calibration_months:g} months before"
    return ""


def _months_after(date: dt.date, months: float) -> dt.date:
    """Return the day `months` after `date`: the same day of the month, or its last one."""
    if months >= 12.0 * (dt.MAXYEAR - date.year):
        return dt.date.max
    part, whole = math.modf(months)
    years, month = divmod(date.month - 1 + int(whole), 12)
    year, month = date.year + years, month + 1
    if year > dt.MAXYEAR:
        return dt.date.max
    there = dt.date(year, month, min(date.day, calendar.monthrange(year, month)[1]))
    try:
        return there + dt.timedelta(days=part * _DAYS_PER_MONTH)
    except OverflowError:
        return dt.date.max


def _name(channel: Channel) -> str:
    serial = f" ({plain(channel.serial, 40)})" if channel.serial else ""
    return f"{channel.role.label}{serial}"
