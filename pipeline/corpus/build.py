"""Documents → the tables of a corpus: what each states, its words, and an index of them.

A file's documents are cut into segments, so that what is held at a time does not grow with
the file. Rows of a segment count from 0 in every table of it.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from connectors.days import Days, parse_days
from connectors.uspto_facts import UsDocument, facts_json
from connectors.uspto_links import cites
from connectors.uspto_numbers import publication_text
from connectors.uspto_record import earlier_publications, native_id
from pipeline.corpus.texts import searched_runs
from pipeline.identifiers import normalise
from queries.words import words

# Documents a segment: its index is held in memory, about 40 kB a document of ordinary length.
SEGMENT = 4_000
# Rows read together when a page of an answer is made.
ROW_GROUP = 100
_WORDS_A_GROUP = 2_048

_DOCUMENT = pa.schema(
    [
        ("row", pa.int32()),
        ("id", pa.string()),
        ("day_from", pa.date32()),
        ("day_to", pa.date32()),
        ("items", pa.int32()),  # records it gives
        ("runs", pa.large_string()),  # words of title, abstract and claims, see searched_runs
        ("facts", pa.large_string()),
    ]
)
_PARAGRAPHS = pa.schema(
    [
        ("row", pa.int32()),
        ("id", pa.string()),
        ("numbers", pa.list_(pa.string())),
        ("texts", pa.list_(pa.large_string())),
    ]
)
_INDEX = pa.schema([("word", pa.string()), ("rows", pa.list_(pa.int32()))])


class Tables:
    """The tables of one file, written segment by segment below folder; close ends them."""

    def __init__(self, folder: Path, segment: int = SEGMENT) -> None:
        """Make the folder; nothing is written yet."""
        folder.mkdir(parents=True)
        self.folder = folder
        self.segment = segment
        self.segments = 0
        self.documents = 0
        self._open: _Segment | None = None

    def add(self, document: UsDocument, paragraphs: Sequence[tuple[str, str]]) -> None:
        """Add a readable document with the paragraphs of its description."""
        if self._open is None:
            self.segments += 1
            self._open = _Segment(self.folder, self.segments)
        self._open.add(document, paragraphs)
        self.documents += 1
        if self._open.rows == self.segment:
            self._end()

    def __enter__(self) -> Tables:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Write what is left; after an error, let go of the files only."""
        if self._open is not None and kind is not None:
            self._open.let_go()
        elif self._open is not None:
            self._end()

    def _end(self) -> None:
        if self._open is not None:
            self._open.close()
            self._open = None


class _Segment:
    def __init__(self, folder: Path, number: int) -> None:
        self.rows = 0
        self._name = f"-{number:04d}.parquet"
        self._folder = folder
        self._documents = _Rows(folder / f"documents{self._name}", _DOCUMENT)
        self._paragraphs = _Rows(folder / f"paragraphs{self._name}", _PARAGRAPHS)
        self._words: dict[str, array[int]] = {}
        self._long: dict[str, array[int]] = {}

    def add(self, document: UsDocument, paragraphs: Sequence[tuple[str, str]]) -> None:
        row, name = self.rows, native_id(document)
        runs = searched_runs(document)
        days = parse_days(document.publication.date) or Days(None, None)
        self._documents.add(
            {
                "row": row,
                "id": name,
                "day_from": days.first,
                "day_to": days.last,
                "items": 1 + len(earlier_publications(document)),
                "runs": runs,
                "facts": facts_json(document),
            }
        )
        self._paragraphs.add(
            {
                "row": row,
                "id": name,
                "numbers": [number for number, _ in paragraphs],
                "texts": [text for _, text in paragraphs],
            }
        )
        _note(self._words, row, [*runs.split(), *_facts_as_words(document)])
        _note(self._long, row, [word for _, text in paragraphs for word in words(text)])
        self.rows += 1

    def close(self) -> None:
        self._documents.close()
        self._paragraphs.close()
        _write_index(self._folder / f"words{self._name}", self._words)
        _write_index(self._folder / f"longwords{self._name}", self._long)

    def let_go(self) -> None:
        self._documents.close()
        self._paragraphs.close()


class _Rows:
    """A table written a row group at a time."""

    def __init__(self, path: Path, schema: pa.Schema) -> None:
        self._schema = schema
        self._waiting: list[dict[str, str | int | date | list[str] | None]] = []
        self._writer = pq.ParquetWriter(path, schema, compression="zstd", use_dictionary=False)

    def add(self, row: dict[str, Any]) -> None:
        self._waiting.append(row)
        if len(self._waiting) == ROW_GROUP:
            self._write()

    def _write(self) -> None:
        self._writer.write_table(pa.Table.from_pylist(self._waiting, self._schema))
        self._waiting = []

    def close(self) -> None:
        if self._waiting:
            self._write()
        self._writer.close()


def code_word(scheme: str, symbol: str) -> str:
    """Return a classification symbol as the index holds it, among the words; no word has a colon."""
    return f"{scheme.casefold()}:{symbol}"


def number_word(what: str, scheme: str, text: str) -> str:
    """Return a number as the index holds it, "" for no number. what: number (its own), cites."""
    key = normalise(scheme, text).match_key
    return f"{what}:{scheme}:{key}" if key else ""


def _facts_as_words(document: UsDocument) -> Iterator[str]:
    yield from (code_word(*code) for code in document.codes)
    yield number_word("number", "publication", publication_text(document.publication))
    for relation in cites(document)[0]:
        yield number_word("cites", relation.identifier.scheme, relation.identifier.text)


def _note(index: dict[str, array[int]], row: int, found: Iterable[str]) -> None:
    for word in set(found) - {""}:
        rows = index.get(word)
        if rows is None:
            index[word] = array("i", (row,))
        else:
            rows.append(row)


def _write_index(path: Path, index: dict[str, array[int]]) -> None:
    """Write the index sorted by word, so that a search reads only the groups with its words."""
    ordered = sorted(index)
    with pq.ParquetWriter(path, _INDEX, compression="zstd", use_dictionary=["rows"]) as writer:
        for start in range(0, len(ordered), _WORDS_A_GROUP):
            some = ordered[start : start + _WORDS_A_GROUP]
            lists = [np.frombuffer(index[word], dtype=np.int32) for word in some]
            offsets = np.cumsum([0, *map(len, lists)], dtype=np.int32)
            rows = pa.ListArray.from_arrays(pa.array(offsets), pa.array(np.concatenate(lists)))
            writer.write_table(pa.table([pa.array(some, pa.string()), rows], _INDEX))
