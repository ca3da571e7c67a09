"""Deciding, for command line and review page alike: what is written, and what follows from it."""

from __future__ import annotations

import getpass
import os
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import duckdb

from connectors.days import Days, parse_days
from pipeline.decisions import Decision, Decisions
from pipeline.errors import NotFound, RunInProgress, StoreLocked
from pipeline.matter import load_matter
from pipeline.plain_text import safe
from pipeline.run_lock import run_lock


def element_letters(written: str, elements: tuple[str, ...]) -> tuple[str, ...]:
    """Return the elements named: "A,C", "A C" or "AC". Raises NotFound for one the matter lacks."""
    words = written.upper().replace(",", " ").split()
    letters = [letter for word in words for letter in ([word] if word in elements else word)]
    for letter in letters:
        if letter not in elements:
            raise NotFound(f"no element {letter!r} in matter.toml; there are {', '.join(elements)}")
    return tuple(dict.fromkeys(letters))


def public_day(written: str, today: date) -> Days:
    """Return the days of a public date written by hand. Raises NotFound for none, or one to come."""
    days = parse_days(written)
    if days is None or days.first is None or days.last is None:
        raise NotFound(f"{written!r} is no day; write 2026-03-04, 2026-03 or 2026 (what you know, no more)")
    if days.first > today:
        raise NotFound(f"{written} lies in the future: nothing is public yet on that day")
    return days


def date_facts(days: Days, why: str, evidence: str, wins: bool) -> dict[str, Any]:
    """Return what a public date by hand is written as."""
    first, last = days.first, days.last
    return {
        "day_from": first and first.isoformat(),
        "day_to": last and last.isoformat(),
        "why": why,
        "evidence": evidence,
        "wins": wins,
    }


def decider(by: str) -> str:
    """Return who decides: the name given, else the user's on this machine."""
    return by or os.environ.get("USER") or getpass.getuser()


def decide(
    folder: Path,
    kind: str,
    records: tuple[str, ...],
    facts: dict[str, Any],
    by: str,
    check: Callable[[], None] = lambda: None,
) -> None:
    """Write the decision, unless check raises: nobody else can write between check and line."""
    Decisions(folder).add(kind, records, facts, decider(by), datetime.now(UTC), check)


def members(con: duckdb.DuckDBPyConnection, reference: str) -> tuple[str, ...]:
    """Return the records of the reference, first seen first."""
    rows = con.execute(
        "SELECT record_id FROM membership JOIN record USING (record_id) WHERE reference_id = ? ORDER BY seq",
        [reference],
    ).fetchall()
    return tuple(row[0] for row in rows)


def resolve_again(folder: Path) -> str:
    """Work the references out again after a ruling or date; return "" or why that has to wait.

    The decision itself is kept either way, and the next run takes it up.
    """
    from pipeline.embed import model_version
    from pipeline.references import resolve_references

    try:
        with run_lock(folder):
            resolve_references(folder, model_version(load_matter(folder).model))
    except (RunInProgress, StoreLocked) as busy:
        return (
            f"Kept; it shows once the references are worked out again, by the next run at the latest. {busy}"
        )
    return ""


def describe(decision: Decision) -> str:
    """Return the decision in a line."""
    records = ", ".join(decision.records[:2])
    when = f"{decision.made_at:%Y-%m-%d %H:%M}"
    head = f"{decision.number}  {when}  {decision.made_by}  {decision.kind}  {records}"
    return safe(f"{head}: {decided(decision)}")


def decided(decision: Decision) -> str:
    """Return what was decided, without who, when and on what."""
    facts = decision.facts
    if decision.kind == "tag":
        return " ".join(filter(None, (facts["tag"], facts["category"], *facts["elements"], facts["note"])))
    if decision.kind == "ruling":
        return "the same" if facts["same"] else "different"
    if decision.kind == "undo":
        return f"took back decision {facts['undoes']}"
    return f"public {facts['day_from']}..{facts['day_to']}, because {facts['why']}"
