"""Pairs of records decided: one document, one work, or no link."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pipeline.resolve.candidates import Pairs, pairs
from pipeline.resolve.columns import Flags, Floats, Ints, among, different
from pipeline.resolve.evidence import APART, DOCUMENT, WORK, conflict, document_conflict, evidence
from pipeline.resolve.keys import Keys, block_keys
from pipeline.resolve.likeness import compare, in_words, one_document, worth_a_look
from pipeline.resolve.profile import Shelf

LINK_SCHEMA = pa.schema([
    ("record_a", pa.string()), ("record_b", pa.string()), ("same", pa.string()),
    ("reason", pa.string()), ("score", pa.float64()),
])  # fmt: skip

# Pairs compared at once: bounds the memory that a first run takes.
_CHUNK = 1_000_000
# Share of a shelf's records below which they get a shelf of their own.
_FEW = 0.3


def links(
    new_ids: Iterable[str],
    records: pa.Table,
    identifiers: pa.Table,
    relations: pa.Table,
    vectors: pa.Table,
    rulings: pa.Table,
) -> pa.Table:
    """Return the links of every pair that has a record of new_ids in it, sorted by pair.

    records: record_id, seq, source, kind, title, people, venue, volume, pages, version,
        language, year_from, year_to (years of the earliest event, both null where unknown).
    identifiers: record_id, scheme, value, match_key. relations: record_id, kind, scheme,
        match_key. vectors: record_id, vector (unit length; records may be missing).
    rulings: record_a, record_b, same. A ruled pair is compared like a found one, so that
        `group` knows whether it is one document; the ruling itself is applied there, and
        taking it back needs nothing done again here.
    Returns record_a < record_b, same (document, work), reason in words, score (1 for
        identifiers, relations and families, below 1 for likeness). A pair that is not
        linked has no row.

    A pair's row depends on its two records alone, and whether it is looked at on them and on
    what arrived before the later one: parts with ascending seq add up to the whole at once.
    """
    shelf = Shelf(records, identifiers, relations)
    new = np.zeros(len(shelf), bool)
    new[[shelf.place[key] for key in new_ids if key in shelf.place]] = True
    if not new.any():
        return LINK_SCHEMA.empty_table()
    found = pairs(block_keys(shelf, [place_vectors(shelf, vectors)]), new)
    return decide(shelf, _with_ruled(shelf, found, rulings, new), lambda _: vectors)


KEY_SCHEMA = pa.schema([("key", pa.int64()), ("seq", pa.int64()), ("says", pa.int8())])
PAIR_SCHEMA = pa.schema([("seq_a", pa.int64()), ("seq_b", pa.int64()), ("numbered", pa.bool_())])


def keys_of(shelf: Shelf, vectors: Iterable[pa.Table]) -> pa.Table:
    """Return the keys under which the records find one another: key, seq, says (see resolve/keys.py).

    vectors: record_id, vector, in as many parts as the caller likes. A record's keys depend on
    it alone.
    """
    found = block_keys(shelf, (place_vectors(shelf, part) for part in vectors))
    return pa.table([found.keys, shelf.seq[found.places], found.says], KEY_SCHEMA)


def candidates(keys: pa.Table, new: Ints) -> pa.Table:
    """Return the pairs worth comparing that touch a record of new (seq): seq_a < seq_b, and
    whether they share a number.

    keys: every row, of any record, of the keys of the new records; of a key that must be rare
        the least MOST_BEARERS will do.
    """
    ordered = keys.sort_by("seq")
    key, seq, says = (ordered[name].to_numpy() for name in KEY_SCHEMA.names)
    flags = np.zeros(int(max(seq.max(initial=0), new.max(initial=0))) + 1, bool)
    flags[new] = True
    return pa.table(list(pairs(Keys(key, seq, says), flags)), PAIR_SCHEMA)


def links_of(found: pa.Table, shelf: Shelf, vectors: Callable[[list[str]], pa.Table]) -> pa.Table:
    """Return the links, as `links` does, of the pairs found; the shelf must hold their records.

    vectors: returns those of the records of these ids, for as many pairs as are compared at once.
    """
    a, b = (found[name].combine_chunks().to_numpy() for name in ("seq_a", "seq_b"))
    pairs_found = Pairs(a, b, found["numbered"].to_numpy(zero_copy_only=False))
    return decide(shelf, pairs_found, vectors, lambda seqs: np.searchsorted(shelf.seq, seqs))


def cosines_of(shelf: Shelf, vectors: Callable[[list[str]], pa.Table]) -> Callable[[Ints, Ints], Floats]:
    """Return what gives the cosine of each pair of places, NaN where a record has no vector."""

    def cosines(a: Ints, b: Ints) -> Floats:
        if not len(a):
            return np.empty(0)
        wanted = shelf.id_column.take(pa.array(different(np.r_[a, b]))).to_pylist()
        matrix, having = place_vectors(shelf, vectors(wanted))
        row = np.full(len(shelf), -1, np.int64)
        row[having] = np.arange(len(having))
        found = np.full(len(a), np.nan)
        both = np.flatnonzero((row[a] >= 0) & (row[b] >= 0))
        for start in range(0, len(both), 16_384):
            at = both[start : start + 16_384]
            # Rounded: the same text embedded in another batch differs in the seventh digit.
            found[at] = np.round(np.einsum("ij,ij->i", matrix[row[a[at]]], matrix[row[b[at]]]), 4)
        return found

    return cosines


def decide(
    shelf: Shelf,
    found: Pairs,
    vectors: Callable[[list[str]], pa.Table],
    place: Callable[[Ints], Ints] = lambda places: places,
) -> pa.Table:
    """Return the links of the pairs, as `links` does: evidence first, then likeness.

    vectors: as `links_of` takes them. place: turns what the pairs name into places on the shelf.
    """
    parts = [LINK_SCHEMA.empty_table()]
    for start in range(0, len(found.a), _CHUNK):
        chunk = slice(start, start + _CHUNK)
        a, b = _by_id(shelf, place(found.a[chunk]), place(found.b[chunk]))
        numbered = found.numbered[chunk] | _may_be_forms(shelf, a, b)
        spoken, by_evidence = _spoken(shelf, a, b, numbered)
        left = shelf, a[~spoken], b[~spoken]
        parts += [by_evidence, _alike(*(left if len(found.a) > _CHUNK else _narrowed(*left)), vectors)]
    order = [("record_a", "ascending"), ("record_b", "ascending")]
    return pa.concat_tables(parts).sort_by(order).combine_chunks()


def _with_ruled(shelf: Shelf, found: Pairs, rulings: pa.Table, new: Flags) -> Pairs:
    """Return the pairs found and those ruled on, once each."""
    x, y = ruled_places(shelf, rulings)
    touched = new[x] | new[y]
    ruled = different(x[touched] * len(shelf) + y[touched])
    codes = found.a * len(shelf) + found.b
    every = different(np.r_[codes, ruled])
    speaks = among(every, codes[found.numbered]) | among(every, ruled)
    return Pairs(every // len(shelf), every % len(shelf), speaks)


def _may_be_forms(shelf: Shelf, a: Ints, b: Ints) -> Flags:
    """Flag the pairs whose DOIs may be forms of one, though no number of theirs is shared."""
    form, untold = shelf.doi_forms
    both = (form[a] > 0) & (form[b] > 0)
    return np.asarray(both & ((form[a] == form[b]) | untold[a] | untold[b]), bool)


def _spoken(shelf: Shelf, a: Ints, b: Ints, numbered: Flags) -> tuple[Flags, pa.Table]:
    """Return which pairs evidence decides, and the links it makes."""
    spoken = np.zeros(len(a), bool)
    rows, same, reasons = [], [], []
    for at in np.flatnonzero(numbered).tolist():
        verdict = evidence(shelf[a[at]], shelf[b[at]])
        spoken[at] = verdict is not None
        if verdict is not None and verdict.same != APART:
            rows.append(at)
            same.append(verdict.same)
            reasons.append(verdict.reason)
    said = np.array(rows, np.int64)
    return spoken, _table(shelf, a[said], b[said], same, reasons, np.ones(len(said)))


def _narrowed(shelf: Shelf, a: Ints, b: Ints) -> tuple[Shelf, Ints, Ints]:
    """Return the pairs that a quick look leaves, on a shelf of their records alone where those are few.

    A night meets many records that it has nothing to do with; a first run has to do with all.
    """
    kept = worth_a_look(shelf, a, b)
    a, b = a[kept], b[kept]
    places = different(np.r_[a, b])
    if len(places) > _FEW * len(shelf):
        return shelf, a, b
    return shelf.only(places), np.searchsorted(places, a), np.searchsorted(places, b)


def _alike(shelf: Shelf, a: Ints, b: Ints, vectors: Callable[[list[str]], pa.Table]) -> pa.Table:
    """Return the links by likeness, where no numbers conflict."""
    found = compare(shelf, a, b, cosines_of(shelf, vectors))
    document = one_document(shelf, found)
    clear = np.ones(len(document), bool)
    for at in np.flatnonzero(shelf.schemes[found.a] & shelf.schemes[found.b]).tolist():
        one, other = shelf[found.a[at]], shelf[found.b[at]]
        clear[at] = not conflict(one, other)
        document[at] &= not document_conflict(one, other)
    found, document = found.where(clear), document[clear]
    same = np.where(document, DOCUMENT, WORK).tolist()
    return _table(shelf, found.a, found.b, same, in_words(shelf, found), found.score)


def _table(shelf: Shelf, a: Ints, b: Ints, same: list[str], reasons: list[str], scores: Floats) -> pa.Table:
    ids = shelf.id_column
    columns = [ids.take(pa.array(a)), ids.take(pa.array(b)), pa.array(same, pa.string()),
               pa.array(reasons, pa.string()), pa.array(scores, pa.float64())]  # fmt: skip
    return pa.table(columns, LINK_SCHEMA)


def _by_id(shelf: Shelf, a: Ints, b: Ints) -> tuple[Ints, Ints]:
    """Return each pair with the lesser record_id first."""
    rank = shelf.id_rank
    swap = rank[a] > rank[b]
    return np.where(swap, b, a), np.where(swap, a, b)


def place_vectors(shelf: Shelf, table: pa.Table) -> tuple[npt.NDArray[np.float32], Ints]:
    """Return the vectors of the shelf's records, and their places, in the table's order."""
    places = shelf.places_of(table["record_id"])
    kept = np.flatnonzero(places >= 0)
    if not len(kept):
        return np.empty((0, 1), np.float32), np.empty(0, np.int64)
    matrix = table["vector"].combine_chunks().flatten().to_numpy(zero_copy_only=False)
    matrix = matrix.reshape(table.num_rows, -1).astype(np.float32, copy=False)
    return (matrix if len(kept) == len(matrix) else matrix[kept]), places[kept]


def ruled_places(shelf: Shelf, rulings: pa.Table) -> tuple[Ints, Ints]:
    """Return the places, earlier and later, of the ruled pairs that are on the shelf."""
    one, other = (shelf.places_of(rulings[name]) for name in ("record_a", "record_b"))
    known = (one >= 0) & (other >= 0) & (one != other)
    return np.minimum(one, other)[known], np.maximum(one, other)[known]
