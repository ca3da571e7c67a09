"""What names tell of whose a document is, and where they tell nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.same_names import compare_applicants, compare_people


@pytest.mark.parametrize(
    ("named", "inventors", "who"),
    [
        (("Ida Moravec",), ("Moravec, Ida",), "inventor"),
        (("MORAVEC IDA",), ("Ida Moravec",), "inventor"),  # as offices' data write it
        (("Ida K. Moravec",), ("Ida Moravec",), "inventor"),
        (("Ida Moravec", "I. Moravec"), ("Ida Moravec",), "inventor"),  # two sources of one document
        (("Zoë O'Dàly",), ("Zoe ODaly",), "inventor"),
        (("Ida Moravec", "B. Okafor"), ("Ida Moravec",), "unknown"),  # In re Katz; MPEP 2155.01
        (("I. Moravec",), ("Ida Moravec",), "unknown"),  # an initial is no proof
        (("Ines Moravec",), ("Ida Moravec",), "unknown"),  # one initial, two people
        (("Ida K. Moravec",), ("Ida L. Moravec",), "unknown"),
        (("Moravec",), ("Ida Moravec",), "unknown"),
        (("Moravec",), ("Moravec",), "unknown"),
        (("B. Okafor",), ("Ida Moravec",), "third_party"),
        ((), ("Ida Moravec",), "unknown"),
        (("Ida Moravec",), (), "unknown"),
        (("?",), ("Ida Moravec",), "unknown"),
    ],
)
def test_who_disclosed_as_far_as_names_tell(
    named: tuple[str, ...], inventors: tuple[str, ...], who: str
) -> None:
    """Only full names that all agree are the inventors; only full difference is a third party."""
    assert compare_people(named, inventors) == who


@pytest.mark.parametrize(
    ("named", "ours", "whose"),
    [
        (("Halden Pumps GmbH",), ("HALDEN PUMPS",), "same"),
        (("HALDEN PUMPS GMBH [DE]",), ("Halden Pumps, GmbH",), "same"),
        (("Halden Pumps GmbH",), ("Sorrel Valves Inc.",), "other"),
        (("Halden Pumps GmbH", "Sorrel Valves Inc."), ("Halden Pumps GmbH",), "unknown"),
        ((), ("Halden Pumps GmbH",), "unknown"),
        (("Halden Pumps GmbH",), (), "unknown"),
        (("The Company",), ("The Company",), "unknown"),  # nothing left to compare
    ],
)
def test_whose_application_as_far_as_names_tell(
    named: tuple[str, ...], ours: tuple[str, ...], whose: str
) -> None:
    """Legal forms count for nothing; a shared application is left open."""
    assert compare_applicants(named, ours) == whose


@given(st.lists(st.text(max_size=12), max_size=4), st.lists(st.text(max_size=12), max_size=3))
def test_the_order_of_names_changes_nothing(named: list[str], ours: list[str]) -> None:
    """Any text is taken, and sources list people as they please."""
    assert compare_people(named, ours) == compare_people(named[::-1], ours[::-1])
    assert compare_applicants(named, ours) == compare_applicants(named[::-1], ours[::-1])
