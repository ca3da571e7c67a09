"""Columns of a table as numbers, so that millions of pairs are compared at once."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Ragged:
    """Lists of numbers, one a record: row i is flat[starts[i]:starts[i + 1]]."""

    starts: Ints
    flat: Ints

    def lengths(self, rows: Ints) -> Ints:
        """Return the lengths of the rows' lists."""
        return self.starts[rows + 1] - self.starts[rows]

    def expand(self, rows: Ints) -> tuple[Ints, Ints]:
        """Return the rows' lists one after another, and for each value the place in rows it is of."""
        lengths = self.lengths(rows)
        owner = np.repeat(np.arange(len(rows)), lengths)
        first = np.cumsum(lengths) - lengths
        return self.flat[np.repeat(self.starts[rows] - first, lengths) + np.arange(len(owner))], owner


@dataclass(frozen=True)
class Coded:
    """A column of text as numbers: texts[codes[i]] is row i's; equal texts have equal codes."""

    codes: Ints
    texts: list[str]

    @classmethod
    def of(cls, column: pa.ChunkedArray | pa.Array, read: Callable[[str], str] = str) -> Coded:
        """Code a column after reading each different text once; null is ""."""
        given = pc.fill_null(column, "").combine_chunks() if isinstance(column, pa.ChunkedArray) else column
        encoded = pc.dictionary_encode(given)
        place: dict[str, int] = {"": 0}
        meant = [place.setdefault(read(text), len(place)) for text in encoded.dictionary.to_pylist()]
        codes = np.array(meant, np.int64)[encoded.indices.to_numpy(zero_copy_only=False)]
        return cls(codes if len(meant) else np.zeros(len(given), np.int64), list(place))

    def only(self, rows: Ints) -> Coded:
        """Return the column of these rows alone, without the texts that none of them has."""
        used, codes = np.unique(np.r_[0, self.codes[rows]], return_inverse=True)
        return Coded(codes[1:], [self.texts[code] for code in used.tolist()])

    def where(self, holds: Callable[[str], bool]) -> Flags:
        """Return one flag a row: whether its text is such."""
        return np.array([holds(text) for text in self.texts], bool)[self.codes]


@dataclass(frozen=True)
class Facts:
    """Rows of a table in order of their records' places: place i's are rows[starts[i]:starts[i + 1]]."""

    places: Ints
    starts: Ints
    rows: list[tuple[str, str, str]]

    def of(self, place: int) -> list[tuple[str, str, str]]:
        """Return one record's rows."""
        return self.rows[self.starts[place] : self.starts[place + 1]]

    def __iter__(self) -> Iterator[tuple[int, tuple[str, str, str]]]:
        """Yield (place, row)."""
        return zip(self.places.tolist(), self.rows, strict=True)


def facts_of(table: pa.Table, ids: pa.Array, columns: tuple[str, str, str]) -> Facts:
    """Return the rows of the records of ids, in order of those records' places in ids."""
    places = pc.index_in(table["record_id"], value_set=ids)
    kept = table.filter(pc.is_valid(places))
    at = np.asarray(pc.drop_null(places).to_numpy(), np.int64)
    order = np.argsort(at, kind="stable")
    rows = list(zip(*(kept[name].take(pa.array(order)).to_pylist() for name in columns), strict=True))
    return Facts(at[order], np.searchsorted(at[order], np.arange(len(ids) + 1)), rows)


def numbered(lists: Iterable[list[str]]) -> tuple[Ragged, list[str]]:
    """Return the lists with each different text as a number, and the texts by number."""
    ends, flat = array("q", [0]), array("q")
    place: dict[str, int] = {}
    for texts in lists:
        flat.extend([place.setdefault(text, len(place)) for text in texts])
        ends.append(len(flat))
    return Ragged(np.array(ends, np.int64), np.array(flat, np.int64)), list(place)


def changes(values: Ints) -> Flags:
    """Flag the values that are not the one before."""
    return np.asarray(np.r_[True, values[1:] != values[:-1]][: len(values)], bool)


def different(values: Ints) -> Ints:
    """Return the different values in order: by sorting, which for millions beats np.unique's hashing."""
    values = np.sort(values)
    return values[changes(values)]


def among(values: Ints, known: Ints) -> Flags:
    """Flag the values that are among the known: by sorting, as above."""
    if not len(known):
        return np.zeros(len(values), bool)
    known = np.sort(known)
    return np.asarray(known[np.minimum(np.searchsorted(known, values), len(known) - 1)] == values)


def each_once(owner: Ints, codes: Ints, records: int) -> Ragged:
    """Return the codes of each owner in order, each once, without code 0 (no name)."""
    _, first = np.unique(owner * (int(codes.max(initial=0)) + 1) + codes, return_index=True)
    kept = np.sort(first[codes[first] > 0])
    starts = np.zeros(records + 1, np.int64)
    np.cumsum(np.bincount(owner[kept], minlength=records), out=starts[1:])
    return Ragged(starts, codes[kept])
