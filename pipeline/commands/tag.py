"""`antedate tag`, `same`, `different`, `date`, `undo`: what the user decides, kept for good."""

from __future__ import annotations

import getpass
import os
from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from connectors.days import parse_days
from pipeline import cautions
from pipeline.decisions import Decision, Decisions
from pipeline.errors import NotFound
from pipeline.listing import find_reference
from pipeline.matter import load_matter
from pipeline.plain_text import safe, wrapped
from pipeline.store import open_store


def tag(args: Namespace) -> int:
    """Write the judgement of one or more references."""
    matter = load_matter(args.matter)
    letters = element_letters(args.elements, tuple(matter.elements))
    references = [find_reference(args.matter, name) for name in args.reference]
    for reference in references:
        facts = {"tag": args.tag, "note": args.note, "elements": letters, "category": args.category}
        _add(args.matter, "tag", _members(args.matter, reference), facts, args.by)
        print(f"{reference}: {args.tag}")
    print(wrapped(cautions.DUTY))
    return 0


def element_letters(written: str, elements: tuple[str, ...]) -> tuple[str, ...]:
    """Return the elements named: "A,C", "A C" or "AC". Raises NotFound for one the matter lacks."""
    words = written.upper().replace(",", " ").split()
    letters = [letter for word in words for letter in ([word] if word in elements else word)]
    for letter in letters:
        if letter not in elements:
            raise NotFound(f"no element {letter!r} in matter.toml; there are {', '.join(elements)}")
    return tuple(dict.fromkeys(letters))


def ruling(args: Namespace) -> int:
    """Rule that two references or records are the same, or are not."""
    one, two = (_record(args.matter, name) for name in (args.one, args.two))
    if one == two:
        raise NotFound(f"{args.one!r} and {args.two!r} are one record; name two")
    _add(args.matter, "ruling", (one, two), {"same": args.same}, args.by)
    _resolve_again(args.matter)
    print(
        f"{one} and {two}: {'the same' if args.same else 'different'}; the references were worked out again"
    )
    return 0


def date_by_hand(args: Namespace) -> int:
    """Enter a public date beside what the sources say, with who and why."""
    days = parse_days(args.day)
    if days is None or days.first is None or days.last is None:
        raise NotFound(f"{args.day!r} is no day; write 2026-03-04, 2026-03 or 2026 (what you know, no more)")
    if days.first > datetime.now(UTC).date():
        raise NotFound(f"{args.day} lies in the future: nothing is public yet on that day")
    reference = find_reference(args.matter, args.reference)
    facts = {
        "day_from": days.first.isoformat(),
        "day_to": days.last.isoformat(),
        "why": args.why,
        "evidence": args.evidence,
        "wins": args.wins,
    }
    _add(args.matter, "date", (_record(args.matter, args.reference),), facts, args.by)
    _resolve_again(args.matter)
    print(
        f"{reference}: {days.text()} kept"
        + (", before what sources say" if args.wins else ", beside what sources say")
    )
    return 0


def undo(args: Namespace) -> int:
    """Take back a decision: the last one, or the one with the number given."""
    standing = Decisions(args.matter).standing()
    chosen = [d for d in standing if args.number in (None, d.number)]
    if not chosen:
        what = f"no decision {args.number} stands" if args.number else "no decision stands"
        raise NotFound(f"{what}; `antedate decisions {args.matter}` lists them")
    _add(args.matter, "undo", chosen[-1].records, {"undoes": chosen[-1].number}, args.by)
    if chosen[-1].kind != "tag":
        _resolve_again(args.matter)
    print(f"taken back: {describe(chosen[-1])}")
    return 0


def decisions(args: Namespace) -> int:
    """List every decision, the undone ones marked."""
    standing = {decision.number for decision in Decisions(args.matter).standing()}
    for decision in Decisions(args.matter).all():
        if decision.kind != "undo":
            print(describe(decision) + ("" if decision.number in standing else "  (taken back)"))
    return 0


def describe(decision: Decision) -> str:
    """Return the decision in a line."""
    facts = decision.facts
    if decision.kind == "tag":
        what = f"{facts['tag']} {facts['category']} {' '.join(facts['elements'])} {facts['note']}"
    elif decision.kind == "ruling":
        what = "the same" if facts["same"] else "different"
    else:
        what = f"public {facts['day_from']}..{facts['day_to']}, because {facts['why']}"
    records = ", ".join(decision.records[:2])
    when = f"{decision.made_at:%Y-%m-%d %H:%M}"
    return safe(f"{decision.number}  {when}  {decision.made_by}  {decision.kind}  {records}: {what}")


def _add(folder: Path, kind: str, records: tuple[str, ...], facts: dict[str, object], by: str) -> None:
    Decisions(folder).add(
        kind, records, facts, by or os.environ.get("USER") or getpass.getuser(), datetime.now(UTC)
    )


def _members(folder: Path, reference: str) -> tuple[str, ...]:
    with open_store(folder, read_only=True) as con:
        rows = con.execute(
            "SELECT record_id FROM membership JOIN record USING (record_id) "
            "WHERE reference_id = ? ORDER BY seq",
            [reference],
        ).fetchall()
    return tuple(row[0] for row in rows)


def _record(folder: Path, name: str) -> str:
    """Return the record that name means: itself, or the first of the reference."""
    with open_store(folder, read_only=True) as con:
        row = con.execute("SELECT record_id FROM membership WHERE record_id = ?", [name]).fetchone()
    return str(row[0]) if row else find_reference(folder, name)


def _resolve_again(folder: Path) -> None:
    from pipeline.embed import model_version
    from pipeline.references import resolve_references
    from pipeline.vectors import read_vectors, record_texts, record_vectors

    vectors = read_vectors(folder, model_version(load_matter(folder).model))
    resolve_references(folder, record_vectors(record_texts(folder), vectors))
