"""The patents of references as rights the law can judge, and where they are probably in force."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from connectors.patent_term import (
    BENEFIT_FILED,
    DAYS_ADDED,
    DISCLAIMED_TO,
    DISCLAIMER,
    ENDED_BY_FEE,
    GIVEN_UP,
    NO_END_KNOWN,
    ORIGINAL_FILED,
    ORIGINAL_GRANTED,
    PENDING,
)
from pipeline.law.family import Family, family_in_force
from pipeline.law.rights import PatentRight
from pipeline.store import open_store

# An application is one right, however many publications and sources speak of it: records of
# one version and records with one application number belong together.
_RIGHTS = """
WITH member AS (
    SELECT m.reference_id, m.record_id, m.version_id, r.kind, i.value, i.match_key
    FROM wanted_reference JOIN membership m USING (reference_id) JOIN record r USING (record_id)
    JOIN identifier i ON i.record_id = m.record_id AND i.scheme = 'publication'
), filing AS (
    SELECT m.version_id, min(i.match_key) AS application
    FROM member m JOIN identifier i USING (record_id) WHERE i.scheme = 'application' GROUP BY ALL
), event AS (
    SELECT m.version_id, e.kind, e.day_from, e.day_to
    FROM member m JOIN dated_event e USING (record_id) WHERE e.stands
), stated AS (
    SELECT m.version_id, unnest(r.details) AS d FROM member m JOIN record r USING (record_id)
), term AS (
    SELECT version_id, max(try_cast(d."text" AS INTEGER)) FILTER (d.name = $days_added) AS days_added,
           max(d."text") FILTER (d.name = $disclaimer) AS disclaimer,
           min(try_cast(d."text" AS DATE)) FILTER (d.name = $benefit) AS benefit_from,
           max(try_cast(d."text" AS DATE)) FILTER (d.name = $benefit) AS benefit,
           max(try_cast(d."text" AS DATE)) FILTER (d.name = $disclaimed_to) AS disclaimed_to,
           max(try_cast(d."text" AS DATE)) FILTER (d.name = $original_filed) AS original_filed,
           max(try_cast(d."text" AS DATE)) FILTER (d.name = $original_granted) AS original_granted,
           max(try_cast(d."text" AS DATE)) FILTER (d.name = $no_end_seen) AS no_end_seen,
           max(try_cast(d."text" AS DATE)) FILTER (d.name = $ended_noted) AS ended_noted,
           max(try_cast(d."text" AS DATE)) FILTER (d.name = $given_up) AS given_up,
           max(try_cast(d."text" AS DATE)) FILTER (d.name = $waiting_seen) AS waiting_seen
    FROM stated GROUP BY ALL
), chain AS (
    -- Data that name a priority without its link (continuation or not); a provisional ends in P.
    SELECT m.version_id, min(e.day_from) AS earlier_us
    FROM member m JOIN relation l ON l.record_id = m.record_id AND l.kind = 'priority'
    JOIN dated_event e ON e.record_id = m.record_id AND e.kind = 'priority' AND e.stands
         AND starts_with(e.note, l."text")
    WHERE starts_with(l."text", 'US') AND NOT ends_with(l."text", 'P') GROUP BY ALL
), source AS (
    SELECT m.version_id, bool_or(r.source IN $whole_chain) AS chain_known
    FROM member m JOIN record r USING (record_id) GROUP BY ALL
)
SELECT m.reference_id, any_value(left(m.value, 2)) AS office, list(DISTINCT m.kind ORDER BY m.kind) AS kinds,
       list(DISTINCT m.value ORDER BY m.value) AS numbers,
       max(e.day_to) FILTER (e.kind = 'filed') AS filed,
       bool_and(e.day_from = e.day_to) FILTER (e.kind = 'filed') AS exact,
       min(e.day_from) FILTER (e.kind = 'priority') AS priority,
       min(e.day_to) FILTER (e.kind = 'publication of grant') AS granted,
       max(t.days_added) AS days_added, coalesce(max(t.disclaimer), '') AS disclaimer,
       min(t.benefit_from) AS benefit_from, max(t.benefit) AS benefit, max(t.disclaimed_to) AS disclaimed_to,
       max(t.original_filed) AS original_filed, max(t.original_granted) AS original_granted,
       max(t.no_end_seen) AS no_end_seen, max(t.ended_noted) AS ended_noted, max(t.given_up) AS given_up,
       max(t.waiting_seen) AS waiting_seen, min(c.earlier_us) AS earlier_us,
       coalesce(bool_or(s.chain_known), FALSE) AS chain_known
FROM member m LEFT JOIN filing f USING (version_id) LEFT JOIN event e USING (version_id)
LEFT JOIN term t USING (version_id) LEFT JOIN chain c USING (version_id) LEFT JOIN source s USING (version_id)
GROUP BY m.reference_id, coalesce(f.application, m.match_key), left(m.value, 2) ORDER BY ALL
"""
# What sources state of the term (connectors/patent_term.py), and those that state the whole chain.
_STATED = {
    "days_added": DAYS_ADDED, "benefit": BENEFIT_FILED, "disclaimed_to": DISCLAIMED_TO,
    "disclaimer": DISCLAIMER, "original_filed": ORIGINAL_FILED, "original_granted": ORIGINAL_GRANTED,
    "no_end_seen": NO_END_KNOWN, "ended_noted": ENDED_BY_FEE, "given_up": GIVEN_UP, "waiting_seen": PENDING,
    "whole_chain": ["uspto_odp", "uspto_bulk"],
}  # fmt: skip
# A family answer holds every member the office's data know, unless it was cut.
_LOOKED_UP = """
SELECT m.reference_id, max(CAST(p.received_at AS DATE))
FROM wanted_reference JOIN membership m USING (reference_id) JOIN record r USING (record_id)
JOIN response p ON p.seq = r.response_seq
WHERE r.source = 'epo_ops' AND contains(p.request, '/family/')
  AND NOT EXISTS (SELECT 1 FROM search s WHERE s.run_id = p.run_id AND s.source = p.source
                  AND s.sweep = p.sweep AND s.outcome <> 'complete')
GROUP BY ALL
"""


@dataclass(frozen=True)
class HeldFamily:
    """A reference's patents. uncertain: numbers for which the first day of the term is not sure."""

    rights: tuple[PatentRight, ...]
    complete_as_of: date | None
    uncertain: tuple[str, ...]

    def in_force(self, countries: Iterable[str], today: date) -> Family:
        """Return the answer country by country."""
        return family_in_force(self.rights, countries, today, self.complete_as_of)


def read_families(folder: Path, references: Iterable[str]) -> dict[str, HeldFamily]:
    """Return reference_id -> the patents among its versions; a reference without patents has no entry.

    Where statements differ the later filing day counts and the most days added, so that
    nothing is called expired too soon. Cost grows with the references asked for.
    """
    with open_store(folder, read_only=True) as con:
        return families_in(con, references)


def families_in(con: duckdb.DuckDBPyConnection, references: Iterable[str]) -> dict[str, HeldFamily]:
    """As read_families, in a store that is open."""
    con.register("wanted_reference", pa.table({"reference_id": pa.array(list(references), pa.string())}))
    done = con.execute(_RIGHTS, _STATED)
    names = [column[0] for column in done.description or ()]
    rows = [dict(zip(names, row, strict=True)) for row in done.fetchall()]
    looked_up: dict[str, date] = dict(con.execute(_LOOKED_UP).fetchall())
    found: dict[str, HeldFamily] = {}
    for reference, its in groupby(rows, key=itemgetter("reference_id")):
        complete, mine = looked_up.get(reference), list(its)
        found[reference] = HeldFamily(
            tuple(_right(row, complete) for row in mine),
            complete,
            tuple(", ".join(row["numbers"]) for row in mine if _uncertain(row)),
        )
    return found


def _uncertain(row: dict[str, Any]) -> bool:
    """Return whether the filing is not known to the day, or sources differ on what it relies on."""
    return row["exact"] is False or row["benefit_from"] != row["benefit"]


def _right(row: dict[str, Any], complete: date | None) -> PatentRight:
    granted = row["granted"] is not None or "patent" in row["kinds"]
    waiting = complete or row["waiting_seen"]
    same = ("office", "filed", "priority", "granted", "benefit", "disclaimed_to", "disclaimer", "earlier_us",
            "chain_known", "no_end_seen", "ended_noted", "given_up", "waiting_seen")  # fmt: skip
    return PatentRight(
        kind=_kind(row["numbers"], row["kinds"]),
        adjustment_days=row["days_added"],
        original=_original(row),
        grant="granted" if granted else "pending" if waiting else "unknown",
        number=", ".join(row["numbers"]),
        **{name: row[name] for name in same},
    )


def _original(row: dict[str, Any]) -> tuple[date, date] | None:
    """Return when the patent that a reissue replaces was filed and granted, where both are known."""
    filed, granted = row["original_filed"], row["original_granted"]
    return (filed, granted) if filed and granted else None


def _kind(numbers: list[str], kinds: list[str]) -> str:
    """Return the kind of right; at the USPTO its number tells."""
    for prefix, kind in (("USPP", "plant"), ("USRE", "reissue"), ("USD", "design")):
        if any(number.startswith(prefix) for number in numbers):
            return kind
    for kind in ("utility model", "design"):
        if kind in kinds:
            return kind
    return "patent" if {"patent", "patent application"} & set(kinds) else "other"
