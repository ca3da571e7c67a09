"""`antedate show`: one reference whole, every fact with where it came from."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from connectors.days import Days
from pipeline import cautions
from pipeline.commands.in_force import print_in_force
from pipeline.deciding import describe
from pipeline.judging import Judged, Judging
from pipeline.listing import find_reference, read_hits
from pipeline.lookalikes import lookalikes
from pipeline.matter import load_matter
from pipeline.plain_text import columns, public_text, safe, wrapped
from pipeline.responses import Responses
from pipeline.store import open_store

_RECORDS = """
SELECT m.version_id, m.reason, m.score, r.record_id, r.source, r.native_id, r.kind, r.title, r.version,
       r.venue, r.url, r.abstract, r.claims, r.details, p.request, p.received_at, p.body_sha256, r.item
FROM membership m JOIN record r USING (record_id) LEFT JOIN response p ON p.seq = r.response_seq
WHERE m.reference_id = ?
ORDER BY (SELECT min(seq) FROM record s WHERE s.record_id = m.version_id), r.seq
"""
_EVENTS = """
SELECT e.*, p.body_sha256 FROM dated_event e LEFT JOIN response p ON p.seq = e.response_seq
WHERE e.record_id = ? ORDER BY e.day_to NULLS LAST, e.day_from, e.event
"""


def show(args: Namespace) -> int:
    """Print the reference: verdicts, passages per element, versions with dates, sources, tags."""
    matter = load_matter(args.matter)
    reference = find_reference(args.matter, args.reference)
    hit = next(hit for hit in read_hits(args.matter) if hit.reference_id == reference)
    today = datetime.now(UTC).date()
    judging = Judging(matter, today, args.if_filed_on)
    verdicts = judging.judge(args.matter, [reference])[reference]
    print(wrapped(hit.title or "(no title stated)"))
    gone = "; RETRACTED, still a disclosure" if hit.retracted else ""
    print(f"{hit.kind}; id {reference}; place {hit.place or 'not ranked yet'}{gone}")
    print(
        f"earliest public date: {public_text(hit.public)}"
        + (f", says {hit.public_says}" if hit.public else "")
    )
    if hit.topic:
        print(f"topic: {safe(hit.topic)}")
    print("\nVerdicts")
    print(wrapped(judging.basis, "  "))
    for judged in verdicts:
        _print_verdict(judged)
    print("\nCloseness, element by element")
    for match in hit.closeness:
        print(f"  {match.element} {match.closeness:.2f}  " + safe(matter.elements.get(match.element, ""), 80))
        if match.passage:
            print(wrapped(f"{match.field}: {match.passage}", "      ", 600))
    print_in_force(args.matter, reference, matter.countries_of_sale, today)
    _print_versions(args.matter, reference)
    for other in lookalikes(args.matter, reference):
        gap = f"{other.gap} of 64 bits differ" if other.gap else "no difference seen"
        line = f"looks like {other.reference_id} ({other.title or 'no title'}): {gap}. Compare them yourself"
        print(wrapped(f"{line}; `antedate same` joins them", "  ", 400))
    print("\nJudged")
    for tag in hit.tags:
        print("  " + describe(tag.decision))
    if not hit.tags:
        print("  not yet")
    print()
    for caution in (
        cautions.ESTIMATE,
        cautions.UNDECIDED,
        cautions.DATE_EVIDENCE,
        cautions.ONE_VERSION,
        cautions.MACHINE_TEXT,
    ):
        print(wrapped(caution))
    return 0


def _print_verdict(judged: Judged) -> None:
    verdict = judged.verdict
    print(f"  {judged.office}: {judged.words}" + (" (provisional)" if verdict.provisional else ""))
    print(wrapped(f"{verdict.reason} [{verdict.citation}]", "      "))
    if verdict.settle_by:
        print(wrapped("would be settled by: " + "; ".join(verdict.settle_by), "      "))
    for name, text in (("the office presumes", verdict.presumption), ("needs", verdict.declaration_needed)):
        if text:
            print(wrapped(f"{name}: {text}", "      "))
    if verdict.rule_checked:
        print(wrapped(cautions.written_down(verdict.rule_checked, verdict.rule_source), "      "))


def _print_versions(folder: Path, reference: str) -> None:
    with open_store(folder, read_only=True) as con:
        records = _dicts(con, _RECORDS, reference)
        print("\nVersions, each with its own dates")
        seen = ""
        for record in records:
            if record["version_id"] != seen:
                seen = record["version_id"]
                print(f"\n  version {seen}")
            _print_record(con, record, folder)


def _print_record(con: Any, record: dict[str, Any], folder: Path) -> None:
    kind = f"{record['kind']} {record['version']}".strip()
    print(f"    {record['source']}: {safe(record['native_id'], 120)}  ({kind})")
    print(wrapped(record["title"] or "(no title stated)", "      ", 300))
    likeness = f" (likeness {record['score']:.2f})" if record["score"] < 1 else ""
    print(wrapped(f"why here: {record['reason']}{likeness}", "      "))
    for name, text in (("where", record["venue"]), ("address", record["url"])):
        if text:
            print("      " + safe(f"{name}: {text}", 200))
    identifiers = _dicts(
        con, "FROM identifier WHERE record_id = ? ORDER BY scheme, value", record["record_id"]
    )
    rows = dict.fromkeys((row["scheme"], row["value"], row["problem"]) for row in identifiers)
    print(columns(rows, "      "))
    print(columns(map(_event, _dicts(con, _EVENTS, record["record_id"])), "      "))
    for detail in record["details"]:
        print(wrapped(f"{detail['name']}: {detail['text']}", "      ", 300))
    if record["request"]:
        print("      " + safe(f"from {record['request']}", 200))
        body = Responses(folder).body_path(record["body_sha256"]).relative_to(folder)
        when = f"{record['received_at']:%Y-%m-%d %H:%M} UTC"
        print(f"      received {when}, kept as {body}, item {record['item'] + 1}")


def _event(event: dict[str, Any]) -> tuple[str, ...]:
    said = f"{event['field']} = {event['text']!r}" + (f"; {event['note']}" if event["note"] else "")
    gone = "" if event["stands"] else "; stated once, no longer"
    days = Days(event["day_from"], event["day_to"]).text()
    return ("public" if event["public"] else "", event["kind"], days, said + gone)


def _dicts(con: Any, query: str, value: str) -> list[dict[str, Any]]:
    done = con.execute(query, [value])
    names = [column[0] for column in done.description]
    return [dict(zip(names, row, strict=True)) for row in done.fetchall()]
