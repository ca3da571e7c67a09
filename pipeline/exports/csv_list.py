"""CSV (RFC 4180): one row a reference, its section in the first column.

UTF-8 with a byte order mark: without one, spreadsheets take the file for the old code page
of the machine and spoil every name that is not ASCII.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

from pipeline.cited_reference import CitedReference, Name, date_text, days_text
from pipeline.exports.st14 import citation

# What a spreadsheet takes for the start of a formula, full-width writings included.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")

COLUMNS: dict[str, Callable[[CitedReference], str]] = {
    "section": lambda one: one.section,
    "type": lambda one: one.kind,
    "office": lambda one: one.office,
    "number": lambda one: one.number,
    "kind code": lambda one: one.kind_code,
    "date": date_text,
    "date stated by": lambda one: one.public_says,
    "title": lambda one: one.title,
    "inventors": lambda one: _names(one.inventors),
    "applicants": lambda one: _names(one.applicants),
    "authors": lambda one: _names(one.authors),
    "venue": lambda one: one.container,
    "publisher": lambda one: one.publisher,
    "volume": lambda one: one.volume,
    "issue": lambda one: one.issue,
    "pages": lambda one: one.pages,
    "doi": lambda one: one.doi,
    "arxiv": lambda one: one.arxiv,
    "issn": lambda one: "; ".join(one.issns),
    "isbn": lambda one: "; ".join(one.isbns),
    "url": lambda one: one.url,
    "retrieved": lambda one: days_text(one.read) if one.read else "",
    "language": lambda one: one.language,
    "copy": lambda one: one.copy,
    "translation": lambda one: one.translation,
    "other versions": lambda one: "; ".join(one.others),
    "citation": citation,
    "to check": lambda one: " | ".join(one.flags),
}


def write_csv(references: tuple[CitedReference, ...]) -> bytes:
    """Return the table with a heading row; cells that would begin a formula get an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for one in references:
        writer.writerow([harmless(read(one)) for read in COLUMNS.values()])
    return out.getvalue().encode("utf-8-sig")


def harmless(cell: str) -> str:
    """Return the cell so that no spreadsheet takes it for a formula."""
    return f"'{cell}" if cell.startswith(_FORMULA) else cell


def _names(names: tuple[Name, ...]) -> str:
    return "; ".join(f"{n.family}, {n.given}" if n.family and n.given else n.text for n in names)
