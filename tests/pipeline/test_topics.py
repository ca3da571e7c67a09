"""Topics: found, named, numbered, and the same every night."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.metrics import adjusted_rand_score

from pipeline.topics import MOST_REFERENCES, NO_TERMS, topics

SUBJECTS = {
    "valve": "membrane valve opens the outlet of the emitter",
    "sensor": "soil moisture sensor reports humidity by radio",
    "filter": "sand filter removes silt from canal water",
}


def _field(each: int, spread: float = 0.3) -> tuple[list[str], np.ndarray, list[str]]:
    """Return ids, vectors and texts of three invented subjects, `each` references large."""
    chance = np.random.default_rng(20)
    ids, vectors, texts = [], [], []
    for number, (name, text) in enumerate(SUBJECTS.items()):
        for n in range(each - number):
            ids.append(f"{name}-{n:04d}")
            texts.append(f"{text} {n}")
            vectors.append(np.eye(24)[number] + chance.normal(0, spread / 5, 24))
    found = np.array(vectors, np.float32)
    return ids, found / np.linalg.norm(found, axis=1, keepdims=True), texts


@pytest.mark.parametrize("each", [6, 120])
def test_subjects_become_topics_named_by_their_words(each: int) -> None:
    """Small and large sets: the three subjects are found, named and numbered by size."""
    ids, vectors, texts = _field(each)
    members, found = topics(ids, vectors, texts)
    got = dict(zip(*members.to_pydict().values(), strict=True))
    assert adjusted_rand_score([i.split("-")[0] for i in got], list(got.values())) == 1.0
    assert len(got) > 0.9 * len(ids)
    sizes = found.column("size").to_pylist()
    assert sizes == sorted(sizes, reverse=True)
    assert found.column("topic_id").to_pylist() == [1, 2, 3]
    for number, name in enumerate(SUBJECTS, start=1):
        if each == 6:
            assert got[f"{name}-0000"] == number
        terms = found.column("terms")[got[f"{name}-0000"] - 1].as_py().replace(",", "").split()
        assert set(terms) <= set(SUBJECTS[name].split())
        assert len(terms) == len(set(terms)), "a word is said once"
        assert 3 <= len(found.column("terms")[number - 1].as_py().split(", ")) <= 5


@pytest.mark.parametrize("each", [6, 90])
def test_the_order_of_input_changes_nothing(each: int) -> None:
    """Shuffled rows give equal tables."""
    ids, vectors, texts = _field(each)
    rows = list(range(len(ids)))
    np.random.default_rng(20).shuffle(rows)
    first = topics(ids, vectors, texts)
    second = topics([ids[r] for r in rows], vectors[rows], [texts[r] for r in rows])
    assert first[0].equals(second[0])
    assert first[1].equals(second[1])


def test_topics_of_equal_size_are_numbered_by_their_smallest_id() -> None:
    """Ids decide, not the order of rows."""
    ids = ["f", "e", "d", "c", "b", "a"]
    vectors = np.eye(2, dtype=np.float32)[[0, 1, 0, 1, 0, 1]]
    members, _ = topics(ids, vectors, ["sand filter", "soil sensor"] * 3)
    assert dict(zip(*members.to_pydict().values(), strict=True)) == {
        "a": 1,
        "b": 2,
        "c": 1,
        "d": 2,
        "e": 1,
        "f": 2,
    }


def test_a_reference_alone_in_its_subject_has_no_topic() -> None:
    """What fits nowhere is left out of the members, not forced in."""
    ids, vectors, texts = _field(6)
    lonely = np.eye(24, dtype=np.float32)[[20]]
    members, found = topics([*ids, "alone"], np.vstack([vectors, lonely]), [*texts, "paper boats"])
    assert "alone" not in members.column("reference_id").to_pylist()
    assert sum(found.column("size").to_pylist()) == members.num_rows == len(ids)


def test_a_narrow_field_is_still_parted() -> None:
    """Where all references are alike, topics part at a share of their mean distance."""
    ids, vectors, texts = _field(8)
    near = vectors * 0.6 + np.eye(24, dtype=np.float32)[23]
    near /= np.linalg.norm(near, axis=1, keepdims=True)
    assert topics(ids, near, texts)[1].num_rows == 3


@pytest.mark.parametrize("count", [0, 1, 4])
def test_a_handful_has_no_topics(count: int) -> None:
    """Fewer than five references are not grouped."""
    members, found = topics(
        [f"r{n}" for n in range(count)], np.ones((count, 3), np.float32), ["valve"] * count
    )
    assert (members.num_rows, found.num_rows) == (0, 0)
    assert members.column_names == ["reference_id", "topic_id"]
    assert found.column_names == ["topic_id", "terms", "size"]


@pytest.mark.parametrize("text", ["", "the of and", "12 34", "弁"])
def test_a_topic_without_words_says_so(text: str) -> None:
    """Equal vectors group even where no text can name the group."""
    found = topics([f"r{n}" for n in range(6)], np.eye(3, dtype=np.float32)[[0] * 6], [text] * 6)[1]
    assert found.to_pylist() == [{"topic_id": 1, "terms": NO_TERMS, "size": 6}]


def test_bad_input_is_refused_in_words() -> None:
    """Lengths that differ, an id given twice, and too many references."""
    one = np.ones((1, 3), np.float32)
    with pytest.raises(ValueError, match="differ in number"):
        topics(["a", "b"], one, ["x"])
    with pytest.raises(ValueError, match="twice"):
        topics(["a", "a"], np.ones((2, 3), np.float32), ["x", "y"])
    many = MOST_REFERENCES + 1
    with pytest.raises(ValueError, match=f"best {MOST_REFERENCES}"):
        topics([str(n) for n in range(many)], np.ones((many, 1), np.float32), [""] * many)
