"""Sources and overlaps: who holds what, and what only one holds, against counts made by hand and by sets."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from pipeline.pictures.overlaps import MOST_DRAWN, Holdings, overlap_picture, read_holdings
from pipeline.pictures.picture import Look
from pipeline.store import open_store


def read(folder: Path) -> Holdings:
    """Return the holdings as the page reads them."""
    with open_store(folder, read_only=True) as con:
        return read_holdings(con)


def test_who_holds_what(field_folder: Path) -> None:
    """Counted by hand; a source that was asked and brought nothing stands there with 0."""
    sources, together = overlap_picture(read(field_folder)).tables
    assert [row.cells for row in sources.rows] == [
        ("crossref", "3", "50%", "1"),
        ("arxiv", "2", "33%", "2"),
        ("openalex", "2", "33%", "0"),
        ("files", "1", "17%", "1"),
        ("openalex_again", "0", "0%", "0"),
    ]
    assert [row.links for row in sources.rows] == [
        *({1: f"/?tag=all&source={name}"} for name in ("crossref", "arxiv", "openalex", "files")),
        {},
    ]
    assert [row.cells for row in together.rows] == [
        ("arxiv", "2"),
        ("crossref + openalex", "2"),
        ("crossref", "1"),
        ("files", "1"),
    ]


def test_how_many_only_one_holds_is_said(field_folder: Path) -> None:
    """r2, r3, r5 and r6 of six."""
    assert "4 of 6 references are held by one source only" in overlap_picture(read(field_folder)).says[0]


@given(st.lists(st.frozensets(st.sampled_from("abcde"), min_size=1), min_size=1, max_size=60))
def test_sums_agree_with_sets_counted_one_by_one(held: list[frozenset[str]]) -> None:
    """Every reference is in one combination; a source's sums are those of the sets it is in."""
    counts: dict[tuple[str, ...], int] = {}
    for sources in held:
        counts[tuple(sorted(sources))] = counts.get(tuple(sorted(sources)), 0) + 1
    holdings = Holdings(tuple(counts.items()), tuple("abcde"))
    assert holdings.references == len(held)
    for source in "abcde":
        assert holdings.held(source) == sum(source in sources for sources in held)
        assert holdings.only(source) == sum(sources == {source} for sources in held)


def test_what_is_not_drawn_is_counted_in_words() -> None:
    """More combinations than lines: the rest is told with its number, and stands in the table."""
    names = [f"s{n:02d}" for n in range(MOST_DRAWN + 3)]
    picture = overlap_picture(Holdings(tuple(((name,), 2) for name in names), tuple(names)))
    assert "3 rarer combinations (6 references) are in the table only" in picture.says[0]
    assert picture.draw is not None
    assert len(picture.draw(Look())["hconcat"][1]["data"]["values"]) == MOST_DRAWN
    assert len(picture.tables[1].rows) == MOST_DRAWN + 3


def test_no_run_yet_is_said(empty_folder: Path) -> None:
    """Nothing to draw: words."""
    picture = overlap_picture(read(empty_folder))
    assert (picture.draw, picture.tables) == (None, ())
