"""The USPTO's Open Data Portal: what is sent, what errors mean, and what a file wrapper becomes."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from connectors import uspto_odp
from connectors.connector import Page
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceRefused
from connectors.fetch import fetch
from connectors.record import Record
from pipeline.identifiers import normalise
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS, Window

HERE = Path(__file__).resolve()
# All invented. ordinary: a granted file, a pending one with its WO, a design, an unpublished one, 120 stated.
# last: one. empty: the 404 that means no results. odd: seven files, four of no known shape. torn: cut off.
FIXTURES = HERE.parents[2] / "fixtures" / "uspto_odp"
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples" / "uspto_odp"
TODAY = date(2026, 11, 25)
REQUEST = uspto_odp.compile(Text("emitter"), ALL_DAYS).requests[0]
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")


def page(body: bytes, status: int = 200, **headers: str) -> Page:
    """Return an answer with that body."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return Page(REQUEST, status, named, body, TODAY)


def fixture(name: str) -> Page:
    """Return the invented page of that name."""
    return page((FIXTURES / f"{name}.json").read_bytes(), 404 if name == "empty" else 200)


def records(answer: Page) -> dict[str, Record]:
    """Return the records of an answer by name."""
    return {record.native_id: record for record in uspto_odp.parse(answer).records}


def sample(name: str) -> Page:
    """Return a recorded answer."""
    return page((SAMPLES / f"{name}.json").read_bytes())


def dates(record: Record) -> list[tuple[str, str]]:
    """Return kind and days of each dated event but priorities."""
    return [(stated.kind, stated.days.text()) for stated in record.dates if stated.kind != "priority"]


def asked(expression: Any, window: Window = ALL_DAYS) -> str:
    """Return the q that would be sent."""
    [request] = uspto_odp.compile(expression, window).requests
    return str(json.loads(request.body)["q"]).replace("applicationMetaData.", "")


# --- what is sent -----------------------------------------------------------------

QUERIES = {
    # "Simplified Query Syntax" of January 2025: AND OR NOT in capitals, quotes, field:(…), prefix*;
    # recorded answer beta2024_search_page_23: a blank means OR, so every text stands in quotes.
    "a word": (Text("emitter"), 'inventionTitle:("emitter")'),
    "a phrase with a hyphen": (Text("Drip-Emitter"), 'inventionTitle:("drip emitter")'),
    "groups and an exclusion": (
        And((Or((Text("a b"), Text("c"))), Text("d"), Not(Text("e")))),
        'inventionTitle:(("a b" OR "c") AND "d" AND NOT "e")',
    ),
    "an And within an Or": (Or((Text("a"), And((Text("b"), Text("c"))))), 'inventionTitle:("a" OR ("b" AND "c"))'),
    "a symbol by its subclass": (
        And((Code("CPC", "A01G 25/02"), Text("a"), Not(Text("b")))),
        'cpcClassificationBag:A01G* AND inventionTitle:("a") AND NOT inventionTitle:("b")',
    ),
    "a symbol or a word": (
        And((Or((Code("cpc", "A01G"), Text("a"))), Text("b"))),
        '(cpcClassificationBag:A01G* OR inventionTitle:("a")) AND inventionTitle:("b")',
    ),
    "signs of the syntax": (Text('a*b:"c" (d) /e\\'), 'inventionTitle:("a b c d e")'),
}  # fmt: skip


@pytest.mark.parametrize(("expression", "text"), QUERIES.values(), ids=QUERIES)
def test_an_expression_is_written_as_the_portal_reads_it(expression: Any, text: str) -> None:
    """Titles by phrase, symbols by subclass, and no blank that would mean OR."""
    assert asked(expression) == text


def test_addresses_and_events_are_not_asked_for() -> None:
    """Attorneys, correspondence and transactions stay where they are; pages stay put by order of filing."""
    body = json.loads(REQUEST.body)
    assert not {"recordAttorney", "correspondenceAddressBag", "eventDataBag", "assignmentBag"} & {
        *body["fields"]
    }
    assert body["pagination"] == {"offset": 0, "limit": 50}
    assert body["sort"] == [{"field": "applicationMetaData.filingDate", "order": "Asc"}]


def test_what_the_portal_cannot_search_is_told() -> None:
    """That abstracts are not searched stands in every plan, and so does a wider symbol."""
    told = uspto_odp.compile(And((Code("cpc", "A01G 25/02"), Text("a"))), ALL_DAYS).not_expressed
    assert any("titles, not abstracts" in line for line in told)
    assert any("wider: A01G 25/02" in line for line in told)


@pytest.mark.parametrize(
    "expression", [Code("cpc", "A01G"), And((Code("ipc", "A01G"), Text("a"))), Text("+")]
)
def test_a_whole_subclass_or_one_concept_alone_is_not_sent(expression: Any) -> None:
    """What would ask for far more than the sweep is not sent, and the reason is told."""
    compiled = uspto_odp.compile(expression, ALL_DAYS)
    assert not compiled.requests
    assert compiled.not_expressed


def test_a_window_is_of_days_of_publication() -> None:
    """A file is in it by the day of any of its publications; filing days are not public."""
    text = asked(Text("a"), Window(date(2019, 3, 1), date(2020, 7, 1)))
    for name in ("earliestPublicationDate", "grantDate", "pctPublicationDate"):
        assert f"{name}:[2019-03-01 TO 2020-06-30]" in text
    assert "filingDate" not in text


def test_the_key_is_a_header() -> None:
    """It never stands in an address."""
    assert uspto_odp.sign(REQUEST, {"USPTO_ODP_KEY": " k "}, "me").headers == (("X-API-KEY", "k"),)


# --- errors -----------------------------------------------------------------------


@needs_samples
def test_the_recorded_404_means_no_results() -> None:
    """error_404_no_matching_records: the older spelling of the error's members."""
    answer = page((SAMPLES / "error_404_no_matching_records.json").read_bytes(), 404)
    assert uspto_odp.judge(answer) is None
    assert uspto_odp.parse(answer).stated_total == 0


def test_any_other_404_is_an_error() -> None:
    """A moved address must not pass for 'nothing found'."""
    assert isinstance(uspto_odp.judge(page(b'{"message":"Not Found"}', 404)), SourceRefused)
    assert isinstance(uspto_odp.judge(page(b"<html>Not found: no such page</html>", 404)), SourceRefused)


def test_no_results_in_the_middle_is_a_fault() -> None:
    """Earlier pages said that more follow, so it is asked again later."""
    [onward] = uspto_odp.follow(REQUEST, fixture("ordinary"), TODAY)
    assert isinstance(uspto_odp.judge(replace(fixture("empty"), request=onward)), SourceBusy)


def test_errors_say_what_to_do() -> None:
    """A refused key names its variable; 429 waits five seconds where no header says how long."""
    refused = uspto_odp.judge(page(b'{"code":403,"error":"Forbidden"}', 403))
    assert isinstance(refused, SourceRefused) and "USPTO_ODP_KEY" in str(refused)
    busy = uspto_odp.judge(page(b"", 429))
    assert isinstance(busy, SourceBusy) and busy.retry_after_s == 5
    told = uspto_odp.judge(page(b"", 429, retry_after="9"))
    assert isinstance(told, SourceBusy) and told.retry_after_s is None
    assert isinstance(uspto_odp.judge(page(b"", 502)), SourceDown)


# --- paging -----------------------------------------------------------------------


def test_the_next_page_begins_behind_this_one() -> None:
    """Files are counted, not the records they become: four files, of which two tell of two documents."""
    [onward] = uspto_odp.follow(REQUEST, fixture("ordinary"), TODAY)
    assert json.loads(onward.body)["pagination"] == {"offset": 4, "limit": 50}
    parsed = uspto_odp.parse(fixture("ordinary"))
    assert (parsed.items, parsed.matched, parsed.stated_total) == (6, 4, 120)
    assert uspto_odp.follow(REQUEST, fixture("last"), TODAY) == []


def test_beyond_the_depth_the_window_is_halved() -> None:
    """10,000 is the deepest that can be read, so two halves stand for the whole."""
    body = json.loads(fixture("ordinary").body) | {"count": 10_001}
    halves = uspto_odp.follow(REQUEST, page(json.dumps(body).encode()), TODAY)
    assert [half.window.public_from is None for half in halves] == [True, False]
    assert halves[0].window.public_to == halves[1].window.public_from


def test_a_page_too_large_is_asked_for_by_halves() -> None:
    """413 is the portal's limit of 6 MB an answer: nothing is lost, and one file too large is an error."""
    answer = page(b'{"code":413,"message":"Payload Too Large"}', 413)
    assert uspto_odp.judge(answer) is None
    assert uspto_odp.parse(answer).items == 0
    [onward] = uspto_odp.follow(REQUEST, answer, TODAY)
    assert json.loads(onward.body)["pagination"] == {"offset": 0, "limit": 25}
    state = (*(pair for pair in REQUEST.state if pair[0] != "limit"), ("limit", "1"))
    assert isinstance(uspto_odp.judge(replace(answer, request=replace(REQUEST, state=state))), SourceRefused)


def test_a_sweep_that_lost_files_is_incomplete() -> None:
    """Six records of four files are not the five files stated: files are counted."""
    body = json.loads(fixture("ordinary").body) | {"count": 5}
    bodies = [body, body | {"patentFileWrapperDataBag": []}]
    result = fetch(
        uspto_odp,
        lambda request: replace(page(json.dumps(bodies.pop(0)).encode()), request=request),
        [REQUEST],
        keep=lambda _: None,
        recall=lambda _: None,
        today=TODAY,
        progress=lambda _: None,
    )
    assert (result.outcome, result.items, result.stated_total) == ("incomplete", 6, 5)
    assert "4 of 5 were read" in result.reason


# --- records ----------------------------------------------------------------------


def test_a_file_becomes_a_record_for_each_document() -> None:
    """Application as published and patent each have their own number and day, and one application."""
    found = records(fixture("ordinary"))
    early, patent = found["18990417 published"], found["18990417 granted"]
    assert (early.kind, early.version, patent.kind) == ("patent application", "A1", "patent")
    assert dates(early) == [("publication of application", "2024-08-15"), ("filed", "2023-02-14")]
    assert dates(patent) == [("publication of grant", "2025-03-25"), ("filed", "2023-02-14")]
    numbers = [[normalise(i.scheme, i.text).match_key for i in each.identifiers] for each in (early, patent)]
    assert numbers == [["US-2024-990417", "US-18-990417"], ["US-12990417", "US-18-990417"]]
    assert patent.codes == (("CPC", "A01G 25/02"), ("CPC", "A01G 2025/006"), ("CPC", "F16K 31/002"))
    assert [(each.name, each.role, each.family) for each in patent.people] == [
        ("Ilse Maren TAGHOLM", "inventor", "Tagholm"),
        ("Lattice Drip AB", "applicant", ""),
    ]


def test_the_chain_is_told_link_by_link() -> None:
    """The bag lists grandparents too: each note says which case is what of which, with its day."""
    patent = records(fixture("ordinary"))["18990417 granted"]
    assert [(each.kind, each.identifier.text) for each in patent.relations] == [
        ("priority", "US 17990100"),
        ("priority", "US 63990001"),
    ]
    assert patent.relations[0].note.startswith(
        "18990417 is a Continuation in-part of 17990100, filed 2021-06-30"
    )
    assert patent.relations[1].note.startswith("17990100 Claims priority from a provisional")
    assert [s.days.text() for s in patent.dates if s.kind == "priority"] == ["2021-06-30", "2020-07-01"]
    details = dict(patent.details)
    assert details["term: days added for slow grant"] == "41"
    assert details["status of the file"] == "Patented Case (since 2025-03-05)"
    assert details["first inventor to file"] == "yes"
    assert "19990055 is a Division of 18990417" in details["later case"]


def test_foreign_priorities_are_named_by_office_where_it_is_known() -> None:
    """An office's name not known here keeps its day and its words, and joins nothing."""
    pending = records(fixture("ordinary"))["18990777 published"]
    linked = [normalise(r.identifier.scheme, r.identifier.text) for r in pending.relations]
    assert [(each.value, each.problem) for each in linked] == [("JP2022990777", ""), ("CN202210990444", "")]
    stated = [(s.days.text(), s.note) for s in pending.dates if s.kind == "priority"]
    assert ("2022-04-01", "foreign priority, written ATLANTIS A/77") in stated


def test_the_international_publication_is_a_document_of_its_own() -> None:
    """It is often the earliest of a national-stage file."""
    found = records(fixture("ordinary"))["18990777 pct"]
    assert dates(found)[0] == ("publication of application", "2023-09-14")
    assert normalise("publication", found.identifiers[0].text).match_key == "WO-2023-990777"


def test_a_file_without_publication_has_no_public_date() -> None:
    """The portal shows what exists, published or not: a filing day is never public."""
    unpublished = records(fixture("ordinary"))["19990888 published"]
    assert [kind for kind, _ in dates(unpublished)] == ["filed"]
    assert "not published" in dict(unpublished.details)


def test_a_design_is_a_design() -> None:
    """Applications of type DES are of designs, and their numbers begin with D."""
    design = records(fixture("last"))["29990321 granted"]
    assert (design.kind, normalise("publication", design.identifiers[0].text).match_key) == (
        "design",
        "US-D-990321",
    )


def test_odd_files_keep_what_can_be_read() -> None:
    """An impossible day gives no date, a missing number sets the file aside with its place."""
    parsed = uspto_odp.parse(fixture("odd"))
    assert [bad.path for bad in parsed.quarantined] == [
        "patentFileWrapperDataBag[1].applicationNumberText",
        "patentFileWrapperDataBag[2].applicationNumberText",
        "patentFileWrapperDataBag[3]",
        "patentFileWrapperDataBag[5].applicationMetaData.inventionTitle",
    ]
    first, *_, again = parsed.records
    assert dates(first) == []
    assert ("day of publication", "not known (soon)") in first.details
    assert [(r.kind, r.identifier.text) for r in again.relations] == [("family", "US 90990997")]
    assert dict(again.details)["days of all publications"] == "2020-01-02, 2020-05-07"


@pytest.mark.parametrize("body", [b"{}", b'{"patentBag": []}', b'{"patentFileWrapperDataBag": {}}'])
def test_the_dead_beta_shape_is_a_change(body: bytes) -> None:
    """An answer without today's wrapper is not taken for an empty one."""
    with pytest.raises(SourceChanged):
        uspto_odp.parse(page(body))


# --- recorded answers -------------------------------------------------------------


@needs_samples
@pytest.mark.parametrize(
    "name",
    ["application_17248024", "search_patents_reserialised", "continuity_17248024", "adjustment_17248024",
     "associated_documents_17248024", "transactions_17248024", "foreign_priority_absent"],
)  # fmt: skip
def test_recorded_answers_are_read_whole(name: str) -> None:
    """Nothing is set aside of the whole record, of a search page, or of a part of a record."""
    parsed = uspto_odp.parse(sample(name))
    assert parsed.matched == parsed.stated_total == 1
    assert (parsed.items, parsed.quarantined) == (len(parsed.records), ())


@needs_samples
def test_the_facts_of_a_recorded_file_come_out() -> None:
    """SAMPLES.md and the fact sheet: US 11646472, published 2021-07-08, granted 2023-05-09, 304 days,
    not first inventor to file, a chain back to 10824944 filed 2004-04-14, three provisionals."""
    found = records(sample("application_17248024"))
    early, patent = found["17248024 published"], found["17248024 granted"]
    assert (dates(early)[0], dates(patent)[0]) == (
        ("publication of application", "2021-07-08"),
        ("publication of grant", "2023-05-09"),
    )
    assert normalise("publication", patent.identifiers[0].text).value == "US11646472"
    assert normalise("publication", early.identifiers[0].text).value == "US20210210819A1"
    chain = {relation.identifier.text: relation.note for relation in patent.relations}
    assert "11824597 is a Division of 10824944, filed 2004-04-14, US 7282295" in chain["US 10824944"]
    assert "CFR 1.362" in chain["US 16695054"]
    assert len([text for text in chain if text.startswith(("US 60", "US 61"))]) == 3
    details = dict(patent.details)
    assert (details["term: days added for slow grant"], details["first inventor to file"]) == ("304", "no")
    assert details["full text in XML (needs the key)"].endswith("17248024_11646472.xml")
    assert ("CPC", "H01M 50/46") in patent.codes and ("CPC", "H01M 2004/027") in patent.codes


@needs_samples
def test_a_recorded_pending_application_has_its_foreign_priority() -> None:
    """search_patents_reserialised: status 30, published 2024-10-31, priority CN of 2023-04-25."""
    [record] = records(sample("search_patents_reserialised")).values()
    assert dates(record)[0] == ("publication of application", "2024-10-31")
    [relation] = record.relations
    assert normalise("application", relation.identifier.text).problem == ""
    assert ("priority", "2023-04-25") in [(s.kind, s.days.text()) for s in record.dates]


@needs_samples
def test_files_of_the_dead_beta_shape_are_still_read_item_by_item() -> None:
    """beta2024_search_page_23 has the only many records recorded: put into today's wrapper, all are
    read; designs (35/…) and a re-examination are among them."""
    old = json.loads((SAMPLES / "beta2024_search_page_23.json").read_bytes())["patentBag"]
    files = [
        {"applicationNumberText": each["applicationNumberText"], "applicationMetaData": each} for each in old
    ]
    parsed = uspto_odp.parse(
        page(json.dumps({"count": len(files), "patentFileWrapperDataBag": files}).encode())
    )
    assert parsed.matched == len(old) and parsed.quarantined == ()
    assert "design" in {record.kind for record in parsed.records}
    assert any(record.native_id.startswith("90019500") for record in parsed.records)
    spaced = [i.text for r in parsed.records for i in r.identifiers if i.text.startswith("US 2024-")]
    assert spaced and not [text for text in spaced if normalise("publication", text).problem]
