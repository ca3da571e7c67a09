"""`antedate load`, `paragraphs`: full texts on this machine, and a look into one of them."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from connectors.uspto_bulk import SOURCE
from pipeline.errors import NotFound
from pipeline.listing import find_reference
from pipeline.matter import OWN_CORPUS, Matter, load_matter
from pipeline.plain_text import many, safe, wrapped
from pipeline.store import open_store

if TYPE_CHECKING:
    from pipeline.corpus.load import Outcome

ALL_LOADED, NONE_LOADED, SOME_LOADED = 0, 1, 3


def load(args: Namespace) -> int:
    """Load bulk files into the matter's corpus; exit 0 all read, 3 not all, 1 none."""
    from pipeline.commands.nightly import say
    from pipeline.corpus.folder import CorpusFolder
    from pipeline.corpus.load import load_files

    corpus = CorpusFolder(_folder(load_matter(args.matter)))
    outcomes = load_files(corpus, args.file, lambda: datetime.now(UTC), say)
    for outcome in outcomes:
        _print_outcome(outcome)
    files = corpus.files()
    print(
        f"\n{corpus.path} holds {many(sum(file.documents for file in files), 'document')} from"
        f" {many(len(files), 'file')}"
    )
    print(f"next: antedate run {args.matter}")
    held = [outcome.file for outcome in outcomes if outcome.file]
    if not held:
        return NONE_LOADED
    whole = len(held) == len(outcomes) and not any(file.unreadable for file in held)
    return ALL_LOADED if whole else SOME_LOADED


def _folder(matter: Matter) -> Path:
    return matter.sources[SOURCE.name].folder or matter.folder / OWN_CORPUS


def _print_outcome(outcome: Outcome) -> None:
    file, name = outcome.file, safe(outcome.name, 120)
    if file is None:
        print(wrapped(f"{name}: not loaded. {safe(outcome.why, 600)}"))
        return
    if outcome.state == "there already":
        print(f"{name}: is there already, as loaded {file.loaded_at[:10]}; left alone")
        return
    kinds = ", ".join(f"{count:,} {kind}" for kind, count in sorted(file.by_kind.items()))
    print(wrapped(f"{name}: {many(file.documents, 'document')} ({kinds})"))
    if outcome.replaced:
        print(f"  instead of the file of this name that was loaded {outcome.replaced[:10]}")
    for reason, count in sorted(file.unreadable.items()):
        print(wrapped(f"{count:,} could not be read: {safe(reason, 200)}", "  "))
    for what, count in sorted(file.left_aside.items()):
        print(wrapped(f"{count:,} left aside, no publication: {safe(what, 80)}", "  "))
    if file.unreadable:
        print(wrapped(f"which, and where in the file: {file.folder}/quarantine.jsonl below files/", "  "))


def paragraphs(args: Namespace) -> int:
    """Print the description of a reference out of the corpus, or those paragraphs that hold the words."""
    from pipeline.corpus.paragraphs import read_paragraphs

    matter = load_matter(args.matter)
    names = _held(args.matter, find_reference(args.matter, args.reference))
    found = read_paragraphs(_folder(matter), names) if names else {}
    if not found:
        raise NotFound(
            f"{args.reference}: the corpus holds no description of it. Load the bulk file with its full text:"
            f" antedate load {args.matter} FILE"
        )
    for name, rows in found.items():
        wanted = [row for row in rows if not args.about or row.holds(args.about)]
        print(f"{name}: {len(wanted)} of {len(rows)} paragraphs and headings")
        for row in wanted:
            print(wrapped(f"[{row.number}] {safe(row.text, 100_000)}" if row.number else safe(row.text, 500)))
    return 0


def _held(folder: Path, reference: str) -> list[str]:
    """Return the names under which the corpus knows the versions of a reference."""
    with open_store(folder, read_only=True) as con:
        rows = con.execute(
            "SELECT r.native_id FROM membership m JOIN record r USING (record_id) "
            "WHERE m.reference_id = ? AND r.source = ? ORDER BY r.seq",
            [reference, SOURCE.name],
        ).fetchall()
    return [row[0] for row in rows]
