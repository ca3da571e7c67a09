"""Pictures that look like a reference's picture: shown to the reader, never a reason to merge."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import duckdb

from connectors.picture_file import ALIKE, likeness_gap

_HASHES = """
SELECT m.reference_id, f.title, d.detail."text"
FROM membership m JOIN record r USING (record_id) JOIN reference f USING (reference_id),
     UNNEST(r.details) AS d(detail)
WHERE r.kind = 'picture' AND d.detail.name = 'likeness hash'
ORDER BY m.reference_id, r.seq
"""
# Most references have no picture, and looking through everybody's costs most of their page.
_HAS_PICTURE = """
SELECT 1 FROM membership m JOIN record r USING (record_id)
WHERE m.reference_id = ? AND r.kind = 'picture' LIMIT 1
"""


@dataclass(frozen=True)
class Lookalike:
    """Another reference with a like picture. gap: bits of 64 that differ, in the worse of two hashes."""

    reference_id: str
    title: str
    gap: int

    @property
    def words(self) -> str:
        """Return how alike they are, and that it decides nothing."""
        told = f"{self.gap} of 64 bits of a hash differ" if self.gap else "no difference seen"
        return f"{told}; likeness merges nothing: compare them, and rule that they are the same or not"


def lookalikes(con: duckdb.DuckDBPyConnection, reference: str) -> list[Lookalike]:
    """Return the other references whose pictures look like this one's, most alike first.

    Only pictures whose bytes are here have hashes. Cost grows with them.
    """
    if not con.execute(_HAS_PICTURE, [reference]).fetchall():
        return []
    return compare(reference, con.execute(_HASHES).fetchall())


def compare(reference: str, rows: Iterable[tuple[str, str, str]]) -> list[Lookalike]:
    """Return the lookalikes among (reference_id, title, likeness hash)."""
    rows = list(rows)
    mine = [hashes for key, _, hashes in rows if key == reference]
    best: dict[str, Lookalike] = {}
    for key, title, hashes in rows if mine else ():
        gaps = [max(gap) for own in mine if (gap := likeness_gap(own, hashes)) is not None]
        found = Lookalike(key, title, min(gaps, default=64))
        if key != reference and found.gap <= ALIKE and (key not in best or found.gap < best[key].gap):
            best[key] = found
    return sorted(best.values(), key=lambda one: (one.gap, one.reference_id))
