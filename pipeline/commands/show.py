"""`antedate show`: one reference whole, every fact with where it came from."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from pipeline import cautions
from pipeline.commands.in_force import print_in_force
from pipeline.deciding import describe
from pipeline.evidence import evidence_problem
from pipeline.judging import Judged, Judging, cautions_of
from pipeline.listing import find_reference, read_hits
from pipeline.lookalikes import lookalikes
from pipeline.matter import load_matter
from pipeline.plain_text import columns, public_text, safe, wrapped
from pipeline.responses import Responses
from pipeline.showing import ShownEvent, ShownRecord, read_versions_whole
from pipeline.store import open_store


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
    for step in hit.chased:
        print(
            wrapped(f"chased: {step.direction} {step.title or '(no title stated)'}, id {step.reference_id}")
        )
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
    with open_store(args.matter, read_only=True) as con:
        alike = lookalikes(con, reference)
    for other in alike:
        print(wrapped(f"looks like {other.reference_id} ({other.title}): {other.words}", "  ", 400))
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
        *cautions_of(verdicts),
    ):
        print(wrapped(caution))
    return 0


def _print_verdict(judged: Judged) -> None:
    verdict = judged.verdict
    print(f"  {judged.office}: {judged.words}" + (" (provisional)" if verdict.provisional else ""))
    print(wrapped(f"{verdict.reason} [{verdict.citation}]", "      "))
    if verdict.settle_by:
        print(wrapped("would be settled by: " + "; ".join(verdict.settle_by), "      "))
    for name, text in (("the office presumes", judged.presumed), ("needs", verdict.declaration_needed)):
        if text:
            print(wrapped(f"{name}: {text}", "      "))
    if verdict.rule_checked:
        print(wrapped(cautions.written_down(verdict.rule_checked, verdict.rule_source), "      "))


def _print_versions(folder: Path, reference: str) -> None:
    with open_store(folder, read_only=True) as con:
        versions = read_versions_whole(con, reference)
    print("\nVersions, each with its own dates")
    for version in versions:
        print(f"\n  version {version.version_id}")
        for record in version.records:
            _print_record(record, folder)


def _print_record(record: ShownRecord, folder: Path) -> None:
    kind = f"{record.kind} {record.version}".strip()
    print(f"    {record.source}: {safe(record.native_id, 120)}  ({kind})")
    print(wrapped(record.title or "(no title stated)", "      ", 300))
    likeness = f" (likeness {record.score:.2f})" if record.score < 1 else ""
    print(wrapped(f"why here: {record.reason}{likeness}", "      "))
    for name, text in (("where", record.venue), ("address", record.url)):
        if text:
            print("      " + safe(f"{name}: {text}", 200))
    print(columns(record.identifiers, "      "))
    print(columns(map(_event, record.events), "      "))
    for name, text in record.details:
        print(wrapped(f"{name}: {text}", "      ", 300))
        if name == "evidence" and (problem := evidence_problem(folder, text)):
            print(f"      THE EVIDENCE FILE {problem}")
    if record.request:
        print("      " + safe(f"from {record.request}", 200))
        body = Responses(folder).body_path(record.body_sha256).relative_to(folder)
        when = f"{record.received_at:%Y-%m-%d %H:%M} UTC"
        print(f"      received {when}, kept as {body}, item {record.item + 1}")


def _event(event: ShownEvent) -> tuple[str, ...]:
    said = f"{event.field} = {event.text!r}" + (f"; {event.note}" if event.note else "")
    gone = "" if event.stands else "; stated once, no longer"
    return ("public" if event.public else "", event.kind, event.days.text(), said + gone)
