"""Months, roll-over and closed days, held against two libraries."""

from __future__ import annotations

from datetime import date, timedelta

import holidays
import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.law.closed_days import closed, holidays_note
from pipeline.law.periods import add_months, roll

DAYS = st.dates(date(1950, 1, 1), date(2100, 12, 31))


@settings(derandomize=True, max_examples=500)
@given(DAYS, st.integers(-240, 480))
def test_months_are_added_as_dateutil_adds_them(day: date, months: int) -> None:
    """One addition, clipped to the month's end, in both directions."""
    assert add_months(day, months) == day + relativedelta(months=months)


def test_two_short_steps_are_not_one_long_one() -> None:
    """A period is added once: 31 January and twice one month would lose three days."""
    day = date(2023, 1, 31)
    assert add_months(day, 2) == date(2023, 3, 31) != add_months(add_months(day, 1), 1)


@pytest.mark.parametrize("year", range(2021, 2036))
def test_federal_holidays_are_those_of_the_library(year: int) -> None:
    """On working days only Inauguration Day and single closures differ from the library's list."""
    # Columbus, Juneteenth and observed days included; the library keeps no DC-only day.
    theirs = {
        day
        for around in (year, year + 1)
        for day in holidays.country_holidays("US", years=around)
        if day.year == year and day.weekday() < 5
    }
    ours = {
        day
        for day in (date(year, 1, 1) + timedelta(days=n) for n in range(366))
        if day.year == year and day.weekday() < 5 and closed("US", day)
    }
    extra = {day for day in ours - theirs if "executive order" not in closed("US", day)}
    extra = {day for day in extra if "mourning" not in closed("US", day)}
    assert not theirs - ours
    assert extra <= {date(year, 1, 20)}
    assert (
        extra
        == ({date(year, 1, 20)} if year % 4 == 1 and date(year, 1, 20).weekday() < 5 else set()) - theirs
    )


@pytest.mark.parametrize(
    ("day", "part"),
    [
        ("2021-12-31", "New Year"),  # 5 USC 6103(b): 1 January 2022 is a Saturday
        ("2022-06-20", "Juneteenth"),
        ("2020-06-19", ""),  # not yet a holiday
        ("2026-07-03", "Independence"),
        ("1989-01-20", "Inauguration"),
        ("2024-12-24", "executive order"),  # 37 CFR 1.9(h)
        ("2025-04-16", ""),  # Emancipation Day is the District's, not federal
    ],
)
def test_a_closed_day_says_why(day: str, part: str) -> None:
    """The reason is named, and an open day has none."""
    found = closed("US", date.fromisoformat(day))
    assert (part in found) if part else found == ""


@settings(derandomize=True, max_examples=300)
@given(DAYS, st.sampled_from(["US", "EP", "JP"]))
def test_rolling_ends_on_an_open_day_and_stays_there(day: date, office: str) -> None:
    """Rolled once, a day moves no more; every day passed over has its reason."""
    found = roll(office, day)
    assert not closed(office, found.due)
    assert roll(office, found.due).due == found.due
    assert len(found.because) == (found.due - day).days


def test_an_office_without_calendar_says_so() -> None:
    """Weekends only, and the caution; the USPTO needs none."""
    assert closed("EP", date(2026, 12, 25)) == ""
    assert "not checked" in holidays_note("EP")
    assert holidays_note("US") == ""
