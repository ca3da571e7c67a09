"""A reference as a row of the list, and as the head of its own page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from connectors.days import Days
from pipeline.judging import Judging
from pipeline.review.catalogue import Catalogue, OfficeWords
from pipeline.review.judgements import Judgements
from pipeline.review.site import Site
from pipeline.tags import Tag


@dataclass(frozen=True)
class Near:
    """How close a row comes to one element, and the passage that shows it."""

    element: str
    closeness: float
    passage: str
    field: str


@dataclass(frozen=True)
class Row:
    """One reference of the list.

    public: the days the earliest public day lies in, None where no date is stated. best: the
    element it comes closest to. verdicts: None while they can't be worked out. first_run:
    the run that first found it. tag: the one in force.
    """

    reference_id: str
    place: int
    title: str
    kind: str
    people: tuple[str, ...]
    venue: str
    numbers: tuple[str, ...]
    public: Days | None
    public_says: str
    sources: tuple[str, ...]
    versions: int
    topic: str
    first_run: str
    retracted: bool
    words: float | None
    meaning: float | None
    near: tuple[Near, ...]
    best: Near | None
    verdicts: tuple[OfficeWords, ...] | None
    tag: Tag | None


# Columns of `listed` that a row shows as they are.
_ALIKE = (
    "reference_id", "place", "title", "kind", "venue", "public_says", "versions", "topic", "first_run",
    "retracted", "words", "meaning",
)  # fmt: skip


def read_rows(
    site: Site, catalogue: Catalogue, judging: Judging, judgements: Judgements, found: list[dict[str, Any]]
) -> tuple[Row, ...]:
    """Return the rows for what was found in the catalogue's table `listed`."""
    names = [row["reference_id"] for row in found]
    tags, _ = site.memory.tags(catalogue, judgements, judgements.last)
    near = _near(catalogue, names)
    verdicts = site.memory.verdicts(catalogue, judging, names)
    return tuple(
        make_row(
            row,
            near.get(row["reference_id"], ()),
            verdicts.get(row["reference_id"]),
            tags.get(row["reference_id"], []),
        )
        for row in found
    )


def make_row(
    row: Mapping[str, Any],
    near: tuple[Near, ...],
    verdicts: tuple[OfficeWords, ...] | None,
    tags: list[Tag],
) -> Row:
    """Return the row of the list."""
    first, until = row["public_from"], row["public_to"]
    return Row(
        **{name: row[name] for name in _ALIKE},
        people=tuple(dict.fromkeys(row["people"])),
        numbers=tuple(row["numbers"]),
        sources=tuple(row["sources"]),
        public=Days(first, until) if first or until else None,
        near=near,
        best=max((one for one in near if one.passage), key=lambda one: one.closeness, default=None),
        verdicts=verdicts,
        tag=tags[0] if tags else None,
    )


def _near(catalogue: Catalogue, names: list[str]) -> dict[str, tuple[Near, ...]]:
    found: dict[str, tuple[Near, ...]] = {}
    rows = catalogue.rows(
        "SELECT m.* FROM matched m SEMI JOIN wanted USING (reference_id) ORDER BY reference_id, element",
        tables={"wanted": pa.table({"reference_id": pa.array(names, pa.string())})},
    )
    for row in rows:
        one = Near(row["element"], row["closeness"], row["passage"], row["field"])
        found[row["reference_id"]] = (*found.get(row["reference_id"], ()), one)
    return found
