"""The references as the user lists them: place, dates, closeness, tag, in one read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from connectors.days import Days
from pipeline.decisions import Decisions
from pipeline.errors import NotFound
from pipeline.store import open_store
from pipeline.tags import Tag, tags_by_reference


@dataclass(frozen=True)
class Closeness:
    """How close a reference comes to one element (0 to 1), and the passage that shows it."""

    element: str
    closeness: float
    passage: str
    field: str


@dataclass(frozen=True)
class Chased:
    """How the chase brought a reference. direction: "cited by" or "citing" the other one."""

    direction: str
    reference_id: str
    title: str


@dataclass(frozen=True)
class Hit:
    """A reference as listed.

    place: 1 is best; 0 is not ranked yet. public: the days the earliest public day lies in,
    None where no public date is stated. public_says: who says so. numbers: the identifiers
    people read, best first. embedded: meaning counts in its place.
    """

    reference_id: str
    place: int
    title: str
    kind: str
    people: tuple[str, ...]
    venue: str
    public: Days | None
    public_says: str
    numbers: tuple[str, ...]
    sources: tuple[str, ...]
    versions: int
    closeness: tuple[Closeness, ...]
    embedded: bool
    topic: str
    first_run: str
    retracted: bool
    tags: tuple[Tag, ...]
    chased: tuple[Chased, ...] = ()

    @property
    def tag(self) -> Tag | None:
        """Return the tag in force."""
        return self.tags[0] if self.tags else None


_HITS = """
SELECT f.reference_id, coalesce(s.place, 0) AS place, f.title, f.kind,
       list_transform(r.people, lambda p: p.name) AS people, r.venue, f.public_from, f.public_to,
       CASE WHEN f.public_record IS NULL THEN '' WHEN e.kind IS NULL THEN 'entered by hand'
            ELSE p.source || ': ' || e.kind END AS public_says,
       coalesce(i.numbers, []) AS numbers, m.sources, m.versions,
       s.meaning IS NOT NULL OR trim(r.title || r.abstract) = '' AS embedded,
       coalesce(t.terms, '') AS topic, f.first_run, m.retracted, s.words, s.meaning
FROM reference f
JOIN record r ON r.record_id = f.main_record
LEFT JOIN record p ON p.record_id = f.public_record
LEFT JOIN dated_event e ON e.record_id = f.public_record AND e.event = f.public_event
LEFT JOIN score s USING (reference_id)
LEFT JOIN topic_member USING (reference_id)
LEFT JOIN topic t USING (topic_id)
JOIN (SELECT reference_id, list_sort(list(DISTINCT source)) AS sources,
             count(DISTINCT version_id) AS versions, bool_or(r.retracted) AS retracted
      FROM membership JOIN record r USING (record_id) GROUP BY ALL) m USING (reference_id)
LEFT JOIN (SELECT reference_id, list(value ORDER BY rank, value) AS numbers
           FROM (SELECT DISTINCT reference_id, value,
                        list_position(['publication', 'doi', 'arxiv', 'isbn', 'pmid', 'url'], scheme) AS rank
                 FROM membership JOIN identifier USING (record_id)
                 WHERE scheme IN ('publication', 'doi', 'arxiv', 'isbn', 'pmid', 'url'))
           GROUP BY ALL) i USING (reference_id)
ORDER BY s.place NULLS LAST, f.reference_id
"""


def read_hits(folder: Path) -> list[Hit]:
    """Return every reference of the matter, best first. Cost grows with the references."""
    with open_store(folder, read_only=True) as con:
        rows = _dicts(con, _HITS)
        closeness = _closeness(con)
        chased = read_chased(con)
        reference_of = dict(con.execute("SELECT record_id, reference_id FROM membership").fetchall())
    tags = tags_by_reference(Decisions(folder).standing(), reference_of)
    return [
        Hit(
            **{name: row[name] for name in ("reference_id", "place", "title", "kind", "venue", "public_says",
                                            "versions", "embedded", "topic", "first_run", "retracted")},
            people=tuple(dict.fromkeys(row["people"])),
            public=_days(row["public_from"], row["public_to"]),
            numbers=tuple(row["numbers"]),
            sources=tuple(row["sources"]),
            closeness=tuple(closeness.get(row["reference_id"], ())),
            tags=tuple(tags.get(row["reference_id"], ())),
            chased=tuple(chased.get(row["reference_id"], ())),
        )
        for row in rows
    ]  # fmt: skip


def hits_table(con: duckdb.DuckDBPyConnection) -> pa.Table:
    """Return what is listed of every reference, closeness and tags aside, best first; columns as in Hit."""
    return con.sql(_HITS).to_arrow_table()


def find_reference(folder: Path, name: str) -> str:
    """Return the id of the reference that name means.

    name: the id of a reference or of any record in it, its beginning, a place in the
    ranking (#3), or a number, DOI or address. Raises NotFound, also where several fit.
    """
    from pipeline.identifiers import recognise

    keys = [(identifier.scheme, identifier.match_key) for identifier in recognise(name)]
    with open_store(folder, read_only=True) as con:
        found = {row[0] for row in con.execute(
            "SELECT reference_id FROM membership WHERE record_id LIKE ? || '%' "
            "UNION SELECT reference_id FROM score WHERE '#' || place = ?",
            [name.lower().replace("%", ""), name],
        ).fetchall()}  # fmt: skip
        for scheme, key in keys if not found else ():
            found |= {row[0] for row in con.execute(
                "SELECT reference_id FROM membership JOIN identifier USING (record_id) "
                "WHERE scheme = ? AND match_key = ?", [scheme, key],
            ).fetchall()}  # fmt: skip
    if len(found) == 1:
        return str(found.pop())
    if found:
        raise NotFound(
            f"{name!r} fits {len(found)} references: {', '.join(sorted(found))}. Write more of it."
        )
    raise NotFound(
        f"no reference goes by {name!r}. Give its id, a place such as #3, or its number, DOI or address; "
        f"`antedate hits {folder}` lists them."
    )


_CHASED = """
SELECT DISTINCT m.reference_id, n.kind, o.reference_id AS origin, f.title
FROM number_sweep n JOIN found d USING (source, sweep) JOIN membership m ON m.record_id = d.record_id
JOIN membership o ON o.record_id = n.record_id JOIN reference f ON f.reference_id = o.reference_id
WHERE n.kind IN ('cited', 'citing') AND o.reference_id <> m.reference_id
ORDER BY ALL
"""


def read_chased(con: duckdb.DuckDBPyConnection) -> dict[str, list[Chased]]:
    """Return reference_id -> how the chase brought it, for those it brought."""
    chased: dict[str, list[Chased]] = {}
    for reference, kind, origin, title in con.execute(_CHASED).fetchall():
        direction = "cited by" if kind == "cited" else "citing"
        chased.setdefault(reference, []).append(Chased(direction, origin, title))
    return chased


def _closeness(con: duckdb.DuckDBPyConnection) -> dict[str, list[Closeness]]:
    rows = con.execute(
        "SELECT reference_id, element, closeness, coalesce(p.\"text\", ''), coalesce(p.field, '') "
        "FROM element_match LEFT JOIN passage p USING (reference_id, passage) ORDER BY 1, 2"
    ).fetchall()
    matches: dict[str, list[Closeness]] = {}
    for reference, element, value, passage, field in rows:
        matches.setdefault(reference, []).append(Closeness(element, value, passage, field))
    return matches


def _days(first: date | None, last: date | None) -> Days | None:
    return Days(first, last) if first or last else None


def _dicts(con: duckdb.DuckDBPyConnection, query: str) -> list[dict[str, Any]]:
    done = con.execute(query)
    names = [column[0] for column in done.description or ()]
    return [dict(zip(names, row, strict=True)) for row in done.fetchall()]
