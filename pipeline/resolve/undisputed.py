"""Sets of linked records in which nothing speaks against anything: they are joined all at once.

Most sets are such. The rest is joined link by link (grouping.py), which costs far more and gives
the same sets here, since no join in them can be refused.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.resolve import alike
from pipeline.resolve.columns import Flags, Ints, different
from pipeline.resolve.evidence import LONGEST_GAP
from pipeline.resolve.likeness import classes_meet, labels_meet
from pipeline.resolve.profile import Shelf

# Records of a set that are compared each with each.
_MOST = 12
# Likeness 0..1 of the ordered words from which on two titles are surely of one set.
_NEAR = 0.7


def undisputed(
    shelf: Shelf, a: Ints, b: Ints, document: Flags, ruled: Iterable[int]
) -> tuple[Ints, Ints, Ints]:
    """Return the places of the records in undisputed sets, and the first place of each one's set
    and of its version.

    a, b, document: links between places. ruled: places that a ruling keeps from others.
    """
    places = different(np.r_[a, b])
    x, y = np.searchsorted(places, a), np.searchsorted(places, b)
    of, version = _components(x, y, len(places)), _components(x[document], y[document], len(places))
    disputed = np.bincount(of, minlength=1) > _MOST
    known = np.isin(places, np.fromiter(ruled, np.int64))
    disputed[of[known]] = True
    i, j = _each_with_each(of, ~disputed[of])
    against = _against(shelf, places[i], places[j], version[i] == version[j])
    disputed[of[i[against]]] = True
    clear = np.flatnonzero(~disputed[of])
    return places[clear], places[_first(of)[clear]], places[_first(version)[clear]]


def _components(x: Ints, y: Ints, count: int) -> Ints:
    links = coo_array((np.ones(len(x), np.int8), (x, y)), (count, count))
    return np.asarray(connected_components(links, directed=False)[1], np.int64)


def _first(of: Ints) -> Ints:
    """Return for each row the first row of its set."""
    first = np.full(int(of.max(initial=-1)) + 1, len(of), np.int64)
    np.minimum.at(first, of, np.arange(len(of)))
    return first[of]


def _each_with_each(of: Ints, kept: Flags) -> tuple[Ints, Ints]:
    """Return all pairs of kept rows of one set; sets have _MOST rows at most."""
    rows = np.flatnonzero(kept)
    rows = rows[np.argsort(of[rows], kind="stable")]
    left, right = [np.empty(0, np.int64)], [np.empty(0, np.int64)]
    for step in range(1, _MOST):
        one = np.flatnonzero(of[rows[step:]] == of[rows[:-step]]) if step < len(rows) else left[0]
        left.append(rows[one])
        right.append(rows[one + step])
    return np.concatenate(left), np.concatenate(right)


def _against(shelf: Shelf, a: Ints, b: Ints, one_version: Flags) -> Flags:
    """Flag the pairs of which anything speaks against one reference, or one version where they share it.

    Wider than what refuses a join in grouping.py: what is flagged needlessly is joined there.
    """
    gap = alike.year_gap(shelf, a, b)
    patent, shown = shelf.patent, shelf.kind.where(lambda kind: kind == "picture")
    found = patent[a] | patent[b] | (shown[a] & shown[b]) | (gap > LONGEST_GAP) | ~classes_meet(shelf, a, b)
    for column in (shelf.notice, shelf.numbers):
        found |= column.codes[a] != column.codes[b]
    found |= ~labels_meet(shelf, a, b)
    for scheme in ("arxiv", "pmid", "pmcid"):
        found |= _differ(shelf.number(scheme), a, b)
    registrant, doi = shelf.number("registrant"), _differ(shelf.number("doi"), a, b)
    found |= doi & ((registrant[a] == registrant[b]) | (registrant[a] < 0) | (registrant[b] < 0))
    source, version = shelf.source.codes, shelf.version.codes
    apart = (source[a] == source[b]) | (gap > 0) | doi | _known_apart(shelf.stage, a, b)
    found |= one_version & (apart | _known_apart(version, a, b))
    rows = np.flatnonzero(~found)
    found[rows] = alike.titles(shelf, a[rows], b[rows], _NEAR) < _NEAR
    return np.asarray(found, bool)


def _known_apart(codes: Ints, a: Ints, b: Ints) -> Flags:
    return np.asarray((codes[a] > 0) & (codes[b] > 0) & (codes[a] != codes[b]), bool)


def _differ(numbers: Ints, a: Ints, b: Ints) -> Flags:
    x, y = numbers[a], numbers[b]
    return np.asarray((x != 0) & (y != 0) & ((x != y) | (x < 0)), bool)
