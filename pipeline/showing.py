"""One reference whole, for command line and page alike: versions, records, dates, and where each stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any, TypeVar

import duckdb

from connectors.days import Days
from pipeline.lookalikes import lookalikes

T = TypeVar("T")
_RECORDS = """
SELECT m.version_id, m.reason, m.score, r.record_id, r.source, r.native_id, r.kind, r.title, r.version,
       r.language, list_transform(r.people, lambda p: p.name) AS people, r.venue, r.publisher, r.url,
       r.abstract, r.claims, list_transform(r.details, lambda d: [d.name, d."text"]) AS details,
       p.seq AS answer, p.request, p.received_at, p.body_sha256, r.item
FROM membership m JOIN record r USING (record_id) LEFT JOIN response p ON p.seq = r.response_seq
WHERE m.reference_id = ?
ORDER BY (SELECT min(seq) FROM record s WHERE s.record_id = m.version_id), r.seq
"""
_EVENTS = """
SELECT e.record_id, e.kind, e.day_from, e.day_to, e."text", e.field, e.note, e.public, e.stands,
       p.seq AS answer
FROM membership m JOIN dated_event e USING (record_id) LEFT JOIN response p ON p.seq = e.response_seq
WHERE m.reference_id = ? ORDER BY e.day_to NULLS LAST, e.day_from, e.event
"""
_IDENTIFIERS = """
SELECT DISTINCT i.record_id, i.scheme, i.value, i.problem
FROM membership m JOIN identifier i USING (record_id) WHERE m.reference_id = ? ORDER BY ALL
"""
# What its records say of other documents, and what others' records say of it.
_RELATED = """
WITH mine AS (SELECT record_id FROM membership WHERE reference_id = $1),
own AS (SELECT DISTINCT scheme, match_key FROM mine JOIN identifier USING (record_id) WHERE match_key <> ''),
named AS (SELECT r.* FROM mine JOIN relation r USING (record_id)),
owner AS (
    SELECT i.scheme, i.match_key, min(m.reference_id) AS reference_id
    FROM (SELECT DISTINCT scheme, match_key FROM named) JOIN identifier i USING (scheme, match_key)
    JOIN membership m USING (record_id) GROUP BY ALL
)
SELECT r.kind, FALSE AS by_other, r.scheme, r.value, coalesce(nullif(r."text", ''), r.value) AS named, r.note,
       coalesce(o.reference_id, '') AS reference_id, coalesce(f.title, '') AS title
FROM named r LEFT JOIN owner o USING (scheme, match_key)
LEFT JOIN reference f USING (reference_id)
UNION
SELECT r.kind, TRUE, '', '', '', r.note, m.reference_id, f.title
FROM own JOIN relation r USING (scheme, match_key) JOIN membership m USING (record_id)
JOIN reference f USING (reference_id) WHERE m.reference_id <> $1
ORDER BY ALL
"""


@dataclass(frozen=True)
class ShownEvent:
    """A dated statement. answer: the response it stands in, None where none is held.

    stands: False where it was stated once and is no longer.
    """

    kind: str
    days: Days
    text: str
    field: str
    note: str
    public: bool
    stands: bool
    answer: int | None


@dataclass(frozen=True)
class ShownRecord:
    """What one source states, why it stands in this reference, and the response that holds it.

    reason, score: why it is here; 1 is an identifier or a stated relation. identifiers:
    scheme, value, what is wrong with it or "". item: its place in the response, from 0.
    """

    record_id: str
    version_id: str
    source: str
    native_id: str
    kind: str
    title: str
    version: str
    language: str
    people: tuple[str, ...]
    venue: str
    publisher: str
    url: str
    abstract: str
    claims: tuple[str, ...]
    details: tuple[tuple[str, str], ...]
    reason: str
    score: float
    answer: int | None
    request: str
    received_at: datetime | None
    body_sha256: str
    item: int
    identifiers: tuple[tuple[str, str, str], ...]
    events: tuple[ShownEvent, ...]


@dataclass(frozen=True)
class ShownVersion:
    """One document of the reference, with the records about it, first seen first."""

    version_id: str
    records: tuple[ShownRecord, ...]


@dataclass(frozen=True)
class Related:
    """A relation to another document. by_other: it is the other one's record that states it.

    reference_id: the reference of the matter it belongs to, "" where it is none of ours.
    """

    kind: str
    by_other: bool
    scheme: str
    value: str
    named: str
    note: str
    reference_id: str
    title: str


def read_versions_whole(con: duckdb.DuckDBPyConnection, reference: str) -> tuple[ShownVersion, ...]:
    """Return the versions of the reference, first seen first; () where there is no such reference."""
    events = _by_record(con, _EVENTS, reference, _event)
    identifiers = _by_record(
        con, _IDENTIFIERS, reference, lambda row: (row["scheme"], row["value"], row["problem"])
    )
    records = [
        _record(row, identifiers.get(row["record_id"], ()), events.get(row["record_id"], ()))
        for row in _dicts(con, _RECORDS, reference)
    ]
    return tuple(
        ShownVersion(version, tuple(its)) for version, its in groupby(records, key=lambda one: one.version_id)
    )


def read_related(con: duckdb.DuckDBPyConnection, reference: str) -> tuple[Related, ...]:
    """Return what it cites, belongs to and is cited by, as far as the matter's records say, and
    which other pictures look like its own."""
    stated = [Related(**row) for row in _dicts(con, _RELATED, reference)]
    alike = [
        Related("looks like", False, "", "", "", other.words, other.reference_id, other.title)
        for other in lookalikes(con, reference)
    ]
    return (*stated, *alike)


def _record(
    row: dict[str, Any], identifiers: tuple[tuple[str, str, str], ...], events: tuple[ShownEvent, ...]
) -> ShownRecord:
    lists = {
        "people": tuple(dict.fromkeys(row["people"])),
        "claims": tuple(row["claims"]),
        "details": tuple((name, text) for name, text in row["details"]),
        "request": row["request"] or "",
        "body_sha256": row["body_sha256"] or "",
    }
    return ShownRecord(**(row | lists), identifiers=identifiers, events=events)


def _event(row: dict[str, Any]) -> ShownEvent:
    names = ("kind", "text", "field", "note", "public", "stands", "answer")
    return ShownEvent(days=Days(row["day_from"], row["day_to"]), **{name: row[name] for name in names})


def _by_record(
    con: duckdb.DuckDBPyConnection, query: str, reference: str, made: Callable[[dict[str, Any]], T]
) -> dict[str, tuple[T, ...]]:
    found: dict[str, tuple[T, ...]] = {}
    for row in _dicts(con, query, reference):
        found[row["record_id"]] = (*found.get(row["record_id"], ()), made(row))
    return found


def _dicts(con: duckdb.DuckDBPyConnection, query: str, reference: str) -> list[dict[str, Any]]:
    done = con.execute(query, [reference])
    names = [column[0] for column in done.description or ()]
    return [dict(zip(names, row, strict=True)) for row in done.fetchall()]
