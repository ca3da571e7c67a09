"""The clocks' rules as data, read from clocks.toml; its head says what each key holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from pipeline.law.table_rows import SOURCES, row_as, table

CHECKED = date(2026, 11, 25)  # the day every row was written; none was held against its official text
STARTS = (
    "own disclosure", "first filing", "provisional", "design filing", "earliest filing", "filing",
    "any US filing", "grant", "earliest priority", "home filing", "national entry", "item cited",
)  # fmt: skip
_CHOICES = {
    "start": STARTS,
    "source": SOURCES,
    "kind": ("deadline", "opens", "expected"),
    "also": ("", "own disclosure", "exhibition"),
}


@dataclass(frozen=True)
class ClockRule:
    """One row. months or days: how long, one of the two. rolls: over the office's closed days.

    stopped_by: the kinds of filing that end it at the office ("any": wherever it is made).
    month_end: the counted day goes to the end of its month.
    """

    name: str
    office: str
    start: str
    stops: str
    missed: str
    citation: str
    source: str
    months: int = 0
    days: int = 0
    kind: str = "deadline"
    also: str = ""
    note: str = ""
    rolls: bool = True
    stopped_by: str = "there"
    month_end: bool = False

    @property
    def period(self) -> str:
        """Return the length in words."""
        return f"{self.days} days" if self.days else f"{self.months} months"


@cache
def clock_rules() -> tuple[ClockRule, ...]:
    """Return every row of clocks.toml, in order. Raises ValueError, naming the row."""
    return tuple(rule_of(row) for row in table("clocks.toml")["clock"])


def rule_of(row: Mapping[str, Any]) -> ClockRule:
    """Return the row as a rule; raises ValueError, naming the row, for what it may not hold."""
    where = f"clocks.toml: {row.get('office', '?')} {row.get('name', '')}"
    if ("months" in row) == ("days" in row):
        raise ValueError(f"{where}: write months or days, one of the two")
    made = {"rolls": row.get("kind", "deadline") == "deadline"}
    return row_as(ClockRule, row, where, _CHOICES, made=made)


@cache
def national_phase(office: str) -> ClockRule | None:
    """Return the rule for entry at that office, None where its time limit is not held."""
    rows = table("clocks.toml")["national_phase"]
    for source in ("read", "memory"):
        if months := rows[source].get(office):
            return ClockRule(
                "entry into the national phase" if office != "EP" else "entry into the European phase",
                office, "earliest priority", rows["stops"], rows["missed"], rows["citation"], source,
                months=months, note=rows["notes"].get(office, ""),
            )  # fmt: skip
    return None
