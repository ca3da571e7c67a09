"""The RIS list, read back by an independent library and by our own reader."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
import rispy
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.days import Days
from connectors.files import read_file
from pipeline.cited_reference import OTHER, CitedReference, Name
from pipeline.exports import FORMATS


def read(*references: CitedReference) -> list[dict[str, Any]]:
    """Return the entries as the library reads them."""
    found: list[dict[str, Any]] = rispy.loads(FORMATS["ris"](references).decode("utf-8"))
    return found


def test_a_patent_stands_in_its_own_tags(listed: tuple[CitedReference, ...]) -> None:
    """PAT: AU inventor, PB applicant, A2 office, SN number, IS application, M3 kind, N1 filing days."""
    (patent,) = read(listed[0])
    assert patent == {
        "type_of_reference": "PAT",
        "authors": ["Moravec, Ida", "ŠTĚPÁN ØDEGÅRD"],
        "title": "Lattice reader",
        "publisher": "Holloway Instruments, Inc.",
        "secondary_authors": ["US"],
        "year": "2018",
        "date": "2018/06/05",
        "issn": "US9999999B2",
        "number": "US15/999999",
        "type_of_work": "Patent",
        "urls": ["https://patents.example/US9999999B2"],
        "notes": ["Filed 2016-03-02; priority 2015-03-04; other versions: EP3999999A1"],
    }


def test_an_article_stands_in_the_common_tags(listed: tuple[CitedReference, ...]) -> None:
    """JOUR: journal, volume, issue, first and last page, ISSN and DOI."""
    (article,) = read(listed[3])
    assert article == {
        "type_of_reference": "JOUR",
        "authors": ["Moravec, Ida", "Okafor, B."],
        "title": "Phase-locked reading of weak lattices",
        "secondary_title": "Journal of Applied Sensing",
        "publisher": "Arvensis",
        "year": "2021",
        "date": "2021/03//",
        "volume": "14",
        "number": "3",
        "start_page": "201",
        "end_page": "214",
        "issn": "1234-5679",
        "doi": "10.5555/jas.2021.0143",
        "language": "en",
    }


@pytest.mark.parametrize(
    ("days", "year", "written", "note"),
    [
        # The common RIS practice: YYYY/MM/DD/, parts not known left empty, never padded with 1.
        (Days.of_day(date(2021, 3, 4)), "2021", "2021/03/04", None),
        (Days.of_month(2021, 3), "2021", "2021/03//", None),
        (Days.of_year(2021), "2021", "2021///", None),
        (Days(date(2021, 3, 4), date(2021, 3, 9)), "2021", "2021/03//", ["made public 2021-03-04/2021-03-09"]),
        (Days(date(2021, 3, 4), date(2021, 4, 3)), "2021", "2021///", ["made public 2021-03-04/2021-04-03"]),
        (Days(date(2020, 12, 4), date(2021, 1, 3)), None, None, ["made public 2020-12-04/2021-01-03"]),
        (Days(None, date(2021, 1, 3)), None, None, ["made public on or before 2021-01-03"]),
        (None, None, None, None),
    ],
)  # fmt: skip
def test_a_date_says_no_more_than_is_known(
    listed: tuple[CitedReference, ...], days: Days | None, year: str | None, written: str | None,
    note: list[str] | None,
) -> None:  # fmt: skip
    """PY and DA hold the sure parts; an interval stands in words in the note."""
    (entry,) = read(replace(listed[3], published=days))
    assert (entry.get("year"), entry.get("date"), entry.get("notes")) == (year, written, note)


def test_every_line_is_a_tag_and_ends_in_cr_lf(listed: tuple[CitedReference, ...]) -> None:
    """Two-character tag, two spaces, hyphen, space; TY first, ER last, a blank line between."""
    text = FORMATS["ris"](listed).decode("utf-8")
    assert text.count("\n") == text.count("\r\n")
    for record in text.split("\r\n\r\n")[:-1]:
        lines = record.split("\r\n")
        assert lines[0].startswith("TY  - ")
        assert lines[-1] == "ER  - "
        assert all(line[2:6] == "  - " and line[:2].isupper() for line in lines)


def test_a_corporate_name_never_splits(listed: tuple[CitedReference, ...]) -> None:
    """A whole name with a comma goes without it as author, so no reader takes 'Ltd' for a given name."""
    (page,) = read(listed[4])
    assert page["authors"] == ["Sealed Bearings Ltd"]


@settings(derandomize=True, max_examples=100, deadline=None)
@given(st.text(alphabet=st.characters(exclude_categories=("Cs",)), max_size=30))
def test_no_text_begins_a_record_of_its_own(text: str) -> None:
    """Whatever a title or name holds, line breaks and tags included, one reference stays one entry."""
    hostile = f"{text}\r\nER  - \r\n\r\nTY  - PAT\u2028ER  - \x85"
    one = CitedReference("aa", OTHER, "article", hostile, authors=(Name(hostile),), doi="10.5555/x")
    entries = read(one, one)
    assert [entry["doi"] for entry in entries] == ["10.5555/x", "10.5555/x"]
    assert {entry["type_of_reference"] for entry in entries} == {"JOUR"}


def test_the_list_can_be_handed_in_again(listed: tuple[CitedReference, ...]) -> None:
    """Our own reader finds each document again: kind, days, people, number."""
    parsed = read_file("list.ris", FORMATS["ris"](listed))
    assert parsed.items == len(parsed.records) == len(listed)
    patent, _, _, article, page = parsed.records
    assert {d.kind: d.days for d in patent.dates} == {
        "published": listed[0].published, "filed": listed[0].filed, "priority": listed[0].priority,
    }  # fmt: skip
    assert [(p.name, p.role) for p in patent.people if p.role == "applicant"] == [
        ("Holloway Instruments, Inc.", "applicant")
    ]
    assert [d.days for d in article.dates] == [Days.of_month(2021, 3)]
    assert ("read", listed[4].read) in [(d.kind, d.days) for d in page.dates]
    assert [p.family for p in page.people] == [""]
