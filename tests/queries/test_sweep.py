"""Query set → sweeps."""

from __future__ import annotations

import pytest

from queries.concept import Concept, QuerySet, Term
from queries.expression import And, Code, Not, Or, Text
from queries.sweep import sweeps


def _plain(*texts: str) -> tuple[Term, ...]:
    return tuple(Term(text, plural=False, hyphen=False, spelling=False) for text in texts)


EMITTER = Concept("emitter", _plain("drip emitter", "dripper"))
SPRING = Concept("spring", _plain("memory spring"))
FLUSH = Concept("flush", _plain("flushing"))
ANY_EMITTER = Or((Text("drip emitter"), Text("dripper")))
CODE = Code("cpc", "A01G 25/02")


def test_three_concepts_are_asked_together_and_in_every_pair() -> None:
    """All, then each pair, in the order of the query set."""
    made = sweeps(QuerySet((EMITTER, SPRING, FLUSH)))
    assert [(sweep.name, sweep.expression) for sweep in made] == [
        ("all concepts", And((ANY_EMITTER, Text("memory spring"), Text("flushing")))),
        ("emitter + spring", And((ANY_EMITTER, Text("memory spring")))),
        ("emitter + flush", And((ANY_EMITTER, Text("flushing")))),
        ("spring + flush", And((Text("memory spring"), Text("flushing")))),
    ]
    assert not any(sweep.has_codes for sweep in made)


def test_each_code_is_asked_with_each_concept() -> None:
    """Two concepts: all is the pair and is asked once; then code and concept."""
    made = sweeps(QuerySet((EMITTER, SPRING), (CODE, CODE)))
    assert [sweep.name for sweep in made] == ["all concepts", "A01G 25/02 + emitter", "A01G 25/02 + spring"]
    assert made[1].expression == And((CODE, ANY_EMITTER))
    assert [sweep.has_codes for sweep in made] == [False, True, True]


def test_one_concept_is_asked_alone_under_its_name() -> None:
    """Nothing to pair it with."""
    assert [(s.name, s.expression) for s in sweeps(QuerySet((EMITTER,)))] == [("emitter", ANY_EMITTER)]


def test_exclusions_stand_in_every_sweep() -> None:
    """Each sweep of the set bars them, in all their forms."""
    made = sweeps(QuerySet((EMITTER, SPRING), (CODE,), (Term("toy"), *_plain("game"))))
    barred = (Not(Or((Text("toy"), Text("toys")))), Not(Text("game")))
    assert all(isinstance(sweep.expression, And) for sweep in made)
    assert all(sweep.expression.parts[-2:] == barred for sweep in made)


def test_forms_that_differ_in_case_or_blanks_stand_once() -> None:
    """The first writing stands."""
    concept = Concept("e", _plain("Dripper", "dripper", " dripper "))
    assert sweeps(QuerySet((concept,)))[0].expression == Text("Dripper")


def test_one_symbol_in_two_schemes_is_two_sweeps_with_two_names() -> None:
    """The search log goes by name, so the scheme stands in it where there are two."""
    made = sweeps(QuerySet((EMITTER,), (CODE, Code("ipc", "A01G 25/02"))))
    assert [sweep.name for sweep in made[1:]] == ["CPC A01G 25/02 + emitter", "IPC A01G 25/02 + emitter"]


def test_names_never_collide_and_meanings_never_repeat() -> None:
    """Concepts whose names hold a plus sign, and two with the same terms."""
    tricky = (
        Concept("a", _plain("one")),
        Concept("b + c", _plain("two")),
        Concept("a + b", _plain("three")),
        Concept("c", _plain("four")),
        Concept("d", _plain("one")),
    )
    made = sweeps(QuerySet(tricky))
    names = [sweep.name for sweep in made]
    assert "a + b + c (2)" in names
    assert len(set(names)) == len(names)
    assert "c + d" not in names  # means what "a + c" means
    assert "a + c" in names


@pytest.mark.parametrize(
    ("query_set", "message"),
    [
        (QuerySet(()), "no concept"),
        (QuerySet((EMITTER, Concept("valve", ()))), "'valve' has no terms"),
        (QuerySet((Concept("valve", _plain("--")),)), "'valve': the term '--' has no letter"),
        (QuerySet((EMITTER,), (), _plain(" ")), "exclusions: the term ' '"),
        (QuerySet((EMITTER, EMITTER)), "two concepts are named 'emitter'"),
    ],
)
def test_a_query_set_that_asks_nothing_is_refused_by_name(query_set: QuerySet, message: str) -> None:
    """The error names the concept or the term."""
    with pytest.raises(ValueError, match=message):
        sweeps(query_set)
