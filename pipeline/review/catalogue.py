"""The references as the list shows them, held in memory for one state of the store.

The list is filtered, counted and paged here by SQL, so that a page costs what it shows and
is there while a run writes to the store. The store stays what is true: another state of its
file makes another catalogue.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from pipeline.judging import Judged, Judging
from pipeline.listing import hits_table

_TEXTS = """
SELECT f.reference_id, lower(strip_accents(concat_ws(chr(10), f.title, r.venue,
       array_to_string(list_transform(r.people, lambda p: p.name), chr(10)), r.abstract))) AS text
FROM reference f JOIN record r ON r.record_id = f.main_record
"""
_MATCHES = """
SELECT reference_id, element, closeness, coalesce(p."text", '') AS passage, coalesce(p.field, '') AS field
FROM element_match LEFT JOIN passage p USING (reference_id, passage)
"""
_MEMBERS = "SELECT record_id, reference_id, seq FROM membership JOIN record USING (record_id)"
_LISTED = """
CREATE TABLE listed AS
SELECT h.*, t.text || chr(10) || lower(array_to_string(h.numbers, chr(10))) AS text
FROM hits h JOIN texts t USING (reference_id) ORDER BY place = 0, place, reference_id
"""
_OUTCOME = pa.schema(
    [("n", pa.int32()), *((name, pa.string()) for name in ("reference_id", "office", "outcome", "words"))]
)


@dataclass(frozen=True)
class Choices:
    """What the list can be filtered by, with counts; runs newest first with their outcome."""

    kinds: tuple[tuple[str, int], ...]
    sources: tuple[tuple[str, int], ...]
    topics: tuple[tuple[str, int], ...]
    runs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class OfficeWords:
    """An office's verdict in a few words. outcome: as judging names it."""

    office: str
    outcome: str
    words: str


class Catalogue:
    """What is listed of every reference in one state of the store.

    Tables: listed (as listing.Hit, with words, meaning and the text to search), matched
    (closeness per element with its passage), member (record to reference), and, once they
    are given, outcome (one row per reference, office and group of elements; judged_by says
    by what). size: the references. waiting: those ranked by their words alone so far.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, state: tuple[int, ...]) -> None:
        """Read everything from the open store. Cost grows with the references: 3 s for 100,000."""
        self.state = state
        self.judged_by: Judging | None = None
        self._db = duckdb.connect()
        read = {
            "hits": hits_table(con),
            "texts": con.sql(_TEXTS).to_arrow_table(),
            "matches": con.sql(_MATCHES).to_arrow_table(),
            "members": con.sql(_MEMBERS).to_arrow_table(),
            "runs": con.sql("SELECT run_id, outcome FROM run ORDER BY run_id DESC").to_arrow_table(),
        }
        for name, table in read.items():
            self._db.register(name, table)
        self._db.execute(_LISTED)
        self._db.execute("CREATE TABLE matched AS FROM matches ORDER BY reference_id, element")
        self._db.execute("CREATE TABLE member AS FROM members ORDER BY reference_id")
        self._db.execute("CREATE TABLE run AS FROM runs")
        for name in read:
            self._db.unregister(name)
        self.choices = Choices(
            self._counted("SELECT kind AS name FROM listed"),
            self._counted("SELECT unnest(sources) AS name FROM listed"),
            self._counted("SELECT topic AS name FROM listed WHERE topic <> ''"),
            tuple((row["run_id"], row["outcome"] or "not ended") for row in self.rows("FROM run")),
        )
        self.size, self.waiting = self._db.execute(
            "SELECT count(*), count(*) FILTER (NOT embedded) FROM listed"
        ).fetchall()[0]

    def _counted(self, names: str) -> tuple[tuple[str, int], ...]:
        """Return the names that the query gives, the most frequent first, with how often."""
        query = f"SELECT name, count(*) AS n FROM ({names}) GROUP BY name ORDER BY n DESC, name"  # noqa: S608 - ours
        rows = self.rows(query)
        return tuple((row["name"], row["n"]) for row in rows)

    def rows(
        self, query: str, values: Sequence[object] = (), tables: Mapping[str, pa.Table] | None = None
    ) -> list[dict[str, Any]]:
        """Return what the query finds, with the further tables beside the catalogue's own."""
        cursor = self._db.cursor()
        try:
            for name, table in (tables or {}).items():
                cursor.register(name, table)
            done = cursor.execute(query, values)
            names = [column[0] for column in done.description or ()]
            return [dict(zip(names, row, strict=True)) for row in done.fetchall()]
        finally:
            cursor.close()

    def keep_outcomes(self, judging: Judging, judged: Mapping[str, tuple[Judged, ...]]) -> None:
        """Keep the verdicts of all references, to be filtered and shown by."""
        self._db.register("judged", outcome_table(judged))
        self._db.execute("CREATE OR REPLACE TABLE outcome AS FROM judged ORDER BY reference_id")
        self._db.unregister("judged")
        self.judged_by = judging

    def outcomes(self, references: Iterable[str]) -> dict[str, tuple[OfficeWords, ...]]:
        """Return the kept verdicts on the references, by office."""
        query = "FROM outcome SEMI JOIN wanted USING (reference_id) ORDER BY n"
        found: dict[str, tuple[OfficeWords, ...]] = {}
        for row in self.rows(query, tables={"wanted": _names("reference_id", references)}):
            one = OfficeWords(row["office"], row["outcome"], row["words"])
            found[row["reference_id"]] = (*found.get(row["reference_id"], ()), one)
        return found

    def members_of(self, references: Iterable[str]) -> dict[str, tuple[str, ...]]:
        """Return reference_id -> its records, first seen first."""
        found = self.rows(
            "SELECT reference_id, list(record_id ORDER BY seq) AS records "
            "FROM member SEMI JOIN wanted USING (reference_id) GROUP BY ALL",
            tables={"wanted": _names("reference_id", references)},
        )
        return {row["reference_id"]: tuple(row["records"]) for row in found}

    def references_of(self, records: Iterable[str]) -> dict[str, str]:
        """Return record_id -> the reference it stands in; records of none are left out."""
        query = "SELECT record_id, reference_id FROM member SEMI JOIN wanted USING (record_id)"
        rows = self.rows(query, tables={"wanted": _names("record_id", records)})
        return {row["record_id"]: row["reference_id"] for row in rows}


def _names(column: str, values: Iterable[str]) -> pa.Table:
    return pa.table({column: pa.array(list(values), pa.string())})


def outcome_table(judged: Mapping[str, tuple[Judged, ...]]) -> pa.Table:
    """Return the verdicts as rows: n (their order for a reference), reference_id, office, outcome, words."""
    rows = [
        (n, reference, one.office, one.verdict.outcome, one.words)
        for reference, verdicts in judged.items()
        for n, one in enumerate(verdicts)
    ]
    columns = list(zip(*rows, strict=True)) or [()] * len(_OUTCOME)
    arrays = [pa.array(values, column.type) for values, column in zip(columns, _OUTCOME, strict=True)]
    return pa.Table.from_arrays(arrays, schema=_OUTCOME)
