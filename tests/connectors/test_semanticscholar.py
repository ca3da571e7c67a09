"""Semantic Scholar: what is sent, what errors mean, and what its papers become."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors import semanticscholar
from connectors.connector import Page, Request, Sought
from connectors.days import Days
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceRefused
from connectors.record import Record
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS, Window

HERE = Path(__file__).resolve()
# All invented. ordinary: two papers and a token. last: the third, no token. empty: nothing found.
# odd: six items, three of no known shape. torn: ordinary, cut off.
FIXTURES = HERE.parents[2] / "fixtures" / "semanticscholar"
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples" / "semanticscholar"
TODAY = date(2026, 11, 25)
REQUEST = semanticscholar.compile(Text("hinge"), ALL_DAYS).requests[0]
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")


def page(body: bytes, status: int = 200, request: Request = REQUEST) -> Page:
    """Return an answer with that body."""
    return Page(request, status, {}, body, TODAY)


def fixture(name: str, request: Request = REQUEST) -> Page:
    """Return the invented page of that name."""
    return page((FIXTURES / f"{name}.json").read_bytes(), request=request)


def papers(*stated: Any) -> list[Record]:
    """Return the records of a page that holds those papers."""
    return list(semanticscholar.parse(page(json.dumps({"total": 1, "data": stated}).encode())).records)


def sent(expression: Any, window: Window = ALL_DAYS) -> list[dict[str, str]]:
    """Return the parameters of each request that would be sent."""
    return [dict(request.params) for request in semanticscholar.compile(expression, window).requests]


# --- what is sent -----------------------------------------------------------------

# The signs: api.semanticscholar.org/api-docs/graph, bulk search: + | - "" ( ).
QUERIES = {
    "a word": (Text("hinge"), "hinge"),
    "a phrase": (Text("lid hinge"), '"lid hinge"'),
    "a hyphen would mean not": (Text("self-closing"), '"self closing"'),
    "synonyms, concepts and an exclusion": (
        And((Or((Text("solar cell"), Text("photovoltaic"))), Text("perovskite"), Not(Text("silicon")))),
        '("solar cell" | photovoltaic) + perovskite -silicon',
    ),
    "an exclusion with forms": (
        And((Text("line"), Not(Or((Text("hose"), Text("hoses")))))),
        "line -(hose | hoses)",
    ),
    "signs of the query language": (Text('a+b|c (d)* ~2 "e"'), '"a b c d 2 e"'),
    "words that are no operators here": (Text("and"), "and"),
    "another script": (Text("हिन्दी"), '"हिन्दी"'),
}


@pytest.mark.parametrize(("expression", "text"), QUERIES.values(), ids=QUERIES)
def test_an_expression_is_written_as_the_service_reads_it(expression: Any, text: str) -> None:
    """Plus, bar, minus and quotes are the only signs."""
    assert [params["query"] for params in sent(expression)] == [text]


@given(st.text(min_size=1))
@settings(derandomize=True, max_examples=200)
def test_no_term_can_leave_its_place_in_the_query(text: str) -> None:
    """No sign of a term reaches the service as one of its own."""
    for params in sent(And((Text(text), Text("a")))):
        assert not set(params["query"].removesuffix(" + a").strip('"')) & set('+|-*~"()')


def test_a_window_is_asked_by_whole_years_at_its_beginning() -> None:
    """Papers with a year alone are filtered as 1 January (manual), so March would lose them."""
    window = Window(date(2019, 3, 1), date(2020, 7, 1))
    assert sent(Text("a"), window)[0]["publicationDateOrYear"] == "2019-01-01:2020-06-30"
    assert "asked from 2019-01-01 on" in semanticscholar.compile(Text("a"), window).not_expressed[0]
    assert sent(Text("a"), Window(public_to=date(2020, 7, 1)))[0]["publicationDateOrYear"] == ":2020-06-30"


def test_what_it_cannot_say_is_named() -> None:
    """Symbols go with a sentence; one concept alone is not sent; a stemmed exclusion is told."""
    compiled = semanticscholar.compile(
        And((Code("cpc", "E05D 11/08"), Text("a"), Text("b"), Not(Text("c")))), ALL_DAYS
    )
    assert dict(compiled.requests[0].params)["query"] == "a + b -c"
    assert "E05D 11/08" in compiled.not_expressed[0]
    assert "same stem" in compiled.not_expressed[1]
    assert not semanticscholar.compile(And((Code("cpc", "E05D"), Text("a"))), ALL_DAYS).requests


def test_a_long_expression_is_split() -> None:
    """No query is over 2,000 characters, and every form is in one of them."""
    forms = tuple(Text(f"form number {number}") for number in range(300))
    queries = [params["query"] for params in sent(And((Or(forms), Text("hinge"))))]
    assert len(queries) > 1
    assert all(len(query) <= 2_000 and query.endswith("+ hinge") for query in queries)
    assert all(any(f'"{form.text}"' in query for query in queries) for form in forms)


def test_the_key_goes_into_a_header_and_nowhere_else() -> None:
    """The manual's x-api-key; nothing without a key."""
    signed = semanticscholar.sign(REQUEST, {"SEMANTICSCHOLAR_API_KEY": "k3y"}, "me@example.org")
    assert (signed.headers, signed.params) == ((("x-api-key", "k3y"),), ())
    assert semanticscholar.sign(REQUEST, {}, "").headers == ()


# --- errors -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("status", "body", "kind", "told"),
    [
        (429, b'{"message": "Too Many Requests. Please wait", "code": "429"}', SourceBusy, "Too Many"),
        (403, b'{"message": "Forbidden"}', SourceRefused, "SEMANTICSCHOLAR_API_KEY"),
        (400, b'{"error": "Unrecognized or unsupported fields: [unknown]"}', SourceRefused, "unsupported"),
        (504, b'{"message": "Endpoint request timed out"}', SourceDown, "timed out"),
        (502, b"<html><h1>Bad Gateway</h1></html>", SourceDown, "Bad Gateway"),
    ],
)
def test_errors_are_judged_by_status_and_told_in_its_words(
    status: int, body: bytes, kind: type, told: str
) -> None:
    """`error` or `message` is said, whichever there is (both are in recorded answers)."""
    error = semanticscholar.judge(page(body, status))
    assert type(error) is kind
    assert told in str(error)


# --- paging -----------------------------------------------------------------------


def test_the_token_leads_on_and_its_absence_ends() -> None:
    """The query is repeated with the token; the count read so far goes along."""
    [onward] = semanticscholar.follow(REQUEST, fixture("ordinary"), TODAY)
    assert dict(onward.params) == {**dict(REQUEST.params), "token": "NEXT-OF-OURS"}
    assert semanticscholar.follow(onward, fixture("last", onward), TODAY) == []
    assert semanticscholar.follow(REQUEST, fixture("empty"), TODAY) == []


@pytest.mark.parametrize(
    ("read", "estimate", "partial"),
    [(0, 0, False), (0, 1, True), (60, 100, False), (1_000, 2_674, True), (2_500, 2_674, False)],
)
def test_an_estimate_far_above_what_came_is_told(read: int, estimate: int, partial: bool) -> None:
    """`total` is an estimate (manual): a page lost is a thousand papers, less is its vagueness."""
    request = replace(REQUEST, state=(("read", str(read)),))
    parsed = semanticscholar.parse(
        page(json.dumps({"total": estimate, "data": []}).encode(), request=request)
    )
    assert bool(parsed.partial) is partial
    assert parsed.stated_total is None


# --- records ----------------------------------------------------------------------


def test_a_page_becomes_records() -> None:
    """Names, numbers and text; a preprint's number beside a publisher's DOI is a version's."""
    one, two = semanticscholar.parse(fixture("ordinary")).records
    assert (one.native_id, one.kind, one.volume) == ("CorpusId:900000001", "article", "12")
    assert one.abstract == "Friction discs hold the lid & its load where the hand leaves it."
    assert [person.name for person in one.people] == ["Ada Quill", "Bo Tern"]
    assert [(each.scheme, each.text) for each in two.identifiers] == [("doi", "10.5555/lid.2020.3")]
    assert [(each.kind, each.identifier.text) for each in two.relations] == [("version of", "2001.99901")]
    [third] = semanticscholar.parse(fixture("last")).records
    assert (third.kind, third.title) == ("preprint", "蝶番の摩擦モデル")


DATES = {
    "a day": ({"publicationDate": "2019-05-14", "year": 2019}, Days.of_day(date(2019, 5, 14))),
    "a first of a month": ({"publicationDate": "2020-03-01", "year": 2020}, Days.of_month(2020, 3)),
    "a 1 January": ({"publicationDate": "2020-01-01", "year": 2020}, Days.of_year(2020)),
    "a year alone": ({"publicationDate": None, "year": 1997}, Days.of_year(1997)),
    "two that disagree": (
        {"publicationDate": "2024-02-10", "year": 1997},
        Days(date(1997, 1, 1), date(2024, 2, 10)),
    ),
    "an impossible day": ({"publicationDate": "2019-02-30", "year": 2019}, Days.of_year(2019)),
}


@pytest.mark.parametrize(("stated", "days"), DATES.values(), ids=DATES)
def test_a_date_claims_no_more_than_it_says(stated: dict[str, Any], days: Days) -> None:
    """Firsts are widened, a conflict is spanned (fact sheet: invented precision, year and day disagree)."""
    [record] = papers({"paperId": "0" * 40, "title": "t", **stated})
    assert [each.days for each in record.dates] == [days]
    assert record.dates[0].note


def test_an_odd_page_loses_nothing() -> None:
    """What can't be read is set aside with its place and reason."""
    parsed = semanticscholar.parse(fixture("odd"))
    assert parsed.items == 6 == len(parsed.records) + len(parsed.quarantined)
    assert [each.path for each in parsed.quarantined] == [
        "data[0].paperId",
        "data[3].paperId",
        "data[4].title",
    ]
    assert ("unreadable date", "publicationDate 2019-02-30") in parsed.records[2].details
    assert parsed.records[2].dates == ()


@pytest.mark.parametrize(
    "body", [b"<p>Log in", b"[]", b"{}", b'{"data": {}}', b'{"data": [], "total": "many"}', b"{"]
)
def test_a_page_that_is_not_what_the_manual_says_is_refused(body: bytes) -> None:
    """Torn, foreign, of another shape: SourceChanged."""
    with pytest.raises(SourceChanged):
        semanticscholar.parse(page(body))


# --- by number --------------------------------------------------------------------


def test_numbers_are_looked_up_in_batches() -> None:
    """The manual's batch: ids in the body, fields in the address, five hundred at most."""
    numbers = (Sought("doi", "10.5555/a"), Sought("arxiv", "2001.99901v2"), Sought("isbn", "978"))
    [request] = semanticscholar.find(numbers).requests
    assert (request.method, request.path) == ("POST", "paper/batch")
    assert json.loads(request.body) == {"ids": ["DOI:10.5555/a", "ARXIV:2001.99901"]}
    assert "externalIds" in dict(request.params)["fields"]
    many = semanticscholar.find([Sought("doi", f"10.5555/{n}") for n in range(501)]).requests
    assert [len(json.loads(each.body)["ids"]) for each in many] == [500, 1]
    assert semanticscholar.find((Sought("isbn", "978"),)).requests == ()


def test_a_number_not_known_is_no_item() -> None:
    """A batch answers null in its place; another shape is refused."""
    [request] = semanticscholar.find((Sought("doi", "10.5555/a"),)).requests
    body = json.dumps([None, {"paperId": "0" * 40, "title": "t"}, {"title": "no number"}]).encode()
    parsed = semanticscholar.parse(page(body, request=request))
    assert (parsed.items, len(parsed.records), len(parsed.quarantined)) == (2, 1, 1)
    assert semanticscholar.follow(request, page(body, request=request), TODAY) == []
    for odd in (b'{"a": 1}', b"[", b"<p>"):
        with pytest.raises(SourceChanged):
            semanticscholar.parse(page(odd, request=request))


# --- recorded answers -------------------------------------------------------------


@needs_samples
def test_recorded_pages_are_read_whole() -> None:
    """SAMPLES.md: bulk page of 60 with a token, relevance pages of 100, 21 and 100, an empty one without data."""
    counts = {}
    for path in SAMPLES.glob("search_*.json"):
        parsed = semanticscholar.parse(page(path.read_bytes()))
        assert parsed.items == len(parsed.records), parsed.quarantined
        counts[path.stem] = parsed.items
    assert counts == {
        "search_bulk_page1_with_token": 60,
        "search_relevance_turing_title_only": 100,
        "search_relevance_empty": 0,
        "search_year_1936": 21,
        "search_open_access_pdf": 100,
    }
    bulk = page((SAMPLES / "search_bulk_page1_with_token.json").read_bytes())
    assert semanticscholar.follow(REQUEST, bulk, TODAY)


@needs_samples
def test_recorded_papers_and_facts_come_out() -> None:
    """SAMPLES.md: Turing's paper of 1950; a batch whose first slot is null, a paper without day and journal."""
    [turing] = papers(json.loads((SAMPLES / "paper_turing_1950_full.json").read_bytes()))
    assert [(each.scheme, each.text) for each in turing.identifiers] == [("doi", "10.1093/MIND/LIX.236.433")]
    assert turing.dates[0].days == Days.of_month(1950, 10)
    assert (turing.venue, turing.pages) == ("Mind", "433-460")
    batch = json.loads((SAMPLES / "batch_full_fields_one_null.json").read_bytes())
    [request] = semanticscholar.find((Sought("doi", "10.2139/ssrn.288970"),)).requests
    parsed = semanticscholar.parse(page(json.dumps(batch).encode(), request=request))
    assert (parsed.items, len(parsed.records)) == (len(batch) - 1, len(batch) - 1)
    first_of_month = {record.native_id: record for record in parsed.records}["CorpusId:470667"]
    assert first_of_month.dates[0].days == Days.of_month(2001, 10)


@needs_samples
@pytest.mark.parametrize(
    ("name", "status", "kind"),
    [
        ("error_400_unsupported_field", 400, SourceRefused),
        ("error_403_wrong_key", 403, SourceRefused),
        ("error_404_unknown_paper", 404, SourceRefused),
    ],
)
def test_recorded_errors_are_judged(name: str, status: int, kind: type) -> None:
    """What the service really answered to a wrong field, key and paper."""
    assert type(semanticscholar.judge(page((SAMPLES / f"{name}.json").read_bytes(), status))) is kind
