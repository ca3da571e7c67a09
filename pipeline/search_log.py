"""The search log as it is read: what was asked, of whom, when, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import duckdb

from pipeline.errors import NotFound


@dataclass(frozen=True)
class RunLine:
    """One run with its sums. outcome: complete, incomplete, failed; "" while it is not ended.

    new: the references it found first.
    """

    run_id: str
    started_at: datetime
    ended_at: datetime | None
    outcome: str
    requests: int
    items: int
    records: int
    quarantined: int
    new: int


@dataclass(frozen=True)
class SearchLine:
    """One sweep at one source in one run, with its numbers.

    stated: how many the source says it has, "" where it does not say. answers: how many were kept.
    """

    source: str
    sweep: str
    expression: str
    asked_at: datetime | None
    outcome: str
    reason: str
    requests: int
    stated: str
    items: int
    records: int
    quarantined: int
    waited_s: float
    answers: int


@dataclass(frozen=True)
class AnswerLine:
    """One answer of a sweep; seq: its line in the journal, by which it is opened."""

    seq: int
    request: str
    status: int
    received_at: datetime
    size_bytes: int
    items: int
    records: int
    quarantined: int


@dataclass(frozen=True)
class QuarantineLine:
    """An item that was kept but not understood; item counts from 1 in its answer."""

    seq: int
    source: str
    item: int
    path: str
    reason: str
    excerpt: str


_RUNS = """
SELECT r.run_id, r.started_at, r.ended_at, coalesce(r.outcome, ''), coalesce(s.requests, 0),
       coalesce(s.items, 0), coalesce(s.records, 0), coalesce(s.quarantined, 0), coalesce(f.new, 0)
FROM run r
LEFT JOIN (SELECT run_id, sum(requests)::BIGINT AS requests, sum(items)::BIGINT AS items,
                  sum(records)::BIGINT AS records, sum(quarantined)::BIGINT AS quarantined
           FROM search GROUP BY run_id) s USING (run_id)
LEFT JOIN (SELECT first_run AS run_id, count(*) AS new FROM reference GROUP BY first_run) f USING (run_id)
WHERE ($run IS NULL OR r.run_id = $run) AND ($before IS NULL OR r.run_id < $before)
ORDER BY r.run_id DESC LIMIT $most
"""
_SEARCHES = """
SELECT s.source, s.sweep, s.expression, s.asked_at, s.outcome, s.reason, s.requests,
       CASE WHEN s.stated_total IS NULL THEN ''
            ELSE s.stated_total || CASE WHEN s.total_is_floor THEN ' or more' ELSE '' END END,
       s.items, s.records, s.quarantined, s.waited_s, coalesce(a.answers, 0)
FROM search s LEFT JOIN (SELECT source, sweep, count(*) AS answers FROM response
                         WHERE run_id = ? GROUP BY ALL) a USING (source, sweep)
WHERE s.run_id = ?
ORDER BY CASE s.outcome WHEN 'failed' THEN 0 WHEN 'incomplete' THEN 1 WHEN 'complete' THEN 2 ELSE 3 END,
         s.source, s.sweep
"""
_ANSWERS = """
SELECT seq, request, status, received_at, size_bytes, items, records, quarantined
FROM response WHERE run_id = ? AND source = ? AND sweep = ? AND seq > ? ORDER BY seq LIMIT ?
"""
_QUARANTINE = """
SELECT p.seq, p.source, q.item + 1, q.path, q.reason, q.excerpt
FROM quarantine q JOIN response p ON p.seq = q.response_seq
WHERE p.run_id = ? ORDER BY p.seq, q.item LIMIT ?
"""


def read_runs(con: duckdb.DuckDBPyConnection, most: int, before: str = "") -> tuple[RunLine, ...]:
    """Return the newest runs, newest first; before: only those earlier than that run."""
    values = {"run": None, "before": before or None, "most": most}
    return tuple(RunLine(*row) for row in con.execute(_RUNS, values).fetchall())


def read_run(con: duckdb.DuckDBPyConnection, run_id: str) -> RunLine:
    """Return that run. Raises NotFound."""
    rows = con.execute(_RUNS, {"run": run_id, "before": None, "most": 1}).fetchall()
    if not rows:
        raise NotFound(f"no run {run_id!r} of this matter is known; the search log lists them")
    return RunLine(*rows[0])


def read_searches(con: duckdb.DuckDBPyConnection, run_id: str) -> tuple[SearchLine, ...]:
    """Return the run's sweeps: failed, incomplete, complete, skipped, then by source and sweep."""
    return tuple(SearchLine(*row) for row in con.execute(_SEARCHES, [run_id, run_id]).fetchall())


def read_search(con: duckdb.DuckDBPyConnection, run_id: str, source: str, sweep: str) -> SearchLine:
    """Return one sweep of a run. Raises NotFound."""
    for line in read_searches(con, run_id):
        if (line.source, line.sweep) == (source, sweep):
            return line
    raise NotFound(f"run {run_id} has no sweep {sweep!r} at {source!r}; the search log lists them")


def read_answers(
    con: duckdb.DuckDBPyConnection, run_id: str, source: str, sweep: str, after: int, most: int
) -> tuple[AnswerLine, ...]:
    """Return the answers to a sweep received after answer `after`, in the order received."""
    rows = con.execute(_ANSWERS, [run_id, source, sweep, after, most]).fetchall()
    return tuple(AnswerLine(*row) for row in rows)


def read_quarantine(con: duckdb.DuckDBPyConnection, run_id: str, most: int) -> tuple[QuarantineLine, ...]:
    """Return what the run brought that was kept but not understood, in the order received."""
    return tuple(QuarantineLine(*row) for row in con.execute(_QUARANTINE, [run_id, most]).fetchall())
