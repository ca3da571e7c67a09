"""Files handed in → the corpus: whole or not at all, each once, with what could not be read counted."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from connectors.days import parse_days
from connectors.patent_kinds import kind_of
from connectors.uspto_bulk_file import Item, read_items
from connectors.uspto_facts import UsDocument
from connectors.uspto_numbers import plain_number
from pipeline.append_log import write_failed
from pipeline.corpus.build import Tables
from pipeline.corpus.folder import READER, CorpusFolder, LoadedFile
from pipeline.corpus.handed import Handed, handed, streams
from pipeline.corpus.tables import read_tables
from pipeline.errors import AntedateError, BadFile

QUARANTINE = "quarantine.jsonl"
_TOLD_EVERY = 1_000


@dataclass(frozen=True)
class Outcome:
    """How one file fared. state: loaded, there already, refused. why: of a refusal.

    replaced: when the file of the same name that it replaces was loaded, else "".
    """

    name: str
    state: str
    file: LoadedFile | None = None
    why: str = ""
    replaced: str = ""


def load_files(
    corpus: CorpusFolder, paths: Iterable[Path], now: Callable[[], datetime], told: Callable[[str], None]
) -> list[Outcome]:
    """Load each file into the corpus; return how each fared. One that is refused stops no other.

    A folder stands for the files in it. A file that is there already, byte for byte, is left
    alone; another file of the same name replaces it, once it is read to its end.
    """
    outcomes = []
    with corpus.loading():
        for one in handed(paths):
            try:
                outcomes.append(_load(corpus, one, now, told))
            except AntedateError as error:
                outcomes.append(Outcome(one.name, "refused", why=str(error)))
    return outcomes


def _load(
    corpus: CorpusFolder, one: Handed, now: Callable[[], datetime], told: Callable[[str], None]
) -> Outcome:
    sha256 = one.sha256()
    earlier = next((each for each in corpus.files() if each.name == one.name), None)
    if earlier and (earlier.sha256, earlier.reader) == (sha256, READER):
        return Outcome(one.name, "there already", earlier)
    folder = f"{sha256[:16]}-{READER}-{now():%Y%m%d%H%M%S}"
    target = corpus.path / "files" / folder
    counts = _Counts()
    try:
        with Tables(target) as tables:
            _fill(tables, one, counts, told)
        _write_quarantine(target, counts)
    except OSError as error:
        shutil.rmtree(target, ignore_errors=True)
        raise write_failed(error, target) from error
    except BaseException:
        shutil.rmtree(target, ignore_errors=True)
        raise
    if not tables.documents:
        shutil.rmtree(target, ignore_errors=True)
        raise BadFile(
            f"{one.paths[0]}: no document in it could be read ({counts.in_words() or 'it is empty'})"
        )
    loaded_at = now().astimezone(UTC).isoformat(timespec="seconds")
    made = LoadedFile(
        one.name, sha256, one.size, folder, loaded_at, tables.segments, tables.documents,
        dict(counts.by_kind), dict(counts.unreadable), dict(counts.left_aside),
    )  # fmt: skip
    corpus.commit(made)
    return Outcome(one.name, "loaded", made, replaced=earlier.loaded_at if earlier else "")


_Read = tuple[UsDocument, Sequence[tuple[str, str]]]


class _Counts:
    def __init__(self) -> None:
        self.by_kind: Counter[str] = Counter()
        self.unreadable: Counter[str] = Counter()
        self.left_aside: Counter[str] = Counter()
        self.quarantine: list[dict[str, object]] = []

    def in_words(self) -> str:
        return "; ".join(f"{count} × {why}" for why, count in (self.unreadable + self.left_aside).items())


def _fill(tables: Tables, one: Handed, counts: _Counts, told: Callable[[str], None]) -> None:
    read = _from_tables(tables, one, counts) if one.tables else _from_documents(one, counts)
    for document, paragraphs in read:
        tables.add(document, paragraphs)
        counts.by_kind[_kind(document)] += 1
        if tables.documents % _TOLD_EVERY == 0:
            told(f"{one.name}: {tables.documents:,} documents")


def _from_documents(one: Handed, counts: _Counts) -> Iterator[_Read]:
    for stream in (each for path in one.paths for each in streams(path, counts.left_aside)):
        for item in read_items(stream.read):
            if item.document is None:
                _set_aside(counts, stream.name, item)
            else:
                yield item.document, item.paragraphs


def _from_tables(tables: Tables, one: Handed, counts: _Counts) -> Iterator[_Read]:
    scratch = tables.folder / "scratch"
    for row in read_tables(one, scratch):
        if row.document is None:
            counts.unreadable[row.kind_of_problem] += 1
            counts.quarantine.append({"in": row.where, "reason": row.problem, "excerpt": row.excerpt})
        else:
            yield row.document, row.paragraphs
    shutil.rmtree(scratch)


def _set_aside(counts: _Counts, name: str, item: Item) -> None:
    if item.left_aside:
        counts.left_aside[item.left_aside] += 1
        return
    counts.unreadable[item.kind_of_problem] += 1
    counts.quarantine.append(
        {
            "in": name,
            "bytes": [item.offset, item.offset + item.size],
            "reason": item.problem,
            "excerpt": item.excerpt,
        }
    )


def _kind(document: UsDocument) -> str:
    number = plain_number(document.publication.number)
    kind = kind_of("US", document.publication.kind, number, parse_days(document.publication.date)).record
    return f"{document.right} {kind}" if document.right in ("plant", "reissue") else kind


def _write_quarantine(folder: Path, counts: _Counts) -> None:
    lines = [json.dumps(each, ensure_ascii=False) + "\n" for each in counts.quarantine]
    (folder / QUARANTINE).write_text("".join(lines), encoding="utf-8")
