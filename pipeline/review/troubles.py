"""Sweeps that a source has not answered in full: shown on every page until it has."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import duckdb

# A later look-up that was skipped (answered in full today, or no key) settles nothing, and a
# sweep that the last run no longer planned at a source it planned for is not owed any more.
_TROUBLES = """
WITH latest AS (
    SELECT * FROM search WHERE outcome <> 'skipped'
    QUALIFY row_number() OVER (PARTITION BY source, sweep ORDER BY run_id DESC) = 1
), last AS (SELECT * FROM search WHERE run_id = (SELECT max(run_id) FROM search))
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
    return tuple(Trouble(*row) for row in con.execute(_TROUBLES).fetchall())
