"""The store's vectors: what is embedded, in order of promise, saved as it goes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa

from pipeline.embed import Model, Vectors, embed, missing, text_key
from pipeline.store import open_store

# Texts between saves: about 10 s of work, all that a kill can lose.
CHUNK = 256


@dataclass(frozen=True)
class RecordText:
    """The text a record is compared by: title and abstract."""

    record_id: str
    text: str


def record_texts(folder: Path) -> list[RecordText]:
    """Return the texts of the records inside, most promising first.

    Order: place of the record's reference by words; those not placed yet, or not yet of
    any reference, come last, in order of arrival.
    """
    with open_store(folder) as con:
        rows = con.execute(
            "SELECT r.record_id, r.title, r.abstract FROM record r "
            "LEFT JOIN membership m USING (record_id) LEFT JOIN score s USING (reference_id) "
            "WHERE r.record_id IN (SELECT record_id FROM found WHERE inside) "
            "ORDER BY s.place NULLS LAST, r.seq"
        ).fetchall()
    return [RecordText(key, text_of(title, abstract)) for key, title, abstract in rows]


def text_of(title: str, abstract: str) -> str:
    """Return the one text that stands for a document."""
    return "\n".join(part for part in (title, abstract) if part.strip())


def embed_missing(
    folder: Path,
    texts: Sequence[RecordText],
    model: Callable[[], Model],
    version: str,
    told: Callable[[int, int], None],
) -> int:
    """Embed the texts that have no vector yet, saving every CHUNK; return how many were new.

    model: called only when there is something to embed, since loading costs seconds.
    told: (done, of). A record whose text got its vector is marked to be resolved again in
    the same transaction; record_id "" is a text that belongs to no record.
    """
    wanted = missing([text.text for text in texts], known_keys(folder, version))
    owners: dict[str, list[str]] = {}
    for text in texts:
        owners.setdefault(text.text, []).append(text.record_id)
    for start in range(0, len(wanted), CHUNK):
        told(start, len(wanted))
        chunk = wanted[start : start + CHUNK]
        records = sorted({key for text in chunk for key in owners[text] if key})
        _save(folder, version, chunk, embed(chunk, model()), records)
    return len(wanted)


def known_keys(folder: Path, version: str) -> set[str]:
    """Return the keys of the texts that have a vector of this model."""
    with open_store(folder) as con:
        rows = con.execute("SELECT text_sha256 FROM embedding WHERE model = ?", [version]).fetchall()
    return {row[0] for row in rows}


def read_vectors(folder: Path, version: str) -> dict[str, np.ndarray]:
    """Return text key -> vector for every text embedded with this model."""
    with open_store(folder) as con:
        table = con.sql(
            "SELECT text_sha256, vector FROM embedding WHERE model = ? ORDER BY 1", params=[version]
        ).to_arrow_table()
    matrix = _matrix(table["vector"])
    return dict(zip(table["text_sha256"].to_pylist(), matrix, strict=True))


# Texts and vectors are read by row: a join by key reads those of all rows, one by row the blocks
# that hold one wanted.
# A text's key, made in DuckDB as `text_key(text_of(title, abstract))` makes it; [^\\s…] is what
# str.strip leaves.
_SAID = r"regexp_matches({}, '[^\s\x0B\x1C-\x1F\x85\pZ]')"
_TEXTS = "SELECT rowid AS place FROM record WHERE record_id IN (FROM wanted)"
_KEYS = f"""
    SELECT record_id, sha256(CASE WHEN {_SAID.format("title")} AND {_SAID.format("abstract")}
                                  THEN title || chr(10) || abstract
                                  WHEN {_SAID.format("title")} THEN title
                                  WHEN {_SAID.format("abstract")} THEN abstract ELSE '' END) AS text_sha256
    FROM text_place JOIN record ON record.rowid = text_place.place
"""  # noqa: S608 - constant text
_PLACES = """
    SELECT record_id, embedding.rowid AS place FROM text_key JOIN embedding USING (text_sha256)
    WHERE model = ?
"""
_VECTORS = """
    SELECT record_id, vector FROM vector_place JOIN embedding ON embedding.rowid = vector_place.place
    ORDER BY 1
"""


def vectors_of(con: duckdb.DuckDBPyConnection, ids: Sequence[str], version: str) -> pa.Table:
    """Return record_id, vector of those of the records whose text has a vector of this model."""
    con.register("wanted", pa.table({"record_id": pa.array(ids, pa.string())}))
    con.register("text_place", con.sql(_TEXTS).to_arrow_table())
    con.register("text_key", con.sql(_KEYS).to_arrow_table())
    con.register("vector_place", con.sql(_PLACES, params=[version]).to_arrow_table())
    return con.sql(_VECTORS).to_arrow_table()


def _save(folder: Path, version: str, texts: list[str], vectors: Vectors, records: list[str]) -> None:
    flat = pa.array(np.ascontiguousarray(vectors).ravel(), pa.float32())
    new = pa.table(
        {
            "text_sha256": pa.array([text_key(text) for text in texts], pa.string()),
            "model": pa.array([version] * len(texts), pa.string()),
            "vector": pa.FixedSizeListArray.from_arrays(flat, vectors.shape[1]),
        }
    )
    with open_store(folder) as con:
        con.register("new_embedding", new)
        con.register("embedded", pa.table({"record_id": pa.array(records, pa.string())}))
        con.execute("INSERT INTO embedding SELECT * FROM new_embedding ON CONFLICT DO NOTHING")
        con.execute("INSERT INTO unresolved FROM embedded ANTI JOIN unresolved USING (record_id)")


def _matrix(column: pa.ChunkedArray) -> Vectors:
    flat = column.combine_chunks().flatten().to_numpy()
    return (
        np.asarray(flat.reshape(len(column), -1), np.float32) if len(column) else np.zeros((0, 1), np.float32)
    )
