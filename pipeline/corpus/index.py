"""Every document of a corpus in one order, and for an expression which ones it surely or possibly matches."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.corpus.build import code_word
from queries.expression import And, Code, Expression, Not, Or, Text, leaves, matches_runs
from queries.window import Window
from queries.words import words

Flags = npt.NDArray[np.bool_]
Places = npt.NDArray[np.int32]


@dataclass(frozen=True)
class Shelf:
    """The documents that count, by id, ascending: place is where one stands in that order.

    A document loaded twice stands as it was loaded last. segments: documents tables, in the
    order of loading. segment, row: where each document lies. places: for each segment, row ->
    place, -1 for what a later file replaced. items: records each gives. Days: as dates'
    ordinals; a document's day may be an interval.
    """

    segments: tuple[Path, ...]
    ids: pa.Array
    segment: Places
    row: Places
    items: Places
    day_from: Places
    day_to: Places
    places: tuple[Places, ...]

    def __len__(self) -> int:
        """Return how many documents count."""
        return len(self.segment)

    def within(self, window: Window) -> Flags:
        """Return which documents may have been published in the window."""
        kept = np.ones(len(self), dtype=bool)
        if window.public_from:
            kept &= self.day_to >= _days(window.public_from)
        if window.public_to:
            kept &= self.day_from < _days(window.public_to)
        return kept


def _days(day: date) -> int:
    return day.toordinal() - date(1970, 1, 1).toordinal()


def read_shelf(con: Any, segments: tuple[Path, ...]) -> Shelf:
    """Return the shelf of the documents tables. Cost grows with the documents, about 2 µs each.

    con: a DuckDB connection, whatever it holds.
    """
    stacks = [_stack(con, path, number) for number, path in enumerate(segments)]
    table = pa.concat_tables(stacks).sort_by(
        [("id", "ascending"), ("segment", "descending"), ("row", "descending")]
    )
    ids = table["id"].combine_chunks()
    first = np.ones(len(ids), dtype=bool)
    if len(ids) > 1:
        first[1:] = pc.not_equal(ids[1:], ids[:-1]).to_numpy(zero_copy_only=False)
    kept = table.filter(pa.array(first))
    column = {
        name: kept[name].to_numpy().astype(np.int32)
        for name in ("segment", "row", "items", "day_from", "day_to")
    }
    places = [np.full(stack.num_rows, -1, dtype=np.int32) for stack in stacks]
    for number, place in enumerate(places):
        mine = np.flatnonzero(column["segment"] == number)
        place[column["row"][mine]] = mine
    return Shelf(segments, kept["id"].combine_chunks(), **column, places=tuple(places))


def _stack(con: Any, path: Path, number: int) -> pa.Table:
    query = (
        f"SELECT {number}::INTEGER AS segment, row, id, items, "  # noqa: S608 (a number of ours)
        "coalesce(date_diff('day', DATE '1970-01-01', day_from), -2147483648)::INTEGER AS day_from, "
        "coalesce(date_diff('day', DATE '1970-01-01', day_to), 2147483647)::INTEGER AS day_to "
        "FROM read_parquet(?)"
    )
    return con.sql(query, params=[str(path)]).to_arrow_table()


@dataclass(frozen=True)
class Postings:
    """Where words stand: word (or code_word) -> places, for the words that were asked for."""

    shelf: Shelf
    found: Mapping[str, Places] = field(default_factory=dict)

    def flags(self, word: str) -> Flags:
        """Return which documents hold the word."""
        made = np.zeros(len(self.shelf), dtype=bool)
        if (places := self.found.get(word)) is not None:
            made[places] = True
        return made


def read_postings(con: Any, shelf: Shelf, kinds: Iterable[str], expression: Expression) -> Postings:
    """Return where the words and symbols of the expression stand, out of the index tables of those kinds.

    kinds: words, longwords. Cost grows with the segments and the documents that hold the words.
    """
    asked = sorted(
        {word for leaf in leaves(expression) if isinstance(leaf, Text) for word in words(leaf.text)}
    )
    codes = sorted({leaf.scheme.casefold() for leaf in leaves(expression) if isinstance(leaf, Code)})
    found: dict[str, list[Places]] = {}
    for kind in kinds:
        by_name = _tables(shelf, kind)
        if asked:
            _gather(con, by_name, "word IN (SELECT unnest($words))", {"words": asked}, found)
        for scheme in codes if kind == "words" else ():
            bounds = {"low": f"{scheme}:", "high": f"{scheme};"}  # ';' follows ':'
            _gather(con, by_name, "word >= $low AND word < $high", bounds, found)
    return Postings(shelf, {word: np.concatenate(lists) for word, lists in found.items()})


def read_holders(con: Any, shelf: Shelf, keys: Iterable[str]) -> Places:
    """Return the places of the documents that hold any of these index words, ascending."""
    found: dict[str, list[Places]] = {}
    by_name = _tables(shelf, "words")
    _gather(con, by_name, "word IN (SELECT unnest($words))", {"words": sorted(set(keys) - {""})}, found)
    flags = np.zeros(len(shelf), dtype=bool)
    for lists in found.values():
        for places in lists:
            flags[places] = True
    return np.flatnonzero(flags).astype(np.int32)


def _tables(shelf: Shelf, kind: str) -> dict[str, Places]:
    """Return the tables of that kind with their rows' places."""
    paths = [path.with_name(path.name.replace("documents", kind)) for path in shelf.segments]
    return {str(path): shelf.places[number] for number, path in enumerate(paths)}


def _gather(
    con: Any,
    by_name: Mapping[str, Places],
    where: str,
    values: dict[str, Any],
    found: dict[str, list[Places]],
) -> None:
    query = f"SELECT filename, word, rows FROM read_parquet($paths, filename = true) WHERE {where}"  # noqa: S608
    table = con.sql(query, params={"paths": list(by_name), **values}).to_arrow_table()
    for batch in table.to_batches():
        rows = batch.column("rows")
        offsets, values_of = rows.offsets.to_numpy(), rows.values.to_numpy()
        names, asked = batch.column("filename").to_pylist(), batch.column("word").to_pylist()
        for at, (name, word) in enumerate(zip(names, asked, strict=True)):
            places = by_name[name][values_of[offsets[at] : offsets[at + 1]]]
            found.setdefault(word, []).append(places[places >= 0])


def bounds(expression: Expression, postings: Postings) -> tuple[Flags, Flags]:
    """Return which documents surely match, and which may: the two differ where a phrase decides.

    The index knows which words a document holds, not in what order they stand.
    """
    match expression:
        case Text(text):
            return _text(words(text), postings)
        case Code():
            flags = _code(expression, postings)
            return flags, flags
        case Not(part):
            surely, possibly = bounds(part, postings)
            return ~possibly, ~surely
        case And(parts) | Or(parts):
            every = isinstance(expression, And)
            join = np.logical_and if every else np.logical_or
            surely = possibly = np.full(len(postings.shelf), every, dtype=bool)
            for part in parts:
                sure, possible = bounds(part, postings)
                surely, possibly = join(surely, sure), join(possibly, possible)
            return surely, possibly


def _text(asked: tuple[str, ...], postings: Postings) -> tuple[Flags, Flags]:
    possibly = np.full(len(postings.shelf), bool(asked), dtype=bool)
    for word in dict.fromkeys(asked):
        possibly &= postings.flags(word)
    return (possibly if len(asked) == 1 else np.zeros_like(possibly)), possibly


def _code(code: Code, postings: Postings) -> Flags:
    """Return which documents state the symbol or one below it: each stated symbol is judged once."""
    flags = np.zeros(len(postings.shelf), dtype=bool)
    start = code_word(code.scheme, "")
    for word, places in postings.found.items():
        if word.startswith(start) and matches_runs(code, "", ((code.scheme, word[len(start) :]),)):
            flags[places] = True
    return flags
