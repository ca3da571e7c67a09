"""Months and closed days against published examples, python-dateutil and the holidays library."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path

import holidays
import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.law.closed_days import closed
from pipeline.law.periods import add_months, roll

CLOCKS = Path(__file__).resolve().parents[2] / "../shared/law/worked-clocks.csv"
# Days the library leaves out: Inauguration Day is kept in the DC area only (5 USC 6103(c); MPEP
# 710.05), the others are one-off closures (37 CFR 1.9(h); MPEP 510).
BEYOND_THE_LIBRARY = {
    date(2021, 1, 20), date(2024, 12, 24), date(2025, 1, 9), date(2025, 12, 24), date(2025, 12, 26),
    date(2033, 1, 20),
}  # fmt: skip


@settings(derandomize=True, max_examples=300, deadline=None)
@given(day=st.dates(date(1900, 1, 1), date(2100, 1, 1)), months=st.integers(-240, 480))
def test_months_are_added_as_dateutil_adds_them(day: date, months: int) -> None:
    """The whole period once, clipped to the month's end (EPC Rule 131; PCT Rule 80; MPEP 710.01(a))."""
    assert add_months(day, months) == day + relativedelta(months=months)


def test_us_holidays_are_the_librarys() -> None:
    """Federal holidays 2021 to 2035 on working days, observed shifts included, beside the known extras."""
    library = holidays.US(years=range(2021, 2036), observed=True)
    days = [date(2021, 1, 1) + timedelta(days=n) for n in range(365 * 15 + 3)]
    ours = {day for day in days if day.weekday() < 5 and closed("US", day)}
    theirs = {day for day in days if day.weekday() < 5 and day in library}
    assert ours - theirs == BEYOND_THE_LIBRARY
    assert theirs - ours == set()


def rows() -> list[dict[str, str]]:
    """Return the worked examples that state a start and a period, where the file is there."""
    if not CLOCKS.is_file():
        return []
    with CLOCKS.open(encoding="utf-8", newline="") as handle:
        return [row for row in csv.DictReader(handle) if row["start_date"] and row["unrolled_date"]]


@pytest.mark.skipif(not CLOCKS.is_file(), reason="the worked examples are not beside the checkout")
@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['case_id']}: {row['citation']}"[:90])
def test_worked_example(row: dict[str, str]) -> None:
    """The period ends where the office manual, statute or decision named in the id says."""
    number, unit = row["period"].split(" ")[:2]
    start = date.fromisoformat(row["start_date"])
    if unit.startswith("day"):
        end = start + timedelta(days=int(number))
    else:
        end = add_months(start, int(number) * (12 if unit.startswith("year") else 1))
    assert end == date.fromisoformat(row["unrolled_date"])
    # A window that opens is no deadline and does not roll (37 CFR 1.362(d)).
    opens = "window opens" in row["clock"]
    if (
        row["office"] == "US"
        and not opens
        and (row["rolled_because"] or row["due_date"] == row["unrolled_date"])
    ):
        assert roll("US", end).due == date.fromisoformat(row["due_date"])
