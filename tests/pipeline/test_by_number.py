"""The chase: one step back and one forward from what is tagged relevant, bounded, planned, resumed, rebuilt."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from connectors.days import Days
from connectors.registry import SOURCE_NAMES
from pipeline.by_number import number_sweeps, plan_run
from pipeline.commands.hits import hits
from pipeline.commands.plan import plan as plan_command
from pipeline.decisions import Decisions
from pipeline.errors import BadMatter
from pipeline.harvest import Desk, harvest_source
from pipeline.journal import read_journal
from pipeline.listing import Chased, find_reference, read_hits
from pipeline.load import load_answers, load_search_log
from pipeline.matter import load_matter
from pipeline.plan import PlannedSource
from pipeline.references import resolve_references
from pipeline.responses import Responses
from pipeline.store import open_store

MATTER = """
[invention]
title = "Self-flushing emitter"
summary = "A drip emitter that flushes itself."
[invention.elements]
A = "an emitter"
[[concept]]
name = "emitter"
terms = ["emitter"]
[chase]
on = true
{chase}
[source.openalex]
base_url = "{url}/openalex"
[source.crossref]
base_url = "{url}/crossref"
"""
NOW = datetime(2026, 11, 25, 2, tzinfo=UTC)


def matter(folder: Path, url: str, chase: str = "", on: tuple[str, ...] = ("openalex",)) -> Path:
    """Write a matter that chases, whose sources, but those on, are off."""
    text = MATTER.replace("{url}", url).replace("{chase}", chase)
    for name in SOURCE_NAMES:
        if name not in on:
            table = f"[source.{name}]\n"
            text = (
                text.replace(table, f"{table}on = false\n") if table in text else f"{text}{table}on = false\n"
            )
    (folder / "matter.toml").write_text(text, encoding="utf-8")
    return folder


def planned(folder: Path, now: datetime, keys: dict[str, str] | None = None) -> tuple[PlannedSource, ...]:
    """Return what a run would send."""
    made = load_matter(folder)
    completed = read_journal(Responses(folder), now).completed
    return plan_run(made, keys or {}, completed, now)


def night(
    folder: Path, now: datetime = NOW, end: bool = True, keys: dict[str, str] | None = None
) -> dict[str, Any]:
    """Run harvest, load and references of a night; return this night's ends by sweep."""
    responses = Responses(folder)
    journal = read_journal(responses, now)
    run = journal.unfinished or f"{now:%Y-%m-%dT%H:%M:%SZ}"
    desk = Desk(responses, journal, run, lambda: now, lambda _: None)
    if not journal.unfinished:
        desk.write("run started")
    for source in planned(folder, now, keys):
        harvest_source(source, desk)
    if end:
        desk.write("run ended", outcome="complete")
    load_answers(folder)
    load_search_log(folder, responses)
    resolve_references(folder, "")
    lines = [
        line for _, line in responses.journal.lines() if line["line"] == "sweep ended" and line["run"] == run
    ]
    return {f"{line['source']}: {line['sweep']}": line for line in lines if line["outcome"] != "skipped"}


def tag(folder: Path, name: str, says: str = "relevant") -> str:
    """Tag the reference of that name; return its id."""
    reference = find_reference(folder, name)
    facts = {"tag": says, "note": "", "elements": [], "category": ""}
    Decisions(folder).add("tag", (reference,), facts, "test", NOW)
    return reference


def work(number: int, title: str, *cites: int, doi: str = "") -> dict[str, Any]:
    """Return a work as OpenAlex states it."""
    return {"id": f"https://openalex.org/W{number}", "doi": doi and f"https://doi.org/{doi}", "title": title,
            "publication_date": "2019-05-06", "publication_year": 2019, "ids": {}, "type": "article",
            "referenced_works": [f"https://openalex.org/W{n}" for n in cites]}  # fmt: skip


START = work(1, "An emitter", 5, 6, doi="10.5555/start")
CITED = [work(5, "Springs of shape memory"), work(6, "Membranes that close")]
CITING = [work(number, f"Later work, part {number}") for number in range(11, 17)]


def service(seen: Any) -> dict[str, Any]:
    """Answer as OpenAlex would: a search, a list by number, and what cites a work, four a page."""
    filter_, onward = seen.query.get("filter", ""), None
    found = [START]
    if filter_.startswith("openalex:"):
        found = [each for each in CITED if each["id"].rpartition("/")[2] in filter_]
    if filter_.startswith("doi:"):
        found = []
    count = len(found)
    if filter_.startswith("cites:W1"):
        at = 0 if seen.query["cursor"] == "*" else int(seen.query["cursor"])
        found, count, onward = CITING[at : at + 4], len(CITING), str(at + 4) if at + 4 < len(CITING) else None
    body = {"meta": {"count": count, "next_cursor": onward}, "results": found}
    return {"body": json.dumps(body).encode(), "headers": {"Content-Type": "application/json"}}


def test_what_is_tagged_relevant_is_chased_both_ways(scripted_server: Any, tmp_path: Path) -> None:
    """The next night brings what it cites and what cites it, each with whose and in which direction."""
    folder = matter(tmp_path, scripted_server(route=service).url)
    assert set(night(folder)) == {"openalex: emitter"}
    start = tag(folder, "10.5555/start")
    ends = night(folder, NOW + timedelta(days=1))
    assert {name: line["outcome"] for name, line in ends.items()} == {
        "openalex: emitter": "complete",
        "openalex: cited by 10.5555/start": "complete",
        "openalex: citing 10.5555/start": "complete",
    }
    steps = {hit.title: hit.chased for hit in read_hits(folder)}
    assert steps["An emitter"] == ()
    assert steps["Membranes that close"] == (Chased("cited by", start, "An emitter"),)
    assert steps["Later work, part 16"] == (Chased("citing", start, "An emitter"),)
    assert len(steps) == 1 + len(CITED) + len(CITING)


def test_the_chase_is_shown_before_it_is_sent(
    scripted_server: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`plan` names reference, direction, bound and every first request; `hits` says how each came."""
    folder = matter(tmp_path, scripted_server(route=service).url, "hits = 4")
    night(folder)
    tag(folder, "10.5555/start")
    plan_command(SimpleNamespace(matter=folder, again=False))  # type: ignore[arg-type]
    told = capsys.readouterr().out
    assert "sweep: cited by 10.5555/start" in told
    assert "filter=openalex:W5|W6" in told
    assert "sweep: citing 10.5555/start" in told
    assert "Of each, the first 4 are read." in told
    assert "filter=cites:W1" in told
    ends = night(folder, NOW + timedelta(days=1))
    citing = ends["openalex: citing 10.5555/start"]
    assert (citing["outcome"], citing["items"]) == ("complete", 4)
    assert "4 of 6 were read: more than 4 are not wanted" in citing["reason"]
    hits(SimpleNamespace(matter=folder, all=False, run=None, if_filed_on=None, most=20))  # type: ignore[arg-type]
    assert "chased: citing" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("chase", "names"),
    [
        ("back = false", {"citing 10.5555/start"}),
        ("forward = false", {"cited by 10.5555/start"}),
        ("back = false\nforward = false", set()),
        ("", {"cited by 10.5555/start", "citing 10.5555/start"}),
    ],
)
def test_each_direction_is_a_choice(
    scripted_server: Any, tmp_path: Path, chase: str, names: set[str]
) -> None:
    """What is switched off is not in the plan."""
    folder = matter(tmp_path, scripted_server(route=service).url, chase)
    night(folder)
    tag(folder, "10.5555/start")
    [openalex] = [source for source in planned(folder, NOW) if source.name == "openalex"]
    assert {each.sweep.name for each in openalex.sweeps} - {"emitter"} == names


def test_without_the_choice_nothing_is_chased(scripted_server: Any, tmp_path: Path) -> None:
    """The chase is off unless the matter turns it on, and follows only what is relevant now."""
    folder = matter(tmp_path, scripted_server(route=service).url)
    night(folder)
    assert number_sweeps(load_matter(folder)) == ()
    tag(folder, "10.5555/start")
    assert len(number_sweeps(load_matter(folder))) == 3
    tag(folder, "10.5555/start", "not relevant")
    assert number_sweeps(load_matter(folder)) == ()
    tag(folder, "10.5555/start")
    text = (folder / "matter.toml").read_text(encoding="utf-8")
    (folder / "matter.toml").write_text(text.replace("[chase]\non = true", ""), encoding="utf-8")
    assert number_sweeps(load_matter(folder)) == ()


def test_the_last_judged_are_chased_first(scripted_server: Any, tmp_path: Path) -> None:
    """With room for one reference it is the one judged last."""
    folder = matter(tmp_path, scripted_server(route=service).url)
    night(folder)
    tag(folder, "10.5555/start")
    night(folder, NOW + timedelta(days=1))
    tag(folder, next(hit.reference_id for hit in read_hits(folder) if hit.title.startswith("Springs")))
    text = (folder / "matter.toml").read_text(encoding="utf-8")
    (folder / "matter.toml").write_text(
        text.replace("on = true", "on = true\nreferences = 1", 1), encoding="utf-8"
    )
    assert {each.name for each in number_sweeps(load_matter(folder))} == {
        "about W5",
        "cited by W5",
        "citing W5",
    }


def test_a_source_that_has_not_seen_it_is_asked_about_it(scripted_server: Any, tmp_path: Path) -> None:
    """Crossref may know what it cites: it is asked by its DOI, and not the sources that state no citations."""
    folder = matter(tmp_path, scripted_server(route=service).url)
    night(folder)
    tag(folder, "10.5555/start")
    about = {
        source.name: [
            r.params
            for sweep in source.sweeps
            for r in sweep.compiled.requests
            if "about" in sweep.sweep.name
        ]
        for source in planned(folder, NOW)
    }
    assert about["crossref"] == [(("filter", "doi:10.5555/start"), ("rows", "100"))]
    assert about["openalex"] == about["arxiv"] == []


def test_a_chase_cut_off_is_gone_on_with(scripted_server: Any, tmp_path: Path) -> None:
    """What was answered is not asked again; the rest is."""
    broken = {"on": False}

    def route(seen: Any) -> dict[str, Any]:
        if broken["on"] and seen.query.get("cursor") == "4":
            return {"status": 400, "body": b'{"error": "no"}'}
        return service(seen)

    server = scripted_server(route=route)
    folder = matter(tmp_path, server.url)
    night(folder)
    tag(folder, "10.5555/start")
    broken["on"] = True
    ends = night(folder, NOW + timedelta(days=1), end=False)
    assert ends["openalex: citing 10.5555/start"]["outcome"] == "incomplete"
    broken["on"] = False
    before = len(server.seen)
    ends = night(folder, NOW + timedelta(days=1, hours=1))
    assert [seen.query.get("cursor") for seen in server.seen[before:]] == ["4"]
    assert ends["openalex: citing 10.5555/start"]["outcome"] == "complete"


def test_rebuilding_keeps_how_each_came(scripted_server: Any, tmp_path: Path) -> None:
    """The journal holds it, so the database may be lost."""
    folder = matter(tmp_path, scripted_server(route=service).url)
    night(folder)
    tag(folder, "10.5555/start")
    night(folder, NOW + timedelta(days=1))
    before = {hit.title: hit.chased for hit in read_hits(folder)}
    with open_store(folder, read_only=True) as con:
        rows = con.execute("SELECT * FROM number_sweep ORDER BY ALL").fetchall()
    (folder / "antedate.duckdb").unlink()
    load_answers(folder)
    resolve_references(folder, "")
    assert {hit.title: hit.chased for hit in read_hits(folder)} == before
    with open_store(folder, read_only=True) as con:
        assert con.execute("SELECT * FROM number_sweep ORDER BY ALL").fetchall() == rows


@pytest.mark.parametrize("line", ["hits = 0", "hits = 2001", "references = true", 'hits = "4"', "hop = 2"])
def test_a_wrong_bound_is_refused(tmp_path: Path, line: str) -> None:
    """An unknown word or a bound out of reach is an error with its line."""
    with pytest.raises(BadMatter, match=r"line 12: chase\.(hits|references|hop)"):
        load_matter(matter(tmp_path, "http://127.0.0.1", line))


# --- patents ----------------------------------------------------------------------


def document(country: str, number: str, kind: str, family: str, title: str, day: str, cites: str = "") -> str:
    """Return a document as OPS writes it, citing one other."""
    office, _, cited = cites.partition(" ")
    cited = (
        f'<references-cited><citation cited-phase="search"><patcit><document-id document-id-type="docdb"><country>{office}'
        f"</country><doc-number>{cited[:-3]}</doc-number><kind>{cited[-2:]}</kind></document-id></patcit></citation>"
        "</references-cited>"
        if cites
        else ""
    )
    return (
        f'<exchange-document family-id="{family}" country="{country}" doc-number="{number}" kind="{kind}">'
        '<bibliographic-data><publication-reference><document-id document-id-type="docdb">'
        f"<country>{country}</country><doc-number>{number}</doc-number><kind>{kind}</kind><date>{day}</date>"
        f"</document-id></publication-reference>{cited}"
        f'<invention-title lang="en">{title}</invention-title></bibliographic-data></exchange-document>'
    )


START_DOCUMENT = document("EP", "9900001", "A1", "99000001", "An emitter", "20190506", "US 2010990001 A1")
CITED_DOCUMENT = document("US", "2010990001", "A1", "99000002", "A membrane", "20100107")
ITS_FAMILY = document("DE", "102009990001", "A1", "99000002", "Eine Membran", "20090702")
CITING_DOCUMENT = document("EP", "9900003", "A1", "99000003", "Later valve", "20210707", "EP 9900001 A1")


def ops(seen: Any) -> dict[str, Any]:
    """Answer as OPS would: token, search, documents by number, families."""
    if "accesstoken" in seen.path:
        return {"body": b'{"access_token": "t", "expires_in": "1199"}'}
    names = 'xmlns:ops="http://ops.epo.org" xmlns="http://www.epo.org/exchange"'
    if "/family/" in seen.path:
        members = (CITED_DOCUMENT, ITS_FAMILY) if "2010990001" in seen.path else ()
        held = "".join(
            f'<ops:family-member family-id="99000002">{each}</ops:family-member>' for each in members
        )
        inner = f"<ops:patent-family>{held}</ops:patent-family>"
    elif "search" in seen.path:
        found = CITING_DOCUMENT if "ct=" in seen.query["q"] else START_DOCUMENT
        inner = (
            '<ops:biblio-search total-result-count="1"><ops:search-result><exchange-documents>'
            f"{found}</exchange-documents></ops:search-result></ops:biblio-search>"
        )
    else:
        inner = f"<exchange-documents>{CITED_DOCUMENT}</exchange-documents>"
    return {"body": f"<ops:world-patent-data {names}>{inner}</ops:world-patent-data>".encode()}


def test_patents_are_chased_through_their_citations_and_families(
    scripted_server: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A search report's citation, the rest of its family with an earlier day, and what cites it in turn."""
    server = scripted_server(route=ops)
    folder = matter(tmp_path, server.url, on=("epo_ops",))
    text = (folder / "matter.toml").read_text(encoding="utf-8")
    (folder / "matter.toml").write_text(
        f'{text}[source.epo_ops]\nbase_url = "{server.url}/ops"\n', encoding="utf-8"
    )
    keys = {"EPO_OPS_KEY": "a-key-of-ours", "EPO_OPS_SECRET": "a-secret-of-ours"}
    night(folder, keys=keys)
    start = tag(folder, "EP 9900001 A1")
    ends = night(folder, NOW + timedelta(days=1), keys=keys)
    assert {name: line["outcome"] for name, line in ends.items()} == dict.fromkeys(
        ("epo_ops: emitter", "epo_ops: cited by EP9900001A1", "epo_ops: citing EP9900001A1"), "complete"
    )
    assert [seen.query["q"] for seen in server.seen if "ct=" in seen.query.get("q", "")] == ["ct=EP9900001"]
    found = {hit.title: hit for hit in read_hits(folder)}
    assert found["A membrane"].chased == (Chased("cited by", start, "An emitter"),)
    assert found["A membrane"].versions == 2
    assert found["A membrane"].public == Days.of_day(date(2009, 7, 2))
    assert found["Later valve"].chased == (Chased("citing", start, "An emitter"),)
