"""The whole job on real recorded answers: nothing lost, every quarantine with its reason, known facts out.

The bodies lie in ../shared/sources/samples (each folder's SAMPLES.md says whose recording of
which service each is); they are served by a loopback server, page after page, and read by a
run started as its user would.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from connectors.registry import SOURCE_NAMES
from pipeline.errors import NotFound
from pipeline.listing import find_reference, read_hits
from pipeline.run import rebuild_store
from pipeline.store import open_store

SAMPLES = Path(__file__).resolve().parents[2] / "../shared/sources/samples"
pytestmark = pytest.mark.skipif(
    not SAMPLES.is_dir(), reason="the recorded answers are not beside the checkout"
)

MATTER = """
offices = ["US", "EP", "CN"]
[invention]
title = "Locating people by radio tags"
summary = "A tag worn by a person is located indoors by a network of radio receivers."
[invention.elements]
A = "a radio tag with an identifier"
B = "a network of receivers that measure signal strength"
[[concept]]
name = "tag"
terms = ["radio tag"]
[[concept]]
name = "place"
terms = ["positioning"]
[source.openalex]
base_url = "{url}/openalex"
[source.crossref]
base_url = "{url}/crossref"
[source.arxiv]
base_url = "{url}/arxiv"
[source.epo_ops]
base_url = "{url}/epo"
[source.europepmc]
base_url = "{url}/europepmc"
[source.datacite]
base_url = "{url}/datacite"
[source.semanticscholar]
on = true
base_url = "{url}/semanticscholar"
[source.uspto_odp]
base_url = "{url}/uspto"
[source.wikimedia]
base_url = "{url}/commons"
[source.openverse]
base_url = "{url}/openverse"
"""
MATTER += "".join(
    f"[source.{name}]\non = false\n" for name in SOURCE_NAMES if f"source.{name}]" not in MATTER
)
KEYS = {
    "EPO_OPS_KEY": "a-key-of-ours",
    "EPO_OPS_SECRET": "a-secret-of-ours",
    "USPTO_ODP_KEY": "another-key-of-ours",
}
NOW = datetime(2026, 11, 25, 2, 0, tzinfo=UTC)


def sample(name: str) -> bytes:
    """Return a recorded body, byte for byte."""
    return (SAMPLES / name).read_bytes()


def openalex_page() -> bytes:
    """Return a list page of every recorded OpenAlex work, each item as recorded."""
    works = [json.loads(path.read_bytes()) for path in sorted((SAMPLES / "openalex").glob("work_*.json"))]
    for name in ("list_page_2_works.json", "random_sample_5_works.json"):
        works += json.loads(sample(f"openalex/{name}"))["results"]
    return json.dumps({"meta": {"count": len(works), "next_cursor": None}, "results": works}).encode()


def crossref_page() -> bytes:
    """Return a list page of every recorded Crossref work, each item as recorded, once."""
    found: dict[str, Any] = {}
    for path in sorted((SAMPLES / "crossref").glob("*.json")):
        body = json.loads(path.read_bytes())
        if isinstance(body, dict) and body.get("status") == "ok":
            items = body["message"].get("items", [body["message"]])
            found = {each["DOI"].lower(): each for each in items} | found
    works = list(found.values())
    message = {"total-results": len(works), "items": works, "next-cursor": "end"}
    return json.dumps({"status": "ok", "message-type": "work-list", "message": message}).encode()


def europepmc_page() -> bytes:
    """Return a page of every recorded Europe PMC result, each as recorded, once."""
    results: dict[str, Any] = {}
    for name in ("search_lite_25", "search_odd_records", "search_core_25"):
        listed = json.loads(sample(f"europepmc/{name}.json"))["resultList"]["result"]
        results |= {f"{each['source']}{each['id']}": each for each in listed}
    body = {"version": "6.9", "hitCount": len(results), "resultList": {"result": list(results.values())}}
    return json.dumps(body).encode()


def datacite_page() -> bytes:
    """Return a list page of every recorded DOI, each item as recorded."""
    items: list[Any] = []
    for path in sorted((SAMPLES / "datacite").glob("[dl]*_*.json")):
        data = json.loads(path.read_bytes())["data"]
        items += data if isinstance(data, list) else [data]
    return json.dumps({"data": items, "meta": {"total": len(items)}, "links": {}}).encode()


def semanticscholar_page() -> bytes:
    """Return a bulk page of recorded papers with their full fields, the batch's empty slot among them."""
    papers = json.loads(sample("semanticscholar/batch_full_fields_one_null.json"))
    turing = json.loads(sample("semanticscholar/paper_turing_1950_full.json"))
    papers += [turing, *turing["references"], *turing["citations"]]
    return json.dumps({"total": len(papers), "token": None, "data": papers}).encode()


def uspto_page() -> bytes:
    """Return a page of the recorded file wrappers of two applications, each as recorded."""
    names = ("application_17248024", "search_patents_reserialised")
    files = [json.loads(sample(f"uspto_odp/{name}.json"))["patentFileWrapperDataBag"][0] for name in names]
    return json.dumps({"count": len(files), "patentFileWrapperDataBag": files}).encode()


def commons_page() -> bytes:
    """Return the recorded 28 files as the one batch of a search."""
    body = json.loads(sample("pictures/commons_allimages_28_files.json"))
    return json.dumps({"batchcomplete": True, "query": body["query"]}).encode()


def openverse_page() -> bytes:
    """Return the recorded 20 pictures as all that was found."""
    body = json.loads(sample("pictures/openverse_search_birds_2022.json"))
    return json.dumps(body | {"result_count": 20, "page_count": 1}).encode()


class Services:
    """The services, answering each question once in full and then with nothing more."""

    def __init__(self) -> None:
        self.asked: list[Any] = []

    def __call__(self, seen: Any) -> dict[str, Any]:
        self.asked.append(seen)
        if "auth" in seen.path:
            return {
                "body": b'{"access_token": "t", "expires_in": "1199"}',
                "headers": {"Content-Type": "application/json"},
            }
        name = seen.path.split("/")[1]
        made = {
            "europepmc": europepmc_page,
            "datacite": datacite_page,
            "semanticscholar": semanticscholar_page,
            "uspto": uspto_page,
            "commons": commons_page,
            "openverse": openverse_page,
        }
        if name in made:
            return {"body": made[name](), "headers": {"Content-Type": "application/json"}}
        return {"openalex": self.openalex, "crossref": self.crossref, "arxiv": self.arxiv}.get(
            name, self.epo
        )(seen)

    def openalex(self, seen: Any) -> dict[str, Any]:
        return {"body": openalex_page(), "headers": {"Content-Type": "application/json"}}

    def crossref(self, seen: Any) -> dict[str, Any]:
        return {"body": crossref_page(), "headers": {"Content-Type": "application/json"}}

    def arxiv(self, seen: Any) -> dict[str, Any]:
        # The recording's total is of all it matched; here the ten recorded entries are all.
        body = sample("arxiv/search_testing_first_10.xml").replace(b">214881<", b">10<")
        return {"body": body}

    def epo(self, seen: Any) -> dict[str, Any]:
        if "/family/" in seen.path:
            return {"body": sample("epo_ops/family_biblio_EP2400812.xml")}
        body = sample("epo_ops/search_biblio_pa_siemens_1-3.xml")
        return {"body": body.replace(b'total-result-count="10000"', b'total-result-count="3"')}


RAN: dict[str, Any] = {}


@pytest.fixture
def ran(scripted_server: Any, prefect_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Give the folder of a matter run once over the recorded answers, and how the run ended."""
    if not RAN:
        folder = tmp_path_factory.mktemp("real")
        server = scripted_server(route=Services())
        (folder / "matter.toml").write_text(MATTER.replace("{url}", server.url), encoding="utf-8")
        # In a process of its own: the scheduler's threads outlive a run, and their pings draw from
        # the process's random numbers in the midst of whatever test comes after.
        environment = {**os.environ, **KEYS, "PREFECT_HOME": str(prefect_home)}
        line = [sys.executable, "-m", "pipeline.cli", "run", str(folder)]
        done = subprocess.run(line, env=environment, capture_output=True, text=True, timeout=240, check=False)
        RAN.update(folder=folder, done=done)
    return RAN


def query(folder: Path, text: str, *values: Any) -> list[tuple[Any, ...]]:
    """Return the rows of a query over the matter's store."""
    with open_store(folder, read_only=True) as con:
        return con.execute(text, list(values)).fetchall()


def test_every_item_is_a_record_or_quarantined(ran: Any) -> None:
    """For each answer and for the search log: items = records + quarantined, and nothing is lost."""
    assert ran["done"].returncode == 0, (ran["done"].stdout, ran["done"].stderr)
    assert query(ran["folder"], "SELECT * FROM response WHERE items <> records + quarantined") == []
    assert query(ran["folder"], "SELECT * FROM search WHERE items <> records + quarantined") == []
    by_answer = query(ran["folder"], "SELECT sum(items), sum(quarantined) FROM response")
    by_search = query(ran["folder"], "SELECT sum(items), sum(quarantined) FROM search")
    assert by_answer == by_search
    assert by_answer[0][0] > 60


def test_every_quarantine_has_its_reason(ran: Any) -> None:
    """No item of these recordings is unreadable but the batch's empty slot; it says where and why."""
    for path, reason in query(ran["folder"], "SELECT path, reason FROM quarantine"):
        assert path
        assert reason


def test_a_year_written_as_1_january_is_the_year(ran: Any) -> None:
    """openalex SAMPLES.md: publication_date 2018-01-01 of 10.1007/978-3-319-75889-3_1 is made from a year."""
    rows = query(
        ran["folder"],
        "SELECT day_from, day_to, note FROM dated_event JOIN identifier USING (record_id) JOIN record USING (record_id) "
        "WHERE match_key = '10.1007/978-3-319-75889-3_1' AND source = 'openalex' AND public",
    )
    assert [(str(first), str(last)) for first, last, _ in rows] == [("2018-01-01", "2018-12-31")]
    assert rows[0][2]


def test_an_empty_title_stays_empty(ran: Any) -> None:
    """openalex SAMPLES.md: the title of 10.7600/jspfsm.56.60 is the empty string, its date a year."""
    rows = query(
        ran["folder"],
        "SELECT title FROM record JOIN identifier USING (record_id) WHERE match_key = '10.7600/jspfsm.56.60'",
    )
    assert rows == [("",)]


def test_a_year_of_1908_stays_a_year(ran: Any) -> None:
    """crossref SAMPLES.md: issued [[1908]] is 1 January to 31 December 1908."""
    rows = query(ran["folder"], "SELECT day_from, day_to FROM dated_event WHERE year(day_from) = 1908")
    assert (date(1908, 1, 1), date(1908, 12, 31)) in rows


def test_a_thesis_is_dated_by_its_approval_only(ran: Any) -> None:
    """crossref SAMPLES.md: 10.14264/uql.2020.791 has no issued date; approval is not by itself public."""
    rows = query(
        ran["folder"],
        "SELECT kind, public FROM dated_event JOIN identifier USING (record_id) "
        "WHERE match_key = '10.14264/uql.2020.791'",
    )
    assert ("approved", False) in rows
    assert not any(public for kind, public in rows if kind != "published")


def test_non_latin_titles_come_through(ran: Any) -> None:
    """crossref SAMPLES.md: a Japanese and a Russian title; markup of other titles is gone."""
    titles = [row[0] for row in query(ran["folder"], "SELECT title FROM record")]
    assert any("\u3040" <= char <= "\u9fff" for title in titles for char in title)
    assert any("\u0400" <= char <= "\u04ff" for title in titles for char in title)
    assert not [title for title in titles if "<i>" in title or "<scp>" in title or "&amp;" in title]


def test_the_wrong_merge_upstream_is_shown(ran: Any) -> None:
    """openalex SAMPLES.md: in the first work of the list authorships and raw names are different people."""
    details = query(
        ran["folder"], "SELECT details FROM record WHERE source = 'openalex' AND len(details) > 0"
    )
    words = " ".join(detail["name"] + " " + detail["text"] for (row,) in details for detail in row)
    assert "name" in words
    assert "differ" in words or "conflict" in words or "disagree" in words


def test_family_members_are_versions_of_one_reference(ran: Any) -> None:
    """epo_ops SAMPLES.md: the extended family of EP2400812 is one reference, each member with its date."""
    reference = find_reference(ran["folder"], "EP 2400812 A1")
    rows = query(
        ran["folder"],
        "SELECT DISTINCT i.value, m.version_id FROM membership m JOIN identifier i USING (record_id) "
        "WHERE reference_id = ? AND scheme = 'publication'",
        reference,
    )
    numbers = {number for number, _ in rows}
    assert {"EP2400812A1", "US2012001730A1", "US20120001730A1"} & numbers
    assert len({version for _, version in rows}) == len(numbers)


def test_arxiv_is_public_when_announced_not_when_submitted(ran: Any) -> None:
    """arXiv's `published` is the submission of version 1 (API manual 5.2): not a public event."""
    rows = query(
        ran["folder"],
        "SELECT dated_event.kind, public, field FROM dated_event JOIN record USING (record_id) WHERE source = 'arxiv'",
    )
    assert {(kind, public) for kind, public, _ in rows} >= {("submitted", False), ("announced", True)}


def test_a_file_wrapper_is_two_versions_of_one_reference(ran: Any) -> None:
    """uspto_odp SAMPLES.md: US 11646472, granted 2023-05-09, was public as US20210210819A1 on 2021-07-08."""
    reference = find_reference(ran["folder"], "US 11,646,472 B2")
    assert find_reference(ran["folder"], "US 2021/0210819 A1") == reference
    rows = query(
        ran["folder"],
        "SELECT public_from, public_to, (SELECT count(DISTINCT version_id) FROM membership m "
        "WHERE m.reference_id = r.reference_id) FROM reference r WHERE reference_id = ?",
        reference,
    )
    assert rows == [(date(2021, 7, 8), date(2021, 7, 8), 2)]


def test_pictures_are_dated_by_their_upload_or_not_at_all(ran: Any) -> None:
    """pictures SAMPLES.md: 28 uploads of 2015-10-31, whatever year the work is of; 20 without any date."""
    rows = query(
        ran["folder"],
        "SELECT r.source, f.public_from FROM reference f JOIN record r ON r.record_id = f.main_record "
        "WHERE f.kind = 'picture'",
    )
    assert sorted(set(rows), key=str) == [("openverse", None), ("wikimedia", date(2015, 10, 31))]
    assert len(rows) == 48


def test_hits_are_ranked_and_judged(ran: Any) -> None:
    """Every reference inside has a place and a closeness to each element."""
    hits = read_hits(ran["folder"])
    assert [hit.place for hit in hits] == list(range(1, len(hits) + 1))
    assert all({match.element for match in hit.closeness} == {"A", "B"} for hit in hits if hit.title)


def test_an_unknown_number_is_not_found(ran: Any) -> None:
    """A number no source sent is an error that says what to give."""
    with pytest.raises(NotFound, match="no reference goes by"):
        find_reference(ran["folder"], "US 9,999,999 B2")


def test_rebuilding_makes_the_same_tables(ran: Any) -> None:
    """The database made again from the raw answers, with no service there, equals the one lost."""
    names = ("response", "quarantine", "search", "run", "record", "identifier", "dated_event", "relation",
             "class_code", "found", "link", "membership", "reference", "passage", "topic", "topic_member")  # fmt: skip
    before = {name: query(ran["folder"], f"SELECT * FROM {name} ORDER BY ALL") for name in names}
    (ran["folder"] / "antedate.duckdb").unlink()
    rebuild_store(ran["folder"], lambda: NOW, lambda _: None)
    for name in names:
        assert query(ran["folder"], f"SELECT * FROM {name} ORDER BY ALL") == before[name], name
