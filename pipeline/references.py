"""The store's records → references with versions and dates: reads, works outside, writes briefly."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline.decisions import Decisions
from pipeline.resolve import group, links
from pipeline.store import open_store

_INSIDE = "record_id IN (SELECT record_id FROM found WHERE inside)"
_RECORDS = f"""
    SELECT record_id, seq, source, kind, title, people, venue, volume, issue, pages, version, language,
           year(coalesce(p.day_from, a.day_from))::INTEGER AS year_from,
           year(coalesce(p.day_to, a.day_to))::INTEGER AS year_to
    FROM record
    LEFT JOIN (SELECT record_id, min(day_from) AS day_from, min(day_to) AS day_to
               FROM dated_event WHERE public AND stands GROUP BY record_id) p USING (record_id)
    LEFT JOIN (SELECT record_id, min(day_from) AS day_from, min(day_to) AS day_to
               FROM dated_event WHERE stands GROUP BY record_id) a USING (record_id)
    WHERE {_INSIDE} ORDER BY seq
"""  # noqa: S608 - constant text
_IDENTIFIERS = f"SELECT record_id, scheme, value, match_key FROM identifier WHERE {_INSIDE} AND problem = ''"  # noqa: S608
_RELATIONS = f"SELECT record_id, kind, scheme, value, match_key, note FROM relation WHERE {_INSIDE}"  # noqa: S608


def resolve_references(folder: Path, vectors: pa.Table) -> int:
    """Bring links, memberships, references and their dates up to the records; return the references.

    vectors: record_id, vector; may miss some records. Links are worked out for new, changed
    and newly embedded records only; grouping runs over all links (about 1 s for 100,000).
    """
    rulings = read_rulings(folder)
    with open_store(folder) as con:
        new = [row[0] for row in con.execute("SELECT record_id FROM unresolved ORDER BY 1").fetchall()]
        records, identifiers, relations = (
            con.sql(query).to_arrow_table() for query in (_RECORDS, _IDENTIFIERS, _RELATIONS)
        )
        old = con.sql("SELECT * FROM link").to_arrow_table()
    inside = set(records["record_id"].to_pylist())
    found = links([key for key in new if key in inside], records, identifiers, relations, vectors, rulings)
    with duckdb.connect() as work:
        work.register("old", old)
        work.register("found", found)
        work.register("new", pa.table({"record_id": pa.array(new, pa.string())}))
        standing = work.sql(
            "SELECT * FROM old WHERE record_a NOT IN (FROM new) AND record_b NOT IN (FROM new) "
            "UNION ALL BY NAME SELECT * FROM found ORDER BY record_a, record_b"
        ).to_arrow_table()
    membership = group(standing, records, identifiers, rulings)
    with open_store(folder) as con:
        con.register("standing", standing)
        con.register("grouped", membership)
        con.register("resolved", pa.table({"record_id": pa.array(new, pa.string())}))
        con.register("hand_dates", hand_dates(folder))
        con.execute(files("pipeline").joinpath("references.sql").read_text(encoding="utf-8"))
        return int(con.execute("SELECT count(*) FROM reference").fetchall()[0][0])


def read_rulings(folder: Path) -> pa.Table:
    """Return the user's same/different rulings that stand: record_a, record_b, same."""
    latest = {
        (min(decision.records), max(decision.records)): bool(decision.facts["same"])
        for decision in Decisions(folder).standing()
        if decision.kind == "ruling"
    }
    return pa.table(
        {
            "record_a": pa.array([a for a, _ in latest], pa.string()),
            "record_b": pa.array([b for _, b in latest], pa.string()),
            "same": pa.array(list(latest.values()), pa.bool_()),
        }
    )


_HAND_DATE = pa.schema(
    [("record_id", pa.string()), ("decision", pa.int64()), ("day_from", pa.date32()), ("day_to", pa.date32()),
     ("wins", pa.bool_())]
)  # fmt: skip


def hand_dates(folder: Path) -> pa.Table:
    """Return the public dates the user entered that stand: beside the sources' own, or before them."""
    from datetime import date

    rows = [
        {
            "record_id": decision.records[0],
            "decision": decision.number,
            "day_from": date.fromisoformat(decision.facts["day_from"]),
            "day_to": date.fromisoformat(decision.facts["day_to"]),
            "wins": decision.facts["wins"],
        }
        for decision in Decisions(folder).standing()
        if decision.kind == "date"
    ]
    return pa.Table.from_pylist(rows, _HAND_DATE)
