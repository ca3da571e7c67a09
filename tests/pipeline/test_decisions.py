"""Decisions: kept in order, undone but never erased, following their records."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.decisions import Decisions
from pipeline.tags import tags_by_reference

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def tagged(folder: Path, records: tuple[str, ...], tag: str) -> None:
    """Write a tag on the records."""
    facts = {"tag": tag, "note": "", "elements": [], "category": ""}
    Decisions(folder).add("tag", records, facts, "ada", NOW)


def test_an_undone_decision_stays_in_the_file(tmp_path: Path) -> None:
    """Undo takes a decision out of force; the file keeps both lines, and undo can be undone by deciding again."""
    tagged(tmp_path, ("a",), "relevant")
    Decisions(tmp_path).add("undo", ("a",), {"undoes": 1}, "ada", NOW)
    assert Decisions(tmp_path).standing() == []
    assert [d.kind for d in Decisions(tmp_path).all()] == ["tag", "undo"]
    tagged(tmp_path, ("a",), "not relevant")
    assert [d.facts["tag"] for d in Decisions(tmp_path).standing()] == ["not relevant"]


def test_tags_follow_a_merge_and_a_split(tmp_path: Path) -> None:
    """After a merge the latest tag stands and the other is kept; after a split each part keeps its tag."""
    tagged(tmp_path, ("a", "b"), "relevant")
    tagged(tmp_path, ("c",), "not relevant")
    standing = Decisions(tmp_path).standing()
    merged = tags_by_reference(standing, {"a": "a", "b": "a", "c": "a"})
    assert [tag.tag for tag in merged["a"]] == ["not relevant", "relevant"]
    split = tags_by_reference(standing, {"a": "a", "b": "b", "c": "c"})
    assert {key: tags[0].tag for key, tags in split.items()} == {
        "a": "relevant",
        "b": "relevant",
        "c": "not relevant",
    }


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    tags=st.lists(st.lists(st.integers(0, 7), min_size=1, max_size=4, unique=True), max_size=6),
    groups=st.lists(st.integers(0, 3), min_size=8, max_size=8),
)
def test_no_tag_is_ever_lost(tags: list[list[int]], groups: list[int], tmp_path_factory: object) -> None:
    """However records are grouped, each tag shows at every reference that holds one of its records."""
    folder = tmp_path_factory.mktemp("tags")  # type: ignore[attr-defined]
    for number, records in enumerate(tags):
        tagged(folder, tuple(map(str, records)), ("relevant", "not relevant", "undecided")[number % 3])
    reference_of = {str(record): str(group) for record, group in enumerate(groups)}
    shown = tags_by_reference(Decisions(folder).standing(), reference_of)
    for decision in Decisions(folder).standing():
        for record in decision.records:
            assert decision in [tag.decision for tag in shown[reference_of[record]]]
