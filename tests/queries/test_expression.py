"""The meaning of an expression, its words, and what can be judged from little."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from queries.expression import (
    And,
    Code,
    Document,
    Expression,
    Not,
    Or,
    Text,
    in_words,
    judge_within,
    leaves,
    matches,
    simplify,
)

SYMBOLS = ("A01G", "A01G 25/00", "A01G 25/02", "A01G 25/023", "F16K", "F16K 31/02")
SOME_WORDS = st.sampled_from(("drip", "emitter", "spring", "valve", "Drip", "heat"))
PHRASES = st.lists(SOME_WORDS, min_size=1, max_size=3).map(" ".join)
LEAVES = PHRASES.map(Text) | st.sampled_from(SYMBOLS).map(lambda symbol: Code("cpc", symbol))


def _grown(inner: st.SearchStrategy[Expression]) -> st.SearchStrategy[Expression]:
    parts = st.lists(inner, min_size=1, max_size=4).map(tuple)
    barred = st.builds(lambda parts, part: And((*parts, Not(part))), parts, inner)
    return parts.map(And) | parts.map(Or) | barred


EXPRESSIONS = st.recursive(LEAVES, _grown, max_leaves=10)
FIELDS = st.lists(SOME_WORDS, max_size=6).map(" ".join)
DOCUMENTS = st.builds(
    Document,
    title=FIELDS,
    abstract=FIELDS,
    codes=st.lists(st.tuples(st.just("cpc"), st.sampled_from(SYMBOLS)), max_size=2).map(tuple),
)


def _naive(expression: Expression, document: Document) -> bool:
    """Judge by regular expressions on the plain text: another way to the same meaning."""
    if isinstance(expression, Text):
        sought = r"\b" + r"\W+".join(map(re.escape, expression.text.split())) + r"\b"
        return any(re.search(sought, field, re.I) for field in (document.title, document.abstract))
    if isinstance(expression, Code):
        stem = expression.symbol.removesuffix("/00")
        return any(symbol.startswith(stem) for _, symbol in document.codes)
    if isinstance(expression, Not):
        return not _naive(expression.part, document)
    every = [_naive(part, document) for part in expression.parts]
    return min(every) if isinstance(expression, And) else max(every)


@settings(derandomize=True, max_examples=300)
@given(EXPRESSIONS, DOCUMENTS)
def test_matches_agrees_with_a_naive_reading(expression: Expression, document: Document) -> None:
    """An independent evaluator by regular expressions finds the same."""
    assert matches(expression, document) == _naive(expression, document)


@settings(derandomize=True, max_examples=300)
@given(EXPRESSIONS, DOCUMENTS)
def test_simplify_keeps_the_meaning(expression: Expression, document: Document) -> None:
    """Flattening changes neither what is found nor the expression's words, and is done at once."""
    simple = simplify(expression)
    assert matches(simple, document) == matches(expression, document)
    assert simplify(simple) == simple
    assert in_words(simple) == in_words(expression)


@settings(derandomize=True, max_examples=400)
@given(EXPRESSIONS, DOCUMENTS)
def test_a_judgement_never_contradicts_matches(expression: Expression, document: Document) -> None:
    """'yes' is a match, 'no' is none; with all stated, text alone is never unknown."""
    judged = judge_within(expression, document)
    assert judged == "unknown" or (judged == "yes") == matches(expression, document)
    if document.title and document.abstract and all(isinstance(leaf, Text) for leaf in leaves(expression)):
        assert judged != "unknown"


@settings(derandomize=True, max_examples=300)
@given(EXPRESSIONS, DOCUMENTS, st.lists(SOME_WORDS, min_size=1, max_size=6).map(" ".join))
def test_a_judgement_on_a_title_holds_whatever_the_abstract_says(
    expression: Expression, document: Document, abstract: str
) -> None:
    """'yes' or 'no' from a title alone stays so when the abstract is known."""
    bare = Document(document.title, "", document.codes)
    whole = Document(document.title, abstract, document.codes)
    judged = judge_within(expression, bare)
    assert judged in ("unknown", judge_within(expression, whole))


@pytest.mark.parametrize(
    ("text", "title", "abstract", "expected"),
    [
        ("drip emitter", "A drip emitter.", "", True),
        ("drip emitter", "A DRIP-EMITTER", "", True),
        ("drip emitter", "Drip, emitter", "", True),
        ("drip emitter", "On drip", "Emitter design", False),
        ("drip emitter", "drip irrigation emitter", "", False),
        ("drip emitter", "drip emitters", "", False),
        ("emitter", "emitters", "", False),
        ("滴灌", "新型滴灌系统", "", True),
        ("++", "C++ in drip control", "", False),
    ],
)
def test_a_phrase_is_found_as_whole_words_in_one_field(
    text: str, title: str, abstract: str, expected: bool
) -> None:
    """Words stand next to each other, in order, in the title or in the abstract."""
    assert matches(Text(text), Document(title, abstract)) is expected


A, B = Text("alpha"), Text("beta")
CODE = Code("cpc", "A01G 25/02")


@pytest.mark.parametrize(
    ("expression", "document", "expected", "why"),
    [
        (A, Document("alpha"), "yes", "the title decides"),
        (A, Document("gamma"), "unknown", "no abstract"),
        (A, Document("", "gamma"), "unknown", "no title"),
        (A, Document("gamma", "delta"), "no", "both stated"),
        (And((A, B)), Document("alpha"), "unknown", "Kleene: yes and unknown"),
        (Or((A, B)), Document("alpha"), "yes", "Kleene: yes or unknown"),
        (And((A, Not(B))), Document("alpha"), "unknown", "Kleene: not unknown"),
        (And((A, Not(B))), Document("alpha beta"), "no", "an exclusion found decides"),
        (And((A, CODE)), Document("gamma", "delta"), "no", "Kleene: no and unknown"),
        (CODE, Document("a", "b"), "unknown", "no symbol stated"),
        (CODE, Document("a", "b", (("ipc", "A01G 25/02"),)), "unknown", "none of that scheme stated"),
        (CODE, Document("a", "b", (("CPC", "A01G25/02"),)), "yes", "stated, scheme in capitals"),
        (CODE, Document("a", "b", (("cpc", "F16K 31/02"),)), "no", "others stated"),
        (CODE, Document("a", "b", (("cpc", "A01G 25/06"),)), "unknown", "dots decide"),
        (Text("--"), Document("a"), "no", "text without a word is nowhere"),
    ],
)
def test_what_is_not_stated_is_unknown(
    expression: Expression, document: Document, expected: str, why: str
) -> None:
    """Three-valued logic over what the document states."""
    assert judge_within(expression, document) == expected, why


@pytest.mark.parametrize(
    ("expression", "line"),
    [
        (Text("drip  emitter"), '"drip emitter"'),
        (Code("cpc", "A01G 25/02"), 'CPC:"A01G 25/02"'),
        (Or((B, A)), '"alpha" or "beta"'),
        (And((Not(A), Or((B, A)))), '("alpha" or "beta") and not "alpha"'),
        (And((A, Not(Or((A, B))))), '"alpha" and not ("alpha" or "beta")'),
        (Or((A, Or((B, A)))), '"alpha" or "beta"'),
        (And((Or((A,)),)), '"alpha"'),
        (Text('a" or "b'), '"a\\" or \\"b"'),
        (Text("a\\"), '"a\\\\"'),
        (Text("a\u202eb"), '"a\\u{202e}b"'),
        (Or(()), "nothing"),
    ],
)
def test_in_words_is_one_readable_line(expression: Expression, line: str) -> None:
    """Order and nesting leave no trace; hostile text can't pass for operators."""
    assert in_words(expression) == line


@settings(derandomize=True, max_examples=300)
@given(EXPRESSIONS, EXPRESSIONS, DOCUMENTS)
def test_expressions_with_one_text_mean_the_same(
    one: Expression, two: Expression, document: Document
) -> None:
    """The text can stand as a key: equal texts find the same documents."""
    if in_words(one) == in_words(two):
        assert matches(one, document) == matches(two, document)


@settings(derandomize=True, max_examples=200)
@given(st.text(max_size=12), st.text(max_size=12))
def test_no_text_can_pass_for_another_expression(one: str, two: str) -> None:
    """Two phrases under an Or never read like one phrase."""
    assert in_words(Or((Text(one), Text(two)))) != in_words(Text(f'{one}" or "{two}'))


def test_leaves_are_in_order_and_reach_below_not() -> None:
    """Every phrase and symbol comes once per place, left to right."""
    assert list(leaves(And((A, Or((B, CODE)), Not(A))))) == [A, B, CODE, A]
