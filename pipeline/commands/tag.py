"""`antedate tag`, `same`, `different`, `date`, `undo`: what the user decides, kept for good."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from pipeline import cautions
from pipeline.deciding import (
    date_facts,
    decide,
    describe,
    element_letters,
    members,
    public_day,
    resolve_again,
)
from pipeline.decisions import Decisions
from pipeline.errors import NotFound
from pipeline.listing import find_reference
from pipeline.matter import load_matter
from pipeline.plain_text import wrapped
from pipeline.store import open_store


def tag(args: Namespace) -> int:
    """Write the judgement of one or more references."""
    matter = load_matter(args.matter)
    letters = element_letters(args.elements, tuple(matter.elements))
    references = [find_reference(args.matter, name) for name in args.reference]
    for reference in references:
        facts = {"tag": args.tag, "note": args.note, "elements": letters, "category": args.category}
        with open_store(args.matter, read_only=True) as con:
            records = members(con, reference)
        decide(args.matter, "tag", records, facts, args.by)
        print(f"{reference}: {args.tag}")
    print(wrapped(cautions.DUTY))
    return 0


def ruling(args: Namespace) -> int:
    """Rule that two references or records are the same, or are not."""
    one, two = (_record(args.matter, name) for name in (args.one, args.two))
    if one == two:
        raise NotFound(f"{args.one!r} and {args.two!r} are one record; name two")
    decide(args.matter, "ruling", (one, two), {"same": args.same}, args.by)
    print(f"{one} and {two}: {'the same' if args.same else 'different'}")
    _resolve_again(args.matter)
    return 0


def date_by_hand(args: Namespace) -> int:
    """Enter a public date beside what the sources say, with who and why."""
    days = public_day(args.day, datetime.now(UTC).date())
    reference = find_reference(args.matter, args.reference)
    facts = date_facts(days, args.why, args.evidence, args.wins)
    decide(args.matter, "date", (_record(args.matter, args.reference),), facts, args.by)
    beside = "before" if args.wins else "beside"
    print(f"{reference}: {days.text()} kept, {beside} what sources say")
    _resolve_again(args.matter)
    return 0


def undo(args: Namespace) -> int:
    """Take back a decision: the last one, or the one with the number given."""
    standing = Decisions(args.matter).standing()
    chosen = [d for d in standing if args.number in (None, d.number)]
    if not chosen:
        what = f"no decision {args.number} stands" if args.number else "no decision stands"
        raise NotFound(f"{what}; `antedate decisions {args.matter}` lists them")
    decide(args.matter, "undo", chosen[-1].records, {"undoes": chosen[-1].number}, args.by)
    print(f"taken back: {describe(chosen[-1])}")
    if chosen[-1].kind != "tag":
        _resolve_again(args.matter)
    return 0


def decisions(args: Namespace) -> int:
    """List every decision, the undone ones marked."""
    standing = {decision.number for decision in Decisions(args.matter).standing()}
    for decision in Decisions(args.matter).all():
        if decision.kind != "undo":
            print(describe(decision) + ("" if decision.number in standing else "  (taken back)"))
    return 0


def _record(folder: Path, name: str) -> str:
    """Return the record that name means: itself, or the first of the reference."""
    with open_store(folder, read_only=True) as con:
        row = con.execute("SELECT record_id FROM membership WHERE record_id = ?", [name]).fetchone()
    return str(row[0]) if row else find_reference(folder, name)


def _resolve_again(folder: Path) -> None:
    print(wrapped(resolve_again(folder) or "the references were worked out again"))
