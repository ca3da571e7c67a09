"""English number. Rows marked 'memory' are common grammar, written without a book at hand."""

from __future__ import annotations

import gzip
import re
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from queries.plurals import plurals, singulars

BENCHMARKS = Path(__file__).resolve().parents[2] / "../shared/benchmarks"


@pytest.mark.parametrize(
    ("singular", "plural", "source"),
    [
        ("emitter", "emitters", "memory: -s"),
        ("box", "boxes", "memory: -es after a hiss"),
        ("process", "processes", "memory: -es after a hiss"),
        ("switch", "switches", "memory: -es after a hiss"),
        ("bush", "bushes", "memory: -es after a hiss"),
        ("quartz", "quartzes", "memory: -es after a hiss"),
        ("battery", "batteries", "memory: consonant + y"),
        ("relay", "relays", "memory: vowel + y"),
        ("assembly", "assemblies", "memory: a noun in -ly"),
        ("phase", "phases", "memory: -s after a mute e"),
        ("hose", "hoses", "memory: -s after a mute e"),
        ("nozzle", "nozzles", "memory: -s after a mute e"),
        ("fuse", "fuses", "memory: -s after a mute e"),
        ("valve", "valves", "memory: -ves that is no -f"),
        ("half", "halves", "memory: -f to -ves"),
        ("shelf", "shelves", "memory: -f to -ves"),
        ("servo", "servos", "memory: -o"),
        ("torpedo", "torpedoes", "memory: -o with -es"),
        ("axis", "axes", "memory: Greek -is"),
        ("matrix", "matrices", "memory: Latin -ix; ISO 80000-2 has matrices (from memory)"),
        ("vertex", "vertices", "memory: -ex to -ices"),
        ("die", "dies", "memory: tools"),
        ("medium", "media", "memory: Latin -um"),
        ("lens", "lenses", "memory: a singular in -s"),
        ("gas", "gases", "memory: a singular in -s"),
        ("virus", "viruses", "memory: -us that takes -es"),
        ("radius", "radii", "memory: Latin -us"),
        ("analysis", "analyses", "memory: Greek -sis"),
        ("electrolysis", "electrolyses", "memory: Greek -sis by rule"),
        ("polyhedron", "polyhedra", "memory: Greek -on"),
        ("monarch", "monarchs", "memory: ch spoken k"),
        ("arch", "arches", "memory: ch spoken as in church"),
        ("foot", "feet", "memory: vowel change"),
        ("cache", "caches", "memory: -che"),
        ("mesh", "meshes", "memory: -es after a hiss"),
    ],
)
def test_number_goes_both_ways(singular: str, plural: str, source: str) -> None:
    """The commonest plural comes first, and its singular is found again."""
    assert plurals(singular)[:1] == (plural,), source
    assert singular in singulars(plural), source
    assert plurals(plural) == (), "a plural has no plural"


@pytest.mark.parametrize(
    "word",
    ["series", "species", "chassis", "aircraft", "equipment", "software", "news", "porous", "wireless",
     "robotics", "thermally", "coated", "hydraulics", "lengthwise", "mm", "a"],
)  # fmt: skip
def test_words_of_one_number_get_none(word: str) -> None:
    """Uncounted words, invariant plurals, adverbs, participles and adjectives by their ends."""
    assert plurals(word) == ()
    assert singulars(word) == ()


def test_several_forms_are_all_given_the_commoner_first() -> None:
    """Both plurals of a word, both singulars of one plural."""
    assert plurals("antenna") == ("antennas", "antennae")
    assert plurals("apparatus") == ("apparatuses",)
    assert singulars("axes") == ("axis", "axe")
    assert singulars("bases") == ("basis", "base")


@settings(derandomize=True, max_examples=300)
@given(st.text("abcdefghijklmnopqrstuvwxyz", max_size=12))
def test_no_word_breaks_the_rules(word: str) -> None:
    """Forms are letters, differ from the word, and a word is not both singular and plural by rule."""
    for form in (*plurals(word), *singulars(word)):
        assert re.fullmatch("[a-z]+", form)
        assert form != word


def test_most_singulars_are_words_of_real_texts() -> None:
    """Of the words of ../shared/benchmarks that look like plurals, 75 % or more give a word found there."""
    if not BENCHMARKS.is_dir():
        pytest.skip("../shared/benchmarks is not beside the checkout")
    counts: Counter[str] = Counter()
    for name in ("rank-cranfield", "rank-med", "rank-cisi"):
        text = gzip.decompress((BENCHMARKS / name / "docs.jsonl.gz").read_bytes()).decode().lower()
        counts.update(re.findall(r"\b[a-z]{4,}\b", text))
    seen = {word for word, count in counts.items() if count >= 3}
    given = [forms for word in seen if (forms := singulars(word))]
    found = sum(any(form in counts for form in forms) for forms in given)
    assert len(given) > 1000
    assert found / len(given) >= 0.75
