"""The corpus in the flow of a run: planned, asked, kept, loaded, resolved, dated, and made again without it."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from connectors import uspto_bulk
from connectors.connector import Compiled, Sought
from connectors.registry import CONNECTORS
from pipeline.by_number import number_sweeps, plan_run
from pipeline.cli import main
from pipeline.corpus.folder import CorpusFolder
from pipeline.corpus.load import load_files
from pipeline.corpus.search import CorpusSession
from pipeline.errors import BadMatter
from pipeline.harvest import Desk, harvest_source
from pipeline.in_force import read_families
from pipeline.journal import Answered, read_journal
from pipeline.listing import find_reference
from pipeline.load import load_answers
from pipeline.matter import load_matter
from pipeline.plan import PlannedSource, make_plan
from pipeline.references import resolve_references
from pipeline.responses import Responses
from pipeline.store import open_store

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures/uspto_bulk"
NOW = datetime(2026, 11, 25, 2, tzinfo=UTC)
MATTER = """
countries_of_sale = ["US"]
[invention]
title = "Emitter"
summary = "An emitter with a spring."
[invention.elements]
A = "a spring"
[[concept]]
name = "spring"
terms = ["shape memory", "bayonet", "ornamental design"]
{setting}
"""


@dataclass
class Night:
    """A matter with a corpus of its own or a shared one."""

    folder: Path
    now: datetime = NOW

    def planned(self) -> PlannedSource:
        completed = read_journal(Responses(self.folder), self.now).completed
        plan = make_plan(load_matter(self.folder), CONNECTORS, {}, completed, self.now)
        return next(source for source in plan if source.name == "uspto_bulk")

    def ask(self) -> tuple[str, ...]:
        """Ask the corpus every sweep and read what came."""
        responses = Responses(self.folder)
        journal = read_journal(responses, self.now)
        desk = Desk(responses, journal, f"{self.now:%Y-%m-%dT%H:%M:%SZ}", lambda: self.now, lambda _: None)
        desk.write("run started")
        outcomes = harvest_source(self.planned(), desk)
        desk.write("run ended", outcome="complete")
        self.read()
        self.now += timedelta(hours=1)
        return outcomes

    def read(self) -> None:
        load_answers(self.folder)
        resolve_references(self.folder, "no model")

    def load(self, *names: str, into: Path | None = None) -> None:
        """Load fixtures into the corpus."""
        corpus = CorpusFolder(into or self.folder / "corpus")
        for outcome in load_files(
            corpus, [FIXTURES / f"{name}.xml" for name in names], lambda: self.now, lambda _: None
        ):
            assert outcome.file, outcome.why

    def rows(self, query: str, *values: Any) -> list[tuple[Any, ...]]:
        with open_store(self.folder, read_only=True) as con:
            return con.execute(query, list(values)).fetchall()


@pytest.fixture
def night(tmp_path: Path) -> Night:
    """Give a matter."""
    return made(tmp_path)


def made(folder: Path, setting: str = "") -> Night:
    """Return a matter in folder with that setting of the source."""
    folder.mkdir(exist_ok=True)
    (folder / "matter.toml").write_text(MATTER.replace("{setting}", setting), encoding="utf-8")
    return Night(folder)


def test_without_a_corpus_the_source_says_how_to_load_one(night: Night) -> None:
    """It is skipped like a source without its key, and its absence does not stop the others."""
    assert "antedate load" in night.planned().skipped
    assert night.ask() == ("skipped",)


def test_a_folder_named_but_absent_fails(tmp_path: Path) -> None:
    """A shared corpus that is not there is a failed source, never a search that found nothing."""
    night = made(tmp_path / "m", '[source.uspto_bulk]\nfolder = "../gone"')
    assert night.ask() == ("failed",)
    assert "there is no corpus" in night.rows("SELECT reason FROM search")[0][0]


def test_a_sweep_is_asked_kept_and_counted(night: Night) -> None:
    """The search log has it like any other source's; the answer lies among the responses."""
    night.load("grant", "reissue", "design", "plant", "application")
    assert night.ask() == ("complete",)
    assert night.rows("SELECT source, outcome, requests, stated_total, items, records FROM search") == [
        ("uspto_bulk", "complete", 1, 4, 4, 4)
    ]
    assert night.rows("SELECT native_id FROM record ORDER BY native_id") == [
        ("US 20229999001 A1, stated by US.19999001.B2",), ("US.19999001.B2",), ("US.D999903.S1",), ("US.RE99905.E1",),
    ]  # fmt: skip
    assert night.rows("SELECT DISTINCT within, inside FROM found ORDER BY ALL") == [
        ("unknown", True),
        ("yes", True),
    ]


def test_the_earlier_publication_dates_the_reference(night: Night) -> None:
    """Grant and first publication are versions of one reference, public since the first."""
    night.load("grant")
    night.ask()
    assert night.rows("SELECT title, public_from, public_to FROM reference") == [
        ("Drip emitter with a sun-warmed H2O flush valve", date(2022, 9, 15), date(2022, 9, 15))
    ]


def test_the_international_publication_dates_the_reference(tmp_path: Path) -> None:
    """A national phase was public in every country since the international publication it names."""
    night = made(tmp_path / "m", '[[concept]]\nname = "sphere"\nterms = ["pivot sphere"]')
    text = (night.folder / "matter.toml").read_text(encoding="utf-8").replace('"bayonet"', '"razor"')
    (night.folder / "matter.toml").write_text(text, encoding="utf-8")
    night.load("application")
    night.ask()
    assert night.rows("SELECT title, public_to FROM reference") == [("RAZOR HANDLE", date(2023, 3, 16))]


def test_what_is_loaded_between_two_runs_is_found_by_the_second(night: Night) -> None:
    """A sweep that was answered an hour ago is asked again, since a file may have come; a late old paper turns up."""
    night.load("grant")
    night.ask()
    night.load("registration")
    night.ask()
    found = night.rows("SELECT native_id, first_run FROM record WHERE native_id = 'US.H9906.H1'")
    assert found == [("US.H9906.H1", "2026-11-25T03:00:00Z")]


def test_the_same_corpus_again_stores_no_second_body(night: Night) -> None:
    """The answer to the same sweep over the same files is the same, byte for byte."""
    night.load("grant", "reissue")
    night.ask()
    before = sorted((night.folder / "responses").rglob("*.gz"))
    night.ask()
    assert sorted((night.folder / "responses").rglob("*.gz")) == before


def test_the_store_is_made_again_without_the_corpus(night: Night) -> None:
    """The answers hold the documents: with corpus and database gone, every table comes out as it was."""
    night.load("grant", "reissue", "registration")
    night.ask()
    names = ("response", "search", "record", "identifier", "dated_event", "relation", "class_code", "found",
             "link", "membership", "reference")  # fmt: skip
    before = {name: night.rows(f"SELECT * FROM {name} ORDER BY ALL") for name in names}
    shutil.rmtree(night.folder / "corpus")
    (night.folder / "antedate.duckdb").unlink()
    night.read()
    assert {name: night.rows(f"SELECT * FROM {name} ORDER BY ALL") for name in names} == before


def test_several_matters_share_a_corpus(tmp_path: Path) -> None:
    """A relative folder lies beside matter.toml; both matters find what was loaded once."""
    for name in ("one", "two"):
        night = made(tmp_path / name, '[source.uspto_bulk]\nfolder = "../shared-texts"')
        if name == "one":
            night.load("grant", into=tmp_path / "shared-texts")
        assert night.ask() == ("complete",)
        assert night.rows("SELECT count(*) FROM record") == [(2,)]


def test_descriptions_are_searched_on_request(tmp_path: Path) -> None:
    """'nickel titanium' stands in a claim; 'pulsating' only in the description."""
    setting = '[[concept]]\nname = "membrane"\nterms = ["pulsating"]\n'
    short = made(tmp_path / "short", setting)
    short.load("grant")
    short.ask()
    assert not short.rows("SELECT * FROM found WHERE sweep = 'all concepts'")
    long = made(tmp_path / "long", setting + "[source.uspto_bulk]\ndescriptions = true")
    long.load("grant")
    assert dict(long.planned().sweeps[0].compiled.requests[0].params)["in"].endswith("description")
    long.ask()
    assert long.rows("SELECT count(*) FROM found WHERE sweep = 'all concepts'") == [(2,)]


@pytest.mark.parametrize(
    ("setting", "what"),
    [("base_url = 'http://127.0.0.1:1'", "base_url is not known"), ("folder = 7", "folder is 7"),
     ("descriptions = 'yes'", "descriptions is 'yes'")],
)  # fmt: skip
def test_settings_that_mean_nothing_here_are_refused(tmp_path: Path, setting: str, what: str) -> None:
    """A source on this machine has a folder, not an address."""
    with pytest.raises(BadMatter, match=what):
        load_matter(made(tmp_path, f"[source.uspto_bulk]\n{setting}").folder)


def test_the_term_reaches_the_law(night: Night) -> None:
    """Days added, disclaimer, benefit and the original patent stand in the right (connectors/patent_term.py)."""
    night.load("grant", "reissue")
    night.ask()
    (grant,) = read_families(night.folder, [found := find_reference(night.folder, "US 19999001 B2")])[
        found
    ].rights
    assert (grant.adjustment_days, grant.benefit) == (217, date(2020, 3, 2))
    assert grant.disclaimer == "This patent is subject to a terminal disclaimer."
    (reissue,) = read_families(night.folder, [found := find_reference(night.folder, "US RE99905 E1")])[
        found
    ].rights
    assert reissue.kind == "reissue"
    assert reissue.original == (date(2015, 2, 3), date(2020, 8, 18))


def sought(*texts: str) -> list[Sought]:
    """Return publication numbers as they are asked for."""
    return [Sought("publication", text) for text in texts]


def answered(night: Night, compiled: Compiled) -> list[str]:
    """Return the names of the documents that the corpus answers a look-up with."""
    session = CorpusSession(night.folder / "corpus", NOW.date())
    pages = [session.send(request) for request in compiled.requests]
    session.close()
    return [r.native_id for page in pages for r in uspto_bulk.parse(page).records if "," not in r.native_id]


def test_documents_are_found_by_number(night: Night) -> None:
    """Whatever the kind or the writing; a number the corpus does not hold brings nothing."""
    night.load("grant", "design", "reissue")
    found = answered(night, uspto_bulk.find(sought("US19999001B2", "USD999903S", "US 7,000,000")))
    assert found == ["US.19999001.B2", "US.D999903.S1"]
    assert uspto_bulk.find([Sought("doi", "10.5555/x")]).requests == ()


def test_what_cites_a_document_is_found(night: Night) -> None:
    """Publications and DOIs, by the office's own list of citations."""
    night.load("grant", "registration", "design")
    assert answered(night, uspto_bulk.citing(sought("USD99901S1"))) == ["US.19999001.B2"]
    assert answered(night, uspto_bulk.citing(sought("WO2009999901A1"))) == ["US.19999001.B2"]
    assert answered(night, uspto_bulk.citing([Sought("doi", "10.5555/flush.7")])) == ["US.19999001.B2"]
    assert answered(night, uspto_bulk.citing(sought("US99996A", "USD99901S"))) == [
        "US.19999001.B2",
        "US.H9906.H1",
    ]
    assert answered(night, uspto_bulk.citing(sought("US99997A"))) == []


def test_a_known_reference_is_looked_up(tmp_path: Path) -> None:
    """A matter's known US number is asked of the corpus, and again as soon as a file may have come."""
    night = made(tmp_path / "m", '[[known]]\nnumber = "US H9906 H1"')
    night.load("grant")
    matter = load_matter(night.folder)
    (known,) = number_sweeps(matter)
    plan = plan_run(matter, {}, {("uspto_bulk", known.text): Answered(NOW, NOW)}, NOW)
    (corpus,) = [source for source in plan if source.name == "uspto_bulk"]
    asked = corpus.sweeps[-1]
    assert (asked.sweep, asked.skipped) == (known, "")
    assert asked.compiled.requests[0].path == "numbers"


def test_the_commands(night: Night, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """load tells what came and what did not; paragraphs shows the description; exit codes say how it went."""
    torn = tmp_path / "torn.xml"
    torn.write_bytes((FIXTURES / "grant.xml").read_bytes() + (FIXTURES / "design.xml").read_bytes()[:-30])
    assert main(["load", str(night.folder), str(torn), str(FIXTURES / "design.xml")]) == 3
    told = capsys.readouterr().out
    assert "torn.xml: 1 document (1 patent)" in told
    assert "1 could not be read" in told
    assert "holds 2 documents from 2 files" in told
    assert main(["load", str(night.folder), str(FIXTURES / "design.xml")]) == 0
    assert "is there already" in capsys.readouterr().out
    assert main(["load", str(night.folder), str(tmp_path / "absent.xml")]) == 1
    assert "absent.xml can't be read" in capsys.readouterr().out.replace("\n", " ")
    night.ask()
    assert main(["paragraphs", str(night.folder), "US 19999001 B2", "--about", "clog"]) == 0
    told = capsys.readouterr().out
    assert "[0001] Emitters clog." in told
    assert "nickel" not in told
