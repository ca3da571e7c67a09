"""One writer for the languages of and, or, not and brackets: what it writes means what was asked."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connectors.boolean_query import Signs, write_query
from queries.expression import And, Code, Document, Expression, Not, Or, Text, matches

PYTHON = Signs(" and ", " or ", " and not ")
WORDS = ("ant", "bee", "cat", "bat-man", "bat man")
TERMS = st.sampled_from(WORDS).map(Text)


def term(text: str) -> str:
    """Write a term as Python: is it in the words there are."""
    return f"({' '.join(re.findall('[a-z]+', text))!r} in here)"


def groups(parts: st.SearchStrategy[Expression]) -> st.SearchStrategy[Expression]:
    """Give And, Or and exclusions beside something wanted."""
    many = st.lists(parts, min_size=1, max_size=3).map(tuple)
    barred = st.tuples(parts, many).map(lambda both: And((*map(Not, both[1]), both[0])))
    return st.one_of(many.map(And), many.map(Or), barred)


@given(st.recursive(TERMS, groups, max_leaves=8), st.sets(st.sampled_from(("ant", "bee", "cat", "bat man"))))
def test_it_means_what_was_asked(expression: Expression, here: set[str]) -> None:
    """Read by Python's own rules for and, or, not and brackets, it holds where the expression does."""
    written = write_query(expression, term, PYTHON)
    # nosec: the text is made of the words above
    assert eval(written, {"here": here}) is matches(expression, Document(". ".join(sorted(here))))  # noqa: S307


def test_terms_written_alike_stand_once() -> None:
    """Forms that differ in a hyphen take no room twice, and a group of one clause has no brackets."""
    asked = And((Or((Text("bat-man"), Text("bat man"))), Or((Text("ant"), Text("bee"))), Not(Text("cat"))))
    written = write_query(asked, lambda text: text.replace("-", " "), Signs(" + ", " | ", " -"))
    assert written == "bat man + (ant | bee) -cat"


@pytest.mark.parametrize("part", [Not(Text("ant")), Code("cpc", "A01G 25/02")])
def test_what_cannot_stand_alone_is_refused(part: Expression) -> None:
    """A symbol, or an exclusion alone, was to be left out before."""
    with pytest.raises(ValueError, match="can't stand alone"):
        write_query(Or((Text("bee"), part)), str, Signs())
