"""Pairs of records decided: one document, one work, or no link."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pipeline.resolve.candidates import pairs
from pipeline.resolve.evidence import APART, Verdict, evidence
from pipeline.resolve.likeness import likeness
from pipeline.resolve.profile import Profile, Shelf

LINK_SCHEMA = pa.schema([
    ("record_a", pa.string()), ("record_b", pa.string()), ("same", pa.string()),
    ("reason", pa.string()), ("score", pa.float64()),
])  # fmt: skip


def links(
    new_ids: Iterable[str],
    records: pa.Table,
    identifiers: pa.Table,
    relations: pa.Table,
    vectors: pa.Table,
    rulings: pa.Table,
) -> pa.Table:
    """Return the links of every pair that has a record of new_ids in it, sorted by pair.

    records: record_id, seq, source, kind, title, people, venue, volume, pages, version,
        language, year_from, year_to (years of the earliest event, both null where unknown).
    identifiers: record_id, scheme, value, match_key. relations: record_id, kind, scheme,
        match_key. vectors: record_id, vector (unit length; records may be missing).
    rulings: record_a, record_b, same. A ruled pair is compared like a found one, so that
        `group` knows whether it is one document; the ruling itself is applied there, and
        taking it back needs nothing done again here.
    Returns record_a < record_b, same (document, work), reason in words, score (1 for
        identifiers, relations and families, below 1 for likeness). A pair that is not
        linked has no row.

    A pair's row depends on its two records alone, and whether it is looked at on them and on
    what arrived before the later one: parts with ascending seq add up to the whole at once.
    Cost: one pass over all titles, then new records times a bounded number of neighbours.
    """
    shelf = Shelf(records, identifiers, relations)
    wanted = set(new_ids)
    new = np.array([record_id in wanted for record_id in shelf.ids], dtype=bool)
    by_id = _vectors(vectors)
    found = {(shelf.ids[a], shelf.ids[b]) for a, b in pairs(shelf, new, by_id)} if wanted else set()
    found |= _ruled(rulings, wanted, shelf)
    rows = []
    for a, b in sorted({(min(pair), max(pair)) for pair in found}):
        verdict = decide(shelf[a], shelf[b], _cosine(by_id, a, b))
        if verdict is not None:
            rows.append((a, b, verdict.same, verdict.reason, verdict.score))
    columns = list(zip(*rows, strict=True)) or [()] * len(LINK_SCHEMA)
    return pa.table([pa.array(c, f.type) for c, f in zip(columns, LINK_SCHEMA, strict=True)], LINK_SCHEMA)


def decide(a: Profile, b: Profile, cosine: float | None) -> Verdict | None:
    """Return what joins two records, or None: evidence first, then likeness where nothing forbids it."""
    if b.record_id < a.record_id:
        a, b = b, a
    verdict = evidence(a, b)
    if verdict is None:
        return likeness(a, b, cosine)
    return None if verdict.same == APART else verdict


def _vectors(table: pa.Table) -> dict[str, npt.NDArray[np.float32]]:
    if not table.num_rows:
        return {}
    column = table["vector"].combine_chunks()
    matrix = column.flatten().to_numpy(zero_copy_only=False).reshape(table.num_rows, -1)
    return dict(zip(table["record_id"].to_pylist(), matrix, strict=True))


def _cosine(by_id: dict[str, npt.NDArray[np.float32]], a: str, b: str) -> float | None:
    # Rounded: the same text embedded in another batch differs in the seventh digit.
    return round(float(by_id[a] @ by_id[b]), 4) if a in by_id and b in by_id else None


def _ruled(rulings: pa.Table, wanted: set[str], shelf: Shelf) -> set[tuple[str, str]]:
    both = zip(rulings["record_a"].to_pylist(), rulings["record_b"].to_pylist(), strict=True)
    return {(a, b) for a, b in both if (a in wanted or b in wanted) and a in shelf.place and b in shelf.place}
