"""Windows of days."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from queries.window import ALL_DAYS, Window

FIRST, TODAY = date(1900, 1, 1), date(2026, 11, 25)
DAYS = st.dates(date(1950, 1, 1), date(2030, 1, 1))


def _days(window: Window) -> range:
    start = window.public_from or FIRST
    end = window.public_to or TODAY + timedelta(days=1)
    return range(start.toordinal(), end.toordinal())


@settings(derandomize=True, max_examples=200)
@given(DAYS, st.integers(2, 5000), st.booleans(), st.booleans())
def test_the_halves_are_the_window(start: date, length: int, open_start: bool, open_end: bool) -> None:
    """No day is lost or asked twice, open ends stay open, and the lag goes along."""
    whole = Window(
        None if open_start else start,
        None if open_end and start < TODAY else start + timedelta(days=length),
        date(2026, 1, 1),
    )
    if len(_days(whole)) < 2:
        return
    older, newer = whole.halves(FIRST, TODAY) or pytest.fail("a window of days was not cut")
    assert [*_days(older), *_days(newer)] == [*_days(whole)]
    assert (older.public_from, newer.public_to) == (whole.public_from, whole.public_to)
    assert older.added_since == newer.added_since == whole.added_since
    assert min(len(_days(older)), len(_days(newer))) >= len(_days(whole)) // 2


def test_a_single_day_is_not_cut() -> None:
    """There is nothing smaller to ask for."""
    assert Window(date(2020, 1, 1), date(2020, 1, 2)).halves(FIRST, TODAY) is None


def test_an_open_window_that_begins_after_today_still_holds_its_first_day() -> None:
    """A start in the future is one day long and is not cut."""
    assert Window(TODAY + timedelta(days=30)).halves(FIRST, TODAY) is None


@pytest.mark.parametrize("end", [date(2020, 1, 1), date(2019, 12, 31)])
def test_a_window_without_a_day_is_refused(end: date) -> None:
    """Empty and reversed windows name their days."""
    with pytest.raises(ValueError, match="2020-01-01"):
        Window(date(2020, 1, 1), end)


def test_all_days_is_open_at_both_ends() -> None:
    """The plain window asks for everything."""
    assert Window(None, None, None) == ALL_DAYS
