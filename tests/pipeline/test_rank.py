"""Ranking and element matches: order, scale, missing vectors, ties."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.embed import text_key
from pipeline.rank import MEANING, RATED, element_matches, rank, rated

SUMMARY = "drip emitter flushed by a shape memory spring"
TEXTS = {
    "r1": "A drip emitter with a shape memory spring that flushes the line.",
    "r2": "A sprinkler with a rotating arm.",
    "r3": "Spring steel for watches.",
    "r4": "",
}


def _references(texts: Mapping[str, str]) -> pa.Table:
    return pa.table({"reference_id": list(texts), "text": list(texts.values())})


def _vectors(cosines: Mapping[str, float], to: str = SUMMARY) -> dict[str, np.ndarray]:
    """Return vectors in a plane that stand at the given cosine to the vector of `to`."""
    found = {text_key(text): np.array([c, math.sqrt(1 - c * c)], np.float32) for text, c in cosines.items()}
    return {text_key(to): np.array([1, 0], np.float32), **found}


def _order(table: pa.Table) -> list[str]:
    return table.column("reference_id").to_pylist()


def test_words_follow_the_published_bm25_formula() -> None:
    """Scores stand to each other as idf x tf/(tf + k1(1 - b + b len/mean)) (Robertson & Zaragoza 2009)."""
    texts = {"a": "valve valve pump", "b": "valve motor gear shaft", "c": "motor"}
    found = {row["reference_id"]: row["words"] for row in rank(_references(texts), "valve", {}).to_pylist()}
    mean = (3 + 4 + 1) / 3
    a = 2 / (2 + 1.5 * (0.25 + 0.75 * 3 / mean))
    b = 1 / (1 + 1.5 * (0.25 + 0.75 * 4 / mean))
    assert found == pytest.approx({"a": 1.0, "b": b / a, "c": 0.0}, abs=1e-6)


def test_words_alone_rank_when_nothing_is_embedded() -> None:
    """Without vectors the score is the words' and meaning is unknown, not zero."""
    table = rank(_references(TEXTS), SUMMARY, {})
    assert _order(table) == ["r1", "r3", "r2", "r4"]
    assert table.column("meaning").null_count == 4
    assert table.column("score").to_pylist() == pytest.approx(table.column("words").to_pylist(), abs=1e-6)
    assert table.column("place").to_pylist() == [1, 2, 3, 4]


def test_forms_of_a_word_are_the_same_word() -> None:
    """Stems meet: flushing finds flushed."""
    table = rank(
        _references({"a": "cooling of pipes", "b": "self-flushing of pipes"}), "pipe that is flushed", {}
    )
    assert _order(table) == ["b", "a"]


def test_meaning_outweighs_words() -> None:
    """The score is the stated mixture of both readings."""
    texts = {"far": SUMMARY, "near": "nothing in common"}
    table = rank(
        _references(texts), SUMMARY + "!", _vectors({SUMMARY: 0.1, "nothing in common": 0.9}, SUMMARY + "!")
    )
    assert _order(table) == ["near", "far"]
    assert table.column("score").to_pylist() == pytest.approx(
        [MEANING * 0.9, MEANING * 0.1 + 1 - MEANING], abs=1e-5
    )


def test_a_reference_not_embedded_is_taken_as_average_in_meaning() -> None:
    """It stands between embedded ones that are closer and farther; its meaning stays unknown."""
    texts = {"close": "alpha", "far": "beta", "waiting": "gamma"}
    table = rank(_references(texts), SUMMARY, _vectors({"alpha": 0.8, "beta": 0.2}))
    assert _order(table) == ["close", "waiting", "far"]
    assert table.column("meaning").to_pylist()[1] is None
    assert table.column("score").to_pylist()[1] == pytest.approx(MEANING * 0.5, abs=1e-5)


def test_ties_go_to_the_smaller_id() -> None:
    """Equal texts are placed by id, whatever order they came in."""
    assert _order(rank(_references({"b": "valve", "a": "valve", "c": "valve"}), "valve", {})) == [
        "a",
        "b",
        "c",
    ]


@pytest.mark.parametrize("summary", ["", "   ", "the of and", "zzz qqq", "弁"])
@pytest.mark.parametrize("texts", [{}, {"a": ""}, {"a": "the of", "b": ""}, {"a": "valve"}])
def test_empty_texts_and_summaries_rank_by_id(texts: dict[str, str], summary: str) -> None:
    """Nothing to compare is no error: every reference comes back with score 0."""
    table = rank(_references(texts), summary, {})
    assert _order(table) == sorted(texts)
    assert table.column("score").to_pylist() == [0.0] * len(texts)


def test_an_id_given_twice_is_refused() -> None:
    """Two rows for one reference would give it two places."""
    twice = pa.table({"reference_id": ["a", "a"], "text": ["x", "y"]})
    with pytest.raises(ValueError, match="'a' stands twice"):
        rank(twice, SUMMARY, {})


def test_vectors_of_two_models_are_refused() -> None:
    """Vectors of unequal length can't be compared, and the error says what to pass."""
    vectors = _vectors({"alpha": 0.5}) | {text_key("beta"): np.ones(3, np.float32)}
    with pytest.raises(ValueError, match="one model"):
        rank(_references({"a": "alpha", "b": "beta"}), SUMMARY, vectors)


@settings(derandomize=True, max_examples=30, deadline=None)
@given(st.randoms(use_true_random=False))
def test_the_order_of_input_changes_nothing(chance: random.Random) -> None:
    """Shuffled rows give the same table."""
    rows = list(TEXTS.items())
    vectors = _vectors({TEXTS["r1"]: 0.7, TEXTS["r3"]: 0.4})
    expected = rank(_references(TEXTS), SUMMARY, vectors)
    chance.shuffle(rows)
    assert rank(_references(dict(rows)), SUMMARY, vectors).equals(expected)


def _passages(*rows: tuple[str, int, str]) -> pa.Table:
    return pa.table(
        {name: [row[n] for row in rows] for n, name in enumerate(("reference_id", "passage", "text"))}
    )


ELEMENTS = {"A": "a spring of shape memory alloy", "B": "an emitter body with an inlet"}


def test_each_element_points_at_the_passage_that_shows_it() -> None:
    """One row per reference and element, with the best passage of that reference."""
    passages = _passages(
        ("r1", 0, "A new dripper"),
        ("r1", 1, "The emitter body has one inlet."),
        ("r1", 2, "A shape memory alloy spring opens it."),
        ("r2", 0, "Nothing of the kind"),
    )
    table = element_matches(passages, ELEMENTS, {})
    got = {(r["reference_id"], r["element"]): (r["closeness"], r["passage"]) for r in table.to_pylist()}
    assert list(got) == [("r1", "A"), ("r1", "B"), ("r2", "A"), ("r2", "B")]
    assert got["r1", "A"] == (1.0, 2)
    assert got["r1", "B"] == (1.0, 1)
    assert got["r2", "A"] == (0.0, None)


def test_a_rare_word_counts_more_than_a_common_one() -> None:
    """The share of words is weighted by how few passages hold them."""
    passages = _passages(*[("r", n, "a spring") for n in range(9)], ("r", 9, "an alloy"))
    row = element_matches(passages, {"A": "alloy spring"}, {}).to_pylist()[0]
    assert row["passage"] == 9
    assert row["closeness"] > 0.5


def test_closeness_mixes_rating_and_words() -> None:
    """With vectors, meaning counts at the rating its cosine stands for."""
    element = ELEMENTS["A"]
    passages = _passages(("r", 4, "wire that recalls its form"))
    vectors = _vectors({"wire that recalls its form": 0.75}, element)
    row = element_matches(passages, {"A": element}, vectors).to_pylist()[0]
    assert row["closeness"] == pytest.approx(MEANING * 0.53, abs=1e-4)
    assert row["passage"] == 4


def test_equal_passages_are_shown_by_the_first() -> None:
    """Ties go to the smaller passage number, whatever the order of rows."""
    passages = _passages(("r", 7, "an alloy"), ("r", 3, "an alloy"))
    assert element_matches(passages, {"A": "alloy"}, {}).column("passage").to_pylist() == [3]


@pytest.mark.parametrize("elements", [{}, {"A": ""}, {"A": "the of"}])
@pytest.mark.parametrize("rows", [[], [("r", 0, "")], [("r", 0, "valve")]])
def test_empty_elements_and_passages_match_nothing(
    rows: list[tuple[str, int, str]], elements: dict[str, str]
) -> None:
    """Nothing to compare gives closeness 0 and no passage."""
    table = element_matches(_passages(*rows), elements, {})
    assert table.num_rows == len(rows) * len(elements)
    assert table.column("closeness").to_pylist() == [0.0] * table.num_rows
    assert table.column("passage").null_count == table.num_rows


def test_the_rating_never_falls_as_the_cosine_rises() -> None:
    """The map from cosine to rating is monotone from 0 to 1 and passes its measured points."""
    values = rated(np.linspace(-1, 1, 2001))
    assert (np.diff(values) >= 0).all()
    assert (values[0], values[-1]) == (0.0, 1.0)
    assert rated(np.array([at for at, _ in RATED])).tolist() == [value for _, value in RATED]
