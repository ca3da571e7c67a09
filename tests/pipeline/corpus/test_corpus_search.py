"""A sweep over the corpus finds exactly the documents that the expression's meaning finds."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors import uspto_bulk
from connectors.errors import SourceDown
from connectors.uspto_bulk import in_descriptions_too
from connectors.uspto_facts import Claim, Number, UsDocument
from connectors.uspto_record import native_id
from pipeline.corpus.build import Tables
from pipeline.corpus.folder import CorpusFolder, LoadedFile
from pipeline.corpus.index import read_shelf
from pipeline.corpus.search import CorpusSession, matching
from pipeline.corpus.texts import searched_texts
from queries.expression import And, Code, Document, Expression, Not, Or, Text, matches
from queries.window import ALL_DAYS, Window

TODAY = date(2026, 11, 25)
WORDS = ("valve", "spring", "drip-line", "Ventil", "naïve", "h2o", "弁", "a")
SYMBOLS = ("A01G 25/02", "A01G 25/023", "A01G 25", "F16K 31/00", "A01G 25/06", "B26B")


def text(chance: random.Random, most: int) -> str:
    """Return a text of few words, so that phrases hit and miss."""
    return " ".join(chance.choice(WORDS) for _ in range(chance.randrange(most)))


def made(number: int, chance: random.Random) -> tuple[UsDocument, list[tuple[str, str]]]:
    """Return a document with a number, and its paragraphs."""
    day = f"2024{chance.randrange(1, 13):02d}{chance.choice(['00', '05', '20'])}"
    document = UsDocument(
        publication=Number("US", f"{19_000_000 + number}", "B2", day),
        title=text(chance, 4),
        abstract=text(chance, 6),
        claims=tuple(Claim(str(at), text(chance, 5)) for at in range(chance.randrange(3))),
        codes=tuple(
            {
                (chance.choice(["CPC", "IPC"]), chance.choice(SYMBOLS)): None
                for _ in range(chance.randrange(3))
            }
        ),
    )
    return document, [(str(at), text(chance, 8)) for at in range(chance.randrange(3))]


class Made:
    """A corpus of two files in several segments; the second holds some of the first's documents anew."""

    def __init__(self, path: Path) -> None:
        self.corpus = CorpusFolder(path)
        chance = random.Random(7)  # noqa: S311 (examples, no secrets)
        self.documents: dict[str, tuple[UsDocument, list[tuple[str, str]]]] = {}
        with self.corpus.loading():
            for name, numbers in (("one.xml", range(150)), ("two.xml", range(120, 260))):
                with Tables(path / "files" / name, segment=40) as tables:
                    for number in numbers:
                        document, paragraphs = made(number, chance)
                        tables.add(document, paragraphs)
                        self.documents[native_id(document)] = (document, paragraphs)
                self.corpus.commit(
                    LoadedFile(name, name, 1, name, "2026-11-25T00:00:00+00:00", tables.segments,
                               tables.documents, {}, {}, {})
                )  # fmt: skip
        self.con = duckdb.connect()
        self.shelf = read_shelf(self.con, tuple(self.corpus.tables("documents")))

    def meant(self, expression: Expression, long: bool) -> list[str]:
        """Return the ids for which matches() holds, one document after the other."""
        found = []
        for name, (document, paragraphs) in self.documents.items():
            title, abstract, *claims = searched_texts(document)
            texts = (*claims, *(text for _, text in paragraphs if long))
            if matches(expression, Document(title, abstract, document.codes, texts)):
                found.append(name)
        return sorted(found)


@pytest.fixture(scope="module")
def corpus(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """Give the corpus, made once."""
    whole = Made(tmp_path_factory.mktemp("corpus"))
    yield whole
    whole.con.close()


TEXTS = st.lists(st.sampled_from(WORDS), min_size=1, max_size=3).map(lambda some: Text(" ".join(some)))
ODD = st.sampled_from([Text("!"), Text("drip line"), Text("VALVE valve"), Text("absent"), And(()), Or(())])
CODES = st.builds(
    Code, st.sampled_from(["cpc", "CPC", "ipc", "uspc"]), st.sampled_from((*SYMBOLS, "A", "A01", "X 1"))
)
EXPRESSIONS = st.recursive(
    TEXTS | CODES | ODD,
    lambda part: (
        st.lists(part, min_size=1, max_size=3).map(lambda some: And(tuple(some)))
        | st.lists(part, min_size=1, max_size=3).map(lambda some: Or(tuple(some)))
        | part.map(Not)
    ),
    max_leaves=8,
)


@given(expression=EXPRESSIONS, long=st.booleans())
@settings(derandomize=True, deadline=None, max_examples=250)
def test_a_sweep_finds_what_matches_finds(corpus: Made, expression: Expression, long: bool) -> None:
    """Corpus sweep = matches() on every document that counts, with and without descriptions."""
    places = matching(corpus.con, corpus.shelf, expression, long)
    assert [corpus.shelf.ids[int(place)].as_py() for place in places] == corpus.meant(expression, long)


def test_the_examples_are_no_empty_ones(corpus: Made) -> None:
    """The corpus decides phrases, symbols and exclusions both ways, and replaces what was loaded again."""
    assert len(corpus.shelf) == 260 == len(corpus.documents)
    for expression in (Text("valve spring"), Text("drip-line"), Code("cpc", "A01G 25/02"), Not(Text("h2o"))):
        assert 0 < len(corpus.meant(expression, False)) < 260
        assert corpus.meant(expression, False) != corpus.meant(expression, True) or isinstance(
            expression, Code
        )


def asked(corpus: Made, expression: Expression, window: Window = ALL_DAYS, long: bool = False) -> list[Any]:
    """Return every page of a sweep, as the loop of all sources would turn them."""
    session = CorpusSession(corpus.corpus.path, TODAY)
    (request,) = uspto_bulk.compile(expression, window).requests
    waiting, pages = [in_descriptions_too(request) if long else request], []
    while waiting:
        pages.append(session.send(waiting.pop()))
        waiting += uspto_bulk.follow(pages[-1].request, pages[-1], TODAY)
    session.close()
    return pages


def test_pages_turn_to_the_end(corpus: Made) -> None:
    """Every match is on one page, in the order of its number; counts add up; asked again, the same bytes."""
    everything = Not(Text("absent"))
    pages = asked(corpus, everything)
    parsed = [uspto_bulk.parse(page) for page in pages]
    assert [each.items for each in parsed] == [200, 60]
    assert {each.stated_total for each in parsed} == {260}
    ids = [record.native_id for each in parsed for record in each.records]
    assert ids == corpus.meant(everything, False)
    assert [page.body for page in asked(corpus, everything)] == [page.body for page in pages]


@pytest.mark.parametrize(
    ("window", "kept"),
    [
        (Window(date(2024, 3, 1), date(2024, 4, 1)), {"2024-03", "2024-03-05", "2024-03-20"}),
        (Window(date(2024, 3, 6), date(2024, 3, 20)), {"2024-03"}),
        (Window(None, date(2024, 1, 6)), {"2024-01", "2024-01-05"}),
        (Window(date(2024, 12, 21), None), {"2024-12"}),
    ],
)
def test_a_window_holds_what_may_lie_in_it(corpus: Made, window: Window, kept: set[str]) -> None:
    """The end is left out; a month counts where any of its days does."""
    found = set()
    for page in asked(corpus, Not(Text("absent")), window):
        for record in uspto_bulk.parse(page).records:
            found.add(record.dates[0].days.text())
    assert found == kept


def test_the_answer_says_what_was_searched(corpus: Made) -> None:
    """The first line names files, documents and fields: the evidence of where was looked."""
    head = asked(corpus, Text("valve"))[0].body.split(b"\n")[0]
    assert b'"documents":260' in head
    assert b'["one.xml","one.xml"]' in head
    assert b'"in":["title","abstract","claims"]' in head
    assert b'"description"' in asked(corpus, Text("valve"), long=True)[0].body.split(b"\n")[0]


def test_an_absent_or_damaged_corpus_is_a_source_that_is_down(corpus: Made, tmp_path: Path) -> None:
    """It never answers 'nothing found': the sweep fails and says so."""
    (request,) = uspto_bulk.compile(Text("valve"), Window()).requests
    with pytest.raises(SourceDown, match="there is no corpus"):
        CorpusSession(tmp_path, TODAY).send(request)
    (tmp_path / "corpus.json").write_bytes((corpus.corpus.path / "corpus.json").read_bytes())
    with pytest.raises(SourceDown, match="can't be read"):
        CorpusSession(tmp_path, TODAY).send(request)
    older = (
        (corpus.corpus.path / "corpus.json").read_text(encoding="utf-8").replace('"reader": ', '"reader": 9')
    )
    (tmp_path / "corpus.json").write_text(older, encoding="utf-8")
    with pytest.raises(SourceDown, match=r"two\.xml was loaded by another version"):
        CorpusSession(tmp_path, TODAY).send(request)
    (tmp_path / "corpus.json").write_text("{", encoding="utf-8")
    with pytest.raises(SourceDown, match=r"corpus\.json"):
        CorpusSession(tmp_path, TODAY).send(request)


def test_a_damaged_line_is_one_quarantined_item(corpus: Made) -> None:
    """The other lines of the answer are read; a torn head is the whole answer's fault."""
    page = asked(corpus, Text("valve spring"))[0]
    lines = page.body.split(b"\n")
    lines[2] = lines[2][:50]
    lines.append(b'{"document":{"publication":{"number":"1","kind":"A1","date":"?"}}}')
    parsed = uspto_bulk.parse(type(page)(page.request, 200, {}, b"\n".join(lines), TODAY))
    assert parsed.items == len(parsed.records) + len(parsed.quarantined)
    assert [bad.path for bad in parsed.quarantined] == ["line 3", f"line {len(lines)}"]
    assert "can't be read" in parsed.quarantined[1].reason
