"""The store's references ranked against the invention: reads, works outside, writes briefly."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from pipeline.embed import text_key
from pipeline.matter import Matter
from pipeline.passages import split_reference
from pipeline.rank import element_matches, rank
from pipeline.store import open_store
from pipeline.topics import MOST_REFERENCES, topics
from pipeline.vectors import RecordText, read_vectors, text_of

# How many of the best are compared element by element, passage by passage, and how many of
# those by meaning too: a reader looks at the top, and a passage costs as much as an abstract.
COMPARED = 2_000
READ_CLOSELY = 150

_REFERENCES = """
SELECT f.reference_id, r.title, r.abstract, r.claims
FROM reference f JOIN record r ON r.record_id = f.main_record
LEFT JOIN score s USING (reference_id)
ORDER BY s.place NULLS LAST, f.reference_id
"""


def invention_text(matter: Matter) -> str:
    """Return the text every reference is compared with: title and summary."""
    return text_of(matter.title, matter.summary)


def texts_to_embed(matter: Matter) -> list[RecordText]:
    """Return the invention's own texts; they belong to no record."""
    return [
        RecordText("", invention_text(matter)),
        *(RecordText("", text) for text in matter.elements.values()),
    ]


def rank_references(matter: Matter, version: str) -> None:
    """Rank every reference with the vectors there are, and compare the best element by element.

    Cost: one word index and one matrix product over all references (10 s for 100,000), and
    the passages of the best COMPARED.
    """
    vectors = read_vectors(matter.folder, version)
    rows = _rows(matter.folder)
    table = pa.table(
        {
            "reference_id": pa.array([row[0] for row in rows], pa.string()),
            "text": pa.array([text_of(row[1], row[2]) for row in rows], pa.string()),
        }
    )
    scores = rank(table, invention_text(matter), vectors)
    best: list[str] = scores["reference_id"][:COMPARED].to_pylist()
    by_id = {row[0]: row for row in rows}
    closely = _passages([by_id[key] for key in best[:READ_CLOSELY]])
    others = _passages([by_id[key] for key in best[READ_CLOSELY:]])
    # Passages embedded on an earlier night, when their reference stood higher, are not used
    # below READ_CLOSELY: the result is that of doing everything afresh.
    matches = pa.concat_tables(
        [element_matches(closely, matter.elements, vectors), element_matches(others, matter.elements, {})]
    )
    passages = pa.concat_tables([closely, others])
    with open_store(matter.folder) as con:
        for name, new in (("score", scores), ("passage", passages), ("element_match", matches)):
            con.register("new_rows", new)
            con.execute(f"DELETE FROM {name}")  # noqa: S608 - the three names above
            con.execute(f"INSERT INTO {name} BY NAME SELECT * FROM new_rows")  # noqa: S608
            con.unregister("new_rows")


def passages_to_embed(folder: Path) -> list[RecordText]:
    """Return the passages of the best READ_CLOSELY references, best first."""
    with open_store(folder) as con:
        rows = con.execute(
            'SELECT p."text" FROM passage p JOIN score s USING (reference_id) WHERE s.place <= ? '
            "ORDER BY s.place, p.passage",
            [READ_CLOSELY],
        ).fetchall()
    return [RecordText("", row[0]) for row in rows]


def find_topics(matter: Matter, version: str) -> None:
    """Group the best embedded references into topics named by their own words."""
    vectors = read_vectors(matter.folder, version)
    texts = [(row[0], text_of(row[1], row[2])) for row in _rows(matter.folder)]
    rows = [(key, text) for key, text in texts if text_key(text) in vectors][:MOST_REFERENCES]
    found = [vectors[text_key(text)] for _, text in rows]
    matrix = np.stack(found) if found else np.zeros((0, 1), np.float32)
    members, named = topics([row[0] for row in rows], matrix, [row[1] for row in rows])
    with open_store(matter.folder) as con:
        con.register("members", members)
        con.register("named", named)
        con.execute("DELETE FROM topic_member; INSERT INTO topic_member BY NAME SELECT * FROM members")
        con.execute("DELETE FROM topic; INSERT INTO topic BY NAME SELECT * FROM named")


def _rows(folder: Path) -> list[tuple[str, str, str, list[str]]]:
    with open_store(folder) as con:
        return con.execute(_REFERENCES).fetchall()


def _passages(rows: list[tuple[str, str, str, list[str]]]) -> pa.Table:
    found: list[dict[str, Any]] = []
    for reference, title, abstract, claims in rows:
        split = split_reference(title, abstract, claims)
        found += [
            {"reference_id": reference, "passage": number, "field": passage.field, "text": passage.text}
            for number, passage in enumerate(split.passages, 1)
        ]
    return pa.Table.from_pylist(found, _PASSAGE)


_PASSAGE = pa.schema(
    [("reference_id", pa.string()), ("passage", pa.int64()), ("field", pa.string()), ("text", pa.string())]
)
