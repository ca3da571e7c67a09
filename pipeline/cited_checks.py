"""What is to be checked on a line of the cited-reference list before it is used.

Rules: 37 CFR 1.98(b) and MPEP 609.04(a) for what a line must hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from pipeline.cited_reference import FOREIGN, US_APPLICATIONS, US_PATENTS, CitedReference, days_text
from pipeline.identifiers import normalise

_TUESDAY, _THURSDAY = 1, 3
# The Office's issue day is a Tuesday, its publication day a Thursday (practice); from when
# on a list is likely to hold patents whose day anybody typed. Publications began in 2001.
_ISSUE_DAY_SINCE = 1971


@dataclass(frozen=True)
class FilingDay:
    """The day a reference must precede. text: what the day is, such as 'your first filing'."""

    day: date
    text: str


def checked(
    references: Iterable[CitedReference], today: date, filing: FilingDay
) -> tuple[CitedReference, ...]:
    """Return the references in their order, each with what is to be checked added to its flags."""
    listed = tuple(references)
    twins = _twins(listed)
    return tuple(
        replace(one, flags=(*one.flags, *_flags(one, today, filing), *twins.get(one.reference_id, ())))
        for one in listed
    )


def _flags(one: CitedReference, today: date, filing: FilingDay) -> Iterator[str]:
    yield from _missing(one)
    yield from _number(one)
    yield from _date(one, today, filing)
    yield from _weekday(one)


def _missing(one: CitedReference) -> Iterator[str]:
    needed = {"title": bool(one.title)}
    if one.section == US_PATENTS:
        needed = {"inventor": bool(one.inventors)}
    elif one.section == US_APPLICATIONS:
        needed = {"applicant or inventor": bool(one.applicants or one.inventors)}
    elif one.section == FOREIGN:
        needed = {"applicant, patentee or inventor": bool(one.applicants or one.inventors)}
    else:
        needed["publisher, or the journal or site it appeared in"] = bool(one.publisher or one.container)
        if one.kind in ("article", "conference paper", "chapter"):
            needed["relevant pages"] = bool(one.pages)
    missing = [name for name, there in needed.items() if not there]
    if missing:
        yield f"no source states: {'; '.join(missing)}"


def _number(one: CitedReference) -> Iterator[str]:
    if not one.is_patent:
        if one.kind in ("patent", "patent application", "utility model", "design"):
            yield "a patent document without a publication number; find it, and its section"
        return
    problem = normalise("publication", one.number).problem
    if problem:
        yield f"the number is not in its office's form: {problem}"
    elif not one.kind_code:
        yield "no source states the kind code; it tells an application from a patent"


def _date(one: CitedReference, today: date, filing: FilingDay) -> Iterator[str]:
    days = one.published
    if days is None or (days.first is None and days.last is None):
        yield "no source states a public date; list it as date unknown, and guess none"
        return
    if days.first and days.first > today:
        yield f"the date {days_text(days)} is in the future"
    elif days.first and days.first > filing.day:
        yield f"public only after {filing.text} ({filing.day}); say why it is listed"
    if days.exact:
        return
    if one.is_patent:
        yield f"only {days_text(days)} is known; a patent document needs its full day"
        return
    if _within_a_month(days.first, days.last):
        return
    if days.last and days.last < filing.day:
        yield (
            f"no single month is known, only {days_text(days)}; the statement must point out that "
            f"this is earlier than {filing.text} ({filing.day})"
        )
    else:
        yield (
            f"no single month is known, only {days_text(days)}, which is not clearly earlier than "
            f"{filing.text} ({filing.day}); find the month"
        )


def _within_a_month(first: date | None, last: date | None) -> bool:
    return bool(first and last and (first.year, first.month) == (last.year, last.month))


def _weekday(one: CitedReference) -> Iterator[str]:
    day = one.published.first if one.published and one.published.exact else None
    if day is None or day.year < _ISSUE_DAY_SINCE:
        return
    if one.section == US_PATENTS and day.weekday() != _TUESDAY:
        yield f"{day} is a {day:%A}; US patents issue on Tuesdays"
    if one.section == US_APPLICATIONS and day.weekday() != _THURSDAY:
        yield f"{day} is a {day:%A}; US applications are published on Thursdays"


def _twins(listed: tuple[CitedReference, ...]) -> dict[str, list[str]]:
    """Return reference_id -> a flag for each other line that bears the same number or DOI."""
    met: dict[tuple[str, str], list[CitedReference]] = {}
    for one in listed:
        for scheme, text in (("publication", one.number), ("doi", one.doi), ("arxiv", one.arxiv)):
            if text:
                key = normalise(scheme, text)
                met.setdefault((scheme, key.value), []).append(one)
    flags: dict[str, list[str]] = {}
    for (_, value), same in met.items():
        for one in same if len(same) > 1 else ():
            others = ", ".join(other.reference_id for other in same if other is not one)
            flags.setdefault(one.reference_id, []).append(f"{value} is listed twice; see also {others}")
    return flags
