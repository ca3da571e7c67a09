"""DataCite: what is sent, what errors mean, and what its DOIs become."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors import datacite
from connectors.connector import Page, Request, Sought
from connectors.days import Days
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceRefused
from connectors.record import Record
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS, Window

HERE = Path(__file__).resolve()
# All invented. ordinary: two DOIs and a link on. last: the third, no link. empty: nothing found.
# odd: six items, three of no known shape. torn: ordinary, cut off.
FIXTURES = HERE.parents[2] / "fixtures" / "datacite"
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples" / "datacite"
TODAY = date(2026, 11, 25)
REQUEST = datacite.compile(Text("rig"), ALL_DAYS).requests[0]
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")


def page(body: bytes, status: int = 200, request: Request = REQUEST) -> Page:
    """Return an answer with that body."""
    return Page(request, status, {}, body, TODAY)


def fixture(name: str) -> Page:
    """Return the invented page of that name."""
    return page((FIXTURES / f"{name}.json").read_bytes())


def work(**stated: Any) -> Record:
    """Return the record of one DOI with those attributes."""
    body = {"data": [{"id": "10.5555/x", "type": "dois", "attributes": {"doi": "10.5555/x", **stated}}]}
    [record] = datacite.parse(page(json.dumps(body).encode())).records
    return record


def sent(expression: Any, window: Window = ALL_DAYS) -> list[str]:
    """Return the query of each request that would be sent."""
    return [dict(request.params)["query"] for request in datacite.compile(expression, window).requests]


# --- what is sent -----------------------------------------------------------------


def both(text: str) -> str:
    """Return the clause that looks for the text in titles and descriptions."""
    return f"(titles.title:{text} OR descriptions.description:{text})"


# Operators, fields, grouping: github.com/datacite/lupo (query_string, default operator AND).
QUERIES = {
    "a phrase": (Text("test rig"), both('"test rig"')),
    "synonyms, concepts and an exclusion": (
        And((Or((Text("rig"), Text("bench"))), Text("emitter"), Not(Text("oil")))),
        both('("rig" OR "bench")') + " AND " + both('"emitter"') + " AND NOT " + both('"oil"'),
    ),
    "alternatives that are no mere words": (
        And((Or((Text("a"), And((Text("b"), Text("c"))))), Text("d"))),
        f'({both(chr(34) + "a" + chr(34))} OR ({both(chr(34) + "b" + chr(34))} AND {both(chr(34) + "c" + chr(34))}))'
        f' AND {both(chr(34) + "d" + chr(34))}',
    ),
    "signs of the query language": (Text('a:b/(c) && [d] "e"~* \\'), both('"a b c d e"')),
}  # fmt: skip


@pytest.mark.parametrize(("expression", "text"), QUERIES.values(), ids=QUERIES)
def test_an_expression_is_written_as_the_service_reads_it(expression: Any, text: str) -> None:
    """Every term is quoted and bound to titles and descriptions."""
    assert sent(expression) == [text]


@given(st.text(min_size=1))
@settings(derandomize=True, max_examples=200)
def test_no_term_can_leave_its_quotes(text: str) -> None:
    """A quote or backslash of a term never reaches the service."""
    for query in sent(And((Text(text), Text("a")))):
        assert query.count('"') in (4, 8)
        assert "\\" not in query


def test_a_request_is_complete() -> None:
    """No facets, two hundred a page, by cursor."""
    assert REQUEST.path == "dois"
    assert dict(REQUEST.params) == {
        "query": both('"rig"'),
        "disable-facets": "true",
        "page[size]": "200",
        "page[cursor]": "1",
    }


def test_the_window_is_of_years_or_registration_and_of_what_is_new() -> None:
    """A year of publication may be later than the first public day (recorded: 2020, registered 2015)."""
    window = Window(date(2019, 3, 1), date(2020, 7, 1), date(2026, 11, 22))
    assert sent(Text("a"), window)[0].split(" AND ")[1:] == [
        "(publicationYear:[2019 TO *] OR registered:[2019-03-01 TO *])",
        "(publicationYear:[* TO 2020] OR registered:[* TO 2020-06-30])",
        "updated:[2026-11-22T00:00:00Z TO *]",
    ]


def test_a_long_expression_is_split() -> None:
    """No address is over 4,000 characters, and every form is in one of them."""
    forms = tuple(Text(f"form number {number}") for number in range(200))
    requests = datacite.compile(And((Or(forms), Text("rig"))), ALL_DAYS).requests
    assert len(requests) > 1
    assert all(len(urlencode(request.params)) <= 4_000 for request in requests)
    assert all(any(f'"{form.text}"' in dict(r.params)["query"] for r in requests) for form in forms)


def test_what_it_cannot_say_is_named() -> None:
    """Symbols go with a sentence; one concept alone is not sent; the wider exclusion is told."""
    compiled = datacite.compile(
        And((Code("cpc", "A01G 25/02"), Text("a"), Text("b"), Not(Text("c")))), ALL_DAYS
    )
    assert "A01G 25/02" in compiled.not_expressed[0]
    assert "exclusion" in compiled.not_expressed[1]
    assert not datacite.compile(And((Code("cpc", "A01G"), Text("a"))), ALL_DAYS).requests


def test_numbers_are_asked_for_by_doi() -> None:
    """An arXiv number goes by the DOI that arXiv gives it; a quote in a number goes nowhere."""
    numbers = [
        Sought("doi", "10.5555/a"),
        Sought("arxiv", "2001.99901v2"),
        Sought("doi", 'a"b'),
        Sought("pmid", "7"),
    ]
    [request] = datacite.find(numbers).requests
    assert request.step == "numbers"
    assert dict(request.params)["query"] == 'doi:("10.5555/a" OR "10.48550/arxiv.2001.99901")'
    assert len(datacite.find([Sought("doi", f"10.5555/{n}") for n in range(51)]).requests) == 2
    assert datacite.find((Sought("pmid", "7"),)).requests == ()


# --- errors and paging ------------------------------------------------------------


@pytest.mark.parametrize(
    ("status", "body", "kind", "told"),
    [
        # The service's code: a query it can't read gives an object, everything else a list.
        (400, b'{"errors": {"title": "Failed to parse query"}}', SourceRefused, "Failed to parse"),
        (404, b'{"errors": [{"status": "404", "title": "The resource"}]}', SourceRefused, "The resource"),
        (403, b"<html>Request blocked</html>", SourceBusy, "blocked"),
        (403, b'{"errors": [{"title": "Access denied"}]}', SourceRefused, "denied"),
        (429, b"", SourceBusy, "429"),
        (502, b"<html>", SourceDown, "502"),
    ],
)
def test_errors_are_judged_and_told(status: int, body: bytes, kind: type, told: str) -> None:
    """Both shapes of `errors` are read; the firewall's page asks for patience."""
    error = datacite.judge(page(body, status))
    assert type(error) is kind
    assert told in str(error)


def test_only_the_cursor_of_the_link_is_taken() -> None:
    """The service drops parameters from its link, so our own are repeated; no link is the end."""
    [onward] = datacite.follow(REQUEST, fixture("ordinary"), TODAY)
    assert dict(onward.params) == {
        **dict(REQUEST.params),
        "page[cursor]": "MTYxMjMyNTEwNywxMC41NTU1L3JpZy4x",
    }
    assert datacite.follow(onward, fixture("last"), TODAY) == []
    assert datacite.follow(REQUEST, fixture("empty"), TODAY) == []


@pytest.mark.parametrize("link", ["https://api.datacite.org/dois?page%5Bnumber%5D=2", "https://[", 7])
def test_a_link_without_a_cursor_is_no_end(link: Any) -> None:
    """It would begin at the beginning again, or stop in the middle: SourceChanged."""
    body = json.dumps({"data": [{"id": "10.5555/x"}], "links": {"next": link}}).encode()
    with pytest.raises(SourceChanged, match=r"links\.next|next page"):
        datacite.follow(REQUEST, page(body), TODAY)


# --- records ----------------------------------------------------------------------


def test_a_doi_becomes_a_record() -> None:
    """Main title and abstract first; what is no public act is told in words."""
    one, two = datacite.parse(fixture("ordinary")).records
    assert (one.kind, one.title, one.version) == ("report", "Test rig for drip emitters", "1.2")
    assert one.abstract == "Emitters are flushed on a rig."
    assert ("further title", "Prüfstand") in one.details
    assert ("date Created", "2019") in one.details
    assert [person.name for person in one.people] == ["Ada Quill", "Rig Group"]
    assert [(each.kind, each.identifier.scheme) for each in one.relations] == [
        ("version of", "doi"),
        ("same as", "isbn"),
    ]
    assert [each.scheme for each in two.identifiers] == ["doi", "arxiv"]
    assert (two.version, two.abstract) == ("v2", "Discs in a stack.")


def test_registration_is_a_hint_beside_a_later_year() -> None:
    """Registered 2015, issued 2020: both stand, and only the issue is a public act."""
    [record] = datacite.parse(fixture("last")).records
    assert [(stated.kind, stated.days.text()) for stated in record.dates] == [
        ("published", "2020"),
        ("registered", "2015-06-15"),
    ]


DATES = {
    # Forms of `date` in the service's schema (W3CDTF, RKMS ranges) and recorded answers.
    "a day": ("2016-03-27", Days.of_day(date(2016, 3, 27))),
    "a month": ("2019-02", Days.of_month(2019, 2)),
    "a year": ("2020", Days.of_year(2020)),
    "a 1 January": ("1989-01-01", Days.of_year(1989)),
    "a time": ("2019-02-08T01:08:49Z", Days.of_day(date(2019, 2, 8))),
    "a range": ("2018-03/2018-05", Days(date(2018, 3, 1), date(2018, 5, 31))),
    "an open range": ("2018-03-02/", Days(date(2018, 3, 2), None)),
    "a range backwards": ("2019/2018", None),
    "words": ("spring of 89", None),
    "a day and words": ("2018-03-02/soon", None),
    "no date": ("/", None),
    "an impossible day": ("2019-02-30", None),
}


@pytest.mark.parametrize(("text", "days"), DATES.values(), ids=DATES)
def test_a_date_claims_no_more_than_it_says(text: str, days: Days | None) -> None:
    """What can't be read is told in words and is no event."""
    record = work(dates=[{"date": text, "dateType": "Issued"}])
    assert [stated.days for stated in record.dates] == ([days] if days else [])
    assert bool(days) is not any(name == "unreadable date" for name, _ in record.details)


def test_the_year_stands_in_only_where_no_day_is_stated() -> None:
    """publicationYear beside a day of another year is told as a conflict, not as a date."""
    assert work(publicationYear=2018).dates[0].days == Days.of_year(2018)
    record = work(publicationYear=2018, dates=[{"date": "2021-04-05", "dateType": "Available"}])
    assert [stated.days.text() for stated in record.dates] == ["2021-04-05"]
    assert any(name == "dates conflict" for name, _ in record.details)


def test_an_odd_page_loses_nothing() -> None:
    """No DOI, titles that are no list and a null are set aside with their places."""
    parsed = datacite.parse(fixture("odd"))
    assert parsed.items == 6 == len(parsed.records) + len(parsed.quarantined)
    assert [each.index for each in parsed.quarantined] == [3, 4, 5]
    assert parsed.records[1].retracted


@pytest.mark.parametrize(
    "body", [b"<p>", b"[]", b"{}", b'{"data": "x"}', b'{"data": [], "meta": {"total": "x"}}']
)
def test_a_page_that_is_not_what_the_manual_says_is_refused(body: bytes) -> None:
    """Torn, foreign, of another shape: SourceChanged."""
    with pytest.raises(SourceChanged):
        datacite.parse(page(body))


# --- recorded answers -------------------------------------------------------------


def recorded(name: str) -> list[Record]:
    """Return the records of a recorded answer; none may be set aside."""
    parsed = datacite.parse(page((SAMPLES / f"{name}.json").read_bytes()))
    assert parsed.items == len(parsed.records), parsed.quarantined
    return list(parsed.records)


@needs_samples
def test_every_recorded_answer_is_read_whole() -> None:
    """SAMPLES.md: lists of 5 and 25, and six single DOIs."""
    counts = {path.stem: len(recorded(path.stem)) for path in SAMPLES.glob("[dl]*_*.json")}
    assert counts.pop("list_page_5_dois_2020") == 5
    assert counts.pop("list_page_25_dois_related_identifiers_staging_2021") == 25
    assert set(counts.values()) == {1}
    assert len(counts) == 6


def dates_of(record: Record) -> dict[tuple[str, str], str]:
    """Return kind and field -> days of the record's events."""
    return {(stated.kind, stated.field): stated.days.text() for stated in record.dates}


@needs_samples
def test_recorded_facts_come_out() -> None:
    """SAMPLES.md, file by file."""
    [held] = recorded("doi_arxiv_2311_16162")
    assert dates_of(held) == {
        ("submitted", "dates Submitted v1"): "2023-11-09",
        ("updated", "dates Updated v1"): "2023-11-29",
        ("published", "dates Available v1"): "2023-11",
        ("published", "dates Issued"): "2023",
        ("registered", "registered"): "2023-11-29",
    }
    [two_versions] = recorded("doi_arxiv_1902_02534_two_versions")
    assert sum(stated.kind == "submitted" for stated in two_versions.dates) == 2
    [figshare] = recorded("doi_figshare_publication_year_after_registration")
    assert dates_of(figshare)[("published", "dates Issued")] == "2020"
    assert dates_of(figshare)[("registered", "registered")] == "2015-06-15"
    [old] = recorded("doi_journal_article_empty_abstract_1989")
    assert (old.abstract, dates_of(old)[("published", "dates Issued")]) == ("", "1989")
    assert (old.venue, old.pages) == ("Die Geowissenschaften", "181-186")
    [zenodo] = recorded("doi_zenodo_is_version_of")
    assert [each.kind for each in zenodo.relations] == ["supplement to", "supplement to", "version of"]
    [software] = recorded("doi_software_no_identifiers")
    assert (software.kind, software.version) == ("software", "v1.0")
    book = next(
        each for each in recorded("list_page_5_dois_2020") if each.native_id == "10.5281/zenodo.3520062"
    )
    assert (book.kind, book.language) == ("book", "pl")
    assert ("same as", "978-83-7683-181-7") in [(each.kind, each.identifier.text) for each in book.relations]


@needs_samples
def test_the_recorded_error_is_judged() -> None:
    """404 in the list form."""
    error = datacite.judge(page((SAMPLES / "error_404.json").read_bytes(), 404))
    assert type(error) is SourceRefused
    assert "doesn't exist" in str(error)
