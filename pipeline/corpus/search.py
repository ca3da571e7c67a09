"""A corpus as a source: it answers a request for a sweep with a page of the documents that match.

What matches is what queries.expression.matches says of title, abstract, claims and, where
asked, the paragraphs of the description. The index names candidates; where it can't tell,
the document's own words decide.
"""

from __future__ import annotations

import bisect
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from connectors.connector import Page, Request
from connectors.errors import SourceDown
from connectors.uspto_bulk import CITING, FIND, SOURCE, WITH_DESCRIPTIONS
from pipeline.corpus.build import ROW_GROUP, number_word
from pipeline.corpus.folder import READER, CorpusFolder
from pipeline.corpus.index import Places, Shelf, bounds, read_holders, read_postings, read_shelf
from pipeline.corpus.texts import joined_runs
from pipeline.errors import AntedateError
from queries.expression import And, Code, Expression, Not, Or, leaves, matches_runs
from queries.expression_json import expression_from

# Documents whose texts are held together.
_AT_ONCE = 1_000


@dataclass
class CorpusSession:
    """Answers requests as a service's session does. Nothing is waited for, nothing sent.

    today: the day, for the pages. Raises SourceDown where the corpus is absent or damaged.
    """

    folder: Path
    today: date
    waited_s: float = 0.0
    _opened: list[_Opened] = field(default_factory=list)

    def send(self, request: Request) -> Page:
        """Return the page that the request asks for."""
        import duckdb

        try:
            if not self._opened:
                self._opened.append(_Opened.at(self.folder))
            body = self._opened[0].answer(request)
        except (OSError, pa.ArrowException, duckdb.Error, AntedateError) as error:
            first = str(error).splitlines()[0] if str(error) else type(error).__name__
            raise SourceDown(
                SOURCE.name,
                f"the corpus {self.folder} can't be read: {first}. Load its files again, or bring it back",
            ) from error
        return Page(request, 200, {}, body, self.today)

    def close(self) -> None:
        """Let go of the corpus."""
        for opened in self._opened:
            opened.con.close()
        self._opened.clear()


@dataclass
class _Opened:
    """A corpus as it was when opened. last: the last sweep asked, and what it matched."""

    con: Any
    shelf: Shelf
    names: list[list[str]]
    last: tuple[Any, Places]

    @classmethod
    def at(cls, path: Path) -> _Opened:
        import duckdb

        corpus = CorpusFolder(path)
        if not corpus.exists:
            raise OSError("there is no corpus")
        if old := [file.name for file in corpus.files() if file.reader != READER]:
            raise OSError(f"{', '.join(old)[:200]} was loaded by another version of this program")
        con = duckdb.connect(config={"autoinstall_known_extensions": False})
        con.execute("SET parquet_metadata_cache = true")
        shelf = read_shelf(con, tuple(corpus.tables("documents")))
        return cls(
            con, shelf, [[file.name, file.sha256] for file in corpus.files()], (None, np.empty(0, np.int32))
        )

    def answer(self, request: Request) -> bytes:
        params = dict(request.params)
        long = params.get("in") == ", ".join(WITH_DESCRIPTIONS)
        key = (request.path, params.get("asked"), params.get("numbers"), request.window, long)
        if self.last[0] != key:
            self.last = (key, self.matched(request, long))
        matched = self.last[1]
        ids = self.shelf.ids
        start = bisect.bisect_right(matched, params["after"], key=lambda place: ids[int(place)].as_py())
        page = matched[start : start + SOURCE.page_size]
        more = start + len(page) < len(matched)
        head = {
            "next": ids[int(page[-1])].as_py() if more else "",
            "items": int(self.shelf.items[matched].sum()),
            "documents": len(matched),
            "searched": {"documents": len(self.shelf), "in": params.get("in", "").split(", ")},
        }
        if not params["after"]:
            head["files"] = self.names
        lines = [json.dumps(head, ensure_ascii=False, separators=(",", ":"))]
        lines += [f'{{"document":{facts}}}' for facts in read_columns(self.shelf, page, ("facts",))["facts"]]
        return "\n".join(lines).encode()

    def matched(self, request: Request, long: bool) -> Places:
        """Return the places of the documents that the request asks for."""
        params = dict(request.params)
        if request.path in (FIND, CITING):
            what = "number" if request.path == FIND else "cites"
            asked = (text.split(" ", 1) for text in json.loads(params["numbers"]))
            return read_holders(self.con, self.shelf, (number_word(what, *each) for each in asked))
        expression = expression_from(json.loads(params["asked"]))
        places = matching(self.con, self.shelf, expression, long)
        return places[self.shelf.within(request.window)[places]]


def matching(con: Any, shelf: Shelf, expression: Expression, long: bool = False) -> Places:
    """Return the places of the documents for which the expression holds, ascending.

    long: search the descriptions too. Cost: the index of the words asked, and the texts of the
    documents that hold all words of a phrase that decides.
    """
    postings = read_postings(con, shelf, ("words", "longwords") if long else ("words",), expression)
    surely, possibly = bounds(expression, postings)
    unsure = np.flatnonzero(possibly & ~surely).astype(np.int32)
    surely[list(_holding(shelf, unsure, expression, long))] = True
    return np.flatnonzero(surely).astype(np.int32)


def _holding(shelf: Shelf, places: Places, expression: Expression, long: bool) -> Iterator[int]:
    """Yield the places whose documents' own words bear the expression out.

    They are read as they lie on the disk. Without exclusions, what title, abstract and claims
    bear out stands, and only the other descriptions are read.
    """
    with_codes = any(isinstance(leaf, Code) for leaf in leaves(expression))
    names = ("runs", "facts") if with_codes else ("runs",)
    ordered = places[np.lexsort((shelf.row[places], shelf.segment[places]))]
    for some in np.split(ordered, range(_AT_ONCE, len(ordered), _AT_ONCE)):
        columns = read_columns(shelf, some, names)
        codes = [_codes(facts) for facts in columns["facts"]] if with_codes else [()] * len(some)
        held = [matches_runs(expression, *each) for each in zip(columns["runs"], codes, strict=True)]
        if long:
            open_ = [at for at, yes in enumerate(held) if not yes or _excludes(expression)]
            paragraphs = read_columns(shelf, some[open_], ("texts",), "paragraphs")["texts"]
            for at, texts in zip(open_, paragraphs, strict=True):
                held[at] = matches_runs(expression, f"{columns['runs'][at]}\n{joined_runs(texts)}", codes[at])
        yield from (int(place) for place, yes in zip(some, held, strict=True) if yes)


def _excludes(expression: Expression) -> bool:
    """Say whether more text can make the expression hold no longer."""
    match expression:
        case And(parts) | Or(parts):
            return any(map(_excludes, parts))
        case _:
            return isinstance(expression, Not)


def _codes(facts: str) -> tuple[tuple[str, str], ...]:
    return tuple((scheme, symbol) for scheme, symbol in json.loads(facts).get("codes", ()))


def read_columns(
    shelf: Shelf, places: Iterable[int], names: tuple[str, ...], kind: str = "documents"
) -> dict[str, list[Any]]:
    """Return the columns of the documents at these places, in their order.

    Only the row groups in which they lie are read.
    """
    wanted = np.asarray(list(places), dtype=np.int64)
    found: dict[str, list[Any]] = {name: [None] * len(wanted) for name in names}
    segments, rows = shelf.segment[wanted], shelf.row[wanted]
    for segment in np.unique(segments):
        path = shelf.segments[segment]
        with pq.ParquetFile(path.with_name(path.name.replace("documents", kind))) as table:
            mine = np.flatnonzero(segments == segment)
            for group in np.unique(rows[mine] // ROW_GROUP):
                at = mine[rows[mine] // ROW_GROUP == group]
                part = table.read_row_group(int(group), columns=list(names)).take(
                    pa.array(rows[at] % ROW_GROUP)
                )
                for name in names:
                    for place, value in zip(at, part[name].to_pylist(), strict=True):
                        found[name][place] = value
    return found
