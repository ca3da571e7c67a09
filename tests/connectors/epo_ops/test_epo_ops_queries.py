"""What EPO OPS is asked: expressions and windows in CQL, within its limits."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors import epo_ops
from connectors.epo_ops_cql import expressible, fits, in_cql
from queries.expression import And, Code, Document, Expression, Not, Or, Text, leaves, matches
from queries.window import ALL_DAYS, Window


@pytest.mark.parametrize(
    ("expression", "cql"),
    [
        (Text("Shape-memory Spring"), 'ta="shape memory spring"'),  # a quoted hyphen finds nothing
        (Text("goutteur déclic"), 'ta="goutteur declic"'),  # accents are not searchable
        (Code("CPC", "A01G 25/02"), "cpc=/low A01G25/02"),  # a blank inside is answered 500
        (Code("IPC", "A01G 25/02"), "ipc=/low A01G25/02"),
        (And((Text("x"), Or((Text("y"), Text("z"))))), '(ta="x" and (ta="y" or ta="z"))'),
        (And((Not(Text("z")), Text("x"), Text("y"))), '((ta="x" and ta="y") not ta="z")'),  # not is binary
        (Text('x" and pa="firm'), '(ta="x" and ta="pa" and ta="firm")'),
    ],
)
def test_expression_is_asked_in_cql(expression: Expression, cql: str) -> None:
    """Each clause has its index, each group its brackets; no text can leave its quotes."""
    asked, _ = expressible(expression)
    assert asked is not None
    assert in_cql(asked) == cql


@pytest.mark.parametrize(
    ("window", "clause"),
    [
        (Window(date(2020, 1, 1), date(2021, 1, 1)), ' and pd within "20200101 20201231"'),
        (Window(date(2020, 1, 1), date(2020, 1, 2)), ' and pd within "20200101 20200101"'),
        (Window(None, date(2021, 1, 1)), " and pd<20210101"),  # finds the undated (00000000) too
        (Window(date(2020, 1, 1), None), " and pd>=20200101"),
        (ALL_DAYS, ""),
    ],
)
def test_half_open_window_becomes_inclusive_days(window: Window, clause: str) -> None:
    """The last day is the day before public_to; a window closed on both sides says what it leaves out."""
    compiled = epo_ops.compile(Text("emitter"), window)
    (request,) = compiled.requests
    query = 'ta="emitter"'
    assert dict(request.params) == {"q": f"({query}){clause}" if clause else query, "Range": "1-100"}
    assert bool(compiled.not_expressed) == bool(window.public_from and window.public_to)
    assert compiled == epo_ops.compile(Text("emitter"), window)


def test_small_words_are_left_out_and_said() -> None:
    """`method of flushing` is asked as its other words; as an exclusion it is not asked at all."""
    compiled = epo_ops.compile(And((Text("emitter"), Text("method of flushing"))), ALL_DAYS)
    assert dict(compiled.requests[0].params)["q"] == '(ta="emitter" and ta="method" and ta="flushing")'
    assert "method of flushing" in compiled.not_expressed[0]
    without = epo_ops.compile(And((Text("emitter"), Not(Text("state of the art")))), ALL_DAYS)
    assert dict(without.requests[0].params)["q"] == 'ta="emitter"'
    assert "state of the art" in without.not_expressed[0]


@pytest.mark.parametrize(
    "expression", [Text("of the"), Code("FI", "A01G 25/02"), Code("CPC", "A01G 25/02) or pd>1900"), Text("!")]
)
def test_what_ops_cannot_say_is_not_asked(expression: Expression) -> None:
    """Small words alone, other classifications and hostile symbols: no request, and why."""
    compiled = epo_ops.compile(expression, ALL_DAYS)
    assert compiled.requests == ()
    assert "not asked" in compiled.not_expressed[-1]


def test_long_concepts_are_split_within_the_limits() -> None:
    """Ten words of an index, twenty in all (support, forum 2931): every part keeps to it."""
    first = Or(tuple(Text(f"drip emitter{n}") for n in range(8)))
    second = Or(tuple(Text(f"spring{n}") for n in range(9)))
    compiled = epo_ops.compile(And((first, second, Code("CPC", "A01G"))), ALL_DAYS)
    assert len(compiled.requests) > 4
    assert compiled.splits
    for request in compiled.requests:
        query = dict(request.params)["q"]
        words = sum(len(part.split('"')[0].split()) for part in query.split('ta="')[1:])
        assert words <= 10
        assert "cpc=/low A01G" in query


def test_phrase_longer_than_the_limit_is_not_asked() -> None:
    """Eleven words in a row fit no query: said, not cut."""
    compiled = epo_ops.compile(Text(" ".join(f"w{n}" for n in range(11))), ALL_DAYS)
    assert compiled.requests == ()
    assert "ten words" in compiled.not_expressed[-1]


_TEXTS = st.sampled_from(["drip", "line of pipes", "spring", "the", "flush valve"]).map(Text)
_TREES: st.SearchStrategy[Expression] = st.recursive(
    _TEXTS | st.just(Code("CPC", "A01G 25/02")) | st.just(Code("FI", "A01G")),
    lambda inner: (
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: Or(tuple(parts)))
        | st.tuples(st.lists(inner, min_size=1, max_size=3), st.lists(_TEXTS, max_size=1)).map(
            lambda both: And((*both[0], *map(Not, both[1])))
        )
    ),
    max_leaves=8,
)
_WORDS = st.lists(
    st.sampled_from(["drip", "line", "of", "pipes", "spring", "the", "flush", "valve"]), max_size=8
).map(" ".join)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(_TREES, _WORDS)
def test_what_is_asked_finds_all_that_was_meant(expression: Expression, title: str) -> None:
    """Whatever is left out on the way to OPS, no document that matches is lost."""
    asked, _ = expressible(expression)
    document = Document(title, "", (("CPC", "A01G 25/02"),))
    if asked is not None and matches(expression, document):
        assert matches(asked, document)
    if asked is not None:
        assert all(isinstance(leaf, Text) or leaf.scheme == "CPC" for leaf in leaves(asked))
        assert isinstance(fits(asked), bool) and in_cql(asked)
