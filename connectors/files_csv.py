"""CSV files: a header line that names the columns, a reference on each row (RFC 4180)."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

from connectors.errors import SourceChanged
from connectors.file_dates import stated_date
from connectors.file_record import (
    SOURCE_NAME,
    Draft,
    Read,
    Unread,
    book_number,
    looks_like_publication,
    patent_kind,
    person,
    publication,
)
from connectors.record import KINDS as RECORD_KINDS
from connectors.record import Person

# Column names, lower case, blanks and underscores aside -> what the column is.
COLUMNS = {
    "title": "title", "abstract": "abstract", "summary": "abstract", "journal": "venue", "venue": "venue",
    "sourcetitle": "venue", "publicationtitle": "venue", "containertitle": "venue", "publisher": "publisher",
    "volume": "volume", "issue": "issue", "pages": "pages", "language": "language", "version": "version",
    "author": "author", "authors": "author", "inventor": "inventor", "inventors": "inventor",
    "applicant": "applicant", "applicants": "applicant", "assignee": "applicant", "assignees": "applicant",
    "editor": "editor", "editors": "editor", "doi": "doi", "url": "url", "link": "url", "arxiv": "arxiv",
    "arxivid": "arxiv", "pmid": "pmid", "isbn": "isbn", "issn": "issn", "number": "number",
    "publicationnumber": "publication", "patentnumber": "publication", "documentnumber": "publication",
    "applicationnumber": "application", "type": "kind", "kind": "kind", "documenttype": "kind",
    "year": "published", "date": "published", "published": "published", "publicationdate": "published",
    "publicationyear": "published", "datepublished": "published", "filingdate": "filed", "filed": "filed",
    "datefiled": "filed", "prioritydate": "priority", "accessed": "read", "dateaccessed": "read",
}  # fmt: skip
TEXTS = ("title", "abstract", "venue", "publisher", "volume", "issue", "pages", "language", "version")
ROLES = ("author", "inventor", "applicant", "editor")
DATES = ("published", "filed", "priority", "read")
PLAIN = ("doi", "url", "arxiv", "pmid")
KINDS = {
    "journal article": "article",
    "conference": "conference paper",
    "webpage": "web page",
    "web": "web page",
}
_SEVERAL = re.compile(r"\s*;\s*|\s*\|\s*|\s+and\s+|\n")


def read_csv(name: str, text: str) -> Iterator[Read | Unread]:
    """Yield each row that is not blank, in order; rows that don't fit the header come unread.

    Comma, semicolon or tab, whichever the header line holds most of. A column whose name
    is not known becomes a detail under its name. Raises SourceChanged where no column is
    a title, DOI or number.
    """
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    header = next(rows, [])
    columns = [COLUMNS.get(re.sub(r"[\s_\-]", "", cell).lower(), "") for cell in header]
    if text.strip() and not {"title", "doi", "number", "publication"} & set(columns):
        raise SourceChanged(
            SOURCE_NAME, f"{name}: the first line names no column title, doi or publication number", path=name
        )
    yield from _rows(rows, header, columns)


def _rows(rows: Iterator[list[str]], header: list[str], columns: list[str]) -> Iterator[Read | Unread]:
    while True:
        line = getattr(rows, "line_num", 0) + 1
        try:
            row = next(rows)
        except StopIteration:
            return
        except csv.Error as problem:
            yield Unread(line, f"a quotation mark is out of place: {problem}", "")
            continue
        if any(cell.strip() for cell in row):
            yield _read(line, row, header, columns)


def _read(line: int, row: list[str], header: list[str], columns: list[str]) -> Read | Unread:
    excerpt = " | ".join(row)
    if len(row) > len(header):
        return Unread(line, f"has {len(row)} cells under {len(header)} column names", excerpt)
    draft, told = Draft(), {}
    for name, column, cell in zip(header, columns, row, strict=False):
        if column and column not in told and column not in DATES:
            told[column] = cell.strip()
        elif column in DATES and cell.strip():
            draft.date(stated_date(column, cell.strip(), name), name, cell)
        else:
            draft.detail(name.strip() or "column without a name", cell)
    _fill(draft, told)
    record = draft.record()
    if not record.title and not record.identifiers:
        return Unread(line, "has neither a title nor an identifier", excerpt)
    return Read(line, record)


def _fill(draft: Draft, told: dict[str, str]) -> None:
    draft.texts.update({name: told[name] for name in TEXTS if name in told})
    for role in ROLES:
        draft.people += [_person(name, role) for name in _names(told.get(role, ""))]
    for scheme in PLAIN:
        draft.identify(scheme, told.get(scheme, ""))
    for name in ("isbn", "issn"):
        book_number(draft, name, told.get(name, ""))
    draft.identify("application", told.get("application", ""))
    draft.identify("publication", publication(told.get("publication", "")))
    number = told.get("number", "")
    if looks_like_publication(number):
        draft.identify("publication", publication(number))
    else:
        draft.detail("number", number)
    _take_kind(draft, told.get("kind", ""))


def _take_kind(draft: Draft, word: str) -> None:
    """Take the row's own word for its kind where it is one of ours, else what its number tells."""
    told = KINDS.get(word.lower(), word.lower())
    numbers = [i.text for i in draft.identifiers if i.scheme == "publication"]
    if told in RECORD_KINDS:
        draft.kind = told
    else:
        draft.detail("type", word)
        draft.kind = patent_kind(numbers[0]) if numbers else "other"


def _person(name: str, role: str) -> Person:
    return Person(name, role) if role == "applicant" else person(name, role)


def _names(text: str) -> list[str]:
    """Return the names of a cell. Commas part names only where each part is a whole name."""
    names = [name for name in _SEVERAL.split(text) if name.strip()]
    parts = [part.strip() for part in text.split(",")]
    if len(names) == 1 and len(parts) > 1 and all(" " in part for part in parts):
        return parts
    return [name.strip() for name in names]
