"""Sweeps that a source has not answered in full: shown on every page until it has."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import duckdb

from connectors.registry import POINTED_AT

# A later look-up that was skipped (answered in full today, or no key) settles nothing, and a
# sweep that the last run no longer planned at a source it planned for is not owed any more.
# What was captured by hand told its user at once, and no run asks for it again.
_TROUBLES = """
WITH planned AS (FROM search WHERE NOT list_contains($by_hand, source)),
latest AS (
    SELECT * FROM planned WHERE outcome <> 'skipped'
    QUALIFY row_number() OVER (PARTITION BY source, sweep ORDER BY run_id DESC) = 1
), last AS (SELECT * FROM planned WHERE run_id = (SELECT max(run_id) FROM planned))
SELECT source, sweep, outcome, reason, asked_at FROM latest
WHERE outcome <> 'complete'
  AND (source NOT IN (SELECT source FROM last)
       OR (source, sweep) IN (SELECT (l.source, l.sweep) FROM last l))
ORDER BY ALL
"""


@dataclass(frozen=True)
class Trouble:
    """A sweep whose last answer was not whole. outcome: incomplete or failed."""

    source: str
    sweep: str
    outcome: str
    reason: str
    asked_at: datetime | None


def read_troubles(con: duckdb.DuckDBPyConnection) -> tuple[Trouble, ...]:
    """Return what is still owed, by source and sweep. Cost grows with the search log."""
    by_hand = [reader.SOURCE.name for reader in POINTED_AT]
    return tuple(Trouble(*row) for row in con.execute(_TROUBLES, {"by_hand": by_hand}).fetchall())
