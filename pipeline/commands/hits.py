"""`antedate hits`: what is new and not judged yet, best first."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime

from pipeline import cautions
from pipeline.judging import Judged, Judging
from pipeline.listing import Hit, read_hits
from pipeline.matter import load_matter
from pipeline.plain_text import public_text, safe, wrapped


def hits(args: Namespace) -> int:
    """Print the untagged references (or all), best first, each in five lines or fewer."""
    matter = load_matter(args.matter)
    everything = read_hits(args.matter)
    listed = [hit for hit in everything if args.all or not hit.tag]
    if args.run:
        listed = [hit for hit in listed if hit.first_run == args.run]
    judging = Judging(matter, datetime.now(UTC).date(), args.if_filed_on)
    shown = listed[: args.most]
    verdicts = judging.judge(args.matter, [hit.reference_id for hit in shown])
    for hit in shown:
        _print_hit(hit, verdicts[hit.reference_id])
    waiting = sum(not hit.embedded for hit in everything)
    print(
        f"{len(shown)} of {len(listed)} shown"
        + (f"; {len(everything)} references in all" if not args.all else "")
    )
    if waiting:
        print(f"{waiting} are ranked by their words alone so far; the next run goes on embedding.")
    for caution in (
        judging.basis,
        cautions.ESTIMATE,
        cautions.UNDECIDED,
        cautions.NEVER_PROOF,
        cautions.MACHINE_TEXT,
    ):
        print(wrapped(caution))
    return 0


_MOST_STEPS = 3  # of the chase are told here; `show` tells all


def _print_hit(hit: Hit, judged: tuple[Judged, ...]) -> None:
    tag = f"  [{hit.tag.tag}]" if hit.tag else ""
    gone = "  RETRACTED" if hit.retracted else ""
    print(f"#{hit.place or '-'}  {safe(hit.title, 200) or '(no title stated)'}{gone}{tag}")
    who = ", ".join(hit.people[:3]) + (" et al." if len(hit.people) > 3 else "")
    print("    " + safe("; ".join(filter(None, (hit.kind, who, hit.venue, *hit.numbers[:2]))), 200))
    says = f", says {hit.public_says}" if hit.public_says else ""
    print(f"    public {public_text(hit.public)}{says}; {hit.versions} version(s), {', '.join(hit.sources)}")
    print("    " + "  ".join(f"{verdict.office}: {verdict.words}" for verdict in judged))
    for step in hit.chased[:_MOST_STEPS]:
        print(
            "    "
            + safe(
                f"chased: {step.direction} {step.title or '(no title stated)'}, id {step.reference_id}", 200
            )
        )
    near = "  ".join(f"{match.element} {match.closeness:.2f}" for match in hit.closeness)
    about = f"   topic: {safe(hit.topic, 60)}" if hit.topic else ""
    print(f"    close to: {near or 'not compared yet'}{about}   id {hit.reference_id}\n")
