"""Whether the people and firms a document names are ours, as far as names can tell."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

# Words that say what kind of firm it is; written, shortened or left out as it pleases the source.
_LEGAL_FORMS = frozenset((
    "ab", "ag", "as", "bv", "co", "company", "corp", "corporation", "gmbh", "inc", "incorporated", "kg", "kk",
    "limited", "llc", "llp", "ltd", "nv", "oy", "plc", "sa", "sarl", "se", "spa", "srl", "the",
))  # fmt: skip


def compare_people(named: Iterable[str], inventors: Iterable[str]) -> str:
    """Return who disclosed, as far as names tell: inventor, third_party or unknown.

    inventor: everyone named is one of ours, written in full. third_party: no one named shares
    a name with one of ours, with names known on both sides. Anything between needs to be told
    who contributed what (In re Katz; MPEP 2155.01): an initial, or a family name, is no proof.
    """
    ours = [_words(name) for name in inventors]
    theirs = _written_out(map(_words, named)) if any(ours) else []
    if not any(theirs):
        return "unknown"
    if all(any(_same(one, other) for other in ours) for one in theirs):
        return "inventor"
    return "unknown" if any(_full(one) & _full(other) for one in theirs for other in ours) else "third_party"


def compare_applicants(named: Iterable[str], ours: Iterable[str]) -> str:
    """Return whose application it is, as far as names tell: same, other or unknown.

    Legal forms and case are left out. One owner behind two names is not seen.
    """
    theirs, known = {_firm(name) for name in named} - {""}, {_firm(name) for name in ours} - {""}
    if not theirs or not known:
        return "unknown"
    if theirs == known:
        return "same"
    return "unknown" if theirs & known else "other"


def _firm(name: str) -> str:
    return " ".join(sorted(word for word in _words(name) if word not in _LEGAL_FORMS))


@lru_cache(maxsize=65536)
def _words(name: str) -> tuple[str, ...]:
    """Return the words of a name in lower case, without accents, points, or a country in brackets."""
    plain = unicodedata.normalize("NFKD", re.sub(r"\s*\[[A-Z]{2}\]$", "", name)).casefold()
    bare = "".join(char for char in plain if not unicodedata.combining(char))
    return tuple(re.findall(r"\w+", re.sub(r"['’]", "", bare)))


def _full(name: tuple[str, ...]) -> set[str]:
    """Return the words written out, in no order: sources put family names first or last."""
    return {word for word in name if len(word) > 1 or not word.isascii()}


def _same(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """Return whether both are the same full name; a middle initial on one side is let pass."""
    if _full(one) != _full(other) or not _full(one):
        return False
    letters, others = set(one) - _full(one), set(other) - _full(other)
    whole = len(_full(one)) > 1 or any(not word.isascii() for word in one)
    return whole and (not letters or not others or letters == others)


def _written_out(names: Iterable[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Return the names without those that only shorten another of them: sources of one document differ."""
    each = list(dict.fromkeys(names))
    return [one for one in each if not any(one != other and _shortens(one, other) for other in each)]


def _shortens(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """Return whether the first is the second with given names cut to initials."""
    initials, full = [word for word in one if word not in _full(one)], _full(one)
    left = [word[0] for word in other if word not in full]
    return bool(full) and full < _full(other) and bool(initials) and set(initials) <= set(left)
