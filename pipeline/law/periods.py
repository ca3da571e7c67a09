"""Months, years and closed days: how a period is counted and where its last day falls.

The day of the event is not counted; a period ends on the day with the same number or, where
the month has none, on its last day (EPC Rule 131(2)-(4); PCT Rule 80; MPEP 710.01(a)). A whole
period is added once to the original day: never chained, never added to a day already moved.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta

from pipeline.law.closed_days import closed

# Longest run of closed days looked through; a longer one is a mistake in the table.
_MOST_CLOSED = 30


@dataclass(frozen=True)
class Due:
    """The end of a period. unrolled: by counting alone; due: moved past closed days.

    because: why each day passed over is closed, in order; () where due == unrolled.
    """

    unrolled: date
    due: date
    because: tuple[str, ...]


def add_months(day: date, months: int) -> date:
    """Return the day that many months later (earlier where negative), clipped to the month's end."""
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    last = calendar.monthrange(years, month + 1)[1]
    return date(years, month + 1, min(day.day, last))


def roll(office: str, day: date) -> Due:
    """Return the first open day of the office on or after day, with the reasons for moving."""
    due, because = day, []
    while reason := closed(office, due):
        because.append(f"{due} is {reason}")
        due += timedelta(days=1)
        if len(because) > _MOST_CLOSED:
            raise ValueError(f"more than {_MOST_CLOSED} closed days in a row at {office} from {day}")
    return Due(day, due, tuple(because))
