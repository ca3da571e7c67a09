"""A workbook laid out as 37 CFR 1.98 asks: US documents apart, a column for the examiner's initials.

A draft to be worked on, not an office form. Every cell is written as text: nothing becomes
a formula, a number or a link.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from typing import Any

from pipeline import cautions
from pipeline.cited_reference import (
    FOREIGN,
    OTHER,
    US_APPLICATIONS,
    US_PATENTS,
    CitedReference,
    Name,
    date_text,
)
from pipeline.exports.st14 import citation
from pipeline.plain_text import safe

HEADING = "Information disclosure statement by applicant: list of references (draft)"
CAUTIONS = (cautions.NOT_A_FILING, cautions.DUTY, cautions.DATE_EVIDENCE, cautions.ONE_VERSION,
            cautions.PERSONAL_DATA)  # fmt: skip
_MOST_NAMES = 1000  # characters; a cell holds 32,767, and the first name is what the rule needs

Column = tuple[str, int, Callable[[CitedReference], str]]  # heading, width in characters, cell


def _nothing(_: CitedReference) -> str:
    return ""


_BEFORE: tuple[Column, ...] = (("Examiner's initials", 10, _nothing),)
_NUMBER: tuple[Column, ...] = (
    ("Document number", 20, lambda one: one.printed),
    ("Kind code", 7, lambda one: one.kind_code),
)
_PASSAGES: tuple[Column, ...] = (("Relevant passages", 30, _nothing),)
_COPIES: tuple[Column, ...] = (
    ("Translation", 14, lambda one: one.translation),
    ("Copy", 12, lambda one: one.copy),
)
_COLUMNS: dict[str, tuple[Column, ...]] = {
    US_PATENTS: (
        *_NUMBER,
        ("Issue date", 14, date_text),
        ("Inventor", 40, lambda one: _names(one.inventors)),
        *_PASSAGES,
    ),
    US_APPLICATIONS: (
        *_NUMBER,
        ("Publication date", 14, date_text),
        ("Applicant", 40, lambda one: _names(one.applicants or one.inventors)),
        *_PASSAGES,
    ),
    FOREIGN: (
        ("Office", 7, lambda one: one.office),
        *_NUMBER,
        ("Publication date", 14, date_text),
        ("Applicant or patentee", 40, lambda one: _names(one.applicants or one.inventors)),
        *_PASSAGES,
        *_COPIES,
    ),
    OTHER: (("Citation", 100, citation), *_PASSAGES, *_COPIES),
}
_SHEETS = (
    ("US documents", (US_PATENTS, US_APPLICATIONS)),
    ("Foreign documents", (FOREIGN,)),
    ("Other publications", (OTHER,)),
)


def write_xlsx(references: tuple[CitedReference, ...]) -> bytes:
    """Return the workbook: three sheets of references, what is to be checked, the cautions."""
    import xlsxwriter

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        look = {
            "bold": book.add_format({"bold": True}),
            "plain": book.add_format({"text_wrap": True, "valign": "top"}),
            "boxed": book.add_format({"text_wrap": True, "valign": "top", "border": 1}),
            "head": book.add_format({"bold": True, "text_wrap": True, "valign": "top", "border": 1}),
        }
        for title, sections in _SHEETS:
            sheet = _new_sheet(book, title)
            _top(sheet, look)
            row = 4
            for section in sections:
                row = _section(sheet, look, row, section, [r for r in references if r.section == section])
        _to_check(_new_sheet(book, "To check"), look, references)
        sheet = _new_sheet(book, "Cautions")
        sheet.set_column(0, 0, 110)
        for row, text in enumerate(CAUTIONS):
            sheet.write_string(row, 0, text, look["plain"])
    return out.getvalue()


def _new_sheet(book: Any, title: str) -> Any:
    sheet = book.add_worksheet(title)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    return sheet


def _top(sheet: Any, look: dict[str, Any]) -> None:
    """Write what each page must bear: the heading and the application's number, to be filled in."""
    sheet.write_string(0, 0, HEADING, look["bold"])
    for row, name in enumerate(("Application number:", "Filing date:"), start=1):
        sheet.write_string(row, 0, name, look["bold"])
    sheet.repeat_rows(0, 2)


def _section(
    sheet: Any, look: dict[str, Any], row: int, section: str, listed: Sequence[CitedReference]
) -> int:
    """Write the section from the row down; return the row where the next may begin."""
    sheet.write_string(row, 0, section[0].upper() + section[1:], look["bold"])
    if not listed:
        sheet.write_string(row + 1, 0, "None.")
        return row + 3
    columns = (*_BEFORE, ("Cite no.", 6, _nothing), *_COLUMNS[section])
    for place, (heading, width, _) in enumerate(columns):
        sheet.set_column(place, place, width)
        sheet.write_string(row + 1, place, heading, look["head"])
    for number, one in enumerate(listed, start=1):
        cells = ["", str(number), *(cell(one) for _, _, cell in _COLUMNS[section])]
        for place, text in enumerate(cells):
            _write(sheet, row + 1 + number, place, text, look["boxed"])
    return row + len(listed) + 3


def _to_check(sheet: Any, look: dict[str, Any], references: Sequence[CitedReference]) -> None:
    for place, (heading, width) in enumerate((("Section", 26), ("Reference", 40), ("To check", 90))):
        sheet.set_column(place, place, width)
        sheet.write_string(0, place, heading, look["head"])
    rows = [(one.section, one.name, flag) for one in references for flag in one.flags]
    for row, cells in enumerate(rows or [("", "", "Nothing was found to check.")], start=1):
        for place, text in enumerate(cells):
            _write(sheet, row, place, text, look["boxed"])


def _write(sheet: Any, row: int, column: int, text: str, form: Any) -> None:
    """Write text as text. An empty string would not keep its border, so the cell is left blank."""
    if text:
        sheet.write_string(row, column, safe(text, 32_000), form)
    else:
        sheet.write_blank(row, column, None, form)


def _names(names: tuple[Name, ...]) -> str:
    """Return the names as far as a cell can be read; past that the first ones and 'et al.'."""
    written = ""
    for name in names:
        longer = f"{written}; {name.text}" if written else name.text
        if len(longer) > _MOST_NAMES and written:
            return f"{written} et al."
        written = longer
    return written
