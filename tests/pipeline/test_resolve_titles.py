"""Titles as compared: what is folded away, what tells two titles apart, what says too little."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.resolve import titles

FOLDED = [
    ("entities, also twice escaped", "Water &amp;amp; soil &ndash; a model", "water soil a model"),
    ("markup", "The <i>Zea mays</i> root<sup>2</sup>", "the zea mays root2"),
    ("a smaller-than sign is no markup", "p < 0.05 and n > 3", "p 0 05 and n 3"),
    ("full width and ligatures", "Ｄｒｉｐ ﬁlter", "drip filter"),
    ("accents and letters without decomposition", "Nørvåg's Łódź", "norvags lodz"),
    ("a letter lost in decoding", "B?hlen asks: why?", "bhlen asks why"),
    ("nothing left", "— … !", ""),
]


@pytest.mark.parametrize(("case", "text", "plain"), FOLDED, ids=[row[0] for row in FOLDED])
def test_what_does_not_matter_is_folded(case: str, text: str, plain: str) -> None:
    """Issue 4 point 7: entities, markup, full-width forms and scripts come out comparable."""
    assert titles.plain(text) == plain


@pytest.mark.parametrize(
    ("text", "core"),
    [
        ("Drip models (extended abstract)", "drip models"),
        ("Panel: On drip models", "drip models"),
        ("Extended abstract", "extended abstract"),
        ("Models abstract", "models abstract"),
        ("(1989). Drip models", "drip models"),
        ("(1989a) Drip models (extended abstract)", "drip models"),
        ("(1989)", "1989"),
        ("(19890) drip models", "19890 drip models"),
        ("Drip models (1989)", "drip models 1989"),
    ],
)
def test_the_sort_of_paper_is_no_part_of_the_title(text: str, core: str) -> None:
    """Catalogues add what sort of paper it was; two words always stay. Citations begin with their year."""
    assert titles.core(text) == core


PARTS = [
    ("Soil water models. Part I: theory", "Soil water models. Part II: theory"),
    ("Soil water models I", "Soil water models II"),
    ("Soil water models", "Soil water models II"),
    ("Drip systems, volume one", "Drip systems, volume two"),
    ("Hepatitis type B", "Hepatitis type C"),
    ("Annual report of the water board 2019", "Annual report of the water board 2020"),
    ("Proceedings of the 4th drip conference", "Proceedings of the fifth drip conference"),
]


@pytest.mark.parametrize(("one", "other"), PARTS)
def test_parts_and_series_differ_in_their_numbers(one: str, other: str) -> None:
    """Titles that differ in a number name different works, whoever wrote them."""
    assert titles.numbers(titles.plain(one)) != titles.numbers(titles.plain(other))


def test_a_part_is_told_from_its_whole_though_its_number_stands_there_already() -> None:
    """The second method, and its part II."""
    whole = "On waves by the second method of Holt"
    assert titles.numbers(titles.plain(whole)) < titles.numbers(titles.plain(f"{whole}, Part II"))


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Re: Drip models", "comment"),
        ("Reply: Drip models", "reply"),
        ("Authors' Response – Drip models", "reply"),
        ("Reply drip models", ""),
        ("Rerouting: drip models", ""),
    ],
)
def test_a_heading_before_anothers_title_is_a_notice(text: str, kind: str) -> None:
    """Only where a sign sets it off from the title, which the plain title has no more."""
    assert titles.notice(titles.core(text)) == kind


@pytest.mark.parametrize(
    ("one", "other", "left_out"),
    [
        ("id5 an incremental id3", "an incremental id3", True),
        ("sql3 a survey of types", "sql2 a survey of types", False),
        ("part2 a survey of types", "a survey of types", False),
        ("2nd survey of drip types", "survey of drip types", False),
        ("9 survey of drip types", "survey of drip types", False),
        ("sql3 drip types", "drip types", False),
        ("drip survey of types", "survey of types", False),
        ("id5 an incremental id3", "id5 an incremental id3", False),
    ],
)
def test_a_name_with_a_number_may_be_left_out(one: str, other: str, left_out: bool) -> None:
    """A system's name before the title proper counts nothing; what counts does not become a name."""
    assert titles.name_left_out(one, other) == titles.name_left_out(other, one) == left_out


def test_one_number_in_two_writings_is_one_number() -> None:
    """4th, fourth and 04; SQL3 and SQL 3."""
    assert (
        titles.numbers("the 4th sql3 part ii") == titles.numbers("fourth sql 3 volume 2") == {"4", "3", "2"}
    )


NOTICES = [
    ("Erratum: drip models", "correction"), ("Drip models: corrigendum", "correction"),
    ("Retracted: drip models", "retraction"), ("Comment on drip models", "comment"),
    ("Reply to Quill", "reply"), ("Review of Drip Models by A. Quill", "review"),
    ("Review of the literature on drip", ""), ("Correcting drip models", ""), ("Drip models", ""),
]  # fmt: skip


@pytest.mark.parametrize(("title", "kind"), NOTICES)
def test_notices_are_told_from_works(title: str, kind: str) -> None:
    """A notice speaks of another document and is not that document."""
    assert titles.notice(titles.plain(title)) == kind


WEAK = [
    "",
    "Emitters",
    "Front matter",
    "Editorial",
    "Preface",
    "Table of contents",
    "目次",
    "Book Review",
    "?!",
]


@pytest.mark.parametrize("title", WEAK)
def test_titles_that_say_nothing_are_weak(title: str) -> None:
    """Empty, one-word and boilerplate titles can't be compared."""
    assert titles.is_weak(titles.plain(title))


@pytest.mark.parametrize(
    "title",
    [
        "Drip models",
        "Prefaces to drip",
        "形状記憶ばねによる点滴潅水",
        "Index tests of soil in clay pots, one by one",
    ],
)
def test_titles_that_say_something_are_not_weak(title: str) -> None:
    """Two words, or as many signs of a script without blanks, are enough."""
    assert not titles.is_weak(titles.plain(title))


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.text(max_size=300))
def test_folding_twice_changes_nothing(text: str) -> None:
    """A plain title stays as it is, is bounded, and every reading of it works."""
    plain = titles.plain(text)
    assert titles.plain(plain) == plain
    assert len(plain) <= titles.LONGEST_TITLE
    titles.numbers(plain), titles.notice(plain), titles.is_weak(plain), titles.core(text)


LETTERS = "abcdefghijklmnopqrstuvwxyz "


@settings(max_examples=300, derandomize=True)
@given(st.data())
def test_the_quick_looks_miss_no_title(data: st.DataObject) -> None:
    """Whatever a pattern takes whole, the look at the first letters before it lets through."""
    title = data.draw(st.from_regex(titles._BOILERPLATE, fullmatch=True, alphabet=LETTERS))
    assert titles.is_boilerplate(title)
    _, pattern = data.draw(st.sampled_from(titles._NOTICE))
    assert titles.notice(data.draw(st.from_regex(pattern, fullmatch=True, alphabet=LETTERS)))
    sort = data.draw(st.from_regex(titles._SORT, fullmatch=True, alphabet=LETTERS))
    assert titles.core(f"{sort} of clay emitters") != f"{sort} of clay emitters"
    assert titles.core(f"clay emitters {sort}") != f"clay emitters {sort}"
