"""Which classification symbols lie below which."""

from __future__ import annotations

import pytest

from queries.symbol import below, extends


@pytest.mark.parametrize(
    ("asked", "stated", "expected", "source"),
    [
        ("A01G 25/02", "A01G 25/02", "yes", "equal"),
        ("A01G 25/02", "A01G25/02", "yes", "as offices' files write it, without the blank"),
        ("G06F 17/60", "G06F017/60", "yes", "leading zero of older IPC editions"),
        ("H01M 4/13", "H01M   4/13", "yes", "IPC right-aligned groups"),
        ("A01G 25/00", "A01G 25/02", "yes", "a main group holds its subgroups (IPC Guide)"),
        ("A01G 25", "A01G 25/165", "yes", "main group written short"),
        ("A01G", "A01G 25/02", "yes", "a subclass holds its groups (IPC Guide)"),
        ("A01", "A01G 25/02", "yes", "a class holds its subclasses"),
        ("A", "A01G", "yes", "a section holds its classes"),
        ("A01G", "A01H 1/00", "no", "another subclass"),
        ("A01G 25/00", "A01G 27/02", "no", "another main group"),
        ("A01G 2", "A01G 25/02", "no", "group 2 is not group 25"),
        (
            "A61K 31/04",
            "A61K 31/045",
            "unknown",
            "IPC, from memory: not below it, though the digits go on",
        ),
        ("H01M 4/13", "H01M 4/131", "unknown", "IPC, from memory: below it by dots, which no symbol shows"),
        ("A61K 31/015", "A61K 31/01", "no", "an earlier subgroup is never below a later one"),
        ("A01G 25/06", "A01G 25/02", "no", "an earlier subgroup is never below a later one"),
        ("G01N 3/42", "G01N 3/43", "unknown", "subgroups are ordered as decimals (IPC Guide)"),
        ("A01G 25/02", "A01G", "unknown", "the stated symbol is wider than the question"),
        ("A01G 25/02", "A01G 25/00", "unknown", "the stated symbol is wider than the question"),
        ("cs.RO", "cs.RO", "yes", "other schemes: compared as text"),
        ("cs.RO", "cs.R", "no", "other schemes: compared as text"),
    ],
)
def test_below_follows_the_scheme_as_far_as_a_symbol_shows_it(
    asked: str, stated: str, expected: str, source: str
) -> None:
    """Each pair is judged as its source says."""
    assert below(asked, stated) == expected, source


@pytest.mark.parametrize(
    ("asked", "stated", "expected"),
    [
        ("A01G 25/02", "A01G 25/023", True),
        ("A01G 25/02", "A01G 25/06", False),
        ("A01G 25/02", "A01G 27/023", False),
        ("A01G", "A01G 25/02", False),
        ("A01G 25/02", "A01G", False),
    ],
)
def test_extends_is_for_further_digits_of_one_subgroup(asked: str, stated: str, expected: bool) -> None:
    """Only further digits after the stroke extend a subgroup."""
    assert extends(asked, stated) is expected
