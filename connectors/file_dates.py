"""Dates as people write them in reference files: partial stays partial, doubt stays doubt."""

from __future__ import annotations

import re

from connectors.days import Days, days_of_parts, parse_days
from connectors.record import StatedDate

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_FULL = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
    "november", "december", "sept",
)  # fmt: skip
_NAMED = re.compile(
    r"(?:(?P<day>\d{1,2})(?:st|nd|rd|th)?\.?\s+)?(?P<month>[A-Za-z]{3,9})\.?"
    r"(?:\s+(?P<day2>\d{1,2})(?:st|nd|rd|th)?,)?[\s,]+(?P<year>\d{4})"
)
_DAY_FIRST = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})")
_RANGE = re.compile(r"(\d{4}(?:-\d{2}){0,2})\s*(?:/|\.\.|–|--)\s*(\d{4}(?:-\d{2}){0,2})")
_RIS = re.compile(r"(\d{4})/(\d{0,2})/(\d{0,2})(?:/(.*))?", re.DOTALL)
_ABOUT = re.compile(
    r"(?:ca?\.|circa|about|around|approx\.?)\s*(?=\d)|^\d{4}\s*[?~%]$|^\[.*\]$", re.IGNORECASE
)
UNKNOWN = Days(None, None)


def stated_date(kind: str, text: str, field: str) -> StatedDate | None:
    """Return the dated event that the text states, or None where it is no date we can vouch for.

    Read: 2021, 2021-03, 2021-03-04, 20210304, ranges of these with a slash (ISO 8601,
    EDTF), 4 March 2021, March 4, 2021, Mar 2021, 25.3.2021, and RIS's 2021/03/04/other
    with empty parts. 03/04/2021 is the whole year, for either number may be the month.
    'circa 2021' is open at both ends: how far off it may be is not said.
    """
    told = text.strip()
    for read in (_approximate, _of_range, _of_ris, _of_names, _of_numbers):
        found = read(told)
        if found:
            days, note = found
            return StatedDate(kind, text, days, field, note)
    plain = (
        parse_days(told)
        if told.count("/") != 1 or told.endswith("/") or re.fullmatch(r"\d{4}/\d{1,2}", told)
        else None
    )
    return StatedDate(kind, text, plain, field) if plain else None


def month_number(text: str) -> int:
    """Return 1 to 12 for an English month name, its first three letters, or a number; else 0."""
    word = text.strip().strip(".").lower()
    if word.isascii() and word.isdigit():
        return int(word) if len(word) < 3 and 1 <= int(word) <= 12 else 0
    known = word in MONTHS or word in _FULL
    return MONTHS.index(word[:3]) + 1 if known else 0


def _approximate(text: str) -> tuple[Days, str] | None:
    if not _ABOUT.search(text) or not re.search(r"\d{4}", text):
        return None
    return UNKNOWN, "an approximate or supplied date; how far off it may be is not said"


def _of_range(text: str) -> tuple[Days, str] | None:
    parts = _RANGE.fullmatch(text)
    first, last = (parse_days(parts[1]), parse_days(parts[2])) if parts else (None, None)
    if not first or not last or not first.first or not last.last or first.first > last.last:
        return None
    return Days(first.first, last.last), "a range, from the first day of its start to the last of its end"


def _of_ris(text: str) -> tuple[Days, str] | None:
    parts = _RIS.fullmatch(text)
    if not parts:
        return None
    year, month, day = int(parts[1]), int(parts[2] or 0), int(parts[3] or 0)
    rest = (parts[4] or "").strip().strip("/")
    notes = [f"{rest!r} is not used for the date"] if rest else []
    if day and not month:
        notes.append("a day without a month is not used")
        day = 0
    days = days_of_parts([year, month, day])
    return (days, "; ".join(notes)) if days else None


def _of_names(text: str) -> tuple[Days, str] | None:
    parts = _NAMED.fullmatch(text)
    month = month_number(parts["month"]) if parts else 0
    if not parts or not month:
        return None
    day = int(parts["day"] or parts["day2"] or 0)
    days = days_of_parts([int(parts["year"]), month, day])
    return (days, "") if days else None


def _of_numbers(text: str) -> tuple[Days, str] | None:
    """Read day, month, year in figures; dots mean day first, as where they are in use."""
    parts = _DAY_FIRST.fullmatch(text)
    if not parts:
        return None
    one, two, year = int(parts[1]), int(parts[3]), int(parts[4])
    day_first, month_first = days_of_parts([year, two, one]), days_of_parts([year, one, two])
    if parts[2] == "." or not month_first:
        return (day_first, "") if day_first else None
    if not day_first or day_first == month_first:
        return month_first, ""
    return Days.of_year(year), "day and month can't be told apart: the whole year"
