"""The rules held, read from offices.toml: one row per office, right and span of filings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from pipeline.law.table_rows import SOURCES, row_as, table

SPARES = (
    "same_inventors", "same_applicant", "from_inventor", "own_disclosure_first", "common_owner_stated",
    "own_grace",
)  # fmt: skip
_CHOICES = {
    "by": ("filing", "effective"),
    "use": ("anywhere", "here", "never"),
    "oral": ("anywhere", "here", "never"),
    "closed_sale": ("counts", "never", "unknown"),
    "presumes": ("", "last_day", "last_day_and_hour"),
    "earlier_counts": ("novelty+obviousness", "novelty", "none"),
    "counts_from": ("actual", "effective"),
    "declaration": ("no", "expected", "late", "yes"),
    "source": SOURCES,
    "needs": ("nothing", "designated", "entered"),
    "earlier_spares": SPARES,
}


@dataclass(frozen=True)
class Grace:
    """An exception for one kind of disclosure.

    who: whose disclosures. grounds: the occasions asked for, () for any. months before the
    counted day, which is included; 0 is no limit. counts_from: actual filing there, or
    effective (a valid priority stops the clock). gazettes: an own patent publication can be
    excused. after_own: only where the inventor had disclosed the same before. declaration:
    yes (lost without it), late (can be made afterwards), expected (what its lack does is not
    held), no. statement: what
    to file, in words. condition: a further fact no input holds, always asked.
    """

    who: tuple[str, ...]
    months: int
    counts_from: str
    citation: str
    grounds: tuple[str, ...] = ()
    events_from: date | None = None
    gazettes: bool = True
    after_own: bool = False
    declaration: str = "no"
    statement: str = ""
    condition: str = ""


@dataclass(frozen=True)
class _Earlier:
    """Whose earlier documents have secret effect, and what they need for it."""

    office: str
    needs: str


@dataclass(frozen=True)
class Rule:
    """What one office counts, for filings of one span of days.

    earlier: (office, needs) of documents with secret effect; "*" is any office. needs:
    nothing, designated (this office is named), entered (fee, translation or entry done here).
    earlier_spares: what takes the secret effect away. earlier_claimed_only: only what the
    earlier application claims. earlier_when_excused: also where its publication is excused.
    late_priority_months: kept that much longer without restoration. closed_sale: a sale whose
    details stay secret. Others as offices.toml says.
    """

    office: str
    rights: tuple[str, ...]
    valid_from: date
    cite_public: str
    cite_access: str
    cite_earlier: str
    earlier_counts: str
    source: str
    checked: date
    valid_until: date | None = None
    law: str = ""
    by: str = "filing"
    rolls: bool = False
    use: str = "anywhere"
    oral: str = "anywhere"
    closed_sale: str = "unknown"
    presumes: str = ""
    late_priority_months: int = 0
    earlier: tuple[tuple[str, str], ...] = ()
    earlier_spares: tuple[str, ...] = ()
    earlier_claimed_only: bool = False
    earlier_when_excused: bool = False
    cite_spares: str = ""
    grace: tuple[Grace, ...] = ()

    def holds_for(self, right: str, day: date) -> bool:
        """Return whether the rule governs this right and this filing (or effective) day."""
        open_end = self.valid_until is None or day <= self.valid_until
        return right in self.rights and self.valid_from <= day and open_end


def rule_for(office: str, right: str, law: str, days: Mapping[str, date]) -> Rule | None:
    """Return the rule that governs, or None where none is held.

    days: "filing" and "effective", the two days a rule's validity may be counted by.
    law: picks the rule by name at an office whose laws have names, whatever the days say.
    """
    for rule in rules_of(office):
        named = bool(law and rule.law)
        if rule.law == law and right in rule.rights if named else rule.holds_for(right, days[rule.by]):
            return rule
    return None


@cache
def rules_of(office: str) -> tuple[Rule, ...]:
    """Return the rules held for an office; none for an office that is not held."""
    return tuple(rule for rule in rules() if rule.office == office)


@cache
def rules() -> tuple[Rule, ...]:
    """Return every rule held, in the order of the file. Raises ValueError, naming the entry."""
    return tuple(rule_of(entry) for entry in table("offices.toml")["rule"])


def rule_of(entry: Mapping[str, Any]) -> Rule:
    """Return the rule an entry of the file writes; raises ValueError for what it may not hold."""
    where = f"offices.toml: {entry.get('office', '?')} {entry.get('law', '')}".strip()
    earlier = [row_as(_Earlier, row, f"{where}, earlier", _CHOICES) for row in entry.get("earlier", ())]
    parts = {
        "earlier": tuple((row.office, row.needs) for row in earlier),
        "grace": tuple(row_as(Grace, row, f"{where}, grace", _CHOICES) for row in entry.get("grace", ())),
    }
    return row_as(Rule, {**entry, **parts}, where, _CHOICES, {"from": "valid_from", "until": "valid_until"})
