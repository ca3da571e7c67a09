"""The rules held, read from offices.toml: one row per office, right and span of filings."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any

CHOICES = {
    "by": ("filing", "effective"),
    "use": ("anywhere", "here", "never"),
    "oral": ("anywhere", "here", "never"),
    "closed_sale": ("counts", "never", "unknown"),
    "presumes": ("", "last_day", "last_day_and_hour"),
    "earlier_counts": ("novelty+obviousness", "novelty", "none"),
    "counts_from": ("actual", "effective"),
    "declaration": ("no", "expected", "late", "yes"),
    "source": ("read", "read (secondary)", "memory"),
    "needs": ("nothing", "designated", "entered"),
}
SPARES = (
    "same_inventors", "same_applicant", "from_inventor", "own_disclosure_first", "common_owner_stated",
    "own_grace",
)  # fmt: skip


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
    text = files("pipeline.law").joinpath("offices.toml").read_text(encoding="utf-8")
    return tuple(rule_of(entry) for entry in tomllib.loads(text)["rule"])


def rule_of(entry: Mapping[str, Any]) -> Rule:
    """Return the rule an entry of the file writes; raises ValueError for what it may not hold."""
    values = dict(entry)
    where = f"offices.toml: {values.get('office', '?')} {values.get('law', '')}".strip()
    values["valid_from"], values["valid_until"] = values.pop("from"), values.pop("until", None)
    values["earlier"] = tuple((row["office"], row["needs"]) for row in values.get("earlier", ()))
    values["grace"] = tuple(grace_of(row, where) for row in values.get("grace", ()))
    for _, needs in values["earlier"]:
        check_choice(where, "needs", needs)
    if strange := set(values.get("earlier_spares", ())) - set(SPARES):
        raise ValueError(f"{where}: earlier_spares holds {sorted(strange)}; known are {', '.join(SPARES)}")
    return Rule(**checked(values, Rule, where))


def grace_of(entry: Mapping[str, Any], where: str) -> Grace:
    """Return the exception one [[rule.grace]] writes."""
    return Grace(**checked(dict(entry), Grace, f"{where}, grace"))


def checked(values: dict[str, Any], kind: type, where: str) -> dict[str, Any]:
    """Return the values with lists as tuples, once every key is known and every choice allowed."""
    known = {field.name for field in fields(kind)}
    if strange := set(values) - known:
        raise ValueError(f"{where}: unknown key {sorted(strange)}; known are {', '.join(sorted(known))}")
    for key, value in values.items():
        if key in CHOICES:
            check_choice(where, key, value)
        if isinstance(value, list):
            values[key] = tuple(value)
    return values


def check_choice(where: str, key: str, value: str) -> None:
    """Raise ValueError where the value is none of those the key may hold."""
    if value not in CHOICES[key]:
        raise ValueError(f"{where}: {key} = {value!r}; it may be {', '.join(map(repr, CHOICES[key]))}")
