"""Europe PMC: what is sent, what errors mean, and what its results become."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors import europepmc
from connectors.connector import Page, Request, Sought
from connectors.days import Days
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceRefused
from connectors.record import Record
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS, Window

HERE = Path(__file__).resolve()
# All invented. ordinary: two results and a mark. last: a preprint, its mark the one sent. empty: nothing
# found, no mark. odd: seven items, three of no known shape. torn: ordinary, cut off.
FIXTURES = HERE.parents[2] / "fixtures" / "europepmc"
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples" / "europepmc"
TODAY = date(2026, 11, 25)
REQUEST = europepmc.compile(Text("valve"), ALL_DAYS).requests[0]
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")


def page(body: bytes, status: int = 200, request: Request = REQUEST) -> Page:
    """Return an answer with that body."""
    return Page(request, status, {}, body, TODAY)


def fixture(name: str, request: Request = REQUEST) -> Page:
    """Return the invented page of that name."""
    return page((FIXTURES / f"{name}.json").read_bytes(), request=request)


def result(**stated: Any) -> Record:
    """Return the record of one result."""
    body = {"hitCount": 1, "resultList": {"result": [{"id": "1", "source": "MED", **stated}]}}
    [record] = europepmc.parse(page(json.dumps(body).encode())).records
    return record


def sent(expression: Any, window: Window = ALL_DAYS) -> list[str]:
    """Return the query of each request that would be sent."""
    requests = europepmc.compile(expression, window).requests
    return [dict(request.params or parse_qsl(request.body))["query"] for request in requests]


# --- what is sent -----------------------------------------------------------------

# Operators and fields: europepmc.org/RestfulWebService and its answer to /fields (2026).
QUERIES = {
    "a phrase": (Text("check valve"), 'TITLE_ABS:"check valve"'),
    "a hyphen parts words": (Text("two-way"), 'TITLE_ABS:"two way"'),
    "synonyms, concepts and an exclusion": (
        And((Or((Text("shunt"), Text("bypass"))), Text("valve"), Not(Text("cardiac")))),
        '(TITLE_ABS:"shunt" OR TITLE_ABS:"bypass") AND TITLE_ABS:"valve" NOT TITLE_ABS:"cardiac"',
    ),
    "signs of the query language": (
        Text('a:b (c) [d TO e] "f"* OR'),
        'TITLE_ABS:"a b c d TO e f OR"',
    ),
}


@pytest.mark.parametrize(("expression", "text"), QUERIES.values(), ids=QUERIES)
def test_an_expression_is_written_as_the_service_reads_it(expression: Any, text: str) -> None:
    """Every term is quoted and bound to title and abstract."""
    assert sent(expression) == [text]


@given(st.text(min_size=1))
@settings(derandomize=True, max_examples=200)
def test_no_term_can_leave_its_quotes(text: str) -> None:
    """A quote or backslash of a term never reaches the service."""
    for query in sent(And((Text(text), Text("a")))):
        assert query.count('"') in (2, 4)
        assert "\\" not in query


def test_a_request_is_complete() -> None:
    """Full records, JSON, no synonyms added, a hundred a page, by cursor."""
    assert (REQUEST.method, REQUEST.path) == ("GET", "search")
    assert dict(REQUEST.params) == {
        "query": 'TITLE_ABS:"valve"',
        "resultType": "core",
        "format": "json",
        "synonym": "false",
        "pageSize": "100",
        "cursorMark": "*",
    }


def test_the_window_is_of_first_publication_and_of_what_is_new() -> None:
    """Both ends count; new is what was created, changed or first indexed since."""
    window = Window(date(2019, 3, 1), date(2020, 7, 1), date(2026, 11, 22))
    since = "[2026-11-22 TO 3000-12-31]"
    assert sent(Text("a"), window) == [
        '(TITLE_ABS:"a") AND FIRST_PDATE:[2019-03-01 TO 2020-06-30] AND '
        f"(CREATION_DATE:{since} OR UPDATE_DATE:{since} OR FIRST_IDATE:{since})"
    ]


def test_a_long_query_travels_in_the_body_and_a_very_long_one_is_split() -> None:
    """searchPOST takes the same parameters as a form; every form of a term is in one of the queries."""
    [medium] = europepmc.compile(Or(tuple(Text(f"form {n}") for n in range(80))), ALL_DAYS).requests
    assert (medium.method, medium.path, medium.params) == ("POST", "searchPOST", ())
    assert dict(parse_qsl(medium.body))["cursorMark"] == "*"
    forms = tuple(Text(f"form number {number}") for number in range(600))
    queries = sent(And((Or(forms), Text("valve"))))
    assert len(queries) > 1
    assert all(len(query) <= 8_000 for query in queries)
    assert all(any(f'"{form.text}"' in query for query in queries) for form in forms)


def test_symbols_are_left_out_and_named() -> None:
    """Beside two concepts a symbol goes; one concept alone is not sent."""
    compiled = europepmc.compile(And((Code("cpc", "A61M 27/00"), Text("a"), Text("b"))), ALL_DAYS)
    assert "A61M 27/00" in compiled.not_expressed[0]
    assert compiled.requests
    assert not europepmc.compile(And((Code("cpc", "A61M"), Text("a"))), ALL_DAYS).requests


def test_numbers_are_asked_for_by_field() -> None:
    """DOI, PubMed and PubMed Central numbers, forty a request; a quote in a number goes nowhere."""
    numbers = [
        Sought("doi", "10.5555/a"),
        Sought("pmid", "77"),
        Sought("pmcid", "PMC9"),
        Sought("doi", 'a"b'),
    ]
    [request] = europepmc.find(numbers).requests
    assert request.step == "numbers"
    assert dict(request.params)["query"] == 'DOI:"10.5555/a" OR (EXT_ID:"77" AND SRC:MED) OR PMCID:"PMC9"'
    assert europepmc.follow(request, fixture("ordinary", request), TODAY) == []
    full = {
        "nextCursorMark": "on",
        "resultList": {"result": [{"id": str(n), "source": "MED"} for n in range(100)]},
    }
    [onward] = europepmc.follow(request, page(json.dumps(full).encode(), request=request), TODAY)
    assert onward.step == "numbers"
    assert len(europepmc.find([Sought("pmid", str(n)) for n in range(41)]).requests) == 2
    assert europepmc.find((Sought("isbn", "978"),)).requests == ()


# --- errors and paging ------------------------------------------------------------


@pytest.mark.parametrize(
    ("status", "body", "kind"),
    [
        (200, b'{"errCode": 404, "errMsg": "Invalid query"}', SourceRefused),
        (200, b'{"errCode": 503, "errMsg": "busy"}', SourceBusy),
        (429, b"", SourceBusy),
        (500, b"<html>", SourceDown),
        (400, b"{}", SourceRefused),
    ],
)
def test_errors_are_judged_also_those_with_status_200(status: int, body: bytes, kind: type) -> None:
    """An errCode in the body is an error, whatever the status."""
    assert type(europepmc.judge(page(body, status))) is kind


def test_the_mark_leads_on_and_ends_where_it_stands_still() -> None:
    """The service repeats the mark at the end instead of sending none."""
    [onward] = europepmc.follow(REQUEST, fixture("ordinary"), TODAY)
    assert dict(onward.params)["cursorMark"] == "MARK-TWO"
    assert europepmc.follow(onward, fixture("last", onward), TODAY) == []
    assert europepmc.follow(REQUEST, fixture("empty"), TODAY) == []


# --- records ----------------------------------------------------------------------


def test_a_result_becomes_a_record() -> None:
    """Text without markup; numbers, relations and the retraction come out; the rest is told."""
    one, _ = europepmc.parse(fixture("ordinary")).records
    assert one.title == "A check valve for a 2-way shunt"
    assert one.abstract == "Background A shunt must not run backwards. Methods We built one."
    assert [person.name for person in one.people] == ["Ada Quill", "Shunt Study Group"]
    assert [each.scheme for each in one.identifiers] == ["doi", "pmid", "pmcid"]
    assert one.retracted
    assert [(each.kind, each.identifier.text) for each in one.relations[:2]] == [
        ("retracted by", "99000009"),
        ("has preprint", "10.5555/shelf.2023.77"),
    ]
    assert any(name == "related" and "Comment in" in text for name, text in one.details)
    [preprint] = europepmc.parse(fixture("last")).records
    assert (preprint.kind, preprint.version, preprint.venue) == ("preprint", "v2", "Preprint Shelf")


def test_what_was_indexed_before_its_printed_day_was_public_by_then() -> None:
    """Fact sheet: in 145 of 1,000 records the day of publication is later than the first day in the index."""
    _, early = europepmc.parse(fixture("ordinary")).records
    days = {stated.kind: stated.days for stated in early.dates}
    assert days == {"published in print": Days.of_month(2025, 12), "listed": Days.of_day(date(2024, 12, 22))}


ISSUES = {
    # Written date of issue, print date as a day -> what it allows.
    "month": ("2025 Jul", "2025-07-01", Days.of_month(2025, 7)),
    "two months": ("2025 Jul-Aug", "2025-07-01", Days(date(2025, 7, 1), date(2025, 8, 31))),
    "over the year's end": ("2025 Dec-Jan", "2025-12-01", Days(date(2025, 12, 1), date(2026, 1, 31))),
    "year": ("2025", "2025-01-01", Days.of_year(2025)),
    "season": ("2025 Winter", "2025-01-01", Days.of_year(2025)),
    "day": ("2025 Jul 1", "2025-07-01", Days.of_day(date(2025, 7, 1))),
    "mid-month": ("2025 Dec 14", "2025-12-14", Days.of_day(date(2025, 12, 14))),
    "not written": ("", "2025-07-01", Days.of_month(2025, 7)),
    "not written, January": ("", "2025-01-01", Days.of_year(2025)),
    "another month": ("2025 Aug", "2025-07-01", Days.of_month(2025, 7)),
    "no such month": ("2025 13", "2025-07-01", Days.of_year(2025)),
}


@pytest.mark.parametrize(("written", "day", "days"), ISSUES.values(), ids=ISSUES)
def test_a_printed_day_is_as_exact_as_the_issue_is_written(written: str, day: str, days: Days) -> None:
    """printPublicationDate is a day even where the issue names a month alone (recorded: 2025 Jul)."""
    record = result(journalInfo={"dateOfPublication": written, "printPublicationDate": day})
    assert [stated.days for stated in record.dates] == [days]


def test_dates_are_said_once_and_unreadable_ones_told() -> None:
    """The first day repeats one of the two others; 30 February is words, and so is no date at all."""
    record = result(firstPublicationDate="2024-03-18", electronicPublicationDate="2024-03-18")
    assert [stated.kind for stated in record.dates] == ["published online"]
    assert ("unreadable date", "firstPublicationDate 2024-02-30") in result(
        firstPublicationDate="2024-02-30"
    ).details
    assert result(pubYear="1993").dates[0].days == Days.of_year(1993)
    assert result().dates == ()  # fmt: skip


def test_an_odd_page_loses_nothing() -> None:
    """A missing number, a title that is no text and no result at all are set aside with their places."""
    parsed = europepmc.parse(fixture("odd"))
    assert parsed.items == 7 == len(parsed.records) + len(parsed.quarantined)
    assert [each.path for each in parsed.quarantined] == [
        "resultList.result[0].id",
        "resultList.result[5].title",
        "resultList.result[6]",
    ]
    assert [record.kind for record in parsed.records] == ["article", "chapter", "other", "thesis"]


@pytest.mark.parametrize(
    "body", [b"<p>", b"[]", b"{}", b'{"resultList": {"result": {}}}', b'{"hitCount": "x", "resultList": {}}']
)
def test_a_page_that_is_not_what_the_manual_says_is_refused(body: bytes) -> None:
    """Torn, foreign, of another shape: SourceChanged."""
    with pytest.raises(SourceChanged):
        europepmc.parse(page(body))


# --- recorded answers -------------------------------------------------------------


def recorded(name: str) -> dict[str, Record]:
    """Return the records of a recorded page; none may be set aside."""
    parsed = europepmc.parse(page((SAMPLES / f"{name}.json").read_bytes()))
    assert parsed.items == len(parsed.records), parsed.quarantined
    return {record.native_id: record for record in parsed.records}


@needs_samples
def test_recorded_pages_are_read_whole() -> None:
    """SAMPLES.md: pages of 25, 25, 25 and 22 results, and one without any and without a mark."""
    names = (
        "search_core_25",
        "search_lite_25",
        "search_idlist_25",
        "search_odd_records",
        "search_no_results",
    )
    assert [len(recorded(name)) for name in names] == [25, 25, 25, 22, 0]
    nothing = page((SAMPLES / "search_no_results.json").read_bytes())
    assert europepmc.follow(REQUEST, nothing, TODAY) == []


@needs_samples
def test_recorded_facts_come_out() -> None:
    """SAMPLES.md and fact sheet: index before print, an erratum, markup, preprints, a book, a retraction notice."""
    core = recorded("search_core_25")
    early = {stated.kind: stated.days for stated in core["MED:39709209"].dates}
    assert early["listed"] == Days.of_day(date(2024, 12, 22))
    assert early["published in print"] == Days.of_month(2025, 12)
    assert any(each.kind == "corrects" for record in core.values() for each in record.relations)
    assert not [record for record in core.values() if "<h4>" in record.abstract]
    odd = recorded("search_odd_records")
    assert sum(record.kind == "preprint" for record in odd.values()) == 12
    book = odd["MED:40440438"]
    assert (book.kind, book.venue) == ("chapter", "GeneReviews®")
    notice = odd["MED:40517245"]
    assert notice.title.startswith("Retraction Note")
    assert not notice.retracted
