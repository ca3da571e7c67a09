"""How likely two records without a number in common are one work, by what they look like.

All pairs at once: a and b are places on the shelf, row by row.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from pipeline.resolve import alike
from pipeline.resolve.columns import Flags, Floats, Ints
from pipeline.resolve.evidence import STAGES
from pipeline.resolve.profile import Shelf

# At and above this likeness two records are joined: nine in ten are one work. A wrong merge
# hides a reference and costs more than a missed one.
THRESHOLD = 0.9
SAME_PLACE = 0.99

# Likeness 0..1 of the ordered words below which a pair is not looked at.
_WORTH_A_LOOK = 0.6
# A work's versions appear within these years (conference to journal: one to four).
_LONGEST_GAP = 5
_SAME_VENUE = 0.6
_EDITIONS = ("book", "standard", "dataset", "report", "software", "web page")

FEATURES = (
    "title", "title_letters", "title_and_people", "words_agree", "words_replaced", "words_added",
    "title_length", "people_shared", "first_person", "people_known", "year_same", "year_near", "year_far",
    "venue", "pages_same", "pages_differ", "closeness",
)  # fmt: skip


@dataclass(frozen=True)
class Compared:
    """Pairs that likeness may join, with what was compared; one row a pair.

    score: 0..1. same_place: joined by their place in print. gap: years, NaN where unknown.
    """

    a: Ints
    b: Ints
    score: Floats
    same_place: Flags
    title: Floats
    shared: Ints
    most: Ints
    gap: Floats

    def where(self, kept: Flags) -> Compared:
        """Return the rows kept."""
        return Compared(*(getattr(self, name)[kept] for name in self.__dataclass_fields__))


def compare(shelf: Shelf, a: Ints, b: Ints, cosines: Callable[[Ints, Ints], Floats]) -> Compared:
    """Return the pairs whose likeness reaches THRESHOLD; numbers that conflict are not looked at here.

    cosines: of the texts' vectors of pairs of places, NaN where one has none.
    """
    found = comparable(shelf, a, b)
    left = ~found.same_place
    values = features(shelf, found.where(left), cosines(found.a[left], found.b[left]))
    found.score[left] = np.minimum(np.round(probability(values), 4), 0.9999)
    return found.where(found.score >= THRESHOLD)


def comparable(shelf: Shelf, a: Ints, b: Ints) -> Compared:
    """Return the pairs that stand at one place in print (scored so), and those that no rule keeps
    apart and the scorer must judge (scored 0).
    """
    gap = alike.year_gap(shelf, a, b)
    kept = _may_meet(shelf, a, b, gap)
    a, b, gap = a[kept], b[kept], gap[kept]
    title = alike.titles(shelf, a, b, _WORTH_A_LOOK)
    weak = shelf.weak[a] | shelf.weak[b]
    kept = (title > 0) | (weak & _one_page(shelf, a, b))
    a, b, gap, title, weak = a[kept], b[kept], gap[kept], title[kept], weak[kept]
    shared, most = alike.people(shelf, a, b)
    place = _same_place(shelf, a, b, gap, shared)
    strangers = (shared == 0) & (most > 0)
    found = Compared(a, b, np.where(place, SAME_PLACE, 0.0), place, title, shared, most, gap)
    return found.where(place | ~(weak | strangers | _notices_apart(shelf, a, b, gap)))


def _may_meet(shelf: Shelf, a: Ints, b: Ints, gap: Floats) -> Flags:
    """Flag the pairs that no rule keeps apart by kind, years or numbers in the titles.

    Patents are joined by numbers only: one inventor's families bear one title. Pages and
    pictures are joined by their address or content only: titles and captions repeat.
    """
    apart = shelf.patent[a] | shelf.patent[b] | (gap > _LONGEST_GAP) | ~_classes_meet(shelf, a, b)
    editions = shelf.kind.where(lambda kind: kind in _EDITIONS)
    apart |= (gap > 0) & editions[a] & editions[b]
    shown = shelf.kind.where(lambda kind: kind in ("web page", "picture"))
    apart |= shown[a] | shown[b]
    return np.asarray(~apart & _numbers_meet(shelf, a, b, gap), bool)


def _classes_meet(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    codes, stage = shelf.kind.codes, shelf.kind.where(lambda kind: kind in STAGES)
    unknown = (codes[a] == 0) | (codes[b] == 0)
    return np.asarray((codes[a] == codes[b]) | unknown | (stage[a] & stage[b]), bool)


def _numbers_meet(shelf: Shelf, a: Ints, b: Ints, gap: Floats) -> Flags:
    """Flag equal numbers, but for the records' own year that one title has in it."""
    codes, texts = shelf.numbers.codes, shelf.numbers.texts
    meet = codes[a] == codes[b]
    years = shelf.years[0]
    for row in np.flatnonzero(~meet & (gap == 0)).tolist():
        odd = set(texts[codes[a[row]]].split()) ^ set(texts[codes[b[row]]].split())
        meet[row] = odd == {str(int(years[a[row]]))}
    return np.asarray(meet, bool)


def _notices_apart(shelf: Shelf, a: Ints, b: Ints, gap: Floats) -> Flags:
    """Flag the pairs with a notice about another work (a correction, a review …).

    Notices meet only their like, and only where people and year show that it is one notice.
    """
    notice = shelf.notice.codes
    people, _ = shelf.people
    known = (people.lengths(a) > 0) & (people.lengths(b) > 0)
    one = (notice[a] == notice[b]) & known & (gap == 0)
    return np.asarray(((notice[a] > 0) | (notice[b] > 0)) & ~one, bool)


def _one_page(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    volume, page = shelf.volume.codes, shelf.first_page.codes
    return np.asarray((volume[a] > 0) & (volume[a] == volume[b]) & (page[a] > 0) & (page[a] == page[b]), bool)


def _same_place(shelf: Shelf, a: Ints, b: Ints, gap: Floats, shared: Ints) -> Flags:
    """Flag the pairs that stand at one place in print, whatever their titles say: one venue,
    volume, first page and year, a person in common, titles not unlike and no conflict.

    A page can hold two short pieces, so that people and titles must not speak against it.
    """
    notice, numbers = shelf.notice.codes, shelf.numbers.codes
    found = _one_page(shelf, a, b) & (gap == 0) & (shared > 0)
    found &= (notice[a] == notice[b]) & (numbers[a] == numbers[b])
    rows = np.flatnonzero(found)
    found[rows] = alike.venues(shelf, a[rows], b[rows]) >= _SAME_VENUE
    return np.asarray(found, bool)


def features(shelf: Shelf, pairs: Compared, cosine: Floats) -> Floats:
    """Return the values of FEATURES, each about -1..1; what a side does not state counts 0.

    cosine: of the two texts' vectors, NaN where one has none.
    """
    a, b, gap, shared, most = pairs.a, pairs.b, pairs.gap, pairs.shared, pairs.most
    replaced, added = alike.word_changes(shelf, a, b)
    length = alike.shorter(shelf, a, b)
    letters = alike.letters(shelf, a, b)
    known = most > 0
    page = shelf.first_page.codes
    paged = (page[a] > 0) & (page[b] > 0)
    return np.column_stack([
        pairs.title,
        letters,
        (letters == 1) & known & (shared == most),
        (replaced == 0) & (added == 0),
        np.minimum(replaced, 4) / np.maximum(length, 1),
        np.minimum(added, 6) / np.maximum(length, 1),
        np.minimum(length, 12) / 12,
        np.where(known, 2 * shared / np.maximum(most, 1) - 1, 0.0),
        np.where(known, np.where(alike.first_people(shelf, a, b), 1.0, -1.0), 0.0),
        known,
        gap == 0,
        gap == 1,
        gap > 1,
        alike.venues(shelf, a, b),
        paged & (page[a] == page[b]),
        paged & (page[a] != page[b]),
        np.where(np.isnan(cosine), 0.0, np.maximum(cosine - 0.8, -0.4)),
    ]).astype(np.float64)  # fmt: skip


def probability(values: Floats) -> Floats:
    """Return the likeness 0..1 of each row of FEATURES under the shipped weights."""
    intercept, weights = _weights()
    return np.asarray(1 / (1 + np.exp(-np.clip(intercept + values @ np.array(weights), -40.0, 40.0))))


@cache
def _weights() -> tuple[float, tuple[float, ...]]:
    shipped = json.loads(files("pipeline.resolve").joinpath("weights.json").read_text("utf-8"))
    return shipped["intercept"], tuple(shipped["weights"][name] for name in FEATURES)


def one_document(shelf: Shelf, found: Compared) -> Flags:
    """Flag the pairs that are one document, as far as stage, version, source, year and page say.

    One document needs more than one work: the same stage and version, different sources (a
    source that lists two entries means two), and one year, or, where a year is unknown, one
    first page in one venue.
    """
    a, b = found.a, found.b
    source, version, page = shelf.source.codes, shelf.version.codes, shelf.first_page.codes
    kind = shelf.kind
    stage = kind.codes.copy()
    # Proceedings are registered as books by some agencies: their papers are then "chapters".
    stage[kind.where(lambda name: name == "chapter")] = (
        kind.texts.index("published") if "published" in kind.texts else -1
    )
    apart = (source[a] == source[b]) | ((version[a] > 0) & (version[b] > 0) & (version[a] != version[b]))
    apart |= (kind.codes[a] > 0) & (kind.codes[b] > 0) & (stage[a] != stage[b])
    paged = (page[a] > 0) & (page[b] > 0)
    apart |= paged & (page[a] != page[b])
    undated = np.flatnonzero(np.isnan(found.gap) & paged)
    placed = np.zeros(len(a), bool)
    placed[undated] = alike.venues(shelf, a[undated], b[undated]) > 0
    return np.asarray(~apart & ((found.gap == 0) | placed), bool)


def in_words(shelf: Shelf, found: Compared) -> list[str]:
    """Return each pair's reason as a reader understands it."""
    same = alike.equal_titles(shelf, found.a, found.b).tolist()
    rows = zip(found.title.tolist(), same, found.shared.tolist(), found.most.tolist(), found.gap.tolist(),
               found.score.tolist(), found.same_place.tolist(), found.a.tolist(), strict=True)  # fmt: skip
    return [
        _place(shelf, place) if printed else _words(title, equal, shared, most, gap, score)
        for title, equal, shared, most, gap, score, printed, place in rows
    ]


def _place(shelf: Shelf, place: int) -> str:
    venue, volume, page = (c.texts[c.codes[place]] for c in (shelf.venue, shelf.volume, shelf.first_page))
    return f"same place in print: {venue} {volume}, page {page}, with a person in common"


def _words(title: float, equal: bool, shared: int, most: int, gap: float, score: float) -> str:
    titles = "same title" if equal else f"titles agree {100 * title:.0f} %"
    people = f"{shared} of {most} people agree" if most else "people not known on both sides"
    year = (
        "year not known"
        if math.isnan(gap)
        else "same year"
        if gap == 0
        else f"{gap:.0f} year{'s' * (gap > 1)} apart"
    )
    return f"{titles}, {people}, {year} (likeness {min(score, 0.99):.2f})"
