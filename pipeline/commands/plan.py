"""`antedate plan`: word for word what the next run would send, to whom."""

from __future__ import annotations

import os
from argparse import Namespace
from datetime import UTC, datetime

from pipeline import cautions
from pipeline.by_number import plan_run
from pipeline.journal import read_journal
from pipeline.matter import load_matter
from pipeline.plain_text import columns, safe, wrapped
from pipeline.plan_words import SourceWords, SweepWords, plan_in_words, terms_in_words, total_in_words
from pipeline.responses import Responses


def plan(args: Namespace) -> int:
    """Print the terms with their forms, then per source and sweep each request."""
    matter = load_matter(args.matter)
    now = datetime.now(UTC)
    completed = {} if args.again else read_journal(Responses(args.matter), now).completed
    sources = plan_in_words(plan_run(matter, os.environ, completed, now))
    print(wrapped(cautions.CONFIDENTIAL))
    print("\nTerms and the forms searched beside them (switch one off in matter.toml)")
    print(columns(terms_in_words(matter)))
    for source in sources:
        _print_source(source)
    print(f"\n{total_in_words(sources)}")
    return 0


def _print_source(source: SourceWords) -> None:
    print(f"\n{source.title} ({source.name})" + (f", {source.where}" if source.where else ""))
    if source.not_asked:
        print(wrapped(f"not asked: {source.not_asked}", "  "))
        return
    print(wrapped(f"asked: {source.about}", "  "))
    print(wrapped(f"terms of use: {source.terms_of_use}", "  "))
    for line in source.sent_with:
        print(wrapped(line, "  "))
    for sweep in source.sweeps:
        _print_sweep(sweep)


def _print_sweep(sweep: SweepWords) -> None:
    print(f"\n  sweep: {sweep.name}")
    print(wrapped(f"asks: {sweep.asks}", "    "))
    if sweep.added_since:
        print(f"    only what the source added or changed since {sweep.added_since}")
    if sweep.not_sent:
        print(wrapped(f"not sent: {sweep.not_sent}", "    "))
    for note in sweep.notes:
        print(wrapped(f"note: {note}", "    "))
    for request in sweep.requests:
        print("    " + safe(request, 100_000))
