"""`antedate demo`: the whole job on an invented matter, without network or key."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from pathlib import Path

from pipeline.commands.hits import hits
from pipeline.commands.nightly import EXIT_CODES, say, utc_now
from pipeline.plain_text import columns, safe, wrapped
from pipeline.run import RunEnd
from pipeline.store import open_store

SHOWN = 8


def demo(args: Namespace) -> int:
    """Run the demo in the folder named; exit as its last run ended."""
    return run_demo(args.folder, say)


def run_demo(folder: Path, say: Callable[[str], None]) -> int:
    """Run the demo matter in folder, print what came of it, and return the last run's exit code."""
    from pipeline.demo import play_demo

    say(f"an invented matter goes into {folder}; its sources are played on this machine, about a minute")
    end = play_demo(folder, utc_now, say)
    for number, run in enumerate(end.runs, start=1):
        _print_run(folder, number, run)
    print(f"\nThe {SHOWN} best of what was found, not judged yet\n")
    hits(Namespace(matter=folder, all=False, run=None, most=SHOWN, if_filed_on=None))
    _print_next(folder)
    return EXIT_CODES[end.runs[-1].outcome]


def _print_run(folder: Path, number: int, run: RunEnd) -> None:
    with open_store(folder, read_only=True) as con:
        rows = con.execute(
            "SELECT source, count(*) FILTER (outcome = 'complete'), count(*) FILTER (outcome = 'skipped'), "
            "count(*) FILTER (outcome NOT IN ('complete', 'skipped')), sum(requests), sum(items), "
            "sum(records), sum(quarantined), round(sum(waited_s)) FROM search WHERE run_id = ? "
            "GROUP BY source ORDER BY source",
            [run.run_id],
        ).fetchall()
        failed = con.execute(
            "SELECT source, sweep, outcome, reason FROM search WHERE run_id = ? "
            "AND outcome NOT IN ('complete', 'skipped') ORDER BY ALL",
            [run.run_id],
        ).fetchall()
    head = ("source", "complete", "skipped", "not complete", "requests", "items", "records", "quarantined",
            "waited s")  # fmt: skip
    print(f"\nRun {number}, {run.run_id}: {run.outcome}")
    print(columns([head, *(tuple(map(_cell, row)) for row in rows)]))
    for source, sweep, outcome, reason in failed:
        print(wrapped(safe(f"{source}, '{sweep}': {outcome}: {reason}", 400), "  "))


def _cell(value: object) -> str:
    return f"{value:.0f}" if isinstance(value, float) else str(value)


def _print_next(folder: Path) -> None:
    print("\nWhat to try next")
    lines = (
        (
            f"antedate show {folder} '#1'",
            "one reference whole: versions, dates with their evidence, passages",
        ),
        (f"antedate status {folder}", "the search log, sweep by sweep, and what was kept but not understood"),
        (f"antedate tag {folder} '#1' relevant --elements ABC --category X", "your judgement"),
        (f"antedate export {folder} cited.xlsx", "the cited-reference list"),
        (f"antedate plan {folder} --again", "word for word what is sent, and to whom"),
        ("antedate new MY-MATTER", "a matter of your own"),
    )
    print(columns(lines, "  "))
