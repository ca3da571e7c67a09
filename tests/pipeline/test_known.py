"""Known references: found by the sweeps, and where not, why, each reason on a scripted server."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from connectors.registry import BY_NUMBER, CONNECTORS, SOURCE_NAMES
from pipeline.by_number import known_numbers, number_sweeps, with_numbers
from pipeline.commands.status import status
from pipeline.harvest import Desk, harvest_source, take_in_files
from pipeline.journal import read_journal
from pipeline.known import known_items
from pipeline.load import load_answers, load_search_log
from pipeline.matter import load_matter
from pipeline.plan import make_plan
from pipeline.references import resolve_references
from pipeline.responses import Responses

MATTER = """
exclude = ["garden"]
[invention]
title = "Self-flushing emitter"
summary = "A drip emitter that flushes itself."
[invention.elements]
A = "an emitter"
[[concept]]
name = "emitter"
terms = ["emitter"]
[[concept]]
name = "spring"
terms = [{ text = "spring", plural = false }]
[[known]]
number = "{number}"
[source.openalex]
base_url = "{url}/openalex"
[source.crossref]
base_url = "{url}/crossref"
"""
DOI = "10.5555/known.1"
NOW = datetime(2026, 11, 25, 2, tzinfo=UTC)


def matter(
    folder: Path, url: str, number: str = DOI, on: tuple[str, ...] = ("openalex",), more: str = ""
) -> Path:
    """Write a matter with one known reference whose sources, but those on, are off."""
    text = MATTER.replace("{url}", url).replace("{number}", number)
    for name in SOURCE_NAMES:
        if name not in on:
            table = f"[source.{name}]\n"
            text = (
                text.replace(table, f"{table}on = false\n") if table in text else f"{text}{table}on = false\n"
            )
    (folder / "matter.toml").write_text(text + more, encoding="utf-8")
    return folder


def night(folder: Path, now: datetime = NOW) -> dict[str, Any]:
    """Run the harvest, the load and the references of a night; return the sweeps' ends by source and name."""
    made, responses = load_matter(folder), Responses(folder)
    journal = read_journal(responses, now)
    plan = make_plan(made, CONNECTORS, {}, journal.completed, now)
    plan = with_numbers(plan, number_sweeps(made), journal.completed, now)
    desk = Desk(responses, journal, f"{now:%Y-%m-%dT%H:%M:%SZ}", lambda: now, lambda _: None)
    desk.write("run started")
    for source in plan:
        harvest_source(source, desk)
    take_in_files(folder / "handed-in", desk)
    desk.write("run ended", outcome="complete")
    load_answers(folder)
    load_search_log(folder, responses)
    resolve_references(folder, "")
    lines = [line for _, line in responses.journal.lines() if line["line"] == "sweep ended"]
    return {f"{line['source']}: {line['sweep']}": line for line in lines}


def work(number: int, title: str, doi: str = "", **more: Any) -> dict[str, Any]:
    """Return a work as OpenAlex states it."""
    return {"id": f"https://openalex.org/W{number}", "doi": doi and f"https://doi.org/{doi}", "title": title,
            "publication_date": "2019-05-06", "publication_year": 2019, "ids": {}, "type": "article",
            "abstract_inverted_index": {"Text": [0]}} | more  # fmt: skip


def works(*found: dict[str, Any], count: int | None = None) -> dict[str, Any]:
    """Return a page of works."""
    meta = {"count": len(found) if count is None else count, "next_cursor": None}
    body = json.dumps({"meta": meta, "results": list(found)}).encode()
    return {"body": body, "headers": {"Content-Type": "application/json"}}


def openalex(search: dict[str, Any], lookup: dict[str, Any]) -> Callable[[Any], dict[str, Any]]:
    """Return a service that answers searches with the one and look-ups by DOI with the other."""
    return lambda seen: lookup if seen.query.get("filter", "").startswith("doi:") else search


@pytest.mark.parametrize(
    ("found", "held", "state", "told"),
    [
        (["Emitter with a spring"], ["Emitter with a spring"], "found", "openalex in 'all concepts'"),
        ([], [], "not held", "asked for by number and not held: openalex"),
        ([], ["An emitter with a coil"], "missed", "no sweep matches: no term of 'spring' in title and abstract"),
        ([], ["A coil"], "missed", "no term of 'emitter', 'spring' in title and abstract"),
        ([], ["Garden emitter with a spring"], "missed", "shut out by the exclusion 'garden'"),
        ([], ["Emitter with a spring"], "missed", "'all concepts' matches, and was answered in full without it"),
    ],
    ids=["found", "held nowhere", "one concept fails", "both fail", "an exclusion", "the source's own search"],
)  # fmt: skip
def test_each_reason_is_told(
    scripted_server: Any, tmp_path: Path, found: list[str], held: list[str], state: str, told: str
) -> None:
    """What a night asked and got says why: nothing is claimed that was not asked."""
    pages = [works(*(work(1, title, DOI) for title in titles)) for titles in (found, held)]
    folder = matter(tmp_path, scripted_server(route=openalex(*pages)).url)
    night(folder)
    [item] = known_items(load_matter(folder))
    assert (item.state, item.title) == (state, (held or found or [""])[0])
    assert any(told in line for line in item.lines), item.lines


def test_without_an_abstract_it_cannot_be_told(scripted_server: Any, tmp_path: Path) -> None:
    """A word that is not in the title may be in the abstract that no source states."""
    held = works(work(1, "A coil", DOI, abstract_inverted_index=None))
    folder = matter(tmp_path, scripted_server(route=openalex(works(), held)).url)
    night(folder)
    [item] = known_items(load_matter(folder))
    assert item.state == "missed"
    assert "can't be told" in item.lines[0]
    assert "no abstract is stated" in item.lines[0]


def test_an_answer_cut_short_is_the_reason(scripted_server: Any, tmp_path: Path) -> None:
    """The sweep matches, but the source stated more than it sent."""
    held = works(work(1, "Emitter with a spring", DOI))
    other = works(work(2, "Another emitter with a spring"), count=5)
    folder = matter(tmp_path, scripted_server(route=openalex(other, held)).url)
    night(folder)
    [item] = known_items(load_matter(folder))
    assert item.state == "missed"
    assert "its answer was incomplete: 1 of 5 were read" in item.lines[0]


def test_beyond_the_depth_of_a_source_that_ranks(scripted_server: Any, tmp_path: Path) -> None:
    """Crossref holds it, and its best 200 do not hold it."""

    def crossref(seen: Any) -> dict[str, Any]:
        known = {
            "DOI": DOI,
            "title": ["Emitter with a spring"],
            "abstract": "Text.",
            "type": "journal-article",
        }
        items = [known] if "doi:" in seen.query.get("filter", "") else []
        message = {"total-results": len(items), "items": items}
        body = {"status": "ok", "message-type": "work-list", "message": message}
        return {"body": json.dumps(body).encode(), "headers": {"Content-Type": "application/json"}}

    folder = matter(tmp_path, scripted_server(route=crossref).url, on=("crossref",))
    night(folder)
    [item] = known_items(load_matter(folder))
    assert item.state == "missed"
    assert "beyond the best 200" in item.lines[0]


def test_a_source_that_could_not_be_asked_is_named(scripted_server: Any, tmp_path: Path) -> None:
    """Silence of a source that failed or has no key is no 'not held'."""
    refused = {"status": 401, "body": b"{}"}
    folder = matter(tmp_path, scripted_server(route=lambda _: refused).url)
    night(folder)
    [item] = known_items(load_matter(folder))
    assert item.state == "not asked"
    assert any("openalex did not answer (failed)" in line for line in item.lines)
    assert any("crossref did not answer (skipped): switched off" in line for line in item.lines)


@pytest.mark.parametrize(
    ("number", "state", "told"),
    [("the red book", "no number", "no number, DOI or address"), ("ISBN 978-3-16-148410-0", "not asked", "of this kind")],
)  # fmt: skip
def test_what_can_not_be_asked_for_is_said(
    scripted_server: Any, tmp_path: Path, number: str, state: str, told: str
) -> None:
    """A title is no number, and no source is asked by ISBN."""
    folder = matter(tmp_path, scripted_server(route=lambda _: works()).url, number)
    night(folder)
    [item] = known_items(load_matter(folder))
    assert item.state == state
    assert told in item.lines[0]


def test_a_number_written_later_has_not_been_asked_for(scripted_server: Any, tmp_path: Path) -> None:
    """The next run asks; until then nothing is claimed. What was asked is not asked again for a week."""
    server = scripted_server(route=lambda _: works())
    folder = matter(tmp_path, server.url)
    night(folder)
    text = (folder / "matter.toml").read_text(encoding="utf-8")
    (folder / "matter.toml").write_text(text.replace(DOI, "10.5555/known.2"), encoding="utf-8")
    [item] = known_items(load_matter(folder))
    assert item.state == "not asked"
    assert "openalex has not been asked for it yet" in item.lines[0]
    (folder / "matter.toml").write_text(text, encoding="utf-8")
    ends = night(folder, NOW + timedelta(days=1))
    assert ends["openalex: known references"]["outcome"] == "skipped"
    ends = night(folder, NOW + timedelta(days=8))
    assert ends["openalex: known references"]["outcome"] == "complete"


@pytest.mark.parametrize(
    ("number", "asked"),
    [
        ("US 17/248,024", {"uspto_odp"}),
        ("PMC1234567", {"europepmc"}),
        ("US 2015/0123456 A1", {"epo_ops", "uspto_odp", "uspto_bulk"}),
        ("arXiv:2101.00001v2 and 10.5555/x", {"openalex", "crossref", "arxiv", "europepmc"}),
    ],
)
def test_a_known_reference_is_asked_of_every_source_that_knows_its_numbers(
    tmp_path: Path, number: str, asked: set[str]
) -> None:
    """By application, publication, DOI, arXiv, PubMed or PubMed Central number."""
    made = load_matter(matter(tmp_path, "http://127.0.0.1", number))
    numbers = known_numbers(made)
    assert asked <= {name for name, source in BY_NUMBER.items() if source.find(tuple(numbers)).requests}


def test_what_was_handed_in_is_not_found_by_that(scripted_server: Any, tmp_path: Path) -> None:
    """A file of the user's own holds it; the services that were asked do not."""
    folder = matter(tmp_path, scripted_server(route=lambda _: works()).url)
    (folder / "handed-in").mkdir()
    entry = f"TY  - JOUR\nTI  - Emitter with a spring\nDO  - {DOI}\nPY  - 2019\nER  - \n"
    (folder / "handed-in" / "own.ris").write_text(entry, encoding="utf-8")
    night(folder)
    [item] = known_items(load_matter(folder))
    assert (item.state, item.title) == ("not held", "Emitter with a spring")
    assert item.lines[:2] == ("handed in by you", "asked for by number and not held: openalex")


def test_status_tells_it(scripted_server: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`antedate status` names the reference, its state and the reason."""
    held = works(work(1, "An emitter with a coil", DOI))
    folder = matter(tmp_path, scripted_server(route=openalex(works(), held)).url)
    night(folder)
    status(SimpleNamespace(matter=folder, run=None))  # type: ignore[arg-type]
    told = " ".join(capsys.readouterr().out.split())
    assert f"{DOI}: missed: An emitter with a coil" in told
    assert "no term of 'spring'" in told
