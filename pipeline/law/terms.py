"""How long rights last, read from terms.toml: one row per office, kinds and span of filings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from pipeline.law.table_rows import SOURCES, row_as, table

_CHOICES = {
    "counts": ("filing", "earliest_benefit", "grant"),
    "ends": ("anniversary", "day_before", "month_end"),
    "fees": ("stages", "none", "yearly"),
    "source": SOURCES,
}


@dataclass(frozen=True)
class Term:
    """One row of terms.toml, whose head says what each key holds. grant_years: 0 is none."""

    office: str
    kinds: tuple[str, ...]
    years: int
    counts: str
    fees: str
    citation: str
    source: str
    checked: date
    filed_from: date | None = None
    filed_until: date | None = None
    grant_years: int = 0
    ends: str = "anniversary"
    adjustable_from: date | None = None
    extras: str = ""

    def governs(self, kind: str, filed: date) -> bool:
        """Return whether the row holds for a right of this kind filed that day."""
        begun = self.filed_from is None or self.filed_from <= filed
        return kind in self.kinds and begun and (self.filed_until is None or filed <= self.filed_until)


def term_for(office: str, kind: str, filed: date) -> Term | None:
    """Return the row that governs, that of "*" where the office has none, None where none is held."""
    for wanted in (office, "*"):
        for term in terms():
            if term.office == wanted and term.governs(kind, filed):
                return term
    return None


@cache
def terms() -> tuple[Term, ...]:
    """Return every row, in the order of the file. Raises ValueError, naming the row."""
    return tuple(term_of(row) for row in _file()["term"])


def term_of(row: Mapping[str, Any]) -> Term:
    """Return the row as a Term; raises ValueError, naming the row, for what it may not hold."""
    return row_as(Term, row, f"terms.toml: {row.get('office', '?')} {row.get('kinds', '')}", _CHOICES)


def covers(office: str, country: str, filed: date | None) -> bool:
    """Return whether a right of that office, filed that day, is or can be one for the country.

    filed: None where not known; then any state a European patent covers today counts.
    """
    if office != "EP":
        return country == office or country in _file()["regional"].get(office, ())
    since = _file()["ep_states"]["since"].get(country)
    return country == "EP" or (since is not None and (filed is None or since <= filed))


def unitary_from(country: str) -> date | None:
    """Return the first day of grant that can bring unitary effect there, None where none can."""
    day: date | None = _file()["ep_states"]["unitary"].get(country)
    return day


def _file() -> dict[str, Any]:
    return table("terms.toml")
