"""The citation line: WIPO ST.14's elements in its order, nothing made up."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from connectors.days import Days
from pipeline.cited_reference import CitedReference, Name
from pipeline.exports.st14 import authors, citation


@pytest.mark.parametrize(
    ("place", "line"),
    [
        # ST.14 order of a patent document: office, number, kind, patentee or applicant, date.
        (0, "US 9,999,999 B2 (HOLLOWAY INSTRUMENTS, INC.) 2018-06-05"),
        (1, "US 2021/0999999 A1 (OKAFOR B) 2021-03-04"),
        (2, "JP 2019-999999 A (KAWANE SEIKI KK) 2019-07-25"),
        # ST.14 article: author, title, journal, date, volume, issue, pages, ISSN, DOI.
        (3, "MORAVEC, Ida; OKAFOR, B. Phase-locked reading of weak lattices. Journal of Applied Sensing, "
            "Arvensis, 2021-03, vol. 14, no. 3, pages 201-214. ISSN: 1234-5679. DOI: 10.5555/jas.2021.0143."),
        # ST.14 and MPEP 707.05(e): medium, date, retrieval date in brackets after it, address last.
        (4, 'Sealed Bearings, Ltd. =HYPERLINK("https://evil.example","x"). [online], 2019 [retrieved on '
            "2024-11-20]. Retrieved from the Internet: <URL:https://bearings.example/notes/12>"),
    ],
)  # fmt: skip
def test_the_elements_stand_in_the_standards_order(
    listed: tuple[CitedReference, ...], place: int, line: str
) -> None:
    """Each kind of document is cited with its own elements in ST.14's order."""
    assert citation(listed[place]) == line


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (None, "date unknown"),
        (Days(None, None), "date unknown"),
        (Days.of_year(2019), "2019"),
        (Days(None, date(2019, 3, 1)), "on or before 2019-03-01"),
        (Days(date(2019, 3, 1), None), "on or after 2019-03-01"),
        (Days(date(2019, 3, 1), date(2019, 4, 2)), "2019-03-01/2019-04-02"),  # ISO 8601 interval
    ],
)
def test_a_vague_date_stays_vague(listed: tuple[CitedReference, ...], days: Days | None, text: str) -> None:
    """The line says as much of the date as is known and no more."""
    assert citation(replace(listed[2], published=days)).endswith(f"(KAWANE SEIKI KK) {text}")


def test_many_authors_are_named_by_the_first() -> None:
    """Past three authors the first stands for all, and the line says so."""
    names = tuple(Name(f"A{n} B", "B", f"A{n}") for n in range(4))
    assert authors(names[:3]) == "B, A0; B, A1; B, A2"
    assert authors(names) == "B, A0 et al."
