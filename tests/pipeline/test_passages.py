"""Passages: where sentences end, what is bounded, what stays verbatim."""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.passages import KEPT_FOR_CLAIMS, LONGEST, MOST_PASSAGES, Passage, sentences, split_reference

ENDS = [
    ("The emitter flushes itself. The spring then cools.", 2, "plain stops"),
    ("As Fig. 2 shows, the valve opens. See also Figs. 3 and 4 of the sheet.", 2, "Fig. before a number"),
    ("Clogging, e.g. Silt in the labyrinth, is common. It is costly.", 2, "e.g. before a capital"),
    ("Smith et al. Measured the flow rate. It fell by half.", 2, "et al."),
    ("The pipe (Acme Ltd. No. 5 type) was cut. Flow stopped at once.", 2, "Ltd. and No."),
    ("J. R. Brook built the first emitter. It leaked badly.", 2, "initials"),
    ("The wire is 3.5 mm thick and 2.0 mm wide. It bends well.", 2, "stops inside numbers"),
    (
        "There is no reason to say no. The valve is prior art. It opens.",
        2,
        "no and art as words; short joined",
    ),
    (
        "One of the temp. sensors of the line reads heat. The valve then opens.",
        2,
        "a stop before a small letter",
    ),
    ("Does the valve open? It does so when the line is hot! The line cools.", 3, "other marks"),
    ('He wrote "the valve opens." Then the line was closed again.', 2, "closing quotation mark"),
    ("the flow is laminar near the wall . the jet is turbulent further out .", 2, "a stop standing apart"),
    ("A first paragraph without a stop\n\nA second paragraph without one", 2, "an empty line"),
    (
        "该滴头在阳光加热管线时由形状记忆弹簧自动冲洗。弹簧冷却后，阀门再次关闭并恢复滴灌状态。",
        2,
        "CJK stops",
    ),
    ("1. A self-flushing emitter comprising a valve.", 1, "a list number"),
]


@pytest.mark.parametrize(("text", "count", "why"), ENDS, ids=[row[2] for row in ENDS])
def test_sentences_end_where_a_reader_would_end_them(text: str, count: int, why: str) -> None:
    """Abbreviations, initials and numbers end nothing; marks and empty lines do."""
    assert len(sentences(text)) == count, sentences(text)


def test_a_claim_is_cut_at_its_features() -> None:
    """Semicolons and line breaks part the features of a claim, not of an abstract."""
    claim = "1. An emitter comprising: a flexible membrane over an inlet; and a spring that opens the outlet."
    split = split_reference("", claim, [claim])
    assert [p.field for p in split.passages] == ["abstract", "claim 1", "claim 1"]
    assert split.passages[2].text == "and a spring that opens the outlet."


def test_fields_come_in_order_and_claims_are_numbered_from_one() -> None:
    """The title stands first, then the abstract, then each claim under its number."""
    split = split_reference(
        "An emitter", "It drips slowly onto soil.", ["A first claim here.", "", "A third one here."]
    )
    assert split.passages == (
        Passage("title", "An emitter"),
        Passage("abstract", "It drips slowly onto soil."),
        Passage("claim 1", "A first claim here."),
        Passage("claim 3", "A third one here."),
    )


def test_a_long_text_leaves_room_for_claims_and_says_what_was_left_out() -> None:
    """However long the abstract, claims keep their places, and the rest is counted."""
    abstract = " ".join(f"Sentence number {n} speaks of water." for n in range(200))
    split = split_reference("Title of it", abstract, [f"Claim text that is number {n}." for n in range(30)])
    claims = [p for p in split.passages if p.field.startswith("claim")]
    assert (len(split.passages), len(claims)) == (MOST_PASSAGES, KEPT_FOR_CLAIMS)
    assert split.left_out == 1 + 200 + 30 - MOST_PASSAGES


@pytest.mark.parametrize("piece", ["the valve opens, and water flows ", "valve opens and water ", "valve"])
def test_a_long_sentence_is_cut_within_bounds(piece: str) -> None:
    """At a comma or blank where there is one, so that no word is cut; nothing is lost."""
    text = piece * 300
    pieces = sentences(text)
    assert LONGEST // 2 <= max(map(len, pieces)) <= LONGEST
    if " " in text:
        assert " ".join(pieces).split() == text.split()
    else:
        assert "".join(pieces) == text


@settings(derandomize=True, max_examples=150, deadline=None)
@given(st.text(alphabet=st.sampled_from("aB7 .;,!?\n。é漢Fig e.g"), max_size=1500), st.booleans())
def test_passages_are_verbatim_bounded_and_lose_nothing(text: str, as_claim: bool) -> None:
    """Each passage is a piece of its field in order; together they hold every visible character."""
    split = split_reference("", "", [text]) if as_claim else split_reference("", text)
    place = 0
    for passage in split.passages:
        assert 0 < len(passage.text) <= LONGEST
        found = text.find(passage.text, place)
        assert found >= place
        assert not text[place:found].strip()
        place = found + len(passage.text)
    assert split.left_out or not text[place:].strip()


@pytest.mark.parametrize("piece", ["a", "a. ", "Fig. 5 ", "1. ", ". ", "\n", "“)]", "word, "])
def test_a_huge_text_takes_seconds_at_most(piece: str) -> None:
    """A million hostile characters cost no more than their length."""
    began = time.perf_counter()
    split_reference("", piece * (1_000_000 // len(piece)))
    assert time.perf_counter() - began < 10
