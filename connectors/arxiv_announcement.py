"""When a paper submitted to arXiv can have been announced, and so have become public.

Schedule: info.arxiv.org/help/availability, read 2026-11-25. A stamp of submission is not
a day of publication: moderation can hold a paper for days or weeks.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from connectors.days import Days

EASTERN = ZoneInfo("America/New_York")
DEADLINE = time(14)  # what arrives by then is announced at 20:00 that day; Friday's waits for Sunday
FRIDAY, SATURDAY, SUNDAY = 4, 5, 6

# No announcement on these evenings: the only year whose list was at hand. A day missing
# here makes a computed day too early, never too late.
QUIET_EVENINGS = frozenset(
    date(2026, month, day)
    for month, day in ((1, 1), (1, 19), (6, 19), (7, 3), (9, 7), (11, 26), (12, 25), (12, 29), (12, 31))
)
# Announcements recorded in 2019 and 2023 fit the schedule; older years may have had another,
# so that there only the submission itself bounds the day from below.
SCHEDULE_KNOWN_FROM = date(2019, 1, 1)

_NEW_ID = re.compile(r"(\d{2})(\d{2})\.\d{4,5}", re.ASCII)
_OLD_ID = re.compile(r"[a-z-]+(?:\.[A-Za-z]{2})?/(\d{2})(\d{2})\d{3}", re.ASCII)


@dataclass(frozen=True)
class Announcement:
    """The days on which the first announcement can lie, and in words why."""

    days: Days
    note: str


def id_month(arxiv_id: str) -> tuple[int, int] | None:
    """Return (year, month) that an identifier without version carries, None where it is none.

    Old style `astro-ph/0601001`, new style `2311.16162` (info.arxiv.org/help/arxiv_identifier).
    """
    match = _NEW_ID.fullmatch(arxiv_id) or _OLD_ID.fullmatch(arxiv_id)
    if match is None or not 1 <= int(match[2]) <= 12:
        return None
    short = int(match[1])
    return (1900 if short >= 91 else 2000) + short, int(match[2])


def first_evening(submitted: datetime) -> date:
    """Return the US Eastern day of the first announcement after a submission.

    submitted: with its time zone. Mon 14:00 to Tue 14:00 is announced Tuesday 20:00, and so
    on; Thu 14:00 to Fri 14:00 on Sunday; Fri 14:00 to Mon 14:00 on Monday.
    """
    local = submitted.astimezone(EASTERN)
    evening = local.date() + timedelta(days=local.time() >= DEADLINE)
    if evening.weekday() in (SATURDAY, SUNDAY):  # the next deadline is Monday's
        evening += timedelta(days=7 - evening.weekday())
    while evening in QUIET_EVENINGS or evening.weekday() in (FRIDAY, SATURDAY):
        evening += timedelta(days=1)
    return evening


def announcement(arxiv_id: str, submitted: datetime | None) -> Announcement:
    """Return the days on which version 1 can have been announced.

    From the first evening the schedule allows, or the month of the identifier where that
    is later, to the end of that month. An evening 20:00 Eastern is the next day in UTC, and
    no source says by which clock the month is counted: both ends allow for both clocks.
    Raises ValueError where arxiv_id carries no month.
    """
    month = id_month(arxiv_id)
    if month is None:
        raise ValueError(f"{arxiv_id!r} is not an arXiv identifier")
    last_evening = date(*month, calendar.monthrange(*month)[1])
    month_from, month_to = date(*month, 1) - timedelta(days=1), last_evening + timedelta(days=1)
    if submitted is None:
        return Announcement(Days(month_from, month_to), _MONTH_ONLY)
    earliest, note = _earliest(submitted)
    if earliest > last_evening:
        return Announcement(Days(last_evening, earliest + timedelta(days=1)), _DISAGREE)
    if earliest < month_from:
        return Announcement(Days(month_from, month_to), _HELD)
    return Announcement(Days(earliest, max(month_to, earliest + timedelta(days=1))), note)


def _earliest(submitted: datetime) -> tuple[date, str]:
    """Return the earliest day of announcement, Eastern, with the reason."""
    local = submitted.astimezone(EASTERN).date()
    if local < SCHEDULE_KNOWN_FROM:
        return min(local, submitted.astimezone(UTC).date()), _OLD
    return first_evening(submitted), _COMPUTED


_CLOCKS = "Both ends allow for US Eastern time and UTC."
_COMPUTED = (
    "Computed: from the first evening the announcement schedule allows after submission, to the"
    f" end of the month in the identifier; moderation can hold a paper back. {_CLOCKS}"
)
_OLD = (
    "Computed: from submission (the schedule of that year is not known) to the end of the month"
    f" in the identifier. {_CLOCKS}"
)
_HELD = (
    "Held back: the month in the identifier, which is that of the first announcement, is later"
    f" than the submission allows; any day of that month is possible. {_CLOCKS}"
)
_DISAGREE = (
    "The month in the identifier is over before the schedule allows an announcement; the days"
    f" between the two are possible. {_CLOCKS}"
)
_MONTH_ONLY = f"Only the month in the identifier is known, that of the first announcement. {_CLOCKS}"
