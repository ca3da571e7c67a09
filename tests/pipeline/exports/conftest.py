"""Invented lines of a cited-reference list, one of each section and the awkward ones."""

from __future__ import annotations

from datetime import date

import pytest

from connectors.days import Days
from pipeline.cited_reference import FOREIGN, OTHER, US_APPLICATIONS, US_PATENTS, CitedReference, Name


def day(text: str) -> Days:
    """Return the one day."""
    return Days.of_day(date.fromisoformat(text))


@pytest.fixture
def listed() -> tuple[CitedReference, ...]:
    """Return five lines in the order of their sections."""
    return (
        CitedReference(
            "aa", US_PATENTS, "patent", "Lattice reader", number="US9999999B2", office="US",
            printed="9,999,999", kind_code="B2", application="US15/999999", published=day("2018-06-05"),
            filed=day("2016-03-02"), priority=day("2015-03-04"),
            inventors=(Name("Ida Moravec", "Moravec", "Ida"), Name("ŠTĚPÁN ØDEGÅRD")),
            applicants=(Name("Holloway Instruments, Inc."),), copy="not needed", translation="not needed",
            others=("EP3999999A1",), url="https://patents.example/US9999999B2",
        ),
        CitedReference(
            "bb", US_APPLICATIONS, "patent application", "Hinge", number="US20210999999A1", office="US",
            printed="2021/0999999", kind_code="A1", published=day("2021-03-04"),
            inventors=(Name("OKAFOR B"),), copy="not needed", translation="not needed",
        ),
        CitedReference(
            "cc", FOREIGN, "patent application", "格子の読取装置", number="JP2019999999A", office="JP",
            printed="2019-999999", kind_code="A", published=day("2019-07-25"),
            applicants=(Name("KAWANE SEIKI KK"),), copy="to get", translation="to get",
        ),
        CitedReference(
            "dd", OTHER, "article", "Phase-locked reading of weak lattices",
            published=Days.of_month(2021, 3), authors=(Name("Ida Moravec", "Moravec", "Ida"), Name("B. Okafor", "Okafor", "B.")),
            container="Journal of Applied Sensing", publisher="Arvensis", volume="14", issue="3", pages="201-214",
            issns=("1234-5679",), doi="10.5555/jas.2021.0143", language="en", copy="to get", translation="not needed",
            flags=("retracted; it stays a disclosure all the same",),
        ),
        CitedReference(
            "ee", OTHER, "web page", '=HYPERLINK("https://evil.example","x")', published=Days.of_year(2019),
            authors=(Name("Sealed Bearings, Ltd"),), url="https://bearings.example/notes/12",
            read=day("2024-11-20"), copy="to get", translation="check the language",
        ),
    )  # fmt: skip
