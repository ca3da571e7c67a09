"""Links become references and versions, strongest link first, and none chains into a conflict."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import pyarrow as pa

from pipeline.resolve.evidence import DOCUMENT, conflict, document_conflict, year_gap
from pipeline.resolve.profile import Profile, Shelf

MEMBERSHIP_SCHEMA = pa.schema([
    ("record_id", pa.string()), ("reference_id", pa.string()), ("version_id", pa.string()),
    ("reason", pa.string()), ("score", pa.float64()),
])  # fmt: skip

_NO_RELATIONS = pa.table(
    {name: pa.array([], pa.string()) for name in ("record_id", "kind", "scheme", "match_key")}
)


@dataclass(frozen=True)
class Edge:
    """A link in the order of trust: ruling 0, evidence 1, likeness 2."""

    trust: int
    a: str
    b: str
    same: str
    reason: str
    score: float


def group(links: pa.Table, records: pa.Table, identifiers: pa.Table, rulings: pa.Table) -> pa.Table:
    """Return each record's reference and version, in the order of records' seq; n rows in, n out.

    links: as `links` returns them, all of them. records, identifiers: as there.
    rulings: record_a, record_b, same; "different" outranks "same", and both outrank all
        else. Of contradictory rulings (A is B, B is C, A is not C) those joined first in
        order of record_id stand.
    Returns record_id, reference_id and version_id (the least seq among the members), reason
        (why this record is here, naming another member) and score (1 for what came first).

    Rulings join first, then evidence, then likeness by falling score. A likeness link is
    left out where it would bring any two records with conflicting identifiers into one
    reference; any link but a ruling is, as far as versions go, where two records of different
    documents would share one. Input order changes nothing. Cost grows with the links.
    """
    shelf = Shelf(records, identifiers, _NO_RELATIONS)
    edges = _edges(links, rulings, shelf)
    apart = _apart(rulings, shelf)
    references = Clusters(shelf, apart, _work_face)
    versions = Clusters(shelf, apart, _document_face)
    for edge in edges:
        joined = references.join(edge.a, edge.b, _works_conflict if edge.trust == 2 else None)
        if joined and edge.same == DOCUMENT:
            versions.join(edge.a, edge.b, _likeness_apart if edge.trust == 2 else _documents_apart)
    reasons = _reasons(edges, references, versions, shelf)
    rows = []
    for record_id in shelf.ids:
        reference = references.first(record_id)
        reason, score = (
            reasons.get(record_id, ("first seen", 1.0)) if record_id != reference else ("first seen", 1.0)
        )
        rows.append((record_id, reference, versions.first(record_id), reason, score))
    columns = list(zip(*rows, strict=True)) or [()] * len(MEMBERSHIP_SCHEMA)
    arrays = [pa.array(c, f.type) for c, f in zip(columns, MEMBERSHIP_SCHEMA, strict=True)]
    return pa.table(arrays, MEMBERSHIP_SCHEMA)


class Clusters:
    """Disjoint sets of records that know what may not meet in one of them."""

    def __init__(
        self, shelf: Shelf, apart: dict[str, set[str]], face: Callable[[Profile], tuple[object, ...]]
    ) -> None:
        """Start with every record by itself.

        apart: record -> records ruled different from it. face: what conflicts look at.
        """
        self._shelf = shelf
        self._apart = apart
        self._face_of = face
        self._parent: dict[str, str] = {}
        self._members: dict[str, list[str]] = {}
        # One profile stands for all that would conflict with the same others: a thousand
        # copies cost one comparison.
        self._faces: dict[str, dict[tuple[object, ...], Profile]] = {}

    def first(self, record_id: str) -> str:
        """Return the first-seen member of the record's set."""
        root = record_id
        while (parent := self._parent.get(root, root)) != root:
            root = parent
        while (parent := self._parent.get(record_id, root)) != root:
            self._parent[record_id], record_id = root, parent
        return root

    def join(self, a: str, b: str, forbids: Callable[[Profile, Profile], object] | None) -> bool:
        """Make one set of a's and b's, unless a ruling or `forbids` of any two members says no."""
        first, second = sorted((self.first(a), self.first(b)), key=lambda i: self._shelf.place[i])
        if first == second:
            return True
        if self._ruled_apart(first, second):
            return False
        ours, theirs = self._faces_of(first), self._faces_of(second)
        if forbids and any(forbids(x, y) for x in ours.values() for y in theirs.values()):
            return False
        self._parent[second] = first
        self._members[first] = self._members.get(first, [first]) + self._members.pop(second, [second])
        self._faces[first] = ours | theirs
        self._faces.pop(second, None)
        return True

    def _ruled_apart(self, first: str, second: str) -> bool:
        ours, theirs = self._members.get(first, [first]), self._members.get(second, [second])
        few, other = (ours, second) if len(ours) <= len(theirs) else (theirs, first)
        return any(self.first(enemy) == other for member in few for enemy in self._apart.get(member, ()))

    def _faces_of(self, root: str) -> dict[tuple[object, ...], Profile]:
        if root not in self._faces:
            profile = self._shelf[root]
            self._faces[root] = {self._face_of(profile): profile}
        return self._faces[root]


def _work_face(p: Profile) -> tuple[object, ...]:
    ids = tuple(p.ids.get(scheme) for scheme in ("doi", "arxiv", "pmid", "pmcid"))
    return p.kind_class, ids, frozenset(p.publications.items())


def _document_face(p: Profile) -> tuple[object, ...]:
    return p.source, p.version, p.year_from, p.year_to, *_work_face(p)


def _works_conflict(a: Profile, b: Profile) -> object:
    return conflict(a, b)


def _documents_apart(a: Profile, b: Profile) -> object:
    return document_conflict(a, b)


def _likeness_apart(a: Profile, b: Profile) -> object:
    return a.source == b.source or bool(year_gap(a, b)) or document_conflict(a, b)


def _edges(links: pa.Table, rulings: pa.Table, shelf: Shelf) -> list[Edge]:
    """Return all edges, most trusted first; ties by the pair's places in order of arrival."""
    names = ("record_a", "record_b", "same", "reason", "score")
    rows = zip(*(links[name].to_pylist() for name in names), strict=True)
    found = [
        Edge(1 if score >= 1 else 2, a, b, same, reason, score)
        for a, b, same, reason, score in rows
        if a in shelf.place and b in shelf.place
    ]
    found += [Edge(0, a, b, "work", "you ruled them the same", 1.0) for a, b in _ruled(rulings, True, shelf)]

    def order(edge: Edge) -> tuple[object, ...]:
        places = sorted((shelf.place[edge.a], shelf.place[edge.b]))
        # At equal trust, one document before one work, so that versions form round documents.
        return edge.trust, -edge.score, edge.same != DOCUMENT, places

    return sorted(found, key=order)


def _apart(rulings: pa.Table, shelf: Shelf) -> dict[str, set[str]]:
    apart: dict[str, set[str]] = {}
    for a, b in _ruled(rulings, False, shelf):
        apart.setdefault(a, set()).add(b)
        apart.setdefault(b, set()).add(a)
    return apart


def _ruled(rulings: pa.Table, same: bool, shelf: Shelf) -> list[tuple[str, str]]:
    rows = zip(*(rulings[name].to_pylist() for name in ("record_a", "record_b", "same")), strict=True)
    return sorted(
        {(min(a, b), max(a, b)) for a, b, ruled in rows
         if ruled is same and a != b and a in shelf.place and b in shelf.place}
    )  # fmt: skip


def _reasons(
    edges: Iterable[Edge], references: Clusters, versions: Clusters, shelf: Shelf
) -> dict[str, tuple[str, float]]:
    """Return, for each record, why it is in its reference: its most trusted link there.

    A link within its own version says more than one between versions; then the trusted, then
    the one to the record seen earlier.
    """
    best: dict[str, tuple[tuple[object, ...], str, float]] = {}
    for edge in edges:
        if references.first(edge.a) != references.first(edge.b):
            continue
        across = versions.first(edge.a) != versions.first(edge.b)
        for mine, other in ((edge.a, edge.b), (edge.b, edge.a)):
            worth = (edge.trust, across, -edge.score, shelf.place[other])
            if mine not in best or worth < best[mine][0]:
                best[mine] = (worth, _named(edge, other), edge.score)
    return {record_id: (reason, score) for record_id, (_, reason, score) in best.items()}


def _named(edge: Edge, other: str) -> str:
    if edge.trust == 0:
        return f"you ruled it the same as {other}"
    return f"{edge.reason}; with {other}"
