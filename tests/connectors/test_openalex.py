"""OpenAlex: what is sent, what errors mean, and what its works become."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from urllib.parse import urlencode

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors import openalex
from connectors.connector import Page, Request
from connectors.days import Days
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceRefused
from connectors.record import Record
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS, Window

HERE = Path(__file__).resolve()
# All invented. ordinary: two works and a cursor. last: the third, no cursor. empty: nothing found.
# odd: eight items, three of no known shape. torn: ordinary, cut off. cut_short: timed out there.
FIXTURES = HERE.parents[2] / "fixtures" / "openalex"
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples" / "openalex"
TODAY = date(2026, 11, 25)
REQUEST = openalex.compile(Text("emitter"), ALL_DAYS).requests[0]
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")


def page(body: bytes, status: int = 200, headers: dict[str, str] | None = None) -> Page:
    """Return an answer with that body."""
    return Page(REQUEST, status, headers or {}, body, TODAY)


def fixture(name: str) -> Page:
    """Return the invented page of that name."""
    return page((FIXTURES / f"{name}.json").read_bytes())


def sample(name: str) -> list[Record]:
    """Return the records of a recorded answer; none may be set aside."""
    parsed = openalex.parse(page((SAMPLES / f"{name}.json").read_bytes()))
    assert parsed.items == len(parsed.records), parsed.quarantined
    return list(parsed.records)


def query(*, of: object, window: Window = ALL_DAYS) -> list[str]:
    """Return the filters that would be sent."""
    return [dict(request.params)["filter"] for request in openalex.compile(of, window).requests]  # type: ignore[arg-type]


# --- what is sent -----------------------------------------------------------------

FIELD = "title_and_abstract.search.exact:"
QUERIES = {
    # The syntax: developers.openalex.org guides/searching (AND, OR, NOT in capitals, parentheses,
    # quotes for a phrase); the service's code core/search.py (exact fields), core/utils.py (commas).
    "a word": (Text("emitter"), "emitter"),
    "a phrase": (Text("drip emitter"), '"drip emitter"'),
    "a hyphen parts words": (Text("self-flushing"), '"self flushing"'),
    "synonyms, concepts and an exclusion": (
        And((Or((Text("solar cell"), Text("photovoltaic"))), Text("perovskite"), Not(Text("silicon")))),
        '("solar cell" OR photovoltaic) AND perovskite NOT silicon',
    ),
    "an exclusion with forms": (
        And((Text("line"), Not(Or((Text("hose"), Text("hoses")))))),
        "line NOT (hose OR hoses)",
    ),
    "a word that is an operator": (Text("or"), '"or"'),
    "signs of the query language": (Text('a*b? "c", d|e ~2 (f):'), '"a b c d e 2 f"'),
    "marks inside a word": (Text("Young's node.js"), '"Young\'s node.js"'),
    "another script": (Text("हिन्दी सिंचाई"), '"हिन्दी सिंचाई"'),
    "forms that are one here": (Or((Text("drip line"), Text("drip-line"))), '"drip line"'),
}


@pytest.mark.parametrize(("expression", "text"), QUERIES.values(), ids=QUERIES)
def test_an_expression_is_written_as_the_service_reads_it(expression: object, text: str) -> None:
    """The filter holds the exact-word field and the boolean text, and nothing else."""
    assert query(of=expression) == [FIELD + text]


def test_a_request_is_complete() -> None:
    """The expansion corpus is asked, a hundred a page, by cursor."""
    assert (
        Request(
            "openalex",
            "works",
            (("filter", FIELD + "emitter"), ("include_xpac", "true"), ("per_page", "100"), ("cursor", "*")),
        )
        == REQUEST
    )


def test_the_window_is_closed_at_both_ends_and_keeps_years_alone() -> None:
    """Works dated by the year stand on 1 January, so a window from March is asked from January."""
    window = Window(date(2019, 3, 1), date(2020, 7, 1))
    compiled = openalex.compile(Text("emitter"), window)
    assert query(of=Text("emitter"), window=window) == [
        f"{FIELD}emitter,from_publication_date:2019-01-01,to_publication_date:2020-06-30"
    ]
    assert compiled.requests[0].window == window
    assert "asked from 2019-01-01 on" in compiled.not_expressed[0]


def test_symbols_are_left_out_and_named() -> None:
    """A symbol beside two concepts goes, with a sentence; the concepts are sent."""
    compiled = openalex.compile(And((Code("cpc", "A01G 25/02"), Text("a"), Text("b"))), ALL_DAYS)
    assert dict(compiled.requests[0].params)["filter"] == f"{FIELD}a AND b"
    assert "A01G 25/02" in compiled.not_expressed[0]


@pytest.mark.parametrize(
    "expression", [And((Code("cpc", "A01G"), Text("a"))), Code("cpc", "A01G"), Text("+++")]
)
def test_what_would_ask_for_one_concept_alone_or_nothing_is_not_sent(expression: object) -> None:
    """No request goes out, and the reason is told."""
    compiled = openalex.compile(expression, ALL_DAYS)  # type: ignore[arg-type]
    assert not compiled.requests
    assert compiled.not_expressed


def test_a_long_expression_is_split_to_fit_the_address() -> None:
    """Each request line stays below the service's 8,190 bytes and every form is in one of them."""
    forms = [f"évaporation numéro {number}" for number in range(400)]
    compiled = openalex.compile(And((Or(tuple(map(Text, forms))), Text("emitter"))), ALL_DAYS)
    sent = [dict(request.params)["filter"] for request in compiled.requests]
    assert len(sent) > 1
    assert compiled.splits
    assert all(len(urlencode(request.params)) < 8_000 for request in compiled.requests)
    assert all(any(f'"{form}"' in text for text in sent) for form in forms)
    assert all(text.endswith(" AND emitter") for text in sent)


def test_more_than_three_very_long_phrases_are_split() -> None:
    """The service refuses a fourth quoted phrase of over 80 characters."""
    phrases = tuple(Text(f"{letter} " + "word " * 20) for letter in "abcde")
    assert [text.count('"') // 2 for text in query(of=Or(phrases))] == [3, 2]


def test_what_fits_no_request_is_told() -> None:
    """A phrase longer than the address allows is not sent; the sentence says how to mend it."""
    compiled = openalex.compile(Text("word " * 2_000), ALL_DAYS)
    assert not compiled.requests
    assert "shorter" in compiled.not_expressed[0]


@given(st.text(min_size=1))
@settings(derandomize=True, max_examples=200)
def test_no_term_can_leave_its_place_in_the_filter(text: str) -> None:
    """No comma, pipe, wildcard or quote of a term reaches the service as one of its signs."""
    for sent in query(of=And((Text(text), Text("a"), Text("b")))):
        inner = sent.removeprefix(FIELD).removesuffix(" AND a AND b").strip('"')
        assert not set(inner) & set(',|*?~"():!<>[]')


def test_the_key_goes_into_a_header_and_nowhere_else() -> None:
    """Without a key, or with a blank one, nothing is added."""
    signed = openalex.sign(REQUEST, {"OPENALEX_API_KEY": "k3y"}, "me@example.org")
    assert (signed.headers, signed.params) == ((("api_key", "k3y"),), ())
    assert openalex.sign(REQUEST, {"OPENALEX_API_KEY": " "}, "") == openalex.sign(REQUEST, {}, "")


# --- errors -----------------------------------------------------------------------

ERRORS = {
    # The service edge's code (2026-08): index.ts, kinds of 429; core/exceptions.py, 400.
    "per second": (429, {"error": "Rate limit exceeded", "message": "x", "retryAfter": 1}, SourceBusy, 1),
    "budget": (
        429,
        {"error": "Rate limit exceeded", "message": "x", "dailyRemainingUsd": 0, "retryAfter": 4000},
        SourceBusy,
        4000,
    ),
    "broad": (
        429,
        {"error": "Rate limit exceeded", "reason": "broad_boolean_query", "retryAfter": 2},
        SourceBusy,
        2,
    ),
    "plan": (429, {"error": "Plan upgrade required", "message": "x"}, SourceRefused, None),
    "loaded": (503, {"error": "x", "retryAfter": 30}, SourceBusy, 30),
    "too slow": (504, {"error": "x", "reason": "query_timeout"}, SourceDown, None),
    "query": (400, {"error": "Invalid query parameters error.", "message": "x"}, SourceRefused, None),
    "key": (401, {"error": "Unauthorized", "message": "x"}, SourceRefused, None),
}


@pytest.mark.parametrize(("status", "body", "kind", "wait_s"), ERRORS.values(), ids=ERRORS)
def test_errors_are_judged_by_status_and_fields(
    status: int, body: object, kind: type, wait_s: float | None
) -> None:
    """Waiting helps against rates and budgets, not against plans, keys and wrong queries."""
    error = openalex.judge(page(json.dumps(body).encode(), status))
    assert type(error) is kind
    assert error.retry_after_s == wait_s


@pytest.mark.parametrize("body", [b"<html><h1>429</h1></html>", b"", b"[1]", b'{"retryAfter": "soon"}'])
def test_an_error_in_another_shape_is_still_judged(body: bytes) -> None:
    """A gateway's own page is judged by its status."""
    assert type(openalex.judge(page(body, 429))) is SourceBusy
    assert type(openalex.judge(page(body, 502))) is SourceDown


def test_a_good_answer_and_no_results_are_no_errors() -> None:
    """Status 200 is left to the parser, and nothing found is an answer."""
    assert openalex.judge(fixture("empty")) is None
    assert openalex.pause(fixture("ordinary")) == 0


def test_a_wrong_key_says_which_variable() -> None:
    """The user is told what to mend."""
    assert "OPENALEX_API_KEY" in str(openalex.judge(page(b"{}", 401)))


def test_a_spent_budget_says_until_when() -> None:
    """Judged by dailyRemainingUsd, since the message's wording changes."""
    body = b'{"error": "Rate limit exceeded", "message": "x", "dailyRemainingUsd": 0, "retryAfter": 4000}'
    assert "00:00 UTC" in str(openalex.judge(page(body, 429)))


# --- paging -----------------------------------------------------------------------


def test_the_cursor_leads_to_the_next_page_and_the_last_page_ends() -> None:
    """Only the cursor changes; null, or an empty page, is the end."""
    [onward] = openalex.follow(REQUEST, fixture("ordinary"), TODAY)
    assert dict(onward.params) == {**dict(REQUEST.params), "cursor": "IlsxLjAsIDk5XSI="}
    assert openalex.follow(REQUEST, fixture("last"), TODAY) == []
    assert openalex.follow(REQUEST, fixture("empty"), TODAY) == []


def test_an_answer_cut_short_by_the_service_is_partial() -> None:
    """meta.timed_out comes with status 200 and must not pass for a whole answer."""
    assert "timed_out" in openalex.parse(fixture("cut_short")).partial
    assert openalex.parse(fixture("ordinary")).partial == ""


# --- records ----------------------------------------------------------------------


def test_an_ordinary_page_becomes_records() -> None:
    """Text without markup, words of the abstract in order, own numbers apart from other versions'."""
    parsed = openalex.parse(fixture("ordinary"))
    one, two = parsed.records
    assert (parsed.items, parsed.stated_total, parsed.quarantined) == (2, 3, ())
    assert one.title == "Self-flushing drip emitters with a shape-memory spring, CO2-free"
    assert one.abstract.endswith("The spring of shape-memory alloy opens the drip path.")
    assert [person.name for person in one.people] == ["I. M. Tagholm", "Rui Quendera"]
    assert (one.venue, one.publisher, one.pages) == (
        "Journal of Invented Irrigation",
        "Lattice Press",
        "101-118",
    )
    assert [(each.scheme, each.text[-8:]) for each in one.identifiers] == [
        ("openalex", "00000001"),
        ("doi", "e.2019.7"),
        ("pmid", "99000001"),
    ]
    assert [(each.kind, each.identifier.text) for each in one.relations] == [
        ("version of", "10.5555/preprint.88"),
        ("version of", "1902.99999"),
        ("cites", "https://openalex.org/W9900000077"),
        ("cites", "https://openalex.org/W9900000078"),
    ]
    assert (
        "also at",
        "pmh:oai:repo.example.org:55 acceptedVersion https://repo.example.org/55",
    ) in one.details
    assert (two.kind, two.retracted) == ("chapter", True)


def test_the_first_of_january_is_the_whole_year() -> None:
    """OpenAlex writes a year alone so; the note says it."""
    [stated] = openalex.parse(fixture("ordinary")).records[1].dates
    assert (stated.text, stated.days) == ("2018-01-01", Days.of_year(2018))
    assert "whole year" in stated.note


def test_an_odd_page_loses_nothing() -> None:
    """What can't be read is set aside with its place and reason; the others are read."""
    parsed = openalex.parse(fixture("odd"))
    assert parsed.items == 8 == len(parsed.records) + len(parsed.quarantined)
    assert [(each.index, each.path, each.reason) for each in parsed.quarantined] == [
        (2, "results[2].id", "is no OpenAlex work number, so the work has no name to keep it under"),
        (3, "results[3].authorships", "is an object, not a list"),
        (4, "results[4]", "is text, not an object"),
    ]
    by_id = {record.native_id: record for record in parsed.records}
    assert by_id["W9900000010"].title == ""
    assert by_id["W9900000010"].abstract == "Late … words"
    assert by_id["W9900000014"].dates[0].days == Days.of_year(2019)
    assert ("unreadable date", "publication_date 2019-02-30") in by_id["W9900000014"].details
    assert by_id["W9900000015"].title == "الري بالتنقيط بنابض"
    assert by_id["W9900000015"].dates[0].days == Days.of_year(2016)
    assert by_id["W9900000016"].kind == "conference paper"


def test_a_doubtful_merge_is_told_and_its_copies_join_nothing() -> None:
    """Where document and author list name other people, copies' numbers are words, not relations."""
    merged = openalex.parse(fixture("odd")).records[1]
    assert merged.people[0].name == "Oyelaran, Tunde"
    assert (
        "names conflict",
        "the document names Oyelaran, Tunde, OpenAlex's author is Bartholomew Crane",
    ) in (merged.details)
    assert merged.relations == ()
    assert any("10.5555/preprint.88" in text for _, text in merged.details)


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ((FIXTURES / "torn.json").read_bytes(), "not whole JSON"),
        (b"<!DOCTYPE html><p>Log in", "web page"),
        (b"[]", "no object"),
        (b"{}", "results"),
        (b'{"results": {}}', "results"),
        (b'{"results": [], "meta": {"count": "many"}}', "meta.count"),
        (b'{"results": [], "meta": {"count": NaN}}', "NaN"),
        (b'{"a":' * 100_000, "too deep"),
        (b'{"results": ' + b"9" * 10_000 + b"}", "not whole JSON"),
        (b"\xff\xfe\xfa", "not whole JSON"),
    ],
)
def test_a_page_that_is_not_what_the_manual_says_is_refused(body: bytes, told: str) -> None:
    """Torn, foreign, absurd: SourceChanged, with what came or where."""
    with pytest.raises(SourceChanged, match=told):
        openalex.parse(page(body))


# --- recorded answers -------------------------------------------------------------


@needs_samples
def test_every_recorded_answer_is_read_whole() -> None:
    """Items are records; none of the recorded works is set aside."""
    counts = {
        path.stem: len(sample(path.stem)) for path in SAMPLES.glob("*.json") if path.stem != "responses"
    }
    assert sum(counts.values()) == 13
    assert counts["list_page_2_works"] == 2
    assert counts["random_sample_5_works"] == 5


@needs_samples
def test_recorded_facts_come_out() -> None:
    """A year alone, an empty title, the expansion corpus, a preprint, a German title."""
    [chapter] = sample("work_book_chapter_year_only_date")
    assert chapter.dates[0].days == Days.of_year(2018)
    [untitled] = sample("work_empty_title_japanese_journal")
    assert (untitled.title, untitled.dates[0].days) == ("", Days.of_year(2007))
    [figure] = sample("work_expansion_corpus_is_xpac")
    assert any("expansion corpus" in text for _, text in figure.details)
    [preprint] = sample("work_preprint_posted_content")
    assert (preprint.kind, preprint.dates[0].days.text()) == ("preprint", "2016-12-28")
    [german] = sample("work_german_title")
    assert (german.language, german.abstract) == ("de", "")
    [article] = sample("work_article_6_locations_with_abstract")
    assert article.abstract.startswith("Among various advantages, their small size makes model organisms")
    assert [each.identifier.text for each in article.relations if each.kind == "version of"] == ["PMC3917233"]


@needs_samples
def test_the_recorded_wrong_merge_is_visible() -> None:
    """Its authors are another document's; the names of the document are kept and the conflict told."""
    merged, sound = sample("list_page_2_works")
    assert any(name == "names conflict" and "Melissa Ochoa Frias" in text for name, text in merged.details)
    assert merged.people[0].name == "Ndiaye, Matar"
    assert not any(name == "names conflict" for name, _ in sound.details)
