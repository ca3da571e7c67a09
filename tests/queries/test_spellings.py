"""British and American spelling.

Where a row names a standard, the word stands in its English title or text; all rows,
these too, are from memory and none was looked up.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from queries.spellings import to_american, to_british


@pytest.mark.parametrize(
    ("british", "american", "source"),
    [
        ("aluminium", "aluminum", "IUPAC 2005 names aluminium, noting aluminum in use"),
        ("caesium", "cesium", "IUPAC 2005 names caesium, noting cesium in use"),
        ("sulphur", "sulfur", "IUPAC 1990: sulfur; British usage sulphur"),
        ("sulphide", "sulfide", "as sulphur"),
        ("nanometre", "nanometer", "ISO 80000-1: metre; NIST SP 330: meter"),
        ("centimetres", "centimeters", "ISO 80000-1; NIST SP 330"),
        ("litre", "liter", "ISO 80000-3: litre; NIST SP 330: liter"),
        ("colour", "color", "ISO/CIE 11664, Colorimetry: colour"),
        ("fibre", "fiber", "memory"),
        ("mould", "mold", "memory"),
        ("moulding", "molding", "memory"),
        ("grey", "gray", "memory"),
        ("centre", "center", "memory"),
        ("centred", "centered", "memory"),
        ("programme", "program", "memory"),
        ("vapour", "vapor", "memory"),
        ("behaviour", "behavior", "memory"),
        ("colourless", "colorless", "memory"),
        ("discoloured", "discolored", "memory"),
        ("neighbouring", "neighboring", "memory"),
        ("labelled", "labeled", "memory"),
        ("modelling", "modeling", "memory"),
        ("travellers", "travelers", "memory"),
        ("unlabelled", "unlabeled", "memory"),
        ("fulfil", "fulfill", "memory"),
        ("polymerisation", "polymerization", "memory"),
        ("optimised", "optimized", "memory"),
        ("stabiliser", "stabilizer", "memory"),
        ("ionise", "ionize", "memory"),
        ("realise", "realize", "memory"),
        ("analyse", "analyze", "memory"),
        ("catalysed", "catalyzed", "memory"),
        ("analyser", "analyzer", "memory"),
        ("defence", "defense", "memory"),
        ("catalogue", "catalog", "memory"),
        ("haemoglobin", "hemoglobin", "memory"),
        ("haematology", "hematology", "memory"),
        ("oestrogen", "estrogen", "memory"),
        ("plough", "plow", "memory"),
        ("aeroplanes", "airplanes", "memory"),
        ("gauges", "gages", "memory"),
    ],
)
def test_each_side_gives_the_other(british: str, american: str, source: str) -> None:
    """Both directions, and a word already in the asked spelling stays."""
    assert to_american(british) == american, source
    assert to_british(american) == british, source
    assert to_british(british) == british, source
    assert to_american(american) == american, source


@pytest.mark.parametrize(
    "word",
    ["precise", "advise", "rise", "surprise", "unsupervised", "imprecise", "clockwise", "exercise", "promise",
     "comprising", "noise", "raised", "enterprise", "franchise", "improvisation", "advertised", "wise",
     "size", "resize", "oversized", "prize", "capsized", "laboratory", "evaporator", "elaborate", "doctor",
     "parameter", "diameter", "thermometer", "perimeter", "hydrolyses", "analyses", "metered",
     "lice", "hemp", "hemisphere", "sulfhydryl", "motor", "sensor", "vector", "reactor", "controlled",
     "installed", "expelled", "filling", "filler", "rolling", "called", "welled"],
)  # fmt: skip
def test_words_spelled_alike_stay(word: str) -> None:
    """-ise that is no -ize, -or that is no -our, -meter instruments, doubled l of the stem."""
    assert to_british(word) == word
    assert to_american(word) == word


@pytest.mark.parametrize(
    ("word", "american", "british"),
    [("metre", "meter", "metre"), ("meter", "meter", "meter"), ("draught", "draft", "draught"),
     ("draft", "draft", "draft"), ("cheque", "check", "cheque"), ("check", "check", "check"),
     ("storey", "story", "storey"), ("story", "story", "story"),
     ("tyres", "tires", "tyres"), ("tired", "tired", "tired"), ("licensed", "licensed", "licensed")],
)  # fmt: skip
def test_what_means_something_else_is_changed_one_way_only(word: str, american: str, british: str) -> None:
    """A flow meter is no metre, a draft no draught, the tired no tyre."""
    assert (to_american(word), to_british(word)) == (american, british)


@settings(derandomize=True, max_examples=400)
@given(st.text("aceilmnoprstuyz", min_size=3, max_size=12))
def test_a_spelling_is_settled_at_once(word: str) -> None:
    """Whatever the letters, converting twice is converting once."""
    assert to_american(to_american(word)) == to_american(word)
    assert to_british(to_british(word)) == to_british(word)
