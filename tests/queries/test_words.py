"""The words of a text."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from queries.words import words


@pytest.mark.parametrize(
    ("text", "expected", "why"),
    [
        ("Drip-Irrigation emitter", ("drip", "irrigation", "emitter"), "case aside; hyphens part words"),
        ("lithium\u2010ion\u2013battery", ("lithium", "ion", "battery"), "every dash of Unicode Pd"),
        ("Café naïve Ångström", ("cafe", "naive", "angstrom"), "accents left out"),
        ("cafe\u0301", ("cafe",), "decomposed writing is the same (Unicode canonical equivalence)"),
        ("ﬁbre ｗｉｄｅ H₂O", ("fibre", "wide", "h2o"), "Unicode compatibility forms (UAX 15, NFKC)"),
        ("Maße MASSE", ("masse", "masse"), "full case folding of ß (Unicode CaseFolding, status F)"),
        ("Σίσυφος", ("σισυφοσ",), "final sigma folds to sigma (Unicode CaseFolding)"),
        ("Østergård Łódź", ("ostergard", "lodz"), "letters with a stroke count as the plain ones"),
        (
            "emit\u00adter \u202eevil\u202c",
            ("emitter", "evil"),
            "soft hyphens, direction marks",
        ),
        ("滴灌系统", ("滴", "灌", "系", "统"), "Chinese: a word per character"),
        ("ガス弁", ("ガ", "ス", "弁"), "Japanese keeps its voicing marks"),
        ("ｶﾞｽ", ("ガ", "ス"), "half-width kana are the same as full-width (NFKC)"),
        ("A01G 25/02, 3.5 mm", ("a01g", "25", "02", "3", "5", "mm"), "punctuation parts words"),
        ("капельное орошение", ("капельное", "орошение"), "Cyrillic words stay whole"),
        ("हिन्दी", ("हिन्दी",), "Indic vowel signs belong to the word"),
        ("ab滴cd", ("ab", "滴", "cd"), "scripts part where they meet"),
        ("++ -- \u0301", (), "no letter or digit: no word"),
        ("", (), "empty"),
    ],
)
def test_words_are_compared_in_one_form(text: str, expected: tuple[str, ...], why: str) -> None:
    """Each text gives the words that its reason says."""
    assert words(text) == expected, why


@settings(derandomize=True, max_examples=300)
@given(st.text(max_size=60))
def test_words_of_words_are_the_same(text: str) -> None:
    """Taking the words again changes nothing, so both sides of a comparison can be prepared once."""
    once = words(text)
    assert words(" ".join(once)) == once
    assert all(word and " " not in word for word in once)


@settings(derandomize=True, max_examples=300)
@given(st.text(max_size=30), st.text(max_size=30))
def test_a_blank_parts_words_whatever_stands_beside_it(before: str, after: str) -> None:
    """Words of two texts set apart by a blank are the words of one and then of the other."""
    assert words(f"{before} {after}") == (*words(before), *words(after))
