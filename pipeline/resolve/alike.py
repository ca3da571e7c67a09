"""What pairs of records have in common, measured for all pairs at once.

a and b are places on the shelf, row by row; every result has one value a row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from rapidfuzz import fuzz, process
from rapidfuzz.distance import Indel

from pipeline.resolve.columns import Flags, Floats, Ints, Ragged, among, different
from pipeline.resolve.profile import Shelf, given_letters

# Comparisons of words or names held at once.
_AT_ONCE = 2_000_000
_ROWS = 200_000
# Pairs of words that a name has at most (profile.py): a bound on what a batch holds.
_PAIRS_OF_WORDS = 15
# Likeness 0..1 from which on a word may be the other one misspelt badly or in another form.
_LIKE = 0.6


def year_gap(shelf: Shelf, a: Ints, b: Ints) -> Floats:
    """Return the years between the two intervals, 0 where they meet, NaN where one is unknown."""
    first, last = shelf.years
    return np.maximum(np.maximum(first[a] - last[b], first[b] - last[a]), 0.0)


def equal_titles(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    """Flag the pairs of one title."""
    return np.asarray(shelf.titles.codes[a] == shelf.titles.codes[b], bool)


def titles(shelf: Shelf, a: Ints, b: Ints, least: float) -> Floats:
    """Return the likeness 0..1 of the titles, words in order of the alphabet; 0 where below least."""
    return _pairwise(shelf, shelf.sorted_titles, a, b, lambda x, y: _ratios(x, y, least))


def letters(shelf: Shelf, a: Ints, b: Ints) -> Floats:
    """Return the likeness 0..1 of the titles' letters, blanks left out."""
    return _pairwise(shelf, shelf.titles.texts, a, b, lambda x, y: _ratios(_close_up(x), _close_up(y), 0.0))


def heads(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    """Flag the pairs one of whose titles, of three words or more, begins the other."""
    words, _ = shelf.words
    swap = words.lengths(a) > words.lengths(b)
    short, long = np.where(swap, b, a), np.where(swap, a, b)
    head, owner = words.expand(short)
    place = np.arange(len(head)) - (np.cumsum(words.lengths(short)) - words.lengths(short))[owner]
    other = words.flat[words.starts[long][owner] + place]
    equal = np.bincount(owner[head == other], minlength=len(a))
    return np.asarray((equal == words.lengths(short)) & (equal > 2), bool)


def shorter(shelf: Shelf, a: Ints, b: Ints) -> Ints:
    """Return the words of the shorter title."""
    words, _ = shelf.words
    return np.minimum(words.lengths(a), words.lengths(b))


def people(shelf: Shelf, a: Ints, b: Ints) -> tuple[Ints, Ints]:
    """Return how many of the fewer people are found on the other side, slips of spelling
    allowed, and how many the fewer are. Where no family name is found, whole names are looked
    at, since sources differ in which of the names is the family's.

    Both are 0 where none is found and one side names an organisation: one catalogue names it
    where another names its people.
    """
    listed, names = shelf.people
    swap = listed.lengths(a) > listed.lengths(b)
    few, many = np.where(swap, b, a), np.where(swap, a, b)
    most = listed.lengths(few)
    shared = np.zeros(len(a), np.int64)
    for rows in _batches(most * listed.lengths(many)):
        shared[rows] = _shared(listed, names, few[rows], many[rows])
    none = np.flatnonzero((shared == 0) & (most > 0))
    for rows in _batches(_PAIRS_OF_WORDS * (most[none] + listed.lengths(many[none]))):
        at = none[rows]
        shared[at] = np.minimum(_turned_round(*shelf.full_names, few[at], many[at]), most[at])
    unknown = (shared == 0) & (shelf.organised[a] | shelf.organised[b])
    return shared, np.where(unknown, 0, most)


def _shared(listed: Ragged, names: list[str], few: Ints, many: Ints) -> Ints:
    left, owner = listed.expand(few)
    right, of = listed.expand(many)
    # A name on both sides is itself and nobody else's slip.
    twin_left = among(owner * len(names) + left, of * len(names) + right)
    twin_right = among(of * len(names) + right, owner * len(names) + left)
    shared = np.bincount(owner[twin_left], minlength=len(few))
    x, y = np.flatnonzero(~twin_left), np.flatnonzero(~twin_right)
    i, j = _meet(owner[x], of[y], len(few))
    near = near_texts(names, left[x[i]], right[y[j]], shortest=3, least=0.79)
    slips = np.zeros(len(x), bool)
    slips[i[near]] = True
    return np.asarray(shared + np.bincount(owner[x[slips]], minlength=len(few)), np.int64)


def _turned_round(names: Ragged, pairs: Ragged, few: Ints, many: Ints) -> Ints:
    """Return how many of the few's people have two words of their name in one name of the other side.

    So "Chen Qun" is Qun Chen, and Rafael Camps Paré is Rafael Camps.
    """
    left, owner = names.expand(few)
    right, of = names.expand(many)
    mine, person = pairs.expand(left)
    theirs, other = pairs.expand(right)
    width = int(pairs.flat.max(initial=0)) + 1
    found = np.zeros(len(left), bool)
    found[person[among(owner[person] * width + mine, of[other] * width + theirs)]] = True
    return np.asarray(np.bincount(owner[found], minlength=len(few)), np.int64)


def namesakes(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    """Flag the pairs whose people of one family name all have other given names, as far as first
    letters tell: Wei Wang is not Jing Wang, and may be W. Wang or Wang.
    """
    families, name_of, names = shelf.signed
    _, texts = shelf.people
    letters = np.full(len(names), -1, np.int64)
    places = Ragged(families.starts, np.arange(len(families.flat)))
    found = np.zeros(len(a), bool)
    for rows in _batches(families.lengths(a) * families.lengths(b)):
        left, owner = places.expand(a[rows])
        right, of = places.expand(b[rows])
        i, j = _meet(owner, of, len(a[rows]))
        near = near_texts(texts, families.flat[left[i]], families.flat[right[j]], shortest=3, least=0.79)
        one, other, pair = name_of[left[i[near]]], name_of[right[j[near]]], owner[i[near]]
        unread = different(np.r_[one, other])
        unread = unread[letters[unread] < 0]
        letters[unread] = [given_letters(*names[name]) for name in unread.tolist()]
        one, other = letters[one], letters[other]
        met, agree = np.zeros(len(a[rows]), bool), np.zeros(len(a[rows]), bool)
        met[pair] = True
        agree[pair[((one & other) > 0) | (one == 0) | (other == 0)]] = True
        found[rows] = met & ~agree
    return found


def first_people(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    """Flag the pairs whose first persons bear one name; both sides must have one."""
    listed, names = shelf.people
    found = np.zeros(len(a), bool)
    known = np.flatnonzero((listed.lengths(a) > 0) & (listed.lengths(b) > 0))
    first, other = (listed.flat[listed.starts[rows[known]]] for rows in (a, b))
    found[known] = near_texts(names, first, other, shortest=3, least=0.79)
    return found


def word_changes(shelf: Shelf, a: Ints, b: Ints) -> Ints:
    """Return four rows: how many words are replaced and how many only one side has, slips of spelling
    aside; how many words with nothing like them on the other side the two have in common, and how
    many more of those one has.
    """
    found = np.zeros((4, len(a)), np.int64)
    words, vocabulary = shelf.words
    for rows in _batches(words.lengths(a) * words.lengths(b)):
        found[:, rows] = _changes(words, vocabulary, a[rows], b[rows])
    return found


def _changes(words: Ragged, vocabulary: list[str], a: Ints, b: Ints) -> tuple[Ints, ...]:
    left, owner = words.expand(a)
    right, of = words.expand(b)
    mine, theirs = owner * len(vocabulary) + left, of * len(vocabulary) + right
    x, y = np.flatnonzero(~among(mine, theirs)), np.flatnonzero(~among(theirs, mine))
    only_a, only_b = (np.bincount(side, minlength=len(a)) for side in (owner[x], of[y]))
    i, j = _meet(owner[x], of[y], len(a))
    near = near_texts(vocabulary, left[x[i]], right[y[j]], shortest=4, least=0.83)
    # A slip takes one letter: two put before a word make it another ("unsupervised").
    begun = _begun_alike(vocabulary, left[x[i]], right[y[j]])
    near &= begun
    slip_a, slip_b = np.zeros(len(x), bool), np.zeros(len(y), bool)
    slip_a[i[near]], slip_b[j[near]] = True, True
    slips = np.minimum(*(np.bincount(side, minlength=len(a)) for side in (owner[x[slip_a]], of[y[slip_b]])))
    # Words split or joined otherwise ("data base") are no change.
    both = np.flatnonzero((only_a > 0) & (only_b > 0) & (only_a != only_b))
    mine_only, theirs_only = (
        _run_together(vocabulary, left[x], owner[x]),
        _run_together(vocabulary, right[y], of[y]),
    )
    split = np.zeros(len(a), bool)
    split[both] = (
        _ratios([mine_only[i] for i in both.tolist()], [theirs_only[i] for i in both.tolist()], 0.9) > 0
    )
    replaced = np.minimum(only_a, only_b) - slips
    like = near_texts(vocabulary, left[x[i]], right[y[j]], shortest=3, least=_LIKE)
    like &= begun
    strange = [
        _strangers(words, vocabulary, own, owner_of, at[like], others)
        for own, owner_of, at, others in ((left[x], owner[x], i, b), (right[y], of[y], j, a))
    ]
    found = (replaced, np.abs(only_a - only_b), np.minimum(*strange), np.abs(strange[0] - strange[1]))
    return tuple(np.where(split, 0, count) for count in found)


def _begun_alike(vocabulary: list[str], x: Ints, y: Ints) -> Flags:
    """Flag the pairs of words, by number, that begin with one letter or differ in length by one at most."""
    first = np.array([ord(word[0]) for word in vocabulary], np.int64)
    size = np.fromiter(map(len, vocabulary), np.int64, len(vocabulary))
    return np.asarray((first[x] == first[y]) | (np.abs(size[x] - size[y]) < 2), bool)


def _strangers(
    words: Ragged, vocabulary: list[str], own: Ints, owner: Ints, liked: Ints, others: Ints
) -> Ints:
    """Return how many of each owner's own words, of more than three letters, are not among those
    liked, nor written in the other title as two ("data base"). others: places of the other titles.
    """
    strange = np.array([len(word) > 3 for word in vocabulary], bool)[own]
    strange[liked] = False
    at = np.flatnonzero(strange)
    written = {row: _written(words, vocabulary, others[row]) for row in different(owner[at]).tolist()}
    strange[at] = [not _as_two(vocabulary[own[row]], written[owner[row]]) for row in at.tolist()]
    return np.asarray(np.bincount(owner[strange], minlength=len(others)), np.int64)


def _written(words: Ragged, vocabulary: list[str], place: int) -> str:
    listed = words.flat[words.starts[place] : words.starts[place + 1]].tolist()
    return " ".join([vocabulary[word] for word in listed])


def _as_two(word: str, title: str) -> bool:
    return word not in title and word in title.replace(" ", "")


def venues(shelf: Shelf, a: Ints, b: Ints) -> Floats:
    """Return -1 (unlike) to 1 (alike); 0 where a venue is unknown."""
    codes, texts = shelf.venue.codes, shelf.venue.texts
    known = (codes[a] > 0) & (codes[b] > 0)
    pairs, which = np.unique(codes[a] * len(texts) + codes[b], return_inverse=True)
    x, y = ([texts[code] for code in side.tolist()] for side in np.divmod(pairs, len(texts)))
    same = process.cpdist(x, y, scorer=fuzz.token_set_ratio, dtype=np.float64)
    short = np.array([_initials(*both) for both in zip(x, y, strict=True)], np.float64)
    return np.asarray(np.where(known, 2 * np.maximum(same, short)[which] / 100 - 1, 0.0))


def _initials(x: str, y: str) -> float:
    short, long = (x, y) if len(x) < len(y) else (y, x)
    if len(short) < 3 or " " in short:
        return 0.0
    return 80.0 if short[:8] in "".join(word[0] for word in long.split()) else 0.0


def near_texts(texts: list[str], x: Ints, y: Ints, shortest: int, least: float) -> Flags:
    """Flag the pairs of texts, by number, that are one but for a slip of spelling.

    Texts shorter than `shortest` must be equal; others have a likeness of at least `least`.
    """
    codes = x * len(texts) + y
    pairs = different(codes)
    left, right = np.divmod(pairs, max(len(texts), 1))
    sizes = np.fromiter(map(len, texts), np.int64, len(texts))
    short, long = np.minimum(sizes[left], sizes[right]), np.maximum(sizes[left], sizes[right])
    near = left == right
    # Letters in common are at most the shorter text's: most pairs need no comparison.
    asked = np.flatnonzero(~near & (short >= shortest) & (2 * short >= least * (short + long)))
    near[asked] = (
        _ratios([texts[i] for i in left[asked].tolist()], [texts[i] for i in right[asked].tolist()], least)
        > 0
    )
    return np.asarray(near[np.searchsorted(pairs, codes)])


def _meet(owners: Ints, others: Ints, count: int) -> tuple[Ints, Ints]:
    """Return all pairs of rows of the two (both in order of owner) that have one owner."""
    first = np.searchsorted(others, np.arange(count + 1))
    sizes = np.diff(first)[owners]
    i = np.repeat(np.arange(len(owners)), sizes)
    return i, np.arange(len(i)) - np.repeat(np.cumsum(sizes) - sizes, sizes) + first[owners[i]]


def _run_together(vocabulary: list[str], words: Ints, owner: Ints) -> dict[int, str]:
    found: dict[int, list[str]] = {}
    for row, word in zip(owner.tolist(), words.tolist(), strict=True):
        found.setdefault(row, []).append(vocabulary[word])
    return {row: "".join(parts) for row, parts in found.items()}


def _batches(sizes: Ints) -> Iterator[slice]:
    """Yield runs of rows whose sizes add up to _AT_ONCE at most, or one row each."""
    total = np.cumsum(sizes)
    start = 0
    while start < len(sizes):
        before = int(total[start - 1]) if start else 0
        end = int(np.searchsorted(total, before + _AT_ONCE, side="right"))
        yield slice(start, end := min(max(end, start + 1), start + _ROWS))
        start = end


def _pairwise(
    shelf: Shelf, texts: list[str], a: Ints, b: Ints, measure: Callable[[list[str], list[str]], Floats]
) -> Floats:
    """Return what is measured of the pairs' titles; 1 where they are one. texts: by the titles' numbers."""
    x, y = shelf.titles.codes[a], shelf.titles.codes[b]
    found = np.ones(len(a))
    rows = np.flatnonzero(x != y)
    for start in range(0, len(rows), _ROWS):
        at = rows[start : start + _ROWS]
        found[at] = measure(*([texts[i] for i in side[at].tolist()] for side in (x, y)))
    return found


def _ratios(x: Sequence[str], y: Sequence[str], least: float) -> Floats:
    """Return the share 0..1 of letters that two texts have in common, in order; 0 where below least."""
    return np.asarray(
        process.cpdist(x, y, scorer=Indel.normalized_similarity, score_cutoff=least, dtype=np.float64)
    )


def _close_up(texts: list[str]) -> list[str]:
    return [text.replace(" ", "") for text in texts]
