"""Parts that fit mean the whole; a loosened expression never finds less."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from queries.expression import And, Code, Document, Expression, Not, Or, Text, in_words, leaves, matches
from queries.split import CannotSplit, loosen, split

LETTERS = "abcdefgh"
LEAVES = st.sampled_from(LETTERS).map(Text) | st.just(Code("cpc", "A01G"))


def _grown(inner: st.SearchStrategy[Expression]) -> st.SearchStrategy[Expression]:
    parts = st.lists(inner, min_size=1, max_size=4).map(tuple)
    barred = st.builds(lambda parts, part: And((*parts, Not(part))), parts, inner)
    return parts.map(And) | parts.map(Or) | barred


EXPRESSIONS = st.recursive(LEAVES, _grown, max_leaves=12)
DOCUMENTS = st.builds(
    lambda title, coded: Document(" ".join(title), "", (("cpc", "A01G"),) if coded else ()),
    st.sets(st.sampled_from(LETTERS)).map(sorted),
    st.booleans(),
)


def _at_most(limit: int, expression: Expression) -> bool:
    return sum(1 for _ in leaves(expression)) <= limit


@settings(derandomize=True, max_examples=300)
@given(EXPRESSIONS, st.integers(1, 8), st.lists(DOCUMENTS, min_size=1, max_size=8))
def test_the_union_of_the_parts_is_the_expression(
    expression: Expression, limit: int, documents: list[Document]
) -> None:
    """Every part fits, and a document is found by some part exactly when the whole finds it."""
    try:
        done = split(expression, lambda part: _at_most(limit, part))
    except CannotSplit:
        return
    assert all(_at_most(limit, part) for part in done.parts)
    for document in documents:
        assert any(matches(part, document) for part in done.parts) == matches(expression, document)


@settings(derandomize=True, max_examples=300)
@given(EXPRESSIONS, st.sets(st.sampled_from((*LETTERS, "A01G"))), st.lists(DOCUMENTS, min_size=1, max_size=8))
def test_a_loosened_expression_never_finds_less(
    expression: Expression, sayable: set[str], documents: list[Document]
) -> None:
    """It holds kept leaves only, finds all that the whole finds, and says so when nothing went."""

    def keep(leaf: Text | Code) -> bool:
        return (leaf.text if isinstance(leaf, Text) else leaf.symbol) in sayable

    kept, dropped = loosen(expression, keep)
    if kept is not None:
        assert all(map(keep, leaves(kept)))
        for document in documents:
            found, wanted = matches(kept, document), matches(expression, document)
            assert found == wanted if not dropped else found or not wanted
    else:
        assert dropped


TERMS = tuple(Text(letter) for letter in LETTERS)
BARRED = Not(Text("toy"))


def test_an_expression_that_fits_is_left_whole() -> None:
    """No cut, no note."""
    whole = And((Or(TERMS[:3]), BARRED))
    assert split(whole, lambda _: True).parts == (whole,)
    assert split(whole, lambda _: True).notes == ()


def test_the_largest_group_is_cut_and_exclusions_stay_in_every_part() -> None:
    """Five alternatives beside two become three and two, each with the rest and the exclusion."""
    small, large = Or(TERMS[:2]), Or(TERMS[2:7])
    done = split(And((small, large, BARRED)), lambda part: _at_most(6, part))
    assert done.parts == (
        And((small, Or(TERMS[2:5]), BARRED)),
        And((small, Or(TERMS[5:7]), BARRED)),
    )
    assert done.notes == (
        '5 alternatives ("c" to "g") were cut into 3 and 2: together they are too much for one request.',
    )


def test_what_no_cut_makes_fit_is_named_in_its_smallest_part() -> None:
    """The error says which part is still too much, with its exclusions, and how to mend it."""
    barred = Not(Or(TERMS[4:8]))
    with pytest.raises(CannotSplit) as caught:
        split(And((Or(TERMS[:4]), barred)), lambda part: _at_most(4, part))
    assert caught.value.part == '"a" and not ("e" or "f" or "g" or "h")'
    assert caught.value.part in str(caught.value)
    assert "Use shorter terms" in str(caught.value)


CODE = Code("cpc", "A01G 25/02")


@pytest.mark.parametrize(
    ("expression", "kept", "dropped"),
    [
        (And((TERMS[0], CODE)), TERMS[0], (CODE,)),
        (And((TERMS[0], Or((TERMS[1], CODE)))), TERMS[0], (Or((TERMS[1], CODE)),)),
        (Or((TERMS[0], CODE)), None, (Or((TERMS[0], CODE)),)),
        (And((TERMS[0], Not(CODE))), TERMS[0], (Not(CODE),)),
        (
            And((TERMS[0], Not(Or((CODE, TERMS[1]))))),
            TERMS[0],
            (Not(Or((CODE, TERMS[1]))),),
        ),
        (And((CODE, BARRED)), None, (And((CODE, BARRED)),)),
        (Or((And((TERMS[0], CODE)), TERMS[1])), Or((TERMS[0], TERMS[1])), (CODE,)),
        (And((TERMS[0], BARRED)), And((TERMS[0], BARRED)), ()),
    ],
)
def test_a_source_without_codes_gets_the_rest(
    expression: Expression, kept: Expression | None, dropped: tuple[Expression, ...]
) -> None:
    """What goes is named; exclusions alone narrow nothing and are not sent alone."""
    found = loosen(expression, lambda leaf: isinstance(leaf, Text))
    assert found == (kept, tuple(map(in_words, dropped)))
