"""Wikimedia Commons: what is sent, what errors mean, and what a file's uploads become."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from connectors import wikimedia
from connectors.connector import Page, Request
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceRefused
from connectors.record import Record
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS, Window

HERE = Path(__file__).resolve()
# All invented. ordinary: two files, one uploaded twice, and a further page. half_batch and rest_of_batch:
# one batch spread over two answers. odd: the older format, four files, two without an upload. lagged: maxlag.
FIXTURES = HERE.parents[2] / "fixtures" / "wikimedia"
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples" / "pictures"
TODAY = date(2026, 11, 25)
REQUEST = wikimedia.compile(Text("emitter"), ALL_DAYS).requests[0]
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")


def page(body: bytes, status: int = 200, request: Request = REQUEST) -> Page:
    """Return an answer with that body."""
    return Page(request, status, {}, body, TODAY)


def fixture(name: str) -> Page:
    """Return the invented page of that name."""
    return page((FIXTURES / f"{name}.json").read_bytes())


def sample(name: str) -> Page:
    """Return a recorded answer; the outer object a client kept it in is taken off."""
    body = json.loads((SAMPLES / f"{name}.json").read_bytes())
    body = body.get("media", body)
    body = {"batchcomplete": "", "query": body} if "pages" in body else body
    return page(json.dumps(body).encode())


def asked(expression: Any, window: Window = ALL_DAYS) -> list[str]:
    """Return the searches that would be sent."""
    return [dict(r.params)["gsrsearch"] for r in wikimedia.compile(expression, window).requests]


def named(answer: Page, start: str) -> list[Record]:
    """Return the records whose title begins so, in order."""
    return [record for record in wikimedia.parse(answer).records if record.title.startswith(start)]


# --- what is sent -----------------------------------------------------------------


def test_one_search_for_each_combination_of_forms() -> None:
    """Help:CirrusSearch, logical operators: no brackets, no OR within an AND; quotes, and - for not."""
    expression = And(
        (
            Or((Text("drip emitter"), Text("dripper"))),
            Or((Text("spring"), Text("coil"))),
            Not(Text("garden hose")),
        )
    )
    assert asked(expression) == [
        '"drip emitter" "spring" -"garden hose"',
        '"drip emitter" "coil" -"garden hose"',
        '"dripper" "spring" -"garden hose"',
        '"dripper" "coil" -"garden hose"',
    ]


def test_an_and_within_alternatives_is_two_phrases() -> None:
    """Each text is a phrase of its own."""
    assert asked(Or((Text("a b"), And((Text("c d"), Text("e")))))) == ['"a b"', '"c d" "e"']


def test_signs_of_the_search_are_no_part_of_a_phrase() -> None:
    """A prefix such as intitle: or a wildcard in a term stays words."""
    assert asked(Text('intitle:a*b "c" ~d')) == ['"intitle a b c d"']


def test_files_alone_are_asked_for_with_every_upload() -> None:
    """Namespace 6 holds files; iilimit=max lists all uploads, since the default dates the newest alone."""
    params = dict(REQUEST.params)
    assert (params["gsrnamespace"], params["iilimit"], params["maxlag"]) == ("6", "max", "5")
    assert "timestamp" in params["iiprop"] and "sha1" in params["iiprop"]


def test_what_is_too_long_or_can_not_be_said_is_told() -> None:
    """300 characters is the longest search; days are not searched; a symbol with one concept is not sent."""
    long = wikimedia.compile(And((Text("a " * 150), Text("b"))), Window(date(2019, 1, 1), date(2020, 1, 1)))
    assert not long.requests
    assert any("longer than 300" in line for line in long.not_expressed)
    assert any("day of upload" in line for line in long.not_expressed)
    assert not wikimedia.compile(And((Code("cpc", "A01G"), Text("a"))), ALL_DAYS).requests
    barred = wikimedia.compile(And((Text("a"), Not(Text("b " * 80)))), ALL_DAYS)
    assert any("exclusions do not fit" in line for line in barred.not_expressed)


# --- errors and paging ------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "kind"),
    [("maxlag", SourceBusy), ("ratelimited", SourceBusy), ("internal_api_error", SourceDown), ("badvalue", SourceRefused)],
)  # fmt: skip
def test_errors_come_with_status_200(code: str, kind: type) -> None:
    """API:Errors and warnings: the code tells, not the status."""
    error = wikimedia.judge(page(json.dumps({"error": {"code": code, "info": "why"}}).encode()))
    assert type(error) is kind
    assert "why" in str(error)
    assert isinstance(wikimedia.judge(fixture("lagged")), SourceBusy)


def test_every_key_of_continue_is_sent_back() -> None:
    """API:Continue: all of it, and nothing of an earlier one."""
    [onward] = wikimedia.follow(REQUEST, fixture("ordinary"), TODAY)
    assert dict(onward.params) == dict(REQUEST.params) | {"gsroffset": "50", "continue": "gsroffset||"}
    [rest] = wikimedia.follow(onward, fixture("half_batch"), TODAY)
    assert dict(rest.params)["iicontinue"].startswith("Line.svg")
    [after] = wikimedia.follow(rest, fixture("rest_of_batch"), TODAY)
    assert after.params == onward.params
    assert wikimedia.follow(REQUEST, fixture("last"), TODAY) == []


def test_the_ten_thousandth_result_is_the_last() -> None:
    """The search shows no more."""
    body = json.dumps({"batchcomplete": True, "continue": {"gsroffset": 10_000, "continue": "x"}}).encode()
    assert wikimedia.follow(REQUEST, page(body), TODAY) == []


def test_a_batch_spread_over_two_answers_is_read_once() -> None:
    """A file counts where its uploads are; without them it is set aside only where none can follow."""
    half = wikimedia.parse(fixture("half_batch"))
    assert (half.matched, half.quarantined) == (2, ())
    [rest_request] = wikimedia.follow(REQUEST, fixture("half_batch"), TODAY)
    rest = wikimedia.parse(replace(fixture("rest_of_batch"), request=rest_request))
    assert [record.title for record in rest.records] == ["Line"]
    assert (rest.matched, rest.quarantined) == (1, ())


@pytest.mark.parametrize("body", [b"{}", b'{"servedby": "mw1"}', b'{"query": {"pages": 7}}'])
def test_an_answer_of_another_shape_is_a_change(body: bytes) -> None:
    """An answer without pages and without the mark of a finished batch is not 'nothing found'."""
    with pytest.raises(SourceChanged):
        wikimedia.parse(page(body))


# --- records ----------------------------------------------------------------------


def test_each_upload_is_a_record_with_its_own_day() -> None:
    """Fact sheet: the date of version 1 does not cover what version 2 shows, and the newest hides the first."""
    newest, first = named(fixture("ordinary"), "Emitter spring")
    assert [s.days.text() for s in (*newest.dates, *first.dates)] == ["2019-05-06", "2012-03-04"]
    assert [s.kind for s in newest.dates] == ["posted"]
    assert newest.native_id != first.native_id
    assert newest.identifiers != first.identifiers
    assert newest.relations == first.relations
    assert newest.relations[0].kind == "version of"
    assert dict(newest.details)["SHA-1 of this upload"] != dict(first.details)["SHA-1 of this upload"]


def test_the_caption_is_text_and_the_day_of_the_work_dates_nothing() -> None:
    """Templates' HTML is read as text; what a person wrote as the date is told in words, hidden part aside."""
    newest = named(fixture("ordinary"), "Emitter spring")[0]
    assert newest.kind == "picture"
    assert newest.abstract == "A drip emitter that flushes itself; its shape-memory spring & seat"
    assert [person.name for person in newest.people] == ["Ilse Tagholm"]
    details = dict(newest.details)
    assert details["day of the work or the shot, says its page (dates nothing)"] == "circa 1617"
    assert details["licence"] == "CC BY-SA 4.0 https://creativecommons.org/licenses/by-sa/4.0"
    assert "1617" not in repr(newest.dates)


def test_results_stand_in_the_order_of_the_search() -> None:
    """Pages come keyed by number, unordered; index is their rank."""
    assert wikimedia.parse(fixture("ordinary")).records[0].title == "Dripper, cut open"


def test_odd_files_keep_what_can_be_read() -> None:
    """A file known through another wiki has no number; without an upload it is set aside; no time, no date."""
    parsed = wikimedia.parse(fixture("odd"))
    assert [bad.path for bad in parsed.quarantined] == [
        "query.pages.9904174.imageinfo",
        "query.pages.9904175.title",
    ]
    elsewhere, timeless = parsed.records
    assert elsewhere.native_id == "File:Known elsewhere.jpg 2011-12-01 14:17:15"
    assert elsewhere.dates[0].note
    assert timeless.dates == ()


# --- recorded answers -------------------------------------------------------------


@needs_samples
def test_recorded_files_are_read_whole() -> None:
    """commons_allimages_28_files: every file is a record with the day of its upload, 2015-10-31."""
    parsed = wikimedia.parse(sample("commons_allimages_28_files"))
    assert (parsed.items, len(parsed.records), parsed.quarantined) == (28, 28, ())
    assert {s.days.text() for record in parsed.records for s in record.dates} == {"2015-10-31"}
    # SAMPLES.md: DateTimeOriginal as 1550, 1915, 2009-03-17, with HTML, empty; none becomes a date.
    told = [
        dict(r.details).get("day of the work or the shot, says its page (dates nothing)", "")
        for r in parsed.records
    ]
    assert {"1550", "1915", "2009-03-17", ""} <= set(told)
    assert not [text for text in told if "QS:P" in text or "<" in text]


@needs_samples
def test_a_recorded_batch_of_three_answers_is_read_once() -> None:
    """commons_allimages_page_1 to 3: pages 2 and 3 repeat the same nine files without their uploads."""
    request, counts = REQUEST, []
    for number in (1, 2, 3):
        answer = replace(sample(f"commons_allimages_page_{number}_of_3"), request=request)
        parsed = wikimedia.parse(answer)
        counts.append((parsed.items, len(parsed.records), parsed.matched))
        [request] = wikimedia.follow(request, answer, TODAY)
    assert counts == [(9, 9, 9), (0, 0, 0), (0, 0, 0)]
    assert "gaicontinue" in dict(request.params)
    assert "gucontinue" not in dict(request.params)


@needs_samples
def test_a_recorded_search_is_in_the_order_of_index() -> None:
    """commons_search_generator_cats: keyed by page number, index says the rank; no time, so no date."""
    parsed = wikimedia.parse(sample("commons_search_generator_cats"))
    assert [record.title for record in parsed.records][:2] == [
        "Cat November 2010-1a",
        "Collage of Six Cats-02",
    ]
    assert parsed.items == 6
    assert not [record for record in parsed.records if record.dates]


@needs_samples
def test_a_recorded_file_known_through_another_wiki_is_not_missing() -> None:
    """commons_imageinfo_via_other_wiki_apple_lisa: page -1, missing and known; uploaded 2011-12-01."""
    [record] = wikimedia.parse(sample("commons_imageinfo_via_other_wiki_apple_lisa")).records
    assert record.title == "Apple Lisa2-IMG 1517"
    assert [s.days.text() for s in record.dates] == ["2011-12-01"]
