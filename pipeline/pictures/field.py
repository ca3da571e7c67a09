"""The references a picture is made of, read from the store."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import duckdb
import pyarrow as pa

from connectors.days import Days
from pipeline.decisions import Decision
from pipeline.tags import Tag, tags_by_reference

NOT_JUDGED = "not judged"
# The order is that of Colours.states.
STATES = ("relevant", "undecided", "not relevant", NOT_JUDGED)


@dataclass(frozen=True)
class Pictured:
    """A reference in a picture.

    place: 1 is best. score: closeness to the invention as a whole. public: the days its
    earliest public day lies in, None where none is stated. state: the tag in force, or
    NOT_JUDGED. shown: the elements the user said it shows.
    """

    reference_id: str
    place: int
    title: str
    score: float
    public: Days | None
    state: str
    shown: tuple[str, ...] = ()


_BEST = """
SELECT s.reference_id, s.place, f.title, s.score, f.public_from, f.public_to
FROM score s JOIN reference f USING (reference_id)
WHERE s.place > ? ORDER BY s.place LIMIT ?
"""


def read_best(
    con: duckdb.DuckDBPyConnection, standing: Iterable[Decision], most: int, after: int = 0
) -> tuple[Pictured, ...]:
    """Return the best placed references below place `after`, at most so many, best first.

    standing: the decisions in force. Cost grows with most and with the decisions.
    """
    tags = read_tags(con, standing)
    return tuple(
        _pictured(reference, place, title, score, days(first, last), tags.get(reference))
        for reference, place, title, score, first, last in con.execute(_BEST, [after, most]).fetchall()
    )


def _pictured(
    reference: str, place: int, title: str, score: float, public: Days | None, tag: Tag | None
) -> Pictured:
    state, shown = (tag.tag, tag.elements) if tag else (NOT_JUDGED, ())
    return Pictured(reference, place, title, score, public, state, shown)


def read_tags(con: duckdb.DuckDBPyConnection, standing: Iterable[Decision]) -> dict[str, Tag]:
    """Return reference_id -> the tag in force."""
    standing = list(standing)
    records = sorted({record for decision in standing for record in decision.records})
    con.register("tagged_record", pa.table({"record_id": pa.array(records, pa.string())}))
    query = "SELECT record_id, reference_id FROM membership SEMI JOIN tagged_record USING (record_id)"
    reference_of = dict(con.execute(query).fetchall())
    con.unregister("tagged_record")
    return {key: tags[0] for key, tags in tags_by_reference(standing, reference_of).items()}


def read_counts(con: duckdb.DuckDBPyConnection) -> tuple[int, int]:
    """Return how many references there are, and how many of them have a place."""
    query = "SELECT (SELECT count(*) FROM reference), (SELECT count(*) FROM score)"
    ((references, placed),) = con.execute(query).fetchall()
    return int(references), int(placed)


def nothing_yet(references: int, placed: int) -> str:
    """Return why there is nothing to show, in words, or ""."""
    if not references:
        return "No run has brought anything yet. After the first run the field is drawn here."
    if not placed:
        return f"{references:,} references are here, but none is ranked yet. The run goes on, or was cut off."
    return ""


def days(first: date | None, last: date | None) -> Days | None:
    """Return the interval, or None where neither end is known."""
    return Days(first, last) if first or last else None
