"""Files handed in by the user: RIS, BibTeX, CSL-JSON, CSV. Read whole, nothing dropped."""

from __future__ import annotations

import codecs
from dataclasses import replace
from datetime import date
from pathlib import Path

from connectors.connector import Parsed, Quarantined, Source
from connectors.errors import AnswerTooLarge, SourceChanged, SourceRefused
from connectors.file_record import SOURCE_NAME, Read, Unread, with_native_ids
from connectors.files_bibtex import read_bibtex
from connectors.files_csl import read_csl
from connectors.files_csv import read_csv
from connectors.files_ris import read_ris

MOST_BYTES = 20_000_000
EXCERPT = 500
READERS = {".ris": read_ris, ".bib": read_bibtex, ".json": read_csl, ".csv": read_csv}

SOURCE = Source(
    name=SOURCE_NAME,
    title="Files handed in",
    kinds=("article", "conference paper", "book", "thesis", "report", "patent", "web page", "other"),
    base_url="",
    page_size=0,
    depth=None,
    seconds_between=0.0,
    terms_of_use="The user's own files; nothing is sent anywhere.",
    manual="RIS as commonly written; BibTeX and biblatex; CSL-JSON 1.0.2; CSV (RFC 4180)",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "published": "the file's maker wrote this date; nobody else vouches for it",
        "filed": "the filing day as the file's maker wrote it; not a public date",
        "submitted": "the day of submission as the file's maker wrote it; not a public date",
        "priority": "the priority day as the file's maker wrote it; not a public date",
        "event held": "the days of a meeting; its papers may be public earlier or later",
        "read": "the day of reading as the file's maker wrote it; by itself no proof",
    },
)


def bounded_bytes(path: Path) -> bytes:
    """Return the file's bytes. Raises AnswerTooLarge past 20 MB, OSError where it can't be read."""
    with path.open("rb") as file:
        body = file.read(MOST_BYTES + 1)
    _check_size(path.name, body)
    return body


def read_file(name: str, body: bytes) -> Parsed:
    """Return what a handed-in file holds; the suffix of its name says the format.

    Every item of the file is a record or a quarantined item with file, number and line.
    Raises SourceRefused for another suffix, AnswerTooLarge past 20 MB, SourceChanged
    where the file as a whole is not of its format.
    """
    reader = READERS.get(Path(name).suffix.lower())
    if reader is None:
        known = ", ".join(READERS)
        raise SourceRefused(SOURCE_NAME, f"{name}: can't tell its format; name it with one of {known}")
    _check_size(name, body)
    text, guessed = _decoded(name, body)
    items = list(reader(name, text))
    named = iter(with_native_ids(item.record for item in items if isinstance(item, Read)))
    doubt = (("encoding", f"guessed: {guessed}"),) if guessed else ()
    records = tuple(replace(record, details=(*record.details, *doubt)) for record in named)
    unread = tuple(
        Quarantined(at, _where(name, at, item), item.reason, item.excerpt[:EXCERPT])
        for at, item in enumerate(items)
        if isinstance(item, Unread)
    )
    return Parsed(len(items), records, unread)


def _where(name: str, at: int, item: Unread) -> str:
    return f"{name}, record {at + 1}" + (f", line {item.line}" if item.line else "")


def _check_size(name: str, body: bytes) -> None:
    if len(body) > MOST_BYTES:
        raise AnswerTooLarge(SOURCE_NAME, f"{name} is larger than 20 MB; split it into smaller files")


def _decoded(name: str, body: bytes) -> tuple[str, str]:
    """Return the text, and the encoding where it had to be guessed (no mark, and not UTF-8)."""
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF32_LE, "utf-32"),  # before UTF-16, whose mark it begins with
        (codecs.BOM_UTF32_BE, "utf-32"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if body.startswith(mark):
            return _strictly(name, body, encoding), ""
    try:
        return body.decode("utf-8"), ""
    except UnicodeDecodeError:
        pass
    try:
        return body.decode("cp1252"), "windows-1252"
    except UnicodeDecodeError:
        return body.decode("latin-1"), "latin-1"


def _strictly(name: str, body: bytes, encoding: str) -> str:
    try:
        return body.decode(encoding)
    except UnicodeDecodeError as problem:
        said, at = encoding.upper(), problem.start
    what = f"{name}: its first bytes say {said}, but byte {at} is not; save it anew as UTF-8"
    raise SourceChanged(SOURCE_NAME, what, path=name)
