"""The matter's own dates as the verdicts need them: at each office, for each group of elements."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from pipeline.errors import BadMatter
from pipeline.law.facts import OurDates, Priority, PublicEvent
from pipeline.matter import Matter, OwnDate

_PLANNED = "planned filing"
_FILINGS = ("first filing", "filing", "international filing", _PLANNED)


@dataclass(frozen=True)
class Claimed:
    """Our dates at an office for elements that share them; elements: letters, "" for all there are."""

    office: str
    elements: str
    dates: OurDates


def our_dates(matter: Matter, office: str, if_filed_on: date | None = None) -> tuple[Claimed, ...]:
    """Return the dates of each group of elements whose first filings are the same.

    A matter whose filings are all of designs is judged as a design; else designs are left
    out: they give a patent claim no date. Raises BadMatter for a filing without its full day.
    """
    right, filings = _filings(matter)
    groups: dict[tuple[OwnDate, ...], list[str]] = {}
    for letter in matter.elements:
        first = (own for own in filings if own.kind == "first filing")
        covering = tuple(own for own in first if not own.elements or letter in own.elements)
        groups.setdefault(covering, []).append(letter)
    return tuple(
        Claimed(
            office,
            "" if len(groups) == 1 else " ".join(letters),
            _dates_of(matter, office, right, (filings, first), letters, if_filed_on),
        )
        for first, letters in groups.items()
    )


def basis(matter: Matter, if_filed_on: date | None = None) -> str:
    """Return what the verdicts rest on, in sentences."""
    if if_filed_on:
        return f"Judged as if filed on {if_filed_on}."
    _, filings = _filings(matter)
    made = [f"{own.kind} {own.days.text()} {own.office}".strip() for own in filings if own.kind != _PLANNED]
    said = [f"Judged against {', '.join(made)}."] if made else []
    ours = {office: our_dates(matter, office) for office in matter.offices}
    waiting: dict[str, dict[str, None]] = {}
    for office, groups in ours.items():
        for open_date in (one.dates for one in groups if one.dates.filing is None):
            when = f"on the planned day {open_date.planned}" if open_date.planned else "today"
            waiting.setdefault(when, {})[office] = None
    everywhere = not made and len(waiting) == 1
    for when, offices in waiting.items():
        what = "Nothing is filed yet" if everywhere else f"Still to be filed at {', '.join(offices)}"
        said.append(f"{what}: judged as if filed {when}.")
    if waiting:
        said.append("Every day without a filing, more may count.")
    if any(len(groups) > 1 for groups in ours.values()):
        said.append("A claim that joins elements of several groups has the date of the latest.")
    return " ".join(said)


def exact_day(matter: Matter, own: OwnDate) -> date:
    """Return the day of a filing. Raises BadMatter where only month or year is written."""
    if not own.days.exact or own.days.first is None:
        raise BadMatter(
            f"{matter.folder / 'matter.toml'}: the {own.kind} of {own.days.text()} needs its full day; "
            "offices count filings by the day. Write it as 2026-03-04."
        )
    return own.days.first


def _filings(matter: Matter) -> tuple[str, tuple[OwnDate, ...]]:
    """Return the right the matter is about, and the filings that can give it a date."""
    filings = tuple(own for own in matter.dates if own.kind in _FILINGS)
    design = bool(filings) and all(own.design for own in filings)
    kept = tuple(own for own in filings if design or not own.design)
    return ("design" if design else "patent"), kept


def _dates_of(
    matter: Matter,
    office: str,
    right: str,
    filed: tuple[tuple[OwnDate, ...], tuple[OwnDate, ...]],
    letters: Iterable[str],
    if_filed_on: date | None,
) -> OurDates:
    """filed: every filing of the matter, and the first filings that cover these elements."""
    filings, first = filed
    own = tuple(
        PublicEvent(one.note or "own disclosure", one.days, "inventor")
        for one in matter.dates
        if one.kind == "own disclosure" and not one.abuse
        if not one.elements or set(letters) & set(one.elements)
    )
    made = None if if_filed_on else _filing(matter, office, filings, first)
    day = exact_day(matter, made) if made else None
    priorities = tuple(
        _priority(matter, each, office)
        for each in first
        # An own first filing that is the filing there has no priority but its own day.
        if made is None or made.kind != "first filing" or exact_day(matter, each) < (day or date.max)
    )
    planned = None if made else if_filed_on or _planned(matter, filings, office)
    abroad = made is not None and made.kind == "international filing" and made.office != office
    declared = made.declared if made else None
    return OurDates(day, planned, priorities, own, declared, right, filed_abroad=abroad)


def _filing(
    matter: Matter, office: str, filings: tuple[OwnDate, ...], first: tuple[OwnDate, ...]
) -> OwnDate | None:
    """Return the filing whose day is the actual one there, None where none is made.

    A later filing there; else the first filing, if made there and no provisional (it covers
    these elements); else the international one, whose day every office takes for its own.
    """
    choices = (
        [own for own in filings if own.kind == "filing" and own.office == office],
        [own for own in first if own.office == office and not own.provisional],
        [own for own in filings if own.kind == "international filing"],
    )
    for found in choices:
        if found:
            return min(found, key=lambda own: exact_day(matter, own))
    return None


def _planned(matter: Matter, filings: Iterable[OwnDate], office: str) -> date | None:
    days = [exact_day(matter, own) for own in filings if own.kind == _PLANNED and own.office in ("", office)]
    return min(days, default=None)


def _priority(matter: Matter, own: OwnDate, office: str) -> Priority:
    """Return the first filing as a priority; a US application relied on in the US has no term of its own."""
    kind = "provisional" if own.provisional else "foreign"
    if own.office == office == "US" and not own.provisional:
        kind = "continuation"
    return Priority(exact_day(matter, own), own.office, kind, own.priority_valid)
