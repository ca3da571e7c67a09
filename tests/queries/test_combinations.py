"""Combinations of one form of each concept, for services without an OR."""

from __future__ import annotations

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from queries.combinations import combinations, wanted_parts
from queries.expression import And, Code, Not, Or, Text


def any_of(*texts: str) -> Or:
    """Return the alternatives."""
    return Or(tuple(map(Text, texts)))


def test_each_form_meets_each_form_first_forms_first() -> None:
    """Two concepts of two forms are four combinations."""
    chosen = combinations((any_of("a", "b"), any_of("c", "d")), 40).chosen
    assert chosen == (("a", "c"), ("a", "d"), ("b", "c"), ("b", "d"))


def test_an_and_within_a_concept_keeps_its_texts_apart() -> None:
    """Both must be found, each for itself."""
    assert combinations((Or((Text("a"), And((Text("b c"), Text("d"))))),), 40).chosen == (
        ("a",),
        ("b c", "d"),
    )


def test_symbols_and_exclusions_choose_nothing() -> None:
    """They are said in another way, or not at all."""
    parts = wanted_parts(And((Text("a"), Not(Text("b")), Text("c"))))
    assert combinations(parts, 40).chosen == (("a", "c"),)
    assert combinations((Code("cpc", "A01G"),), 40).chosen == ()


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 7), min_size=1, max_size=3), st.integers(1, 30))
def test_sent_and_named_together_are_all(sizes: list[int], most: int) -> None:
    """Never more than the most; what is not sent is named, so nothing is left out in silence."""
    groups = [[f"{letter}{n}" for n in range(size)] for letter, size in zip("xyz", sizes, strict=False)]
    done = combinations([any_of(*texts) for texts in groups], most)
    unsent = {each for each in product(*groups) if any(f"'{text}'" in done.unsent for text in each)}
    assert 1 <= len(done.chosen) <= max(most, 1)
    assert {*done.chosen} | unsent == {*product(*groups)}
    assert not {*done.chosen} & unsent
