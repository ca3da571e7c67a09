"""On which days an office is closed.

USPTO: Saturdays, Sundays and federal holidays within the District of Columbia (35 USC 21(b);
37 CFR 1.7; 5 USC 6103), Inauguration Day included (5 USC 6103(c); MPEP 710.05), Emancipation
Day not, since it is no federal holiday; one-off closures from closed_days.toml (37 CFR 1.9(h)).
Other offices: weekends only; their holidays are not held, and HOLIDAYS_HELD says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from typing import Any

from pipeline.law.table_rows import SOURCES, row_as, table

HOLIDAYS_HELD = ("US",)
_CHOICES = {"source": SOURCES}


@dataclass(frozen=True)
class Closure:
    """One row of closed_days.toml, whose head says what each key holds."""

    office: str
    day: date
    why: str
    source: str
    checked: date


def closure_of(row: Mapping[str, Any]) -> Closure:
    """Return the row as a Closure; raises ValueError, naming the row, for what it may not hold."""
    return row_as(Closure, row, f"closed_days.toml: {row.get('office', '?')} {row.get('day', '')}", _CHOICES)


def closed(office: str, day: date) -> str:
    """Return why the office is closed on that day, or "" where it is open as far as we know."""
    if day.weekday() >= 5:
        return "a Saturday" if day.weekday() == 5 else "a Sunday"
    if office not in HOLIDAYS_HELD:
        return ""
    return _us_holidays(day.year).get(day) or _closures().get((office, day), "")


def holidays_note(office: str) -> str:
    """Return the caution that belongs to a day rolled at this office, or "" where none does."""
    return "" if office in HOLIDAYS_HELD else "holidays of this office were not checked, weekends only"


@cache
def _us_holidays(year: int) -> Mapping[date, str]:
    """Return the federal holidays in DC that fall in the year, on the day they are observed."""
    found: dict[date, str] = {}
    for of in (year, year + 1):  # 1 January on a Saturday is observed on 31 December before
        for day, name in _named_days(of):
            observed = _observed(day)
            if observed.year == year:
                also = "" if observed == day else f", observed for {day}"
                found[observed] = f"{name}{also}"
    inauguration = date(year, 1, 20)
    if year % 4 == 1 and year >= 1937:
        # Kept in the DC area only; on a Sunday the day after, on a Saturday no day instead.
        found[inauguration + timedelta(days=inauguration.weekday() == 6)] = "Inauguration Day"
    return found


def _named_days(year: int) -> list[tuple[date, str]]:
    """5 USC 6103(a), each from the year it was first kept."""
    days = [
        (date(year, 1, 1), "New Year's Day", 1871),
        (_nth(year, 1, 0, 3), "Martin Luther King Jr. Day", 1986),
        (_nth(year, 2, 0, 3), "Washington's Birthday", 1971),
        (_nth(year, 6, 0, 1) - timedelta(days=7), "Memorial Day", 1971),
        (date(year, 6, 19), "Juneteenth", 2021),
        (date(year, 7, 4), "Independence Day", 1871),
        (_nth(year, 9, 0, 1), "Labor Day", 1894),
        (_nth(year, 10, 0, 2), "Columbus Day", 1971),
        (date(year, 11, 11), "Veterans Day", 1978),
        (_nth(year, 11, 3, 4), "Thanksgiving Day", 1942),
        (date(year, 12, 25), "Christmas Day", 1871),
    ]
    return [(day, name) for day, name, since in days if year >= since]


def _observed(day: date) -> date:
    """5 USC 6103(b) and executive order 11582: Saturday's on Friday, Sunday's on Monday."""
    return day + timedelta(days={5: -1, 6: 1}.get(day.weekday(), 0))


def _nth(year: int, month: int, weekday: int, n: int) -> date:
    first = date(year, month, 1)
    return first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (n - 1))


@cache
def _closures() -> Mapping[tuple[str, date], str]:
    rows = map(closure_of, table("closed_days.toml")["closure"])
    return {(row.office, row.day): row.why for row in rows}
