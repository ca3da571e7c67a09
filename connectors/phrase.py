"""A term as the words a query language takes: without the signs that mean something there."""

from __future__ import annotations

import unicodedata

from queries.expression import Code, Text

_INSIDE_WORDS = "'’."  # part no word where letters stand on both sides (Unicode UAX 29)


def bare_phrase(text: str) -> str:
    """Return the words of a term as a search engine breaks them, parted by single blanks.

    Letters, marks and digits of every script stay, and apostrophe and full stop between
    two of them; hyphens, quotes, brackets, wildcards and all other signs part words.
    "" where the text holds no word.
    """
    plain = unicodedata.normalize("NFC", text)
    solid = [unicodedata.category(character)[0] in "LNM" for character in plain]
    inside = [False, *(a and b for a, b in zip(solid, solid[2:], strict=False)), False]
    kept = [
        character if solid[at] or (character in _INSIDE_WORDS and inside[at]) else " "
        for at, character in enumerate(plain)
    ]
    return " ".join("".join(kept).split())


def has_words(leaf: Text | Code) -> bool:
    """Say whether the leaf is text with a word in it: all that a source without symbols can take."""
    return isinstance(leaf, Text) and bool(bare_phrase(leaf.text))
