"""Files handed in → the corpus: whole or not at all, each once, with what could not be read counted."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
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
from pipeline.corpus.handed import sha256_of, streams
from pipeline.errors import AntedateError, BadFile

QUARANTINE = "quarantine.jsonl"
_TOLD_EVERY = 1_000


@dataclass(frozen=True)
class Outcome:
    """How one file fared. state: loaded, there already, refused. why: of a refusal.

    replaced: when the file of the same name that it replaces was loaded, else "".
    """

    path: Path
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
        for path in _each(paths):
            try:
                outcomes.append(_load(corpus, path, now, told))
            except AntedateError as error:
                outcomes.append(Outcome(path, "refused", why=str(error)))
    return outcomes


def _each(paths: Iterable[Path]) -> Iterator[Path]:
    for path in paths:
        if path.is_dir():
            yield from (each for each in sorted(path.iterdir()) if each.is_file() and each.name[0] != ".")
        else:
            yield path


def _load(
    corpus: CorpusFolder, path: Path, now: Callable[[], datetime], told: Callable[[str], None]
) -> Outcome:
    sha256 = sha256_of(path)
    earlier = next((each for each in corpus.files() if each.name == path.name), None)
    if earlier and (earlier.sha256, earlier.reader) == (sha256, READER):
        return Outcome(path, "there already", earlier)
    folder = f"{sha256[:16]}-{READER}-{now():%Y%m%d%H%M%S}"
    target = corpus.path / "files" / folder
    counts = _Counts()
    try:
        with Tables(target) as tables:
            _fill(tables, path, counts, told)
        _write_quarantine(target, counts)
    except OSError as error:
        shutil.rmtree(target, ignore_errors=True)
        raise write_failed(error, target) from error
    except BaseException:
        shutil.rmtree(target, ignore_errors=True)
        raise
    if not tables.documents:
        shutil.rmtree(target, ignore_errors=True)
        raise BadFile(f"{path}: no document in it could be read ({counts.in_words() or 'it is empty'})")
    loaded_at = now().astimezone(UTC).isoformat(timespec="seconds")
    made = LoadedFile(
        path.name, sha256, path.stat().st_size, folder, loaded_at, tables.segments, tables.documents,
        dict(counts.by_kind), dict(counts.unreadable), dict(counts.left_aside),
    )  # fmt: skip
    corpus.commit(made)
    return Outcome(path, "loaded", made, replaced=earlier.loaded_at if earlier else "")


class _Counts:
    def __init__(self) -> None:
        self.by_kind: Counter[str] = Counter()
        self.unreadable: Counter[str] = Counter()
        self.left_aside: Counter[str] = Counter()
        self.quarantine: list[dict[str, object]] = []

    def in_words(self) -> str:
        return "; ".join(f"{count} × {why}" for why, count in (self.unreadable + self.left_aside).items())


def _fill(tables: Tables, path: Path, counts: _Counts, told: Callable[[str], None]) -> None:
    for stream in streams(path, counts.left_aside):
        for item in read_items(stream.read):
            if item.document is None:
                _set_aside(counts, stream.name, item)
                continue
            tables.add(item.document, item.paragraphs)
            counts.by_kind[_kind(item.document)] += 1
            if tables.documents % _TOLD_EVERY == 0:
                told(f"{path.name}: {tables.documents:,} documents")


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
