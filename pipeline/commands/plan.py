"""`antedate plan`: word for word what the next run would send, to whom."""

from __future__ import annotations

import os
from argparse import Namespace
from datetime import UTC, datetime
from urllib.parse import unquote_plus

from connectors.connector import Request, Source
from connectors.registry import CONNECTORS
from pipeline import cautions
from pipeline.journal import read_journal
from pipeline.matter import Matter, load_matter
from pipeline.plain_text import columns, safe, wrapped
from pipeline.plan import PlannedSource, PlannedSweep, make_plan, request_line
from pipeline.responses import Responses
from queries.variants import explain_forms


def plan(args: Namespace) -> int:
    """Print the terms with their forms, then per source and sweep each request."""
    matter = load_matter(args.matter)
    now = datetime.now(UTC)
    completed = {} if args.again else read_journal(Responses(args.matter), now).completed
    sources = make_plan(matter, CONNECTORS, os.environ, completed, now)
    print(wrapped(cautions.CONFIDENTIAL))
    print("\nTerms and the forms searched beside them (switch one off in matter.toml)")
    print(_terms(matter))
    for source in sources:
        _print_source(source)
    count = sum(len(sweep.compiled.requests) for source in sources for sweep in _sent(source))
    print(f"\n{count} first requests in all; each may be followed by further pages of the same question.")
    return 0


def _terms(matter: Matter) -> str:
    rows = []
    for concept in matter.query_set.concepts:
        for term in concept.terms:
            forms = [f"{form} ({why})" for form, why in explain_forms(term) if form != term.text]
            rows.append((concept.name, term.text, ", ".join(forms) or "as written only"))
    for term in matter.query_set.exclusions:
        rows.append(("left out", term.text, ", ".join(form for form, _ in explain_forms(term)[1:])))
    return columns(rows)


def _sent(source: PlannedSource) -> list[PlannedSweep]:
    return [] if source.skipped else [sweep for sweep in source.sweeps if not sweep.skipped]


def _print_source(source: PlannedSource) -> None:
    about = source.connector.SOURCE
    sent = _sent(source)
    requests = sum(len(sweep.compiled.requests) for sweep in sent)
    print(f"\n{about.title} ({source.name}), {source.base_url}")
    if source.skipped:
        print(wrapped(f"not asked: {source.skipped}", "  "))
        return
    depth = _depth(about)
    if about.local:
        print(f"  {requests} requests to a folder on this machine; {depth}; nothing is sent to anyone")
    else:
        print(f"  {requests} requests; {depth}; one every {about.seconds_between:g} s at most")
    print(wrapped(f"terms of use: {about.terms_of_use}", "  "))
    for line in _added(source):
        print(wrapped(line, "  "))
    for sweep in source.sweeps:
        _print_sweep(source, sweep)


def _depth(about: Source) -> str:
    if about.ranked_depth:
        return f"the best {about.ranked_depth} of each request are read"
    deep = f" or {about.depth:,}, then in smaller windows" if about.depth else ""
    return f"{about.page_size} a page, to the end{deep}"


def _added(source: PlannedSource) -> list[str]:
    request = Request(source.name, "")
    signed = source.connector.sign(request, {}, source.setting.contact)
    lines = [f"sent with each: {name}: {value}" for name, value in (*signed.headers, *signed.params)]
    if source.keys:
        lines.append(f"and your key from {', '.join(source.keys)}, which is never written down")
    return lines


def _print_sweep(source: PlannedSource, sweep: PlannedSweep) -> None:
    print(f"\n  sweep: {sweep.sweep.name}")
    print(wrapped(f"asks: {sweep.expression}", "    "))
    if sweep.window.added_since:
        print(f"    only what the source added or changed since {sweep.window.added_since}")
    if sweep.skipped:
        print(wrapped(f"not sent: {sweep.skipped}", "    "))
        return
    for note in (*sweep.compiled.not_expressed, *sweep.compiled.splits):
        print(wrapped(f"note: {note}", "    "))
    for request in sweep.compiled.requests:
        print("    " + safe(unquote_plus(request_line(source.base_url, request)), 100_000))
