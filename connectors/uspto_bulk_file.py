"""A stream of the office's bulk files → its documents, each read or set aside with the reason."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from connectors.errors import SourceChanged
from connectors.uspto_aps import looks_tagged, read_tagged, tagged_pieces
from connectors.uspto_document import ROOTS, read_modern, read_paragraphs
from connectors.uspto_facts import UsDocument
from connectors.uspto_markup import read_root
from connectors.uspto_older import PATDOC, PUBLICATION, read_patdoc, read_publication
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
    first = read(1 << 16)
    waiting = [first] if first else []

    def again(size: int) -> bytes:
        return waiting.pop() if waiting else read(size)

    if looks_tagged(first):
        for piece in tagged_pieces(again):
            yield _read(piece, piece.problem or read_tagged(piece.body))
    else:
        for piece in pieces(again):
            yield _item(piece)


def _item(piece: Piece) -> Item:
    if piece.problem:
        return _read(piece, piece.problem)
    try:
        root = read_root(SOURCE_NAME, piece.body)
    except SourceChanged as problem:
        what = problem.what.replace("the answer", "the document")
        return _unread(piece, what, _class_of(what))
    name = str(root.tag)
    if name in _ASIDE:
        return Item(piece.offset, piece.size, left_aside=name)
    if name not in _READERS:
        return _unread(
            piece, f"a document of the kind <{name[:60]}> is not known", f"unknown root <{name[:60]}>"
        )
    return _read(piece, _READERS[name](root))


def _modern(root: Any) -> _Found | str:
    document = read_modern(root)
    return document if isinstance(document, str) else (document, read_paragraphs(root))


_Found = tuple[UsDocument, list[tuple[str, str]]]
_READERS: dict[str, Callable[[Any], _Found | str]] = {
    **dict.fromkeys(ROOTS, _modern), PATDOC: read_patdoc, PUBLICATION: read_publication,
}  # fmt: skip


def _read(piece: Piece, found: _Found | str) -> Item:
    problem = piece.problem or (found if isinstance(found, str) else why_unreadable(found[0]))
    if problem or isinstance(found, str):
        return _unread(piece, problem, "too long" if piece.problem else _class_of(problem))
    return Item(piece.offset, piece.size, found[0], tuple(found[1]))


def _unread(piece: Piece, problem: str, kind: str) -> Item:
    excerpt = piece.body[:EXCERPT].decode("utf-8", "replace")
    return Item(piece.offset, piece.size, problem=problem, kind_of_problem=kind, excerpt=excerpt)


def _class_of(problem: str) -> str:
    """Return the reason less its particulars: what stands before the first colon or bracket."""
    return re.split(r"[:(]", problem, maxsplit=1)[0].strip()
