"""`antedate run`, `schedule`, `watch`, `rebuild`: by hand, every night, and over again."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from datetime import UTC, datetime

from pipeline.matter import load_matter
from pipeline.plain_text import wrapped

EXIT_CODES = {"complete": 0, "failed": 1, "incomplete": 3}


def run(args: Namespace) -> int:
    """Run the matter once; exit 0 complete, 3 incomplete, 1 failed."""
    from pipeline.run import run_matter

    end = run_matter(args.matter, os.environ, utc_now, say, args.again)
    print(f"run {end.run_id}: {end.outcome}")
    print(f"digest: {end.digest}")
    print(f"next: antedate hits {args.matter}   antedate status {args.matter}")
    return EXIT_CODES[end.outcome]


def rebuild(args: Namespace) -> int:
    """Make the database again from what was received and decided."""
    from pipeline.run import rebuild_store

    rebuild_store(args.matter, utc_now, say)
    print("the database was made again from responses/, journal.jsonl and decisions.jsonl")
    return 0


def schedule(args: Namespace) -> int:
    """Show, and with --write set, the nightly start that this machine offers."""
    from pipeline.schedule import remove_schedule, schedule_for, write_schedule

    load_matter(args.matter)
    if args.remove:
        print(remove_schedule(args.matter))
        return 0
    wanted = schedule_for(args.matter, args.at)
    print(f"This makes {wanted.kind} start the run every night at {args.at}:\n")
    print(wanted.text)
    if wanted.by_hand:
        print(wrapped(wanted.by_hand))
        return 0
    if not args.write:
        print(f"Nothing was written. To do so: antedate schedule {args.matter} --at {args.at} --write")
        return 0
    print(write_schedule(wanted))
    return 0


def watch(args: Namespace) -> int:
    """Run the matter on schedule in the foreground until stopped."""
    from pipeline.watch import watch_matter

    load_matter(args.matter)
    return watch_matter(args.matter, args.at, args.every_s)


def utc_now() -> datetime:
    """Return the time."""
    return datetime.now(UTC)


def say(text: str) -> None:
    """Tell of progress on the terminal; results go to standard output."""
    print(f"{datetime.now(UTC):%H:%M:%S}  {text}", file=sys.stderr, flush=True)
