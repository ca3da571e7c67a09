"""The CSV list: read back as written, harmless in a spreadsheet."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.files import read_file
from pipeline.cited_reference import OTHER, CitedReference
from pipeline.exports import FORMATS


def rows(body: bytes) -> list[dict[str, str]]:
    """Return the rows as a spreadsheet reads them."""
    return list(csv.DictReader(io.StringIO(body.decode("utf-8-sig"), newline="")))


def test_a_row_reads_back_with_names_and_numbers_whole(listed: tuple[CitedReference, ...]) -> None:
    """Numbers, DOIs, partial dates and non-ASCII names come back byte for byte; lines end in CR LF."""
    body = FORMATS["csv"](listed)
    assert body.startswith(b"\xef\xbb\xbf")
    assert body.count(b"\n") == body.count(b"\r\n") == 1 + len(listed)
    read = rows(body)
    assert [row["section"] for row in read] == [one.section for one in listed]
    assert read[0]["number"] == "US9999999B2"
    assert read[0]["inventors"] == "Moravec, Ida; ŠTĚPÁN ØDEGÅRD"
    assert read[0]["applicants"] == "Holloway Instruments, Inc."
    assert [row["date"] for row in read] == ["2018-06-05", "2021-03-04", "2019-07-25", "2021-03", "2019"]
    assert read[2]["title"] == "格子の読取装置"
    assert read[3]["doi"] == "10.5555/jas.2021.0143"
    assert read[3]["to check"] == "retracted; it stays a disclosure all the same"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", "＝", "＠"])
def test_no_cell_begins_a_formula(listed: tuple[CitedReference, ...], start: str) -> None:
    """A cell that a spreadsheet would run gets an apostrophe before it (cited-reference rule 8)."""
    title = f'{start}cmd("x")'
    assert rows(FORMATS["csv"]((replace(listed[3], title=title),)))[0]["title"] == f"'{title}"


@settings(derandomize=True, max_examples=100, deadline=None)
@given(st.text(alphabet=st.characters(exclude_categories=("Cs",)), max_size=40))
def test_any_title_stays_one_cell(title: str) -> None:
    """Quotes, commas and line breaks in a title never add a row or shift a column."""
    read = rows(FORMATS["csv"]((CitedReference("aa", OTHER, "article", title, doi="10.5555/x"),)))
    assert len(read) == 1
    assert read[0]["title"].removeprefix("'") == title.removeprefix("'")
    assert read[0]["doi"] == "10.5555/x"


def test_the_list_can_be_handed_in_again(listed: tuple[CitedReference, ...]) -> None:
    """Our own reader of handed-in files takes every row, number and DOI of our own list."""
    parsed = read_file("list.csv", FORMATS["csv"](listed))
    assert parsed.items == len(parsed.records) == len(listed)
    stated = {(i.scheme, i.text) for record in parsed.records for i in record.identifiers}
    assert ("doi", "10.5555/jas.2021.0143") in stated
    assert ("publication", "US9999999B2") in stated
