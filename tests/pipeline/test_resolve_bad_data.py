"""Bad data and planted chains: nothing unlike is merged, nothing takes quadratic time."""

from __future__ import annotations

import itertools
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from connectors import epo_ops
from connectors.connector import Page, Request
from connectors.days import Days
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier
from pipeline.resolve import alike, candidates, grouping, keys_of, likeness, linking
from pipeline.resolve.profile import MOST_PEOPLE, Shelf
from tests.pipeline.resolving import NO_VECTORS, as_tables, memberships

SAMPLES = Path(__file__).resolve().parents[2] / "../shared/sources/samples/epo_ops"
TITLE = "Self-flushing emitters driven by shape-memory springs"


def said(
    name: str, title: str = TITLE, people: str = "Ada Quill, Bo Marsh", year: int | None = 2019, **more: Any
) -> Record:
    """Return a record as its source states it; name is source:own name, doi the DOI as written,
    ids (scheme, text) of other numbers.
    """
    stated = [("doi", more.pop("doi", "")), *more.pop("ids", ())]
    dates = (StatedDate("published", str(year), _year(year), "year"),) if year else ()
    return Record(
        name.split(":")[0], name, more.pop("kind", "article"), title, dates=dates,
        people=tuple(Person(person) for person in people.split(", ") if person),
        identifiers=tuple(StatedIdentifier(scheme, text) for scheme, text in stated if text), **more,
    )  # fmt: skip


def _year(year: int) -> Days:
    return Days(np.datetime64(f"{year}-01-01").item(), np.datetime64(f"{year}-12-31").item())


def works(records: list[Record], column: str = "reference") -> list[set[str]]:
    """Return the sets of own names that come together, in order of arrival."""
    sets: dict[str, set[str]] = {}
    for name, member in memberships(records).items():
        sets.setdefault(member[column], set()).add(name)
    return list(sets.values())


CROWD = ", ".join(f"A{n} Person{n}" for n in range(3000))
APART = [
    ("a DOI that is none", said("x:1", doi="10.5555"), said("y:1", "Arctic terns", "Cy Holt", doi="10.5555")),
    ("a DOI that says that there is none", said("x:1", doi="n/a"), said("y:1", "Arctic terns", "Cy Holt", doi="n/a")),
    ("one DOI for two works", said("x:1", doi="10.5555/a"), said("y:1", "Migration of the arctic tern", "Cy Holt", doi="10.5555/a")),
    ("one PubMed number for two works", said("x:1", ids=[("pmid", "31000001")]), said("y:1", "Migration of the arctic tern", "Cy Holt", ids=[("pmid", "31000001")])),
    ("one arXiv number for two works", said("x:1", ids=[("arxiv", "1901.00001")]), said("y:1", "Migration of the arctic tern", "Cy Holt", ids=[("arxiv", "1901.00001")])),
    ("one ISBN for two volumes", said("x:1", TITLE + ", Volume 1", kind="book", ids=[("isbn", "978-3-16-148410-0")]), said("y:1", TITLE + ", Volume 2", kind="book", ids=[("isbn", "978-3-16-148410-0")])),
    ("one ISBN for the book and its chapter", said("x:1", kind="book", ids=[("isbn", "978-3-16-148410-0")]), said("y:1", "Valves of clay", "Cy Holt", kind="chapter", ids=[("isbn", "978-3-16-148410-0")])),
    ("one address for all of a journal", said("x:1", ids=[("url", "https://journal.example/home")]), said("y:1", "Migration of the arctic tern", "Cy Holt", ids=[("url", "https://journal.example/home")])),
    ("a DOI cut short", said("x:1", doi="10.5555/drip.12"), said("y:1", "Migration of the arctic tern", "Cy Holt", doi="10.5555/drip.1")),
    ("a DOI with a comma and another's beginning", said("x:1", doi="10.5555/drip.1,"), said("y:1", doi="10.5555/drip.12")),
    ("missing years and other people", said("x:1", year=None), said("y:1", people="Cy Holt, Di Webb", year=None)),
    ("two scripts of which one agrees", said("x:1", "Emitter 滴灌 with spring", "Ada Quill"), said("y:1", "Emitter 噴霧 with spring", "Cy Holt")),
    ("full-width titles of two works", said("x:1", "Ｄｒｉｐ　ｖａｌｖｅ　ｏｆ　ｃｌａｙ"), said("y:1", "Ｄｒｉｐ　ｐｕｍｐ　ｏｆ　ｓｔｅｅｌ")),
    ("boilerplate with the same people", said("x:1", "Front matter"), said("y:1", "Front matter")),
    ("three thousand people in common and another title", said("x:1", people=CROWD), said("y:1", "Migration of the arctic tern", CROWD)),
    ("empty titles", said("x:1", ""), said("y:1", "")),
    ("one word", said("x:1", "Emitters", "Ada Quill"), said("y:1", "Emitters", "Ada Quill")),
    ("one word of three signs", said("x:1", "滴灌器"), said("y:1", "滴灌器", "Cy Holt")),
    ("nothing but signs", said("x:1", "?!…"), said("y:1", "***")),
    ("parts", said("x:1", TITLE + ", Part I"), said("y:1", TITLE + ", Part II")),
    ("an edition", said("x:1", kind="book"), said("y:1", kind="book", year=2022)),
    ("namesakes and a short title", said("x:1", "Deep learning", "Wei Wang"), said("y:1", "Deep learning", "Jing Wang")),
    ("theses of namesakes", said("x:1", "Essays on drip markets", "Wei Wang", kind="thesis"), said("y:1", "Essays on drip markets", "Jing Wang", 2021, kind="thesis")),
    ("organisations that end alike", said("x:1", "Drip outlook of the world", "Food and Agriculture Organization"), said("y:1", "Drip outlook of the world", "World Health Organization", 2020)),
    ("the authors' reply", said("x:1"), said("y:1", "Reply: " + TITLE)),
    ("a reviewer's report", said("x:1"), said("y:1", f'Review for "{TITLE}"', kind="other")),
    ("the protocol of a study", said("x:1"), said("y:1", TITLE + ": study protocol")),
    ("its appendix", said("x:1"), said("y:1", "Appendix to " + TITLE)),
    ("retracted, said behind the title", said("x:1"), said("y:1", TITLE + " (retracted)")),
    ("a letter that tells viruses apart", said("x:1", "Hepatitis B in pregnant women"), said("y:1", "Hepatitis C in pregnant women")),
    ("numbers spelled", said("x:1", "Two new species of reed from Peru"), said("y:1", "Three new species of reed from Peru")),
    ("a Roman number above twelve", said("x:1", TITLE + ". Part XIII"), said("y:1", TITLE + ". Part XIV")),
    ("one sign of Chinese", said("x:1", "铜对小麦根系生长的影响"), said("y:1", "锌对小麦根系生长的影响")),
    ("without", said("x:1", "Image segmentation with deep supervision"), said("y:1", "Image segmentation without deep supervision")),
    ("nonlinear", said("x:1", "Optimal control of linear systems with delays"), said("y:1", "Optimal control of non-linear systems with delays")),
    ("a word turned round", said("x:1", "Supervised learning of word segmentation for Thai text"), said("y:1", "Unsupervised learning of word segmentation for Thai text")),
    ("two abstracts on one page", said("x:1", "Cytokine profile of patients with rheumatoid arthritis treated with infliximab", venue="Annals of Joints", volume="9", pages="S12"), said("y:1", "Genetic markers in patients with psoriatic arthritis treated with adalimumab", "Bo Marsh", venue="Annals of Joints", volume="9", pages="S12")),
    ("papers that begin at page 1", said("x:1", "Toxicity of nanoparticles in rats after inhalation for 90 days", pages="1-6"), said("y:1", "Toxicity of nanoparticles in mice after inhalation for 90 days", pages="1-6")),
    ("an entity that hides another title", said("x:1", "A&amp;B of drip lines", "Ada Quill"), said("y:1", "C&amp;D of drip lines", "Di Webb")),
]  # fmt: skip
TOGETHER = [
    ("trailing punctuation in a DOI", said("x:1", doi="10.5555/a."), said("y:1", "", "", None, doi="https://doi.org/10.5555/A,")),
    ("three thousand people", said("x:1", people=CROWD), said("y:1", people=CROWD)),
    ("an invalid DOI beside a good title", said("x:1", doi="10.5555"), said("y:1", doi="doi:none")),
    ("a bracket and a stop behind a DOI", said("x:1", doi="10.5555/a)."), said("y:1", "", "", None, doi="10.5555/a;")),
    ("full-width forms", said("x:1"), said("y:1", TITLE.translate({n: n + 0xFEE0 for n in range(0x21, 0x7F)}))),
    ("entities twice over", said("x:1", "Springs &amp;amp; emitters for drip lines"), said("y:1", "Springs & emitters for drip lines")),
    ("mixed scripts", said("x:1", "Emitter 滴灌 with spring"), said("y:1", "EMITTER 滴灌 with spring")),
    ("initials of namesakes", said("x:1", "Deep learning", "Wei Wang"), said("y:1", "Deep learning", "Wang, W.")),
    ("a short form of a given name", said("x:1", "Deep learning", "Robert H. Quill"), said("y:1", "Deep learning", "Bob Quill")),
    ("nonlinear with a hyphen", said("x:1", "Optimal control of nonlinear systems with delays"), said("y:1", "Optimal control of non-linear systems with delays")),
    ("a Greek letter in Latin", said("x:1", "The ρ operator on drip networks"), said("y:1", "The p operator on drip networks")),
    ("one protocol, a year apart", said("x:1", TITLE + ": study protocol"), said("y:1", TITLE + ": study protocol", year=2020)),
    ("no year", said("x:1", year=None), said("y:1", year=None)),
    ("no people and no year on one side, a long title and venue", said("x:1", venue="Drip"), said("y:1", people="", venue="Drip")),
]  # fmt: skip


@pytest.mark.parametrize(("case", "a", "b"), APART, ids=[row[0] for row in APART])
def test_bad_data_merges_nothing_unlike(case: str, a: Record, b: Record) -> None:
    """Issue 4 point 7: what says too little, or the same of two things, joins nothing."""
    assert works([a, b]) == [{"x:1"}, {"y:1"}]


@pytest.mark.parametrize(("case", "a", "b"), TOGETHER, ids=[row[0] for row in TOGETHER])
def test_bad_data_hides_no_likeness(case: str, a: Record, b: Record) -> None:
    """Issue 4 point 7: the same thing written otherwise is found."""
    assert works([a, b]) == [{"x:1", "y:1"}]


CROWDS = {
    "all identical": lambda n: said(f"{'xyz'[n % 3]}:{n}"),
    "boilerplate": lambda n: said(f"x:{n}", "Front matter"),
    "signed boilerplate": lambda n: said(f"x:{n}", "Guest editorial", venue="Journal of Drip"),
    "empty": lambda n: said(f"x:{n}", ""),
    "one DOI for all": lambda n: said(
        f"x:{n}", f"Drip line {n} of farm {n * 7}", f"Cy Holt{n}", doi="10.5555/all"
    ),
    "one word in common": lambda n: said(f"x:{n}", f"Emitter{n} clogging number{n * 3}", f"Cy Holt{n}"),
    "an invalid DOI for all": lambda n: said(
        f"x:{n}", f"Drip line{n} of farm{n * 7}", f"Cy Holt{n}", doi="10.5555"
    ),
    "a DOI of its own registrant each": lambda n: said(f"{'xyz'[n % 3]}:{n}", doi=f"10.{5000 + n}/a"),
    "a DOI each of one registrant": lambda n: said(f"{'xyz'[n % 3]}:{n}", doi=f"10.5555/{n}"),
    "no years": lambda n: said(f"{'xyz'[n % 3]}:{n}", year=None),
    "entities": lambda n: said(f"x:{n}", "&amp;" * 50 + f" {n}", ""),
    "one page": lambda n: said(f"x:{n}", f"Note{n} of mine{n}", volume="7", pages="1-2"),
}


@pytest.mark.parametrize("name", CROWDS)
def test_no_crowd_makes_pairs_that_grow_with_the_square(name: str) -> None:
    """However many records share a key, each is compared with a bounded number of others."""
    for count in (200, 800):
        tables = as_tables([CROWDS[name](n) for n in range(count)])
        keys = keys_of(Shelf(*tables), [NO_VECTORS])
        assert candidates(keys, tables[0]["seq"].to_numpy()).num_rows <= 40 * count


@pytest.mark.parametrize("name", CROWDS)
def test_no_crowd_costs_comparisons_that_grow_with_the_square(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every question asked of two records, from keys to references, is counted: with twice the records
    no more are asked of each, beyond what a set is looked through for."""
    asked = Counter[str]()
    for module in (linking, grouping):
        for question in ("evidence", "conflict", "document_conflict", "given_twice", "_likeness_apart"):
            if hasattr(module, question):
                monkeypatch.setattr(module, question, _counted(getattr(module, question), asked))
    monkeypatch.setattr(grouping, "MOST_FACES", 40)
    for count in (150, 300):
        asked.clear()
        memberships([CROWDS[name](n) for n in range(count)])
        assert asked.total() <= (40 * 4 + 12 * 3) * count, asked


def _counted(question: Any, asked: Counter[str]) -> Any:
    def ask(*two: Any) -> Any:
        asked[question.__name__] += 1
        return question(*two)

    return ask


def test_of_three_thousand_people_a_few_are_compared() -> None:
    """However long the list, a record holds a bounded number of names to compare."""
    shelf = Shelf(*as_tables([said(f"x:{n}", people=CROWD) for n in range(3)]))
    people, _ = shelf.people
    assert np.diff(people.starts).tolist() == [MOST_PEOPLE] * 3


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_a_record_without_title_is_no_bridge_between_two_works_of_one_number(order: tuple[int, ...]) -> None:
    """One DOI given to two works, and a record that bears it and says no more: in no order do the
    two works come together, and the bare one goes with one of them."""
    rows = [
        said("x:1", doi="10.5555/a"),
        said("y:1", "Migration of the arctic tern", "Cy Holt", 2011, doi="10.5555/a"),
        said("z:1", "", "", None, doi="10.5555/a"),
    ]
    sets = works([rows[n] for n in order])
    assert sorted(map(len, sets)) == [1, 2]
    assert {"x:1", "y:1"} not in sets


PLACE: dict[str, Any] = {"venue": "Journal of Drip", "volume": "7", "pages": "11"}


def test_a_record_without_title_goes_where_its_place_in_print_is() -> None:
    """Also where the set has more records than one, in any order."""
    rows = [said("x:1", **PLACE), said("y:1", **PLACE), said("z:1", "", "Ada Quill", **PLACE)]
    for order in itertools.permutations(rows):
        assert works(list(order)) == [{"x:1", "y:1", "z:1"}]


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_a_record_without_title_is_no_bridge_between_two_pieces_on_a_page(order: tuple[int, ...]) -> None:
    """Two pieces by the same people on one page, a copy of one, and a record that states the page
    only: in no order do the two pieces come together.
    """
    rows = [
        said("x:1", **PLACE),
        said("y:1", "Migration of the arctic tern", **PLACE),
        said("z:1", "", "Ada Quill", **PLACE),
        said("w:1", **PLACE),
    ]
    sets = works([rows[n] for n in order])
    assert not any({"x:1", "y:1"} <= one for one in sets)
    assert any({"x:1", "w:1"} <= one for one in sets)


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_likeness_is_no_bridge_between_two_works_of_one_number(order: tuple[int, ...]) -> None:
    """A third that states it is a version of the one and looks like the other brings them not together."""
    tern = ("Migration of the arctic tern over the sea", "Cy Holt", 2011)
    stated = (Relation("version of", StatedIdentifier("pmid", "31000001")),)
    rows = [
        said("x:1", doi="10.5555/a", ids=[("pmid", "31000001")]),
        said("y:1", *tern, doi="10.5555/a"),
        said("z:1", *tern, relations=stated),
    ]
    sets = works([rows[n] for n in order])
    assert sorted(map(sorted, sets)) == [["x:1", "z:1"], ["y:1"]]


def test_a_missing_year_is_no_bridge_between_editions() -> None:
    """Editions of 2000 and 2015 and a record without year: the editions stay two."""
    sets = works([said("x:1", year=2000), said("y:1", year=None), said("z:1", year=2015)])
    assert not any({"x:1", "z:1"} <= one for one in sets)


def test_close_vectors_of_a_crowd_make_no_square_either() -> None:
    """A thousand equal texts meet a bounded number of others each."""
    tables = as_tables([said(f"x:{n}", f"Emitter{n} pipe{n}", f"Cy Holt{n}") for n in range(1000)])
    flat = np.tile(np.eye(1, 384, dtype=np.float32), (1000, 1)).ravel()
    vector = pa.FixedSizeListArray.from_arrays(pa.array(flat), 384)
    keys = keys_of(Shelf(*tables), [pa.table({"record_id": tables[0]["record_id"], "vector": vector})])
    assert candidates(keys, tables[0]["seq"].to_numpy()).num_rows <= 40 * 1000


@pytest.mark.parametrize(("cosine", "share"), [(0.95, 0.78), (0.98, 0.94)])
def test_close_vectors_meet(cosine: float, share: float) -> None:
    """Of close pairs most share one of the keys, of very close ones nearly all, whatever their words."""
    rng = np.random.default_rng(5)
    base = rng.standard_normal((400, 384))
    base /= np.linalg.norm(base, axis=1, keepdims=True)
    noise = rng.standard_normal((400, 384))
    noise -= (noise * base).sum(1, keepdims=True) * base
    noise /= np.linalg.norm(noise, axis=1, keepdims=True)
    near = cosine * base + np.sqrt(1 - cosine**2) * noise
    tables = as_tables([said(f"x:{n}", f"Emitter{n} pipe{n}") for n in range(800)])
    flat = np.concatenate([base, near]).astype(np.float32).ravel()
    vector = pa.FixedSizeListArray.from_arrays(pa.array(flat), 384)
    keys = keys_of(Shelf(*tables), [pa.table({"record_id": tables[0]["record_id"], "vector": vector})])
    found = candidates(keys, tables[0]["seq"].to_numpy()).to_pylist()
    met = {(row["seq_a"], row["seq_b"]) for row in found}
    assert sum((n, n + 400) in met for n in range(1, 401)) >= share * 400


WORDS = ("valve", "emitter", "spring", "drip", "soil", "root", "pump", "filter", "tube", "clay", "sun", "heat",
         "flow", "salt", "leaf", "stem", "bark")  # fmt: skip


def test_a_title_that_drifts_word_by_word_stops() -> None:
    """Each record is like the one before, the last like nothing of the first: they are not one work."""
    titles = [" ".join(WORDS[n : n + 9]) for n in range(9)]
    sets = works([said(f"{'xyz'[n % 3]}:{n}", title) for n, title in enumerate(titles)])
    assert not any({"x:0", "z:8"} <= one for one in sets)


def test_years_that_drift_stop() -> None:
    """Editions of one title three years apart each do not make one work of twenty years."""
    sets = works([said(f"{'xyz'[n % 3]}:{n}", year=2000 + 3 * n) for n in range(7)])
    assert not any({"x:0", "x:6"} <= one for one in sets)


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_a_chain_brings_no_two_conflicting_numbers_together(order: tuple[int, ...]) -> None:
    """Two DOIs of one registrant with two bare copies between: in no order do they meet."""
    rows = [said("x:1", doi="10.5555/a"), said("y:1"), said("z:1"), said("x:2", doi="10.5555/b")]
    sets = works([rows[n] for n in order])
    assert not any({"x:1", "x:2"} <= one for one in sets)
    assert {name for one in sets for name in one} == {"x:1", "y:1", "z:1", "x:2"}


def test_a_bare_title_is_no_bridge_between_parts() -> None:
    """Part I, the title without a part, and Part II: the parts stay two works."""
    sets = works([said("x:1", TITLE + ", Part I"), said("y:1"), said("z:1", TITLE + ", Part II")])
    assert not any({"x:1", "z:1"} <= one for one in sets)


def test_a_groups_papers_on_rats_and_on_mice_are_two() -> None:
    """One word each that the other has not, the same four people and year, texts as close as such are."""
    four = "Ada Quill, Bo Marsh, Cy Holt, Di Webb"
    title = "Toxicity of zinc oxide nanoparticles in rats after repeated inhalation over a period of 90 days"
    shelf = Shelf(*as_tables([said("x:1", title, four), said("y:1", title.replace("rats", "mice"), four)]))
    one, other = np.array([0]), np.array([1])
    assert not len(likeness.compare(shelf, one, other, lambda a, _: np.full(len(a), 0.97)).a)


@pytest.mark.parametrize(("word", "replaced"), [("unsupervised", 1), ("supervized", 0), ("upervised", 0)])
def test_a_slip_of_spelling_puts_no_two_letters_before_a_word(word: str, replaced: int) -> None:
    """Unsupervised is another word than supervised, not the same one misspelt."""
    shelf = Shelf(*as_tables([said("x:1", "Supervised drip models"), said("y:1", f"{word} drip models")]))
    assert alike.word_changes(shelf, np.array([0]), np.array([1]))[0].tolist() == [replaced]


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_a_title_without_letter_is_no_bridge_between_two(order: tuple[int, ...]) -> None:
    """Vitamin K, vitamin D and a title that says neither: in no order do the two letters come together."""
    of_children = "deficiency in children of the rural highlands"
    letters = (("x", "Vitamin K"), ("y", "Vitamin"), ("z", "Vitamin D"))
    rows = [said(f"{name}:1", f"{what} {of_children}") for name, what in letters]
    assert not any({"x:1", "z:1"} <= one for one in works([rows[n] for n in order]))


@pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded answers beside the checkout")
@pytest.mark.parametrize("name", ["family_EP2400812", "family_biblio_EP2400812"])
def test_a_recorded_family_is_one_reference(name: str) -> None:
    """Every member that the office lists in one family comes together, and nothing else does."""
    day = np.datetime64("2026-11-25").item()
    page = Page(Request("epo_ops", "x", step="family"), 200, {}, (SAMPLES / f"{name}.xml").read_bytes(), day)
    family = list(epo_ops.parse(page).records)
    stranger = said("epo_ops:other", family[0].title, kind="patent application")
    assert len(family) > 3
    sets = works([*family, stranger])
    assert sorted(map(len, sets)) == [1, len(family)]
