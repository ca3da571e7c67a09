"""`antedate rights`, and the part of `antedate show`: where the patents found are probably in force."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, date, datetime
from pathlib import Path

from pipeline import cautions
from pipeline.errors import BadMatter
from pipeline.in_force import HeldFamily, read_families
from pipeline.law.facts import BadDates
from pipeline.law.family import WORDS
from pipeline.law.rights import InForce, PatentRight
from pipeline.law.term import estimate
from pipeline.listing import read_hits
from pipeline.matter import load_matter
from pipeline.plain_text import safe, wrapped


def rights(args: Namespace) -> int:
    """Print every patent found, best first, and where its family is probably in force."""
    matter = load_matter(args.matter)
    if not matter.countries_of_sale:
        raise BadMatter(
            f"{matter.folder / 'matter.toml'}: countries_of_sale is empty, so there is no country to answer "
            'for. List where the product will be sold: countries_of_sale = ["US", "DE"].'
        )
    hits = read_hits(args.matter)
    families = read_families(args.matter, [hit.reference_id for hit in hits])
    patents = [hit for hit in hits if hit.reference_id in families]
    today = datetime.now(UTC).date()
    for hit in patents[: args.most]:
        held = families[hit.reference_id]
        print(f"#{hit.place or '-'}  {safe(hit.title, 160) or '(no title stated)'}   id {hit.reference_id}")
        print(wrapped(held.in_force(matter.countries_of_sale, today).sentence, "    "))
        print(wrapped("; ".join(f"{right.number}{_until(right, today)}" for right in held.rights), "      "))
    print(f"{min(len(patents), args.most)} of {len(patents)} patents shown; {len(hits)} references in all")
    print(wrapped(f"`antedate show {args.matter} ID` gives the days, what is assumed and what to ask."))
    for caution in (cautions.CLEARANCE, cautions.KNOWLEDGE, cautions.RULES, cautions.ESTIMATE):
        print(wrapped(caution))
    return 0


def print_in_force(folder: Path, reference: str, countries: tuple[str, ...], today: date) -> None:
    """Print the section of `show`; nothing for a reference that is no patent."""
    held = read_families(folder, [reference]).get(reference)
    if held is None:
        return
    print("\nIn force, probably")
    if not countries:
        print(wrapped("No country is named: list countries_of_sale in matter.toml, such as US, DE.", "  "))
        return
    _print_family(held, countries, today)
    for caution in (cautions.CLEARANCE, cautions.KNOWLEDGE):
        print(wrapped(caution, "  "))


def _print_family(held: HeldFamily, countries: tuple[str, ...], today: date) -> None:
    family = held.in_force(countries, today)
    print(wrapped(family.sentence, "  "))
    for row in family.rows:
        _print_right(row.country, row.right, row.found)
        for right, found in row.also:
            _print_right(f"{row.country}, also", right, found)
    for number in held.uncertain:
        said = "the day its term counts from is not sure; taken as the latest it may be"
        print(wrapped(f"{number}: {said}", "  "))
    when = f"on {held.complete_as_of}" if held.complete_as_of else "at no time"
    print(wrapped(f"The family was looked up whole {when}.", "  "))


def _print_right(where: str, right: PatentRight | None, found: InForce) -> None:
    number = f", {safe(right.number, 120)}" if right else ""
    print(f"  {where}: {WORDS[found.status]}{number}")
    print(wrapped(found.reason + (f" [{found.citation}]" if found.citation else ""), "      "))
    days = [
        f"{name} {day}"
        for name, day in (
            ("by the rule alone", found.nominal_expiry),
            ("estimated", found.estimated_expiry),
            ("last day", found.last_day_in_force),
        )
        if day
    ]
    for name, parts in (
        ("end of the term", days),
        ("assumed", found.assumptions),
        ("the register must confirm", found.register_must_confirm),
    ):
        if parts:
            print(wrapped(f"{name}: " + "; ".join(parts), "      "))
    if found.checked:
        print(wrapped(cautions.written_down(found.checked, found.source), "      "))


def _until(right: PatentRight, today: date) -> str:
    """Return the day the right's term ends as far as it can be counted, else ""."""
    try:
        found = estimate(right, today)
    except BadDates:
        return " (its dates contradict each other)"
    last = found.last_day_in_force
    if last and right.grant != "granted" and right.granted is None:
        return f" (if granted, term to {last})"
    sooner = " or sooner" if any(text.startswith("it does not rely on") for text in found.assumptions) else ""
    return f" (term to {last}{sooner})" if last else ""
