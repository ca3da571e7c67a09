"""The words of a text, in the form in which they are compared."""

from __future__ import annotations

import re
import unicodedata

# Marks that spelling without accents leaves out. Marks of other scripts (Indic vowels,
# Japanese voicing) make other words and stay.
_ACCENT = re.compile("[\u0300-\u036f]")
_INVISIBLE = re.compile("[\u00ad\u200c-\u200f\u202a-\u202e\u2060-\u2064\u2066-\u2069\ufe00-\ufe0f\ufeff]")
_ASCII_WORD = re.compile("[0-9a-z]+")  # most text: five times as fast as by characters
# A run without blanks that is not all ASCII; possessive and anchored, so that time grows with the length.
_NOT_ASCII = re.compile("(?<!\\S)([^\\s\u0080-\U0010ffff]*+[^\\s\\x00-\\x7f]\\S*)")
_FOLDED = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"})
# Scripts written without blanks, or (Hangul) with particles joined on: a word per character.
_UNSPACED = re.compile(
    "[\u0e00-\u0eff\u1000-\u109f\u1780-\u17ff\u3040-\u30ff\u31f0-\u31ff\u3400-\u4dbf\u4e00-\u9fff"
    "\uac00-\ud7af\uf900-\ufaff\U00020000-\U0003fffd]"
)


def words(text: str) -> tuple[str, ...]:
    """Return the words of a text in order, in the form in which words are compared.

    Compatibility forms are made one (NFKC), case folded, accents of Latin, Greek and
    Cyrillic letters left out; everything that is neither letter, mark nor digit parts
    words, hyphens too. Chinese, Japanese, Korean, Thai, Lao, Burmese and Khmer give a word
    per character, so that a phrase of them is found inside a run of them. Empty for none.
    """
    if text.isascii():  # nothing to fold but the case
        return tuple(_ASCII_WORD.findall(text.lower()))
    found: list[str] = []
    for at, stretch in enumerate(_NOT_ASCII.split(text)):
        found += _folded_words(stretch) if at % 2 else _ASCII_WORD.findall(stretch.lower())
    return tuple(found)


def _folded_words(text: str) -> list[str]:
    folded = unicodedata.normalize("NFKC", _INVISIBLE.sub("", text)).casefold()
    bare = _ACCENT.sub("", unicodedata.normalize("NFKD", folded))
    plain = unicodedata.normalize("NFKC", bare).translate(_FOLDED)
    found: list[str] = []
    for run in plain.split():
        found += _ASCII_WORD.findall(run) if run.isascii() else _words_of_run(run)
    return found


def _words_of_run(run: str) -> list[str]:
    """Return the words of a run without blanks, by the Unicode kind of each character."""
    found: list[str] = []
    word = ""
    for character in run:
        kind = unicodedata.category(character)[0]
        if kind == "M":
            word += character if word else ""
            continue
        if word and (kind not in "LN" or _UNSPACED.match(character) or _UNSPACED.match(word)):
            found.append(word)
            word = ""
        if kind in "LN":
            word += character
    return [*found, word] if word else found
