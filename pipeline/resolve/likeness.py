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

from pipeline.resolve import alike, titles
from pipeline.resolve.columns import Flags, Floats, Ints, different
from pipeline.resolve.evidence import LONGEST_GAP, STAGES
from pipeline.resolve.profile import Shelf

# At and above this likeness two records are joined; of such pairs more than nine in ten are one
# work each, nearly all together. A wrong merge hides a reference and costs more than a missed one.
THRESHOLD = 0.925
# Scores of what rules join: one place in print, or one occasion signed by the same people.
SAME_PLACE, SAME_OCCASION = 0.99, 0.95
BY_LIKENESS, BY_PLACE, BY_OCCASION = 0, 1, 2

# Likeness 0..1 of the ordered words below which a pair is not looked at.
_WORTH_A_LOOK = 0.6
_SAME_VENUE = 0.6
_ENOUGH_WORDS = 5
_OTHER_SORT = 0.03
# Family names that namesakes may have in common.
_CHANCE = 2
_EDITIONS = ("book", "standard", "dataset", "report", "software", "web page")

FEATURES = (
    "title", "title_letters", "title_and_people", "words_agree", "many_words_agree", "word_strange",
    "words_inserted", "words_replaced", "words_added", "title_head", "title_length", "people_shared",
    "people_many", "first_person", "people_known", "year_same", "year_near", "year_far", "venue", "all_else",
    "pages_same", "pages_differ", "closeness",
)  # fmt: skip
_CLOSENESS, _STRANGE = FEATURES.index("closeness"), FEATURES.index("word_strange")
_FARTHEST, _CLOSEST = -0.4, 0.2


@dataclass(frozen=True)
class Compared:
    """Pairs that likeness may join, with what was compared; one row a pair.

    score: 0..1. rule: what joins them, BY_LIKENESS, BY_PLACE or BY_OCCASION. gap: years, NaN where unknown.
    """

    a: Ints
    b: Ints
    score: Floats
    rule: Ints
    title: Floats
    shared: Ints
    most: Ints
    gap: Floats

    def where(self, kept: Flags) -> Compared:
        """Return the rows kept."""
        return Compared(*(getattr(self, name)[kept] for name in self.__dataclass_fields__))


def compare(shelf: Shelf, a: Ints, b: Ints, cosines: Callable[[Ints, Ints], Floats]) -> Compared:
    """Return the pairs whose likeness reaches THRESHOLD; numbers that conflict are not looked at here.

    cosines: of the texts' vectors of pairs of places, NaN where one has none. Asked only for the
        pairs that closeness can decide: to read vectors costs more than all else.
    """
    found = comparable(shelf, a, b)
    left = found.rule == BY_LIKENESS
    values = features(shelf, found.where(left), np.full(int(left.sum()), np.nan))
    rows = np.flatnonzero(_hangs_on_closeness(values))
    at = np.flatnonzero(left)[rows]
    values[rows, _CLOSENESS] = closeness(cosines(found.a[at], found.b[at]))
    found.score[left] = np.minimum(np.round(probability(values), 4), 0.9999)
    strange = np.zeros(len(left), bool)
    strange[left] = values[:, _STRANGE] > 0
    kept = found.score >= THRESHOLD
    found, strange = found.where(kept), strange[kept]
    found = found.where(~(_sisters(shelf, found, strange) | _namesakes(shelf, found)))
    # Where one title is of a paper and of its demonstration, like finds like first.
    sort = shelf.sort.codes
    other = sort[found.a] != sort[found.b]
    found.score[other] = np.maximum(found.score[other] - _OTHER_SORT, THRESHOLD)
    return found


def _hangs_on_closeness(values: Floats) -> Flags:
    """Flag the rows, without closeness, that reach THRESHOLD with some closeness and not with another."""
    reaches = []
    for extreme in (_FARTHEST, _CLOSEST):
        values[:, _CLOSENESS] = extreme
        reaches.append(np.round(probability(values), 4) >= THRESHOLD)
    values[:, _CLOSENESS] = 0.0
    return np.asarray(reaches[0] != reaches[1], bool)


def closeness(cosine: Floats) -> Floats:
    """Return what a cosine adds to the features: 0 where it is NaN."""
    return np.where(np.isnan(cosine), 0.0, np.clip(cosine - 0.8, _FARTHEST, _CLOSEST))


def comparable(shelf: Shelf, a: Ints, b: Ints) -> Compared:
    """Return the pairs that a rule joins (scored so), and those that no rule keeps apart and the
    scorer must judge (scored 0).
    """
    gap = alike.year_gap(shelf, a, b)
    kept = _may_meet(shelf, a, b, gap)
    a, b, gap = a[kept], b[kept], gap[kept]
    title, kept = _worth_a_look(shelf, a, b, gap)
    a, b, gap, title = a[kept], b[kept], gap[kept], title[kept]
    weak = shelf.weak[a] | shelf.weak[b]
    shared, most = alike.people(shelf, a, b)
    found = Compared(a, b, np.zeros(len(a)), np.zeros(len(a), np.int64), title, shared, most, gap)
    occasion, place = _same_occasion(shelf, found), _same_place(shelf, found)
    for holds, rule, score in ((occasion, BY_OCCASION, SAME_OCCASION), (place, BY_PLACE, SAME_PLACE)):
        found.rule[holds], found.score[holds] = rule, score
    apart = weak | ((shared == 0) & (most > 0)) | _notices_apart(shelf, a, b, gap)
    return found.where((found.rule > 0) | ~(apart | _nameless(shelf, found) | _on_ones_own(shelf, found)))


def worth_a_look(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    """Flag the pairs that titles and years do not tell apart at once: a quick look, before more is read."""
    return _worth_a_look(shelf, a, b, alike.year_gap(shelf, a, b))[1]


def _worth_a_look(shelf: Shelf, a: Ints, b: Ints, gap: Floats) -> tuple[Floats, Flags]:
    """Return the likeness of the titles, and which pairs are looked at further: of titles alike,
    one cut from the other in one year, or too short to tell and on one page.
    """
    title = alike.titles(shelf, a, b, _WORTH_A_LOOK)
    cut = np.flatnonzero((title == 0) & (gap == 0))
    cut = cut[alike.heads(shelf, a[cut], b[cut])]
    title[cut] = alike.titles(shelf, a[cut], b[cut], 0.0)
    weak = shelf.weak[a] | shelf.weak[b]
    return title, np.asarray((title > 0) | (weak & _one_page(shelf, a, b)), bool)


def _may_meet(shelf: Shelf, a: Ints, b: Ints, gap: Floats) -> Flags:
    """Flag the pairs that no rule keeps apart by kind, years or numbers in the titles.

    Patents are joined by numbers only: one inventor's families bear one title. Pages and
    pictures are joined by their address or content only: titles and captions repeat.
    """
    apart = shelf.patent[a] | shelf.patent[b] | (gap > LONGEST_GAP) | ~classes_meet(shelf, a, b)
    editions = shelf.kind.where(lambda kind: kind in _EDITIONS)
    apart |= (gap > 0) & editions[a] & editions[b]
    shown = shelf.kind.where(lambda kind: kind in ("web page", "picture"))
    apart |= shown[a] | shown[b]
    return np.asarray(~apart & labels_meet(shelf, a, b) & _numbers_meet(shelf, a, b, gap), bool)


def classes_meet(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    """Flag the pairs whose kinds of document may be one work's."""
    codes, stage = shelf.kind.codes, shelf.kind.where(lambda kind: kind in STAGES)
    unknown = (codes[a] == 0) | (codes[b] == 0)
    return np.asarray((codes[a] == codes[b]) | unknown | (stage[a] & stage[b]), bool)


def _numbers_meet(shelf: Shelf, a: Ints, b: Ints, gap: Floats) -> Flags:
    """Flag equal numbers, but for the records' own year or a name that one title has in it."""
    codes, texts, title = shelf.numbers.codes, shelf.numbers.texts, shelf.titles
    meet = codes[a] == codes[b]
    first = shelf.years[0]
    for row in np.flatnonzero(~meet & ~(gap > 0)).tolist():
        odd = set(texts[codes[a[row]]].split()) ^ set(texts[codes[b[row]]].split())
        years = {str(int(year)) for year in (first[a[row]], first[b[row]]) if not np.isnan(year)}
        both = (title.texts[title.codes[side[row]]] for side in (a, b))
        meet[row] = len(odd) == 1 and (odd <= years or titles.name_left_out(*both))
    return np.asarray(meet, bool)


def labels_meet(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    """Flag the pairs that no label tells apart (titles.py)."""
    codes, texts = shelf.labels.codes, [frozenset(text.split()) for text in shelf.labels.texts]
    meet = codes[a] == codes[b]
    rows = np.flatnonzero(~meet)
    both = codes[a[rows]] * len(texts) + codes[b[rows]]
    pairs = different(both)
    sides = (side.tolist() for side in np.divmod(pairs, len(texts)))
    apart = np.array([titles.labels_differ(texts[x], texts[y]) for x, y in zip(*sides, strict=True)], bool)
    meet[rows] = ~apart[np.searchsorted(pairs, both)]
    return np.asarray(meet, bool)


def _nameless(shelf: Shelf, pairs: Compared) -> Flags:
    """Flag the pairs of short titles with neither people nor venue in common: many works bear those."""
    short = (pairs.most == 0) & (alike.shorter(shelf, pairs.a, pairs.b) < _ENOUGH_WORDS)
    return np.asarray(short & ~_venues_agree(shelf, pairs.a, pairs.b, short), bool)


def _namesakes(shelf: Shelf, pairs: Compared) -> Flags:
    """Flag the pairs by namesakes, of whom a short title or a thesis of another is easily found.

    Three family names in common are no chance; in one year and venue a given name is written otherwise.
    """
    rows = np.flatnonzero((pairs.shared > 0) & (pairs.shared <= _CHANCE) & (pairs.rule == BY_LIKENESS))
    found = np.zeros(len(pairs.a), bool)
    found[rows] = alike.namesakes(shelf, pairs.a[rows], pairs.b[rows])
    return found & ~_venues_agree(shelf, pairs.a, pairs.b, found & (pairs.gap == 0))


def _on_ones_own(shelf: Shelf, pairs: Compared) -> Flags:
    """Flag the pairs of a work by three or more and one of them, not the first, alone under its
    title in another year: a talk on it. A list cut short names the first.
    """
    a, b = pairs.a, pairs.b
    people, _ = shelf.people
    one, many = (of(people.lengths(a), people.lengths(b)) for of in (np.minimum, np.maximum))
    return np.asarray((pairs.gap > 0) & (one == 1) & (many > 2) & ~alike.first_people(shelf, a, b), bool)


def _notices_apart(shelf: Shelf, a: Ints, b: Ints, gap: Floats) -> Flags:
    """Flag the pairs with a notice about another work (a correction, a review …).

    Notices meet only their like, and only where people and year show that it is one notice; a
    study's protocol is a work in its own right.
    """
    notice = shelf.notice.codes
    people, _ = shelf.people
    known = (people.lengths(a) > 0) & (people.lengths(b) > 0)
    own = shelf.notice.where(lambda notice: notice == "protocol")
    one = (notice[a] == notice[b]) & ((known & (gap == 0)) | own[a])
    return np.asarray(((notice[a] > 0) | (notice[b] > 0)) & ~one, bool)


def _one_page(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    volume, page = shelf.volume.codes, shelf.first_page.codes
    return np.asarray((volume[a] > 0) & (volume[a] == volume[b]) & (page[a] > 0) & (page[a] == page[b]), bool)


def _same_place(shelf: Shelf, pairs: Compared) -> Flags:
    """Flag the pairs that stand at one place in print, whatever their titles say: one venue,
    volume, first page and year, a person in common, titles not unlike and no conflict.

    A page can hold two short pieces, or four abstracts of one group, so that people and titles
    must not speak against it.
    """
    a, b = pairs.a, pairs.b
    notice, numbers = shelf.notice.codes, shelf.numbers.codes
    found = _one_page(shelf, a, b) & (pairs.gap == 0) & (pairs.shared > 0)
    found &= (notice[a] == notice[b]) & (numbers[a] == numbers[b])
    found = _venues_agree(shelf, a, b, found)
    rows = np.flatnonzero(found)
    found[rows] = _words_of_ones_own(shelf, a[rows], b[rows]) == 0
    return found


def _sisters(shelf: Shelf, pairs: Compared, strange: Flags) -> Flags:
    """Flag the pairs of titles each of which has a word like none of the other's, but in one year and
    venue: a group's papers on rats and on mice, on copper and on zinc. On one page it takes two words.

    strange: whether each has such a word. A paper named anew between two catalogues of one venue's
    papers is found; a preprint is not.
    """
    a, b = pairs.a, pairs.b
    page, rows = shelf.first_page.codes, np.flatnonzero(strange)
    paged = (page[a] > 0) & (page[a] == page[b])
    own = np.zeros(len(a), np.int64)
    own[rows] = _words_of_ones_own(shelf, a[rows], b[rows])
    off_page = (own > 0) & ~paged
    off_page &= ~_venues_agree(shelf, a, b, off_page & (pairs.gap == 0))
    return np.asarray(off_page | ((own > 1) & paged), bool)


def _words_of_ones_own(shelf: Shelf, a: Ints, b: Ints) -> Ints:
    """Return how many words, like none of the other's, each of two titles has at least."""
    return np.asarray(alike.word_changes(shelf, a, b)[2], np.int64)


def _same_occasion(shelf: Shelf, pairs: Compared) -> Flags:
    """Flag the pairs of one title that says too little, where all else says that it is one thing:
    the same people, as many on both sides, one year and one venue.

    Of columns that return (an editor's, a reviewer's) that does not hold: only of titles of
    what happens once (a guest editorial, a keynote) in one venue, or of one word signed by three
    or more, wherever.
    """
    a, b, most = pairs.a, pairs.b, pairs.most
    people, _ = shelf.people
    found = (shelf.weak[a] & shelf.weak[b]) & (pairs.title == 1) & (pairs.gap == 0)
    found &= (most > 0) & (pairs.shared == most) & (people.lengths(a) == people.lengths(b))
    many = found & (most > 2) & ~shelf.column[a]
    return np.asarray(many | _venues_agree(shelf, a, b, found & shelf.once[a]), bool)


def _venues_agree(shelf: Shelf, a: Ints, b: Ints, found: Flags) -> Flags:
    """Return the flags, lowered where the venues of the two are not alike."""
    found = found.copy()
    rows = np.flatnonzero(found)
    found[rows] = alike.venues(shelf, a[rows], b[rows]) >= _SAME_VENUE
    return np.asarray(found, bool)


def features(shelf: Shelf, pairs: Compared, cosine: Floats) -> Floats:
    """Return the values of FEATURES, each about -1..1; what a side does not state counts 0.

    cosine: of the two texts' vectors, NaN where one has none.
    """
    a, b, gap, shared, most = pairs.a, pairs.b, pairs.gap, pairs.shared, pairs.most
    replaced, added, strange, more = alike.word_changes(shelf, a, b)
    head = alike.heads(shelf, a, b)
    length = alike.shorter(shelf, a, b)
    letters = alike.letters(shelf, a, b)
    known = most > 0
    page = shelf.first_page.codes
    paged = (page[a] > 0) & (page[b] > 0)
    venue = alike.venues(shelf, a, b)
    return np.column_stack([
        pairs.title,
        letters,
        (letters == 1) & known & (shared == most),
        (replaced == 0) & (added == 0),
        np.where((replaced == 0) & (added == 0), np.minimum(length, 12) / 12, 0.0),
        strange > 0,
        np.where((strange == 0) & ~head, np.minimum(more, 3), 0),
        np.minimum(replaced, 4) / np.maximum(length, 1),
        np.minimum(added, 6) / np.maximum(length, 1),
        head,
        np.minimum(length, 12) / 12,
        np.where(known, 2 * shared / np.maximum(most, 1) - 1, 0.0),
        np.minimum(shared, 4) / 4,
        np.where(known, np.where(alike.first_people(shelf, a, b), 1.0, -1.0), 0.0),
        known,
        gap == 0,
        gap == 1,
        gap > 1,
        venue,
        (shared == most) & (most > 1) & (gap == 0) & (venue >= 0),
        paged & (page[a] == page[b]),
        paged & (page[a] != page[b]),
        closeness(cosine),
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
    kind, stage = shelf.kind.codes, shelf.stage
    apart = (source[a] == source[b]) | ((version[a] > 0) & (version[b] > 0) & (version[a] != version[b]))
    apart |= (kind[a] > 0) & (kind[b] > 0) & (stage[a] != stage[b])
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
               found.score.tolist(), found.rule.tolist(), found.a.tolist(), strict=True)  # fmt: skip
    return [
        _by_rule(shelf, place, rule, most) if rule else _words(title, equal, shared, most, gap, score)
        for title, equal, shared, most, gap, score, rule, place in rows
    ]


def _by_rule(shelf: Shelf, place: int, rule: int, most: int) -> str:
    if rule == BY_OCCASION:
        return (
            f"same title, year and venue, and all {most} people agree"
            if most > 1
            else "same title, person, year and venue"
        )
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
