"""The store's records → references with versions and dates: reads, works outside, writes briefly.

Every night costs what that night brought: keys are kept, so that new records find their like
without reading the rest, and only chains of links that something new touches are grouped again.
"""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.decisions import Decisions
from pipeline.resolve import MOST_BEARERS, Shelf, candidates, group, keys_of, links_of
from pipeline.resolve.columns import Ints, among, different
from pipeline.store import open_store
from pipeline.vectors import vectors_of

# Records of these ids that the user's expressions hold for.
_INSIDE = """
    SELECT record_id FROM wanted SEMI JOIN (FROM found WHERE inside) USING (record_id)
    SEMI JOIN record USING (record_id) ORDER BY 1
"""
_GONE = """
    SELECT record_id FROM unresolved SEMI JOIN membership USING (record_id)
    ANTI JOIN (FROM found WHERE inside) USING (record_id) ORDER BY 1
"""
# Records by their seq: asked for by record_id, DuckDB 2.0.1 unpacks the columns of all records.
_IDS = "SELECT record_id FROM record WHERE seq IN (FROM wanted)"
_SEQS = "SELECT seq FROM record WHERE record_id IN (FROM wanted)"
_YEARS = f"""
    SELECT record_id, year(coalesce(min(day_from) FILTER (public), min(day_from)))::INTEGER AS year_from,
           year(coalesce(min(day_to) FILTER (public), min(day_to)))::INTEGER AS year_to
    FROM dated_event WHERE stands AND record_id IN ({_IDS}) GROUP BY record_id
"""  # noqa: S608 - constant text
_RECORDS = f"""
    SELECT record_id, seq, source, kind, title, people, venue, volume, issue, pages, version, language,
           year_from, year_to
    FROM record LEFT JOIN ({_YEARS}) y USING (record_id)
    WHERE seq IN (FROM wanted) ORDER BY seq
"""  # noqa: S608 - constant text
_IDENTIFIERS = f"""
    SELECT record_id, scheme, value, match_key FROM identifier
    WHERE record_id IN ({_IDS}) AND problem = ''
"""  # noqa: S608 - constant text
_RELATIONS = f"SELECT record_id, kind, scheme, match_key FROM relation WHERE record_id IN ({_IDS})"  # noqa: S608
# Rows of the new keys. Most of them are of words that thousands bear: of those the first records
# tell all, so that the rest need not be gone through. A record bears a word twice where its title
# has it twice, and counts once.
_EARLY = f"""
    CREATE TEMP TABLE early AS SELECT key, min(seq, {MOST_BEARERS}) AS seqs FROM block
    WHERE says = 2 AND seq < (SELECT max(seq) // 16 FROM record) AND key IN (SELECT key FROM fresh)
    AND seq NOT IN (FROM left_out) GROUP BY key HAVING len(list_distinct(seqs)) = {MOST_BEARERS}
"""  # noqa: S608 - constant text
_MET = """
    CREATE TEMP TABLE met AS SELECT key, seq, says FROM block
    WHERE key IN (SELECT key FROM fresh ANTI JOIN early USING (key)) AND seq NOT IN (FROM left_out)
"""
# Words that enough records bear before any new one does: no pair comes of those.
_CROWDED = f"""
    CREATE TEMP TABLE crowded AS
    WITH least AS (
        FROM early UNION ALL SELECT key, min(seq, {MOST_BEARERS}) FROM met WHERE says = 2 GROUP BY key
    )
    SELECT key FROM least JOIN (SELECT key, min(seq) AS first FROM fresh GROUP BY key) USING (key)
    WHERE len(list_distinct(seqs)) = {MOST_BEARERS} AND seqs[-1] < first
"""  # noqa: S608 - constant text
_MEETING = f"""
    FROM met WHERE says < 2
    UNION ALL SELECT key, unnest(min(DISTINCT seq, {MOST_BEARERS})), 2::TINYINT
    FROM met ANTI JOIN crowded USING (key) WHERE says = 2 GROUP BY key
    UNION ALL SELECT key, unnest(seqs), 2::TINYINT FROM early ANTI JOIN crowded USING (key)
    UNION ALL FROM fresh WHERE says < 2 OR key NOT IN (FROM crowded)
"""  # noqa: S608 - constant text
_RULED = """
    SELECT least(x.seq, y.seq) AS seq_a, greatest(x.seq, y.seq) AS seq_b, TRUE AS numbered
    FROM rulings JOIN record x ON x.record_id = record_a JOIN record y ON y.record_id = record_b
    WHERE x.seq IN (FROM left_out) OR y.seq IN (FROM left_out)
"""
# Vectors read at once.
_PART = 200_000
# New records up to which a night keeps what it read: their vectors (30 MB), and what DuckDB has of the store.
_FEW = 20_000
# Whoever a record has a link to, before what is new is judged again or since. The ends by number,
# so that a step along the links costs a tenth of a search for texts; where two ids had one number,
# some records would be grouped again in vain.
_NEAR = """
    CREATE TEMP TABLE near AS SELECT hash(record_a) AS a, hash(record_b) AS b, rowid AS place FROM link
    UNION ALL SELECT hash(record_a), hash(record_b), NULL FROM judged
    UNION ALL SELECT hash(record_a), hash(record_b), NULL FROM rulings WHERE same
"""
_NEIGHBOURS = """
    SELECT b AS id FROM near WHERE a IN (FROM frontier) UNION SELECT a FROM near WHERE b IN (FROM frontier)
"""
_CHAINED = """
    CREATE TEMP TABLE chained AS FROM link
    WHERE rowid IN (SELECT place FROM near WHERE a IN (FROM chain) AND place IS NOT NULL)
"""
_MEMBERS = """
    WITH pair AS (
        SELECT record_a, record_b FROM chained UNION ALL SELECT record_a, record_b FROM judged
        UNION ALL SELECT record_a, record_b FROM rulings WHERE same AND hash(record_a) IN (FROM chain)
    ), member AS (FROM touched UNION SELECT record_a FROM pair UNION SELECT record_b FROM pair)
    SELECT record_id, seq FROM record SEMI JOIN member USING (record_id) ANTI JOIN gone USING (record_id)
"""
_STANDING = """
    SELECT * FROM chained WHERE record_a NOT IN (FROM again) AND record_b NOT IN (FROM again)
    UNION ALL BY NAME FROM judged
"""


@dataclass(frozen=True)
class Night:
    """What has to be worked out: ids of records.

    seen: all that are marked. new: those of them that are inside. gone: resolved once, outside
    now. ruled: ever ruled on, also where the ruling was taken back.
    """

    seen: list[str]
    new: list[str]
    gone: list[str]
    ruled: list[str]

    @property
    def again(self) -> pa.Table:
        """The records whose links so far no longer count."""
        return _ids(self.new + self.gone)


def resolve_references(folder: Path, model: str) -> int:
    """Bring links, memberships, references and their dates up to the records; return the references.

    model: version of the model whose vectors are used, where records have one. Links are worked
    out for new, changed and newly embedded records; references for these, for what links to
    them, and for whatever was ever ruled on or dated by hand.
    """
    rulings, hand = read_rulings(folder), hand_dates(folder)
    decided = list(Decisions(folder).all())
    records = Records(folder, model)
    with ExitStack() as held:
        # What one step read stays at hand for the next; a first run frees its memory for the work between.
        held.enter_context(open_store(folder, read_only=True))
        night = _night(folder, {key for d in decided if d.kind == "ruling" for key in d.records}, records)
        if len(night.new) > _FEW:
            held.close()
        fresh, links = _links(folder, night, records, rulings)
        grouped = _group(folder, night, links, rulings, records)
    dated = _ids([d.records[0] for d in decided if d.kind == "date"])
    with open_store(folder) as con:
        for name, table in (("seen", _ids(night.seen)), ("again", night.again), ("gone", _ids(night.gone)),
                            ("fresh", fresh), ("judged", links), ("grouped", grouped), ("hand_dates", hand),
                            ("hand_dated", dated)):  # fmt: skip
            con.register(name, table)
        con.execute(files("pipeline").joinpath("references.sql").read_text(encoding="utf-8"))
        return int(con.execute("SELECT count(*) FROM reference").fetchall()[0][0])


def _night(folder: Path, ruled: set[str], records: Records) -> Night:
    with open_store(folder, read_only=True) as con:
        seen, gone = (_column(con, query) for query in ("SELECT record_id FROM unresolved ORDER BY 1", _GONE))
        night = Night(seen, _inside(con, seen), gone, _inside(con, sorted(ruled)))
        con.register("wanted", _ids(night.new))
        records.read(con, _numbers(con, _SEQS))
        return night


class Records:
    """The store's records as they are compared, each read once however many steps look at it."""

    def __init__(self, folder: Path, model: str) -> None:
        """Read nothing yet."""
        self._folder, self._model = folder, model
        self._seqs: Ints = np.empty(0, np.int64)
        self._tables: tuple[pa.Table, ...] = ()
        self._shelf: Shelf | None = None
        self._kept: pa.Table | None = None
        self._asked = pa.array([], pa.string())

    def read(self, con: duckdb.DuckDBPyConnection, seqs: Ints) -> None:
        """Read those of the records of these seqs that have not been read yet."""
        held = self._shelf.tables if self._shelf else self._tables
        missing = seqs[~among(seqs, self._seqs)]
        if held and not len(missing):
            return
        con.register("wanted", pa.table({"seq": missing}))
        read = tuple(con.sql(query).to_arrow_table() for query in (_RECORDS, _IDENTIFIERS, _RELATIONS))
        self._tables = tuple(map(pa.concat_tables, zip(held, read, strict=True))) if held else read
        self._seqs, self._shelf = np.r_[self._seqs, missing], None

    @property
    def shelf(self) -> Shelf:
        """All records read so far, put in order when first asked for: then the store is free again."""
        if self._shelf is None:
            self._shelf = Shelf(*self._tables)
            self._tables = ()
        return self._shelf

    def vectors(self, ids: list[str]) -> pa.Table:
        """Return record_id and vector of those of the records that have one.

        What the first call read is kept where it is little: a night asks for it again.
        """
        asked = pa.array(ids, pa.string())
        known = pc.is_in(asked, value_set=self._asked)
        with open_store(self._folder, read_only=True) as con:
            read = vectors_of(con, asked.filter(pc.invert(known)).to_pylist(), self._model)
        if self._kept is None:
            few = len(ids) <= _FEW
            self._kept, self._asked = (read, asked) if few else (read.schema.empty_table(), self._asked)
            return read
        return pa.concat_tables([read, self._kept.filter(pc.is_in(self._kept["record_id"], value_set=asked))])


def _links(folder: Path, night: Night, records: Records, rulings: pa.Table) -> tuple[pa.Table, pa.Table]:
    """Return the new records' keys, and the links of every pair that has one of them in it."""
    parts = (night.new[start : start + _PART] for start in range(0, len(night.new), _PART))
    fresh = keys_of(records.shelf, map(records.vectors, parts))
    found = _pairs(folder, night, fresh, rulings)
    with open_store(folder, read_only=True) as con:
        records.read(con, different(np.r_[found["seq_a"].to_numpy(), found["seq_b"].to_numpy()]))
    return fresh, links_of(found, records.shelf, records.vectors)


def _pairs(folder: Path, night: Night, fresh: pa.Table, rulings: pa.Table) -> pa.Table:
    with open_store(folder, read_only=True) as con:
        con.register("fresh", fresh)
        con.register("again", night.again)
        con.register("rulings", _standing(con, rulings))
        con.execute("CREATE TEMP TABLE left_out AS SELECT seq FROM record WHERE record_id IN (FROM again)")
        for made in (_EARLY, _MET, _CROWDED):
            con.execute(made)
        meeting, ruled = (con.sql(query).to_arrow_table() for query in (_MEETING, _RULED))
    new = np.unique(fresh["seq"].to_numpy())
    return _once(candidates(meeting, new), ruled)


def _standing(con: duckdb.DuckDBPyConnection, rulings: pa.Table) -> pa.Table:
    """Return the rulings both of whose records are inside."""
    both = pa.concat_arrays([rulings[name].combine_chunks() for name in ("record_a", "record_b")])
    inside = pa.array(_inside(con, both.to_pylist()), pa.string())
    held = [pc.is_in(rulings[name], value_set=inside) for name in ("record_a", "record_b")]
    return rulings.filter(pc.and_(*held))


def _once(found: pa.Table, ruled: pa.Table) -> pa.Table:
    """Return both tables' pairs, each once; evidence may speak of those ruled on."""
    if not ruled.num_rows:
        return found
    key = ["seq_a", "seq_b"]
    rest = found.join(ruled.select(key), key, join_type="left anti").select(found.column_names)
    return pa.concat_tables([rest, ruled]).sort_by([(name, "ascending") for name in key])


def _group(folder: Path, night: Night, judged: pa.Table, rulings: pa.Table, records: Records) -> pa.Table:
    """Return the memberships of every record that a chain of links ties to something that changed."""
    with open_store(folder, read_only=True) as con:
        con.register("judged", judged)
        con.register("rulings", _standing(con, rulings))
        con.register("again", night.again)
        con.register("gone", _ids(night.gone))
        con.register("touched", _ids([*night.new, *night.gone, *night.ruled]))
        con.execute(_NEAR)
        con.register("chain", pa.table({"id": _chain(con)}))
        con.execute(_CHAINED)
        standing, members = (con.sql(query).to_arrow_table() for query in (_STANDING, _MEMBERS))
        records.read(con, members["seq"].to_numpy())
    shelf = records.shelf
    places = shelf.places_of(members["record_id"])
    return group(standing, shelf if len(places) == len(shelf) else shelf.only(places), rulings)


def _chain(con: duckdb.DuckDBPyConnection) -> npt.NDArray[np.uint64]:
    """Return the numbers of the records touched, and of all that a chain of links ties to one."""
    chain = frontier = _numbers(con, "SELECT DISTINCT hash(record_id) FROM touched")
    while len(frontier):
        con.register("frontier", pa.table({"id": frontier}))
        frontier = np.setdiff1d(_numbers(con, _NEIGHBOURS), chain)
        chain = np.union1d(chain, frontier)
    return chain


def _inside(con: duckdb.DuckDBPyConnection, ids: list[str]) -> list[str]:
    con.register("wanted", _ids(ids))
    return _column(con, _INSIDE)


def _numbers(con: duckdb.DuckDBPyConnection, query: str) -> npt.NDArray[Any]:
    return np.asarray(con.sql(query).to_arrow_table().column(0).to_numpy())


def _column(con: duckdb.DuckDBPyConnection, query: str) -> list[str]:
    return [row[0] for row in con.execute(query).fetchall()]


def _ids(ids: list[str]) -> pa.Table:
    return pa.table({"record_id": pa.array(ids, pa.string())})


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
