"""The forms of a term."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from queries.concept import Term
from queries.variants import MOST_FORMS, explain_forms, forms
from queries.words import words


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("emitter", ("emitter", "emitters")),
        ("emitters", ("emitters", "emitter")),
        ("Emitter", ("Emitter", "Emitters")),
        ("drip irrigation", ("drip irrigation", "drip irrigations", "drip-irrigation", "drip-irrigations")),
        ("nano tube", ("nano tube", "nano tubes", "nano-tube", "nano-tubes")),
        ("nano-tube", ("nano-tube", "nano-tubes", "nano tube", "nanotube", "nano tubes", "nanotubes")),
        ("nano\u2011tube", ("nano\u2011tube", "nano\u2011tubes", "nano tube", "nanotube", "nano tubes", "nanotubes")),
        ("X-ray", ("X-ray", "X-rays", "X ray", "Xray", "X rays", "Xrays")),
        ("fibre", ("fibre", "fiber", "fibres", "fibers")),
        ("die", ("die", "dies", "dice")),
        ("apparatus", ("apparatus", "apparatuses")),
        ("coefficient of friction", ("coefficient of friction", "coefficients of friction")),
        ("in situ", ("in situ", "in-situ")),
        ("self-priming pump", ("self-priming pump", "self-priming pumps", "self priming pump", "self priming pumps")),
        ("battery-powered", ("battery-powered", "battery powered")),
        ("labelled", ("labelled", "labeled")),
        ("LED", ("LED", "LEDs")),
        ("LEDs", ("LEDs", "LED")),
        ("MEMS", ("MEMS",)),
        ("DC-DC converter", ("DC-DC converter", "DC-DC converters", "DC DC converter", "DC DC converters")),
        ("LiFePO4", ("LiFePO4",)),
        ("Ti-6Al-4V", ("Ti-6Al-4V", "Ti 6Al 4V")),
        ("316", ("316",)),
        ("80-20", ("80-20",)),
        ("COLOUR", ("COLOUR", "COLOURs")),
        ("滴灌", ("滴灌",)),
        ("Bewässerung", ("Bewässerung",)),
        ("капельница", ("капельница",)),
        ("α-synuclein", ("α-synuclein", "α-synucleins", "α synuclein", "α synucleins")),
        ("state-of-the-art", ("state-of-the-art", "state of the art")),
        ("  drip \u00a0 tape ", ("drip tape", "drip tapes", "drip-tape", "drip-tapes")),
    ],
)  # fmt: skip
def test_forms_are_these_in_this_order(text: str, expected: tuple[str, ...]) -> None:
    """As written first, then by number of changes; no nonsense for acronyms, formulas, other scripts."""
    assert forms(Term(text)) == expected


@pytest.mark.parametrize(
    ("switch", "gone", "kept"),
    [
        ("plural", "fibre-optic cables", "fiber-optic cable"),
        ("hyphen", "fibre optic cable", "fibre-optic cables"),
        ("spelling", "fiber-optic cable", "fibre-optic cables"),
    ],
)
def test_each_kind_of_form_can_be_switched_off(switch: str, gone: str, kept: str) -> None:
    """Off, its forms are gone and the others stay."""
    assert gone in forms(Term("fibre-optic cable"))
    fewer = forms(Term("fibre-optic cable", **{switch: False}))
    assert gone not in fewer
    assert kept in fewer


def test_all_off_is_the_term_alone() -> None:
    """The user's word and nothing else."""
    assert forms(Term("fibre-optic cables", plural=False, hyphen=False, spelling=False)) == (
        "fibre-optic cables",
    )


def test_a_form_is_explained_by_its_changes() -> None:
    """`antedate plan` shows why each form is asked."""
    assert explain_forms(Term("colour-filter")) == (
        ("colour-filter", "as written"),
        ("color-filter", "American spelling"),
        ("colour-filters", "plural"),
        ("colour filter", "blank for hyphen"),
        ("colourfilter", "joined"),
        ("color-filters", "American spelling, plural"),
        ("color filter", "American spelling, blank for hyphen"),
        ("colorfilter", "American spelling, joined"),
        ("colour filters", "plural, blank for hyphen"),
        ("colourfilters", "plural, joined"),
        ("color filters", "American spelling, plural, blank for hyphen"),
        ("colorfilters", "American spelling, plural, joined"),
    )


def test_a_term_in_mixed_spelling_gets_one_of_each() -> None:
    """All words on one side, then all on the other."""
    found = forms(Term("colour center", plural=False, hyphen=False))
    assert found == ("colour center", "colour centre", "color center")


def test_a_term_with_very_many_forms_keeps_the_plainest() -> None:
    """Beyond the limit those with most changes go; every form of one change stays."""
    term = Term("colour center spectrum matrix")
    found = explain_forms(term)
    assert len(found) == MOST_FORMS
    changes = [reason.count(",") for _, reason in found]
    assert changes == sorted(changes)
    assert {"colour centre spectrum matrix", "color center spectrum matrix", "colour center spectrum matrices",
            "colour center spectrum matrixes", "colour-center spectrum matrix"} < {form for form, _ in found}  # fmt: skip


WORDS = st.sampled_from(
    ["drip", "fibre", "Colour", "axes", "LED", "LiFePO4", "of", "25", "smart-valve", "modelling", "gas", "滴灌",
     "naïve", "matrix", "in", "state-of-the-art", "-"]
)  # fmt: skip


@settings(derandomize=True, max_examples=300)
@given(st.lists(WORDS, min_size=1, max_size=5).map(" ".join), st.booleans(), st.booleans(), st.booleans())
def test_forms_hold_the_term_are_distinct_and_bounded(
    text: str, plural: bool, hyphen: bool, spelling: bool
) -> None:
    """The term comes first, nothing twice, never more than the limit, every form searchable."""
    found = forms(Term(text, plural, hyphen, spelling))
    assert found[0] == text
    assert len({form.casefold() for form in found}) == len(found) <= MOST_FORMS
    assert all(words(form) for form in found) or not words(text)
    assert found == forms(Term(text, plural, hyphen, spelling))


@settings(derandomize=True, max_examples=300)
@given(st.text(min_size=1, max_size=30))
def test_any_text_has_forms(text: str) -> None:
    """Hostile text gives itself first, blanks made one, and never an error."""
    assert forms(Term(text))[0] == " ".join(text.split())


@pytest.mark.parametrize(
    "text", ["emitter", "fibre", "battery", "shape memory", "axis", "half", "colour filter"]
)
def test_the_forms_of_a_form_lead_back(text: str) -> None:
    """Whichever form the user writes, the others are found from it."""
    for form in forms(Term(text, hyphen=False)):
        assert text in forms(Term(form, hyphen=False))
