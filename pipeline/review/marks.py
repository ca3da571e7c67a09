"""A text cut into pieces, those that show an element marked with its letter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Piece:
    """A piece of text. letters: the elements it comes closest to, () for the rest."""

    text: str
    letters: tuple[str, ...] = ()


def marked(text: str, passages: Iterable[tuple[str, str]]) -> tuple[Piece, ...]:
    """Return the text in pieces, in order; together they are the text again.

    passages: (element, passage), the passage a verbatim piece of the text; one that does
    not stand there, or overlaps an earlier one, is left unmarked. Equal passages share a piece.
    """
    letters: dict[str, list[str]] = {}
    for element, passage in passages:
        if passage and passage in text:
            letters.setdefault(passage, []).append(element)
    found = sorted((text.index(passage), passage) for passage in letters)
    pieces, place = [], 0
    for start, passage in found:
        if start < place:
            continue
        pieces += [Piece(text[place:start]), Piece(passage, tuple(letters[passage]))]
        place = start + len(passage)
    pieces.append(Piece(text[place:]))
    return tuple(piece for piece in pieces if piece.text)
