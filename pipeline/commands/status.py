"""`antedate status`: the last run, its search log, and what was kept but not understood."""

from __future__ import annotations

import re
from argparse import Namespace
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from connectors.registry import POINTED_AT
from pipeline import cautions
from pipeline.decisions import Decisions
from pipeline.errors import NotFound
from pipeline.judging import OUTCOMES, Judging
from pipeline.known import known_items
from pipeline.listing import read_hits
from pipeline.matter import Matter, load_matter
from pipeline.plain_text import columns, safe, wrapped
from pipeline.responses import Responses
from pipeline.store import open_store

# Runs by night come before captures by hand: a capture must not hide what a source still owes.
_RUNS = """
SELECT r.run_id, r.started_at, r.ended_at, r.outcome, coalesce(s.by_hand, FALSE) AS by_hand
FROM run r LEFT JOIN (SELECT run_id, bool_and(list_contains($pointed_at, source)) AS by_hand
                      FROM search GROUP BY run_id) s USING (run_id)
ORDER BY by_hand, r.started_at DESC
"""


def status(args: Namespace) -> int:
    """Print how the last run (or the one named) ended, sweep by sweep."""
    matter = load_matter(args.matter)
    with open_store(args.matter, read_only=True) as con:
        pointed_at = [reader.SOURCE.name for reader in POINTED_AT]
        runs = con.execute(_RUNS, {"pointed_at": pointed_at}).fetchall()
        row = next((run[:4] for run in runs if args.run in (None, run[0])), None)
        if row is None:
            raise NotFound(
                f"no run {args.run or ''} of this matter is known; start one with: antedate run {args.matter}"
            )
        _print_run(con, row)
        _print_quarantine(con, row[0])
    _print_captures([run for run in runs if run[4] and run[1] > row[1]], args.matter)
    hits = read_hits(args.matter)
    tagged = sum(bool(hit.tag) for hit in hits)
    print(f"\n{len(hits)} references: {tagged} judged, {len(hits) - tagged} not yet; "
          f"{sum(hit.first_run == row[0] for hit in hits)} first found by this run")  # fmt: skip
    _print_verdicts(matter, [hit.reference_id for hit in hits])
    if matter.known:
        print("\nReferences you knew already")
        _print_known(matter)
    _print_torn(args.matter)
    print(wrapped(cautions.NEVER_PROOF))
    return 0


def _print_captures(captures: list[tuple[Any, ...]], folder: Path) -> None:
    """Print the captures made since, a line each."""
    for run_id, started, _, outcome, _ in captures:
        more = f"antedate status {folder} --run {run_id}"
        print(f"capture of {started:%Y-%m-%d %H:%M} UTC: {outcome or 'cut off'}; {more}")


def _print_run(con: Any, run: tuple[Any, ...]) -> None:
    run_id, started, ended, outcome = run
    print(f"run {run_id}: {outcome or 'not ended (going on, or cut off: the next run goes on with it)'}")
    print(f"started {started:%Y-%m-%d %H:%M} UTC" + (f", ended {ended:%Y-%m-%d %H:%M} UTC" if ended else ""))
    searches = con.execute(
        "SELECT source, sweep, outcome, requests, stated_total, total_is_floor, items, records, quarantined, "
        "round(waited_s, 1), reason FROM search WHERE run_id = ? ORDER BY asked_at, source, sweep",
        [run_id],
    ).fetchall()
    head = ("source", "sweep", "outcome", "requests", "stated", "items", "records", "quarantined", "waited s")
    asked = [row for row in searches if row[2] != "skipped"]
    rows = [
        (source, sweep, result, str(requests), _total(total, floor), *map(str, counts))
        for source, sweep, result, requests, total, floor, *counts, _ in asked
    ]
    if rows:
        print(columns([head, *rows]))
    for source, sweep, result, *_, reason in asked:
        if reason:
            print(wrapped(f"{source}, {sweep}: {result}: {reason}", "  "))
    _print_not_asked([(row[0], row[-1]) for row in searches if row[2] == "skipped"])
    if any(result in ("failed", "incomplete") for _, _, result, *_ in searches):
        print(wrapped(_FAILED))


_FAILED = (
    "Nothing found at a source that failed means nothing. The next run asks it again; "
    "what is captured by hand is captured again by hand."
)
_WHEN = re.compile(r"asked at \S+ \S+ UTC and")


def _print_not_asked(skipped: list[tuple[str, str]]) -> None:
    """Print the sweeps (source, reason) that were not sent: a line for each source and reason."""
    counts = Counter((source, _WHEN.sub("asked lately and", reason)) for source, reason in skipped)
    if counts:
        print("not asked this time")
    for (source, reason), count in sorted(counts.items()):
        print(wrapped(f"{source}, {count} sweep{'s' if count > 1 else ''}: {reason}", "  "))


def _total(total: int | None, floor: bool) -> str:
    return "" if total is None else f"{total}{'+' if floor else ''}"


def _print_verdicts(matter: Matter, references: list[str]) -> None:
    """Print, office by office, how many references get which verdict."""
    judging = Judging(matter, datetime.now(UTC).date())
    judged = judging.judge(matter.folder, references)
    if not judged:
        return
    counts = Counter(
        (one.office, one.elements, one.verdict.outcome) for found in judged.values() for one in found
    )
    groups = dict.fromkeys((one.office, one.elements) for found in judged.values() for one in found)
    head = ("office", *OUTCOMES.values())
    rows = [
        (f"{office} {elements}".strip(), *(str(counts[office, elements, outcome]) for outcome in OUTCOMES))
        for office, elements in groups
    ]
    print("\nVerdicts on all references")
    print(columns([head, *rows]))
    for text in (judging.basis, cautions.UNDECIDED, cautions.ESTIMATE):
        print(wrapped(text))


def _print_quarantine(con: Any, run_id: str) -> None:
    rows = con.execute(
        "SELECT p.source, q.item + 1, q.path, q.reason, p.body_sha256 FROM quarantine q "
        "JOIN response p ON p.seq = q.response_seq WHERE p.run_id = ? ORDER BY p.seq, q.item",
        [run_id],
    ).fetchall()
    if rows:
        print(f"\n{len(rows)} item(s) kept but not understood")
    for source, item, path, reason, sha256 in rows:
        print("  " + safe(f"{source}, item {item} {path}: {reason} (answer {sha256[:12]})", 300))


def _print_known(matter: Matter) -> None:
    for item in known_items(matter):
        print(
            wrapped(
                f"{item.known.number}: {item.state}" + (f": {item.title}" if item.title else ""), "  ", 300
            )
        )
        for line in item.lines:
            print(wrapped(line, "      ", 600))


def _print_torn(folder: Path) -> None:
    for log in (Responses(folder).journal, Decisions(folder).log):
        if torn := log.torn():
            print(f"{log.path.name}: line {', '.join(map(str, torn))} was cut off by a crash before it was "
                  "acknowledged, and is left out")  # fmt: skip
