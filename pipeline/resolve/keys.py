"""The keys a record can be found by: numbers it shares, its whole title, rare words, a close vector.

A record's keys depend on the record alone, so that they are made once, when it arrives, and
kept. A key is a number of 64 bits; two meanings under one number only add a comparison.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from hashlib import blake2b
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from pipeline.resolve import titles
from pipeline.resolve.columns import Flags, Ints, Ragged
from pipeline.resolve.profile import Shelf, doi_parts, long_number, named

Bits = npt.NDArray[np.uint64]
Vectors = npt.NDArray[np.float32]

# Letters of a word that it mostly keeps, and what slips of spelling mostly change.
_BEGINNING = 3
_VOWELS = str.maketrans("", "", "aeiouy ")
_DOUBLED = re.compile(r"(.)\1+")
# Words of a title that are looked at.
_MOST_WORDS = 40
# A vector is nearest to one of 2 x _AXES random directions in each of nine groups; a key is what
# three groups say. The threes are the lines of the plane of nine points: no two groups are in two
# of them. One of the keys holds both of two records in 82 of 100 cases at a cosine of .95, in 96 at .98.
_GROUPS, _AXES = 9, 64
_LINES = ((0, 1, 2), (3, 4, 5), (6, 7, 8), (0, 3, 6), (1, 4, 7), (2, 5, 8),
          (0, 4, 8), (1, 5, 6), (2, 3, 7), (0, 5, 7), (1, 3, 8), (2, 4, 6))  # fmt: skip
_CHUNK = 16_384


# What a key says: a number or a relation shared, a title or a place or a direction shared, or
# a word or two of a title, which say something while they are rare.
NUMBER, WHOLE, RARE = 0, 1, 2


class Keys(NamedTuple):
    """One row a key and record: key, the record's place, and what the key says (NUMBER, WHOLE, RARE).

    Rows of one key are in order of places, but for those of different parts of the vectors.
    """

    keys: Ints
    places: Ints
    says: npt.NDArray[np.int8]


def block_keys(shelf: Shelf, vectors: Iterable[tuple[Vectors, Ints]]) -> Keys:
    """Return the keys of every record on the shelf.

    vectors: parts of them, each with the places its rows are of; of unit length.
    """
    parts = [
        (NUMBER, _in_order(_evidence(shelf))),
        *((WHOLE, part) for part in (_place_in_print(shelf), _signed(shelf), *_whole_titles(shelf))),
        *((RARE, part) for part in _title_words(shelf)),
        *((WHOLE, key) for part in vectors for key in _directions(*part)),
    ]
    keys, places = (np.concatenate([part[i] for _, part in parts]) for i in (0, 1))
    says = np.repeat(np.array([says for says, _ in parts], np.int8), [len(part[0]) for _, part in parts])
    return Keys(keys.view(np.int64), places, says)


def _in_order(found: Iterable[tuple[int, str]]) -> tuple[Bits, Ints]:
    """Return hashes and places, in order of places."""
    rows = list(found)
    places = np.array([place for place, _ in rows], np.int64)
    order = np.argsort(places, kind="stable")
    return np.array([_hash(text) for _, text in rows], np.uint64)[order], places[order]


def _evidence(shelf: Shelf) -> Iterable[tuple[int, str]]:
    """Yield (place, text) of each number, relation's target and priority."""
    sources = shelf.source
    for place, (scheme, _, key) in shelf.stated:
        if not key:
            continue
        scheme, key = named(scheme, key, sources.texts[sources.codes[place]])
        yield place, f"{scheme} {key}"
        if scheme == "doi":
            base, _ = doi_parts(key)
            if base != key:
                yield place, f"doi {base}"
            if number := long_number(key):
                yield place, f"{key.partition('/')[0]} {number}"
    for place, (kind, scheme, key) in shelf.relations:
        if key and kind == "priority":
            yield place, f"application {key}"
        elif key and kind not in ("cites", "cited by"):
            yield place, " ".join(named(scheme, key, sources.texts[sources.codes[place]]))


def _place_in_print(shelf: Shelf) -> tuple[Bits, Ints]:
    """Return keys of volume, first page and year."""
    years = shelf.years[0]
    volume, page = shelf.volume, shelf.first_page
    known = np.flatnonzero((volume.codes > 0) & (page.codes > 0) & ~np.isnan(years))
    parts = (
        _hashes(volume.texts)[volume.codes[known]],
        _hashes(page.texts)[page.codes[known]],
        years[known].astype(np.int64).view(np.uint64),
    )
    return _joined(1, *parts), known


def _whole_titles(shelf: Shelf) -> list[tuple[Bits, Ints]]:
    """Return keys of titles: whatever the order of words, by the beginnings of the words, and by
    the consonants, so that a slip of spelling or a word split hides one title from no more than two.
    """
    telling = np.flatnonzero(~shelf.weak)
    words, vocabulary = shelf.words
    counted = np.array([word not in titles.ARTICLES for word in vocabulary], bool)
    begun = [word[:_BEGINNING] for word in vocabulary]
    consonants = _hashes([_DOUBLED.sub(r"\1", text.translate(_VOWELS)) for text in shelf.titles.texts])
    return [
        (_joined(2, _sums(words, vocabulary, telling, counted)), telling),
        (_joined(20, _sums(words, begun, telling, counted)), telling),
        (_joined(21, consonants[shelf.titles.codes[telling]]), telling),
    ]


def _signed(shelf: Shelf) -> tuple[Bits, Ints]:
    """Return keys of titles that say too little together with all the people and the year."""
    years, (people, names) = shelf.years[0], shelf.people
    known = np.flatnonzero(
        shelf.weak & ~np.isnan(years) & (np.diff(people.starts) > 0) & (np.diff(shelf.words[0].starts) > 0)
    )
    title = _sums(*shelf.words, known, np.ones(len(shelf.words[1]), bool))
    signed = _sums(people, names, known, np.ones(len(names), bool))
    return _joined(3, title, signed, years[known].astype(np.int64).view(np.uint64)), known


def _sums(lists: Ragged, texts: list[str], rows: Ints, counted: Flags) -> Bits:
    """Return for each row one number of its texts that count, whatever their order."""
    flat, owner = lists.expand(rows)
    kept = counted[flat]
    sums = np.zeros(len(rows), np.uint64)
    np.add.at(sums, owner[kept], _mixed(_hashes(texts))[flat[kept]])
    return sums


def _title_words(shelf: Shelf) -> list[tuple[Bits, Ints]]:
    """Return keys of long words, and of two words in a row."""
    words, vocabulary = shelf.words
    telling = np.flatnonzero(~shelf.weak)
    flat, owner = words.expand(telling)
    hashes = _hashes(vocabulary)
    starts = np.cumsum(words.lengths(telling)) - words.lengths(telling)
    rank = np.arange(len(flat)) - starts[owner]
    long = np.array([len(word) > 3 for word in vocabulary], bool)[flat] & (rank < _MOST_WORDS)
    pair = np.flatnonzero((rank > 0) & (rank < _MOST_WORDS))
    return [
        (_joined(4, hashes[flat[long]]), telling[owner[long]]),
        (_joined(5, hashes[flat[pair - 1]], hashes[flat[pair]]), telling[owner[pair]]),
    ]


def _directions(vectors: Vectors, having: Ints) -> list[tuple[Bits, Ints]]:
    """Return keys under which close vectors meet: the nearest of random directions.

    All sums are of whole numbers below 2**24, so that no batch or thread changes a key.
    """
    if not len(having):
        return []
    rng = np.random.default_rng(384)
    signs = rng.choice(np.array([-1, 1], np.float32), (vectors.shape[1], _GROUPS * _AXES))
    nearest = np.empty((_GROUPS, len(having)), np.uint64)
    for start in range(0, len(having), _CHUNK):
        whole = np.rint(vectors[start : start + _CHUNK] * 127)
        sums = (whole @ signs).reshape(-1, _GROUPS, _AXES)
        best = np.abs(sums).argmax(axis=2)
        side = np.take_along_axis(sums, best[..., None], axis=2)[..., 0] > 0
        nearest[:, start : start + _CHUNK] = (best * 2 + side).T
    order = np.argsort(having, kind="stable")
    places, nearest = having[order], nearest[:, order]
    return [(_joined(6 + at, *nearest[list(line)]), places) for at, line in enumerate(_LINES)]


def _hash(text: str) -> int:
    # hash() changes from run to run.
    digest = blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest()
    return int.from_bytes(digest, "little")


def _hashes(texts: list[str]) -> Bits:
    return np.fromiter(map(_hash, texts), np.uint64, len(texts))


def _joined(salt: int, *parts: Bits) -> Bits:
    """Return one key for the parts in this order."""
    key = np.full(len(parts[0]), salt, np.uint64)
    for part in parts:
        key = _mixed(key * np.uint64(0x9E3779B97F4A7C15) + part)
    return key


def _mixed(x: Bits) -> Bits:
    """Return the numbers with every bit depending on every bit (the finisher of splitmix64)."""
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return x ^ (x >> np.uint64(31))
