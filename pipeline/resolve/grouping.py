"""Links become references and versions, strongest link first, and none chains into a conflict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from rapidfuzz import fuzz

from pipeline.resolve.columns import Flags, Floats, Ints, among
from pipeline.resolve.evidence import (
    DOCUMENT,
    LONGEST_GAP,
    NAMED,
    STAGES,
    conflict,
    document_conflict,
    given_twice,
    year_gap,
)
from pipeline.resolve.linking import ruled_places
from pipeline.resolve.profile import Profile, Shelf
from pipeline.resolve.titles import labels_differ, name_left_out
from pipeline.resolve.undisputed import undisputed

MEMBERSHIP_SCHEMA = pa.schema([
    ("record_id", pa.string()), ("reference_id", pa.string()), ("version_id", pa.string()),
    ("reason", pa.string()), ("score", pa.float64()),
])  # fmt: skip

_RULING, _EVIDENCE, _LIKENESS = 0, 1, 2
_FIRST = "first seen"
# Likeness 0..100 of the ordered words below which a title is not its set's first record's any more.
_DRIFT = 70.0
# Comparisons that joining two sets may cost; in a crowd of more numbers nothing is told by looking.
MOST_FACES = 200


@dataclass(frozen=True)
class Edges:
    """Links and same-rulings between places, most trusted first; one row each.

    trust: ruling 0, evidence 1, likeness 2. reason: in words, without the other's name.
    """

    a: Ints
    b: Ints
    trust: Ints
    document: Flags
    score: Floats
    reason: pa.Array


def group(links: pa.Table, shelf: Shelf, rulings: pa.Table) -> pa.Table:
    """Return each record's reference and version, in the order of records' seq; n rows in, n out.

    links: as `links` returns them, all of them between the shelf's records.
    rulings: record_a, record_b, same; "different" outranks "same", and both outrank all
        else. Of contradictory rulings (A is B, B is C, A is not C) those joined first in
        order of arrival stand.
    Returns record_id, reference_id and version_id (the least seq among the members), reason
        (why this record is here, naming another member) and score (1 for what came first).

    Rulings join first, then evidence, then likeness by falling score. No link but a ruling
    brings two records together that bear one number and contradict each other. A likeness link is
    left out where it would bring any two records with conflicting identifiers, kinds or labels in
    their titles into one reference, or where it leads away from a set's first record with a title
    (in title, years, numbers, kind); any link but a ruling is, as far as versions go, where two
    records of different documents would share one. Input order changes nothing, and records that no
    chain of links and same-rulings connects have nothing to do with one another: any part of the records
    that holds whole chains gives that part of the result. Cost grows with the links.
    """
    edges, apart = _edges(links, rulings, shelf), _apart(rulings, shelf)
    reference, version = np.arange(len(shelf)), np.arange(len(shelf))
    alone = _alone(edges, apart, len(shelf))
    _join_alone(edges, alone, reference, version)
    clear, first, first_version = undisputed(
        shelf, edges.a[~alone], edges.b[~alone], edges.document[~alone], apart
    )
    reference[clear], version[clear] = first, first_version
    _join_chained(edges, ~alone & ~among(edges.a, clear), shelf, apart, reference, version)
    reason, score = _reasons(edges, reference, version, shelf)
    ids = shelf.id_column
    columns = [ids, ids.take(pa.array(reference)), ids.take(pa.array(version)), reason, score]
    return pa.table(columns, MEMBERSHIP_SCHEMA)


def _edges(links: pa.Table, rulings: pa.Table, shelf: Shelf) -> Edges:
    """Return all edges in the order of trust; at equal trust by falling score, one document
    before one work, so that versions form round documents, then by order of arrival.
    """
    one, other = (shelf.places_of(links[name]) for name in ("record_a", "record_b"))
    known = (one >= 0) & (other >= 0)
    links, one, other = links.filter(pa.array(known)), one[known], other[known]
    x, y = ruled_places(shelf, rulings.filter(rulings["same"]))
    a, b = np.r_[np.minimum(one, other), x], np.r_[np.maximum(one, other), y]
    score = np.r_[links["score"].to_numpy(), np.ones(len(x))]
    document = np.r_[pc.equal(links["same"], DOCUMENT).to_numpy(), np.zeros(len(x), bool)].astype(bool)
    trust = np.where(score >= 1, _EVIDENCE, _LIKENESS)
    trust[len(one) :] = _RULING
    order = np.lexsort((b, a, ~document, -score, trust))
    reasons = pa.concat_arrays([links["reason"].combine_chunks(), pa.array([""] * len(x), pa.string())])
    reasons = reasons.take(pa.array(order))
    return Edges(a[order], b[order], trust[order], document[order], score[order], reasons)


def _apart(rulings: pa.Table, shelf: Shelf) -> dict[int, set[int]]:
    apart: dict[int, set[int]] = {}
    x, y = ruled_places(shelf, rulings.filter(pc.invert(rulings["same"])))
    for a, b in zip(x.tolist(), y.tolist(), strict=True):
        apart.setdefault(a, set()).add(b)
        apart.setdefault(b, set()).add(a)
    return apart


def _alone(edges: Edges, apart: dict[int, set[int]], records: int) -> Flags:
    """Flag the links whose two records have no other link and no ruling: nothing can speak
    against those, since `links` makes none between two that conflict.
    """
    degree = np.bincount(np.r_[edges.a, edges.b], minlength=records)
    degree[list(apart)] += 2
    return np.asarray((degree[edges.a] == 1) & (degree[edges.b] == 1), bool)


def _join_alone(edges: Edges, alone: Flags, reference: Ints, version: Ints) -> None:
    reference[edges.b[alone]] = edges.a[alone]
    documents = alone & edges.document
    version[edges.b[documents]] = edges.a[documents]


def _join_chained(
    edges: Edges, rows: Flags, shelf: Shelf, apart: dict[int, set[int]], reference: Ints, version: Ints
) -> None:
    references, versions = Clusters(shelf, apart, _work_face), Clusters(shelf, apart, _document_face)
    columns = (column[rows].tolist() for column in (edges.a, edges.b, edges.trust, edges.document))
    for a, b, trust, document in zip(*columns, strict=True):
        if trust == _LIKENESS and _drifts(shelf, references, a, b):
            continue
        joined = references.join(a, b, {_EVIDENCE: given_twice, _LIKENESS: _unlike}.get(trust))
        if joined and document:
            versions.join(a, b, _likeness_apart if trust == _LIKENESS else document_conflict)
    for place in np.unique(np.r_[edges.a[rows], edges.b[rows]]).tolist():
        reference[place], version[place] = references.first(place), versions.first(place)


Face = tuple[object, ...]


class Clusters:
    """Disjoint sets of records, by place, that know what may not meet in one of them."""

    def __init__(self, shelf: Shelf, apart: dict[int, set[int]], face: Callable[[Profile], Face]) -> None:
        """Start with every record by itself.

        apart: record -> records ruled different from it. face: what conflicts look at.
        """
        self._shelf = shelf
        self._apart = apart
        self._face_of = face
        self._parent: dict[int, int] = {}
        self._members: dict[int, list[int]] = {}
        # One profile stands for all that would conflict with the same others: a thousand
        # copies cost one comparison.
        self._faces: dict[int, dict[Face, Profile]] = {}
        self._titled: dict[int, int] = {}

    def first(self, place: int) -> int:
        """Return the first-seen member of the record's set."""
        root = place
        while (parent := self._parent.get(root, root)) != root:
            root = parent
        while (parent := self._parent.get(place, root)) != root:
            self._parent[place], place = root, parent
        return root

    def first_titled(self, place: int) -> int:
        """Return the first-seen member of the record's set that has a title, or the first-seen."""
        root = self.first(place)
        return self._titled.get(root, root)

    def join(self, a: int, b: int, forbids: Callable[[Profile, Profile], object] | None) -> bool:
        """Make one set of a's and b's, unless a ruling or `forbids` of any two members says no.

        Sets too large to look through are joined by evidence only.
        """
        first, second = sorted((self.first(a), self.first(b)))
        if first == second:
            return True
        if self._apart and self._ruled_apart(first, second):
            return False
        ours, theirs = self._faces_of(first), self._faces_of(second)
        if forbids and len(ours) * len(theirs) > MOST_FACES:
            if forbids is not given_twice:
                return False
        elif forbids and any(forbids(x, y) for x in ours.values() for y in theirs.values()):
            return False
        titled = [place for place in map(self.first_titled, (first, second)) if self._shelf[place].title]
        self._titled[first] = min(titled, default=first)
        self._parent[second] = first
        few, many = sorted((self._members.pop(first, [first]), self._members.pop(second, [second])), key=len)
        many.extend(few)
        self._members[first] = many
        self._faces[first] = ours | theirs
        self._faces.pop(second, None)
        return True

    def _ruled_apart(self, first: int, second: int) -> bool:
        ours, theirs = self._members.get(first, [first]), self._members.get(second, [second])
        few, other = (ours, second) if len(ours) <= len(theirs) else (theirs, first)
        return any(self.first(enemy) == other for member in few for enemy in self._apart.get(member, ()))

    def _faces_of(self, root: int) -> dict[Face, Profile]:
        if root not in self._faces:
            profile = self._shelf[root]
            self._faces[root] = {self._face_of(profile): profile}
        return self._faces[root]


def _drifts(shelf: Shelf, references: Clusters, a: int, b: int) -> bool:
    """Tell whether a link leads away from the first record with a title of either side's set.

    So a title that changes word by word, or a year that moves by some, from link to link stops
    where it is another's, and a record without title ties no two pieces on its page.
    """
    ours, theirs = references.first_titled(a), references.first_titled(b)
    return (theirs != b and _away(shelf, a, b, theirs)) or (ours != a and _away(shelf, b, a, ours))


def _away(shelf: Shelf, new: int, member: int, first: int) -> bool:
    """Tell whether likeness may not bridge the first and the new, or only the member is like the first."""
    if _unbridged(shelf[new], shelf[first]):
        return not _unbridged(shelf[member], shelf[first])
    return _alike(shelf, member, first) and not _alike(shelf, new, first)


def _alike(shelf: Shelf, a: int, b: int) -> bool:
    """Tell whether the titles are alike, or one is missing and says nothing."""
    one, other = shelf[a].title, shelf[b].title
    return not (one and other) or fuzz.token_sort_ratio(one, other) >= _DRIFT


def _unbridged(a: Profile, b: Profile) -> bool:
    """Tell whether years, notices, numbers in the titles or kinds keep likeness from joining the two."""
    if (year_gap(a, b) or 0) > LONGEST_GAP or a.notice != b.notice:
        return True
    odd = a.numbers ^ b.numbers
    years = {str(year) for year in (a.year_from, b.year_from)}
    return not _one_class(a, b) or not (odd <= years or name_left_out(a.title, b.title))


def _unlike(a: Profile, b: Profile) -> bool:
    return (
        not _one_class(a, b) or labels_differ(a.labels, b.labels) or bool(conflict(a, b)) or given_twice(a, b)
    )


def _one_class(a: Profile, b: Profile) -> bool:
    kinds = {a.kind_class, b.kind_class}
    return len(kinds) == 1 or "" in kinds or kinds <= STAGES


def _work_face(p: Profile) -> Face:
    # What tells that a number was given twice is looked at only where there is a number.
    numbered = any(scheme in p.ids for scheme in NAMED)
    story = (p.title, p.language, p.people, p.year_from, p.year_to) if numbered else ()
    return *_numbers_face(p), p.ids.get("openalex"), p.labels, story


def _document_face(p: Profile) -> Face:
    return p.source, p.version, p.year_from, p.year_to, *_numbers_face(p)


def _numbers_face(p: Profile) -> Face:
    ids = tuple(p.ids.get(scheme) for scheme in ("doi", "arxiv", "pmid", "pmcid"))
    return p.kind_class, ids, frozenset(p.publications.items())


def _likeness_apart(a: Profile, b: Profile) -> object:
    return a.source == b.source or bool(year_gap(a, b)) or document_conflict(a, b)


def _reasons(edges: Edges, reference: Ints, version: Ints, shelf: Shelf) -> tuple[pa.Array, pa.Array]:
    """Return, for each record, why it is in its reference: its most trusted link there, and its score.

    A link within its own version says more than one between versions; then the trusted, then
    the one to the record seen earlier.
    """
    inside = np.flatnonzero(reference[edges.a] == reference[edges.b])
    mine = np.r_[edges.a[inside], edges.b[inside]]
    other, row = np.r_[edges.b[inside], edges.a[inside]], np.r_[inside, inside]
    across = version[mine] != version[other]
    order = np.lexsort((other, -edges.score[row], across, edges.trust[row], mine))
    _, first = np.unique(mine[order], return_index=True)
    best = order[first]
    best = best[reference[mine[best]] != mine[best]]
    row, ids = row[best], shelf.id_column.take(pa.array(other[best]))
    texts = pc.if_else(
        pa.array(edges.trust[row] == _RULING),
        pc.binary_join_element_wise("you ruled it the same as", ids, " "),
        pc.binary_join_element_wise(edges.reason.take(pa.array(row)), ids, "; with "),
    )
    place = np.full(len(reference), -1, np.int64)
    place[mine[best]] = np.arange(len(best))
    given = pa.array(place, mask=place < 0)
    score = np.ones(len(reference))
    score[mine[best]] = edges.score[row]
    return pc.fill_null(texts.take(given), _FIRST), pa.array(score)
