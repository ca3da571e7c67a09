"""The workbook, read back by an independent library."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import openpyxl

from pipeline import cautions
from pipeline.cited_reference import CitedReference, Name
from pipeline.exports import FORMATS


def opened(*references: CitedReference) -> Any:
    """Return the workbook."""
    return openpyxl.load_workbook(io.BytesIO(FORMATS["xlsx"](references)))


def cells(sheet: Any) -> list[list[Any]]:
    """Return the rows without empty cells at their ends."""
    found = []
    for row in sheet.iter_rows(values_only=True):
        kept = list(row)
        while kept and kept[-1] is None:
            kept.pop()
        found.append(kept)
    return found


def test_us_documents_stand_apart_with_a_column_for_initials(listed: tuple[CitedReference, ...]) -> None:
    """37 CFR 1.98(a)(1): heading, application number, US documents in sections of their own, initials."""
    book = opened(*listed)
    assert book.sheetnames == [
        "US documents",
        "Foreign documents",
        "Other publications",
        "To check",
        "Cautions",
    ]
    rows = cells(book["US documents"])
    assert rows[0][0].startswith("Information disclosure statement by applicant")
    assert rows[1] == ["Application number:"]
    head = ["Examiner's initials", "Cite no.", "Document number", "Kind code"]
    assert rows[4:7] == [
        ["US patents"],
        [*head, "Issue date", "Inventor", "Relevant passages"],
        [None, "1", "9,999,999", "B2", "2018-06-05", "Ida Moravec; ŠTĚPÁN ØDEGÅRD"],
    ]
    assert rows[8:11] == [
        ["US application publications"],
        [*head, "Publication date", "Applicant", "Relevant passages"],
        [None, "1", "2021/0999999", "A1", "2021-03-04", "OKAFOR B"],
    ]
    assert book["US documents"].print_title_rows == "$1:$3"


def test_foreign_documents_and_literature_say_what_is_still_due(listed: tuple[CitedReference, ...]) -> None:
    """Each foreign document and publication says whether copy and translation are to be got."""
    book = opened(*listed)
    assert cells(book["Foreign documents"])[6] == [
        None, "1", "JP", "2019-999999", "A", "2019-07-25", "KAWANE SEIKI KK", None, "to get", "to get",
    ]  # fmt: skip
    article = cells(book["Other publications"])[6]
    assert article[2].startswith("MORAVEC, Ida; OKAFOR, B. Phase-locked reading")
    assert article[3:] == [None, "not needed", "to get"]
    assert cells(book["To check"])[1][2] == "retracted; it stays a disclosure all the same"


def test_every_cell_is_text(listed: tuple[CitedReference, ...]) -> None:
    """No formula, number or link, whatever a source wrote as title or name."""
    hostile = replace(listed[0], printed="1234567", inventors=(Name("=1+1"), Name("https://evil.example")))
    hostile = replace(hostile, flags=("=2+2",))
    for sheet in opened(hostile, *listed):
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type == ("s" if cell.value is not None else "n"), cell.value
                assert cell.hyperlink is None


def test_the_cautions_stand_in_the_workbook(listed: tuple[CitedReference, ...]) -> None:
    """The list says itself that it is a draft, ends no duty and admits nothing."""
    texts = [row[0] for row in cells(opened(*listed)["Cautions"])]
    assert {cautions.NOT_A_FILING, cautions.DUTY, cautions.PERSONAL_DATA} <= set(texts)


def test_thousands_of_authors_never_empty_a_cell(listed: tuple[CitedReference, ...]) -> None:
    """A cell holds 32,767 characters; more names are cut at a name, with 'et al.' (XlsxWriter drops longer)."""
    crowd = tuple(Name(f"Author Number {n}") for n in range(3000))
    inventors = cells(opened(replace(listed[0], inventors=crowd))["US documents"])[6][5]
    assert inventors.startswith("Author Number 0; Author Number 1;")
    assert inventors.endswith(" et al.")


def test_an_empty_section_says_so(listed: tuple[CitedReference, ...]) -> None:
    """A section without documents reads 'None.', so that nobody takes it for forgotten."""
    rows = cells(opened(listed[3])["US documents"])
    assert rows[4:6] == [["US patents"], ["None."]]
    assert cells(opened(listed[0])["To check"])[1] == [None, None, "Nothing was found to check."]
