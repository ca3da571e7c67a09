"""A stream of the office's bulk files → its documents, each read or set aside with the reason."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from connectors.errors import SourceChanged
from connectors.uspto_document import ROOTS, read_modern, read_paragraphs
from connectors.uspto_facts import UsDocument
from connectors.uspto_markup import read_root
from connectors.uspto_record import why_unreadable
from connectors.uspto_split import Piece, pieces

SOURCE_NAME = "uspto_bulk"
EXCERPT = 500
# Documents of these roots stand in weekly files beside the publications; they state no text of ours.
_ASIDE = ("sequence-cwu", "table-cwu", "us-sequence-listing")


@dataclass(frozen=True)
class Item:
    """One document of a stream: bytes [offset, offset + size).

    document: what it states, None where it could not be read. problem: then why; kind_of_problem:
    the same without its particulars, to count by. left_aside: what it is, where it is no publication.
    """

    offset: int
    size: int
    document: UsDocument | None = None
    paragraphs: tuple[tuple[str, str], ...] = ()
    problem: str = ""
    kind_of_problem: str = ""
    left_aside: str = ""
    excerpt: str = ""


def read_items(read: Callable[[int], bytes]) -> Iterator[Item]:
    """Yield every document of the stream, in order; one at a time is held."""
    for piece in pieces(read):
        yield _item(piece)


def _item(piece: Piece) -> Item:
    if piece.problem:
        return _unread(piece, piece.problem, "too long")
    try:
        root = read_root(SOURCE_NAME, piece.body)
    except SourceChanged as problem:
        return _unread(piece, problem.what, _class_of(problem.what))
    name = str(root.tag)
    if name in _ASIDE:
        return Item(piece.offset, piece.size, left_aside=name)
    if name not in ROOTS:
        return _unread(
            piece, f"a document of the kind <{name[:60]}> is not known", f"unknown root <{name[:60]}>"
        )
    document = read_modern(root)
    if isinstance(document, str) or (why := why_unreadable(document)):
        why = document if isinstance(document, str) else why
        return _unread(piece, why, _class_of(why))
    return Item(piece.offset, piece.size, document, tuple(read_paragraphs(root)))


def _unread(piece: Piece, problem: str, kind: str) -> Item:
    excerpt = piece.body[:EXCERPT].decode("utf-8", "replace")
    return Item(piece.offset, piece.size, problem=problem, kind_of_problem=kind, excerpt=excerpt)


def _class_of(problem: str) -> str:
    """Return the reason less its particulars: what stands before the first colon or bracket."""
    return re.split(r"[:(]", problem, maxsplit=1)[0].strip()
