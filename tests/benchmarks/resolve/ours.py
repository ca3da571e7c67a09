"""De-duplicate a corpus in a store of its own and print what it took, as JSON.

    python ours.py build FOLDER     the store of the corpus in FOLDER, but for its last 1,000 records
    python ours.py run FOLDER       the first run
    python ours.py bring FOLDER     the last 1,000 into the store
    python ours.py night FOLDER     the night that resolves them

Everything is timed that a night does: reading, keys, candidates, decisions, groups, writing.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.embed import text_key
from pipeline.references import resolve_references
from pipeline.store import open_store
from pipeline.vectors import text_of

NEW = 1_000
MODEL = "corpus"
_BLANK = ("publisher", "url", "abstract")
_RECORD = f"""
    INSERT INTO record BY NAME SELECT record_id, seq, source, record_id AS native_id, 1 AS response_seq,
        1 AS item, 'run' AS first_run, '' AS content, kind, title, people, venue, volume, issue, pages,
        version, language, FALSE AS retracted, [] AS claims, [] AS details, {", ".join(f"'' AS {n}" for n in _BLANK)}
    FROM records
"""
_REST = (
    "INSERT INTO identifier SELECT record_id, scheme, value, match_key, value, '' FROM identifiers",
    "INSERT INTO found SELECT record_id, source, 'all', 'run', 'yes', TRUE FROM records",
    "INSERT INTO dated_event SELECT record_id, 1, 'published', make_date(year_from, 1, 1), "
    "make_date(year_from, 12, 31), '', 'year', '', TRUE, 1, TRUE FROM records WHERE year_from IS NOT NULL",
    "INSERT INTO unresolved SELECT record_id FROM records",
)


def put(folder: Path, first: int, count: int) -> None:
    """Put records into the store, with their vectors, marked to be resolved."""
    tables = {
        name: pq.read_table(folder / f"{name}.parquet") for name in ("records", "identifiers", "vectors")
    }
    tables["records"] = tables["records"].slice(first, count)
    ids = tables["records"]["record_id"]
    keep = pa.compute.is_in(tables["identifiers"]["record_id"], value_set=ids.combine_chunks())
    tables["identifiers"] = tables["identifiers"].filter(keep)
    keys = [text_key(text_of(title, "")) for title in tables["records"]["title"].to_pylist()]
    vectors = tables.pop("vectors").slice(first, count)
    tables["embedded"] = pa.table({"key": keys, "vector": vectors["vector"]})
    with open_store(folder) as con:
        for name, table in tables.items():
            con.register(name, table)
        con.execute(_RECORD)
        for statement in _REST:
            con.execute(statement)
        con.execute(
            f"INSERT INTO embedding SELECT key, '{MODEL}', any_value(vector) FROM embedded GROUP BY key "
            "ON CONFLICT DO NOTHING"
        )


def measured(folder: Path) -> dict[str, float]:
    """Resolve and return what it took: seconds on the clock and of the processors, and the peak in MiB."""
    started, before = time.perf_counter(), _cpu()
    resolve_references(folder, MODEL)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"wall_s": time.perf_counter() - started, "cpu_s": _cpu() - before, "peak_mib": peak}


def scores(folder: Path) -> dict[str, float]:
    """Return pair precision, recall and F1 of the references against the works."""
    truth = pq.read_table(folder / "truth.parquet")
    with open_store(folder) as con:
        con.register("truth", truth)
        rows = con.sql(
            "SELECT reference_id, work FROM membership JOIN truth USING (record_id)"
        ).to_arrow_table()
    return pair_scores(
        rows["reference_id"].dictionary_encode().combine_chunks().indices.to_numpy(), rows["work"].to_numpy()
    )


def pair_scores(found: Any, true: Any) -> dict[str, float]:
    """Return pair precision, recall and F1 of two groupings of the same rows."""

    def pairs(names: Any) -> int:
        _, sizes = np.unique(names, return_counts=True)
        return int((sizes * (sizes - 1) // 2).sum())

    both = pairs(found.astype(np.int64) * (int(true.max()) + 1) + true)
    precision, recall = both / max(pairs(found), 1), both / max(pairs(true), 1)
    return {"precision": precision, "recall": recall, "f1": 2 * both / max(pairs(found) + pairs(true), 1)}


def _cpu() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def main(step: str, folder: Path) -> None:
    """Do one step."""
    total = pq.read_metadata(folder / "records.parquet").num_rows
    if step == "build":
        put(folder, 0, total - NEW)
    elif step == "bring":
        put(folder, total - NEW, NEW)
    elif step == "run":
        print(json.dumps({"first": measured(folder), "quality": scores(folder)}))
    else:
        print(json.dumps(measured(folder)))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
