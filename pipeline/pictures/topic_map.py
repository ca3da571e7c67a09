"""Topic map: what the field is about, like lying near like."""

from __future__ import annotations

from functools import partial

import duckdb
import numpy as np
import pyarrow as pa

from pipeline.embed import text_key
from pipeline.pictures.field import nothing_yet, read_counts
from pipeline.pictures.layout import Plane, lay_out
from pipeline.pictures.picture import LONGEST_CELL, Picture, Row, Table, label, list_page, reference_page
from pipeline.pictures.topic_drawing import draw
from pipeline.pictures.topic_field import NO_TOPIC, Map, Point
from pipeline.vectors import text_of

TITLE = "Topic map"
MOST_DRAWN = 600

_PLACED = """
SELECT f.reference_id, s.place, f.title, coalesce(t.topic_id, 0), r.title, r.abstract
FROM score s JOIN reference f USING (reference_id) JOIN record r ON r.record_id = f.main_record
LEFT JOIN topic_member t USING (reference_id)
WHERE s.meaning IS NOT NULL ORDER BY s.place LIMIT ?
"""
# Vectors of several models do not mix: those of the model most of the texts have.
_VECTORS = """
WITH held AS (SELECT text_sha256, model, vector FROM embedding SEMI JOIN wanted USING (text_sha256))
SELECT text_sha256, vector FROM held
WHERE model = (SELECT model FROM held GROUP BY model ORDER BY count(*) DESC, model LIMIT 1)
"""


def read_map(con: duckdb.DuckDBPyConnection, invention: str) -> Map:
    """Return the topic map; invention: the text every reference is compared with."""
    rows = con.execute(_PLACED, [MOST_DRAWN]).fetchall()
    keys = [text_key(text_of(title, abstract)) for *_, title, abstract in rows]
    own = text_key(invention)
    con.register("wanted", pa.table({"text_sha256": pa.array(sorted({*keys, own}), pa.string())}))
    vectors = {key: np.asarray(vector, np.float32) for key, vector in con.execute(_VECTORS).fetchall()}
    con.unregister("wanted")
    found = [(Point(*row[:4]), vectors[key]) for row, key in zip(rows, keys, strict=True) if key in vectors]
    named = con.execute("SELECT topic_id, terms, size FROM topic ORDER BY topic_id").fetchall()
    return Map(
        tuple(point for point, _ in found),
        np.stack([vector for _, vector in found]) if found else np.zeros((0, 1), np.float32),
        vectors.get(own),
        {number: (terms, size) for number, terms, size in named},
        *read_counts(con),
    )


def topic_picture(field: Map) -> Picture:
    """Return the picture, its table of topics and its table of references."""
    why = nothing_yet(field.references, field.placed)
    if not field.points:
        why = why or (
            "No reference is embedded yet, so nothing is known of what lies near what. "
            "The run embeds them in order of promise; look again when it is further."
        )
        return Picture("topics", TITLE, (why,))
    plane = _plane(field)
    tables = (topic_table(field), member_table(field))
    return Picture("topics", TITLE, (_says(field, plane),), tables, partial(draw, field, plane))


def _plane(field: Map) -> Plane:
    """Return the points on a plane; the invention, where embedded, is the last of them."""
    groups = [point.topic for point in field.points]
    if field.invention is None:
        return lay_out(field.vectors, groups)
    return lay_out(np.concatenate([field.vectors, field.invention[None, :]]), [*groups, 0])


def _says(field: Map, plane: Plane) -> str:
    count = len(field.points)
    says = [f"The best {count:,} of {field.references:,} references, those embedded so far."]
    if not field.topics:
        says.append("They are too few, or too unlike each other, to make topics of.")
    if none := sum(1 for point in field.points if not point.topic):
        says.append(f"{none:,} fit no topic: a dash.")
    if field.invention is not None:
        says.append("The star is the invention's summary.")
    says.append(
        f"Like lies near like, but the plane shows only {plane.kept:.0%} of how they differ: "
        "two that look near may be far apart, and the axes have no measure."
    )
    return " ".join(says)


def topic_table(field: Map) -> Table:
    """Return the topics by number, with the best placed reference of each."""
    best: dict[int, Point] = {}
    for point in field.points:
        best.setdefault(point.topic, point)
    rows = []
    for number, (terms, size) in field.topics.items():
        first = best.get(number)
        nearest = f"#{first.place} {label(first.title, LONGEST_CELL)}" if first else "not among those drawn"
        cells = (str(number), label(terms), f"{size:,}", nearest)
        links = {2: list_page(topic=terms)} | ({3: reference_page(first.reference_id)} if first else {})
        rows.append(Row(cells, links))
    return Table(
        "The topics", ("Topic", "Their words", "References", "Closest to the invention"), tuple(rows)
    )


def member_table(field: Map) -> Table:
    """Return the references drawn, topic by topic, those without one last."""
    ordered = sorted(field.points, key=lambda point: (point.topic or 1_000_000, point.place))
    rows = tuple(
        Row(
            (str(point.topic or NO_TOPIC), f"#{point.place}", label(point.title, LONGEST_CELL)),
            {2: reference_page(point.reference_id)},
        )
        for point in ordered
    )
    return Table("The references by topic", ("Topic", "Place", "Title"), rows)
