"""The archive's answers: the earliest capture that dates something, and what it is to what we hold."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest

from connectors import web_archive
from connectors.connector import Page
from connectors.days import Days
from connectors.errors import SourceBusy, SourceChanged, SourceRefused
from connectors.page_text import sample_of
from connectors.replay_address import captured, moment, replayed

URL = "https://shop.example/flusher"
TODAY = date(2026, 11, 25)
HEAD = ["urlkey", "timestamp", "original", "mimetype", "statuscode", "digest", "length"]
TEXT = " ".join(f"Valve {n} opens when the spring of emitter {n} warms." for n in range(60))
OURS = f"<html><title>Flusher</title><main><p>{TEXT}</p></main></html>".encode()
ABOUT = {"page": URL, "sha1": web_archive.sha1_base32(OURS), "sample": " ".join(sample_of(TEXT))}


def row(timestamp: str = "20120304050607", status: str = "200", digest: str = "OTHER") -> list[str]:
    """Return a row of the index."""
    return [
        "example,shop)/flusher",
        timestamp,
        "http://shop.example/flusher",
        "text/html",
        status,
        digest,
        "900",
    ]


def index(*rows: list[str], about: dict[str, str] = ABOUT) -> Page:
    """Return an answer of the index to the first question."""
    body = json.dumps([HEAD, *rows]).encode() if rows else b"[]"
    return Page(
        web_archive.earliest_request(URL, about), 200, {"content-type": "application/json"}, body, TODAY
    )


def copy(body: bytes = OURS, status: int = 200, about: dict[str, str] = ABOUT, **headers: str) -> Page:
    """Return the archive's copy, as follow asks for it."""
    request = web_archive.follow(index(row(), about=about).request, index(row(), about=about), TODAY)[0]
    named = {"memento-datetime": "Sun, 04 Mar 2012 05:06:07 GMT", "content-type": "text/html"}
    return Page(
        request, status, {**named, **{k.replace("_", "-"): v for k, v in headers.items()}}, body, TODAY
    )


def only(page: Page) -> Any:
    """Return the one record on the page."""
    (record,) = web_archive.parse(page).records
    return record


def relation(page: Page) -> str:
    """Return what the record is said to be to the page captured, "" where nothing is said."""
    return next((one.kind for one in only(page).relations if one.identifier.text == URL), "")


def test_the_question_holds_the_address_and_nothing_of_what_we_hold() -> None:
    """The earliest capture with status 200 of exactly this address; our text and hash stay here."""
    request = web_archive.earliest_request(URL, ABOUT)
    assert request.path == "cdx/search/cdx"
    assert dict(request.params) == {
        "url": URL, "matchType": "exact", "output": "json", "limit": "10", "filter": "statuscode:200",
    }  # fmt: skip
    assert ABOUT["sha1"] not in str(request.params)


def test_a_capture_proves_public_by_its_day_and_no_earlier_date() -> None:
    """A third party's event with the address of the copy; it may have been public before."""
    record = only(index(row("20120304050607"), row("20100101000000")))
    (event,) = record.dates
    assert (event.kind, event.text, event.days) == (
        "captured",
        "20100101000000",
        Days(None, date(2010, 1, 1)),
    )
    assert record.url == "https://web.archive.org/web/20100101000000/http://shop.example/flusher"


# Seen in recorded index answers: month 00; day 00 and hour 24. Others by the same rule.
IMPOSSIBLE = [
    "20000012170449",
    "20000800241623",
    "19700101000000",
    "20100229000000",
    "2012030405060",
    "x" * 14,
    "²" * 14,
]


@pytest.mark.parametrize("timestamp", IMPOSSIBLE)
def test_an_impossible_moment_is_never_mended(timestamp: str) -> None:
    """It dates nothing, is quarantined with its row, and the next row that dates something stands."""
    assert moment(timestamp) is None and captured(timestamp) is None
    parsed = web_archive.parse(index(row(timestamp), row("20120304050607")))
    assert [one.version for one in parsed.records] == ["as captured 2012-03-04"]
    assert parsed.items == 2 and timestamp in parsed.quarantined[0].excerpt
    assert web_archive.parse(index(row(timestamp))).items == 1


@pytest.mark.parametrize("status", ["301", "404", "403", "429", "-", "503"])
def test_only_status_200_dates_the_content(status: str) -> None:
    """An archived redirect, refusal or revisit of unknown status says nothing of the page."""
    assert web_archive.parse(index(row("19990101000000", status))).records == ()
    assert only(index(row("19990101000000", status), row())).version == "as captured 2012-03-04"


@pytest.mark.parametrize("body", [b"", b"[]", b"\n", json.dumps([HEAD]).encode()])
def test_no_capture_is_an_answer(body: bytes) -> None:
    """Nothing found is complete, with no record and nothing to follow."""
    page = Page(web_archive.earliest_request(URL, {}), 200, {}, body, TODAY)
    assert web_archive.judge(page) is None
    assert (web_archive.parse(page).items, web_archive.follow(page.request, page, TODAY)) == (0, [])


@pytest.mark.parametrize(
    "body", [b"<html>", b"{}", b'[["a"],["b","c"]]', b'[["a"],["b"]]', b"[1]", b"[" * 10_000, b'"x"']
)
def test_another_shape_is_said_to_have_changed(body: bytes) -> None:
    """An index answer that is no table with the known columns is an error, not 'nothing found'."""
    page = Page(web_archive.earliest_request(URL, {}), 200, {}, body, TODAY)
    with pytest.raises(SourceChanged):
        web_archive.parse(page)


def test_a_closed_address_is_not_called_never_captured() -> None:
    """403 by the archive's access control: the answer is said not to be whole."""
    headers = {"x-archive-wayback-runtime-error": "AdministrativeAccessControlException: Blocked Site Error"}
    page = Page(web_archive.earliest_request(URL, {}), 403, headers, b"", TODAY)
    assert web_archive.judge(page) is None
    assert "keeps this address closed" in web_archive.parse(page).partial
    assert web_archive.follow(page.request, page, TODAY) == []


def test_refusals_are_told_apart() -> None:
    """429 asks for a minute at least; another 403 or 400 is a refusal; an archived 429 is neither."""
    request = web_archive.earliest_request(URL, {})
    busy = web_archive.judge(Page(request, 429, {}, b"", TODAY))
    assert isinstance(busy, SourceBusy) and busy.retry_after_s == 60
    assert isinstance(web_archive.judge(Page(request, 403, {}, b"", TODAY)), SourceRefused)
    assert isinstance(web_archive.judge(Page(request, 400, {}, b"", TODAY)), SourceRefused)
    archived = copy(status=429)
    assert web_archive.judge(archived) is None
    assert "status 429" in web_archive.parse(archived).quarantined[0].reason


def test_the_copy_and_our_own_bytes_are_asked_for_next() -> None:
    """The earliest copy's original bytes, and the earliest capture of exactly what we hold."""
    page = index(row())
    first, second = web_archive.follow(page.request, page, TODAY)
    assert first.path == "web/20120304050607id_/http://shop.example/flusher"
    assert ("filter", f"digest:{ABOUT['sha1']}") in second.params and second.step == "same bytes"


def test_nothing_more_is_asked_where_the_earliest_is_what_we_hold() -> None:
    """The same digest: the same bytes, dated."""
    page = index(row(digest=ABOUT["sha1"]))
    assert web_archive.follow(page.request, page, TODAY) == []
    assert relation(page) == "same as"


def test_an_index_row_alone_joins_nothing() -> None:
    """Until the copy is read, what the address showed then is not known."""
    assert relation(index(row())) == ""


def other(share: float) -> bytes:
    """Return a page that holds that share of our text, and other sentences."""
    words = TEXT.split()
    kept = " ".join(words[: int(len(words) * share)])
    filler = " ".join(f"Opening hours of branch {n} changed." for n in range(40))
    return f"<html><title>Flusher</title><main><p>{kept}</p><p>{filler}</p></main></html>".encode()


COMPARED = [
    (OURS, "same as", "the same bytes"),
    (OURS + b" ", "version of", "100%"),
    (other(0.9), "version of", "%"),
    (other(0.1), "other content than", "%"),
    (b"<html><title>Parked</title><p>This domain is for sale.</p></html>", "other content than", "0%"),
]


@pytest.mark.parametrize(("body", "kind", "told"), COMPARED, ids=[kind for _, kind, _ in COMPARED])
def test_the_copy_is_joined_only_where_it_says_the_same(body: bytes, kind: str, told: str) -> None:
    """An address can have shown anything before: half of the captured text must stand in the copy."""
    assert relation(copy(body)) == kind
    assert told in dict(only(copy(body)).details)["archived copy"]


def test_a_copy_with_nothing_to_compare_joins_nothing() -> None:
    """The page could not be fetched now: the copy is a reference of its own."""
    record = only(copy(about={}))
    assert dict(record.details)["archived copy"] == "could not be compared with what was captured"
    assert record.title == "Flusher" and TEXT[:40] in record.abstract
    assert [one.kind for one in record.relations] == ["same as"]  # its own copies, looked up elsewhere


def test_one_capture_looked_up_for_two_pages_is_two_records() -> None:
    """What it is to the one is not what it is to the other; its address joins the two."""
    mine, bare = only(copy()), only(copy(about={}))
    assert mine.native_id != bare.native_id and mine.url == bare.url


def test_the_time_got_stands_and_not_the_time_asked_for() -> None:
    """The archive redirects to the nearest capture; its header says which."""
    record = only(copy(memento_datetime="Fri, 24 Nov 2017 15:13:15 GMT"))
    assert record.dates[0].text == "20171124151315" and "20171124151315" in record.url
    assert "asked for 20120304050607" in dict(record.details)["capture"]


NO_COPY = [
    ({"memento_datetime": ""}, 200, "page of the archive"), ({"memento_datetime": ""}, 404, "page of the archive"),
    ({"memento_datetime": "soon"}, 200, "page of the archive"), ({}, 404, "status 404"), ({}, 301, "status 301"),
]  # fmt: skip


@pytest.mark.parametrize(("headers", "status", "why"), NO_COPY)
def test_what_is_no_copy_dates_nothing(headers: dict[str, str], status: int, why: str) -> None:
    """A page of the archive itself, and an archived error, are quarantined with the reason."""
    page = copy(status=status, **headers)
    assert web_archive.judge(page) is None
    parsed = web_archive.parse(page)
    assert parsed.records == () and why in parsed.quarantined[0].reason


def test_the_digest_is_held_against_the_index() -> None:
    """As the index states, or not: then it may be of the packed form, and no forgery is cried."""
    assert "may be of the packed form" in dict(only(copy()).details)["digest"]
    about = {**ABOUT, "sha1": "NONE"}
    page = index(row(digest=web_archive.sha1_base32(OURS)), about=about)
    request = web_archive.follow(page.request, page, TODAY)[0]
    headers = {"memento-datetime": "Sun, 04 Mar 2012 05:06:07 GMT", "content-type": "text/html"}
    assert (
        "as the archive's index states"
        in dict(only(Page(request, 200, headers, OURS, TODAY)).details)["digest"]
    )


def test_the_pages_own_dates_stay_claims_in_the_archive_too() -> None:
    """Only the capture is public; the archived page's word and its server's clock are kept as theirs."""
    body = OURS.replace(b"<title>", b'<meta property="article:published_time" content="2009-01-02"><title>')
    record = only(copy(body, x_archive_orig_last_modified="Tue, 18 Mar 1997 10:00:00 GMT"))
    assert [(one.kind, one.days.text()) for one in record.dates] == [
        ("captured", "?..2012-03-04"), ("claimed published", "2009-01-02"), ("updated", "1997-03-18"),
    ]  # fmt: skip


REPLAYS = [
    ("https://web.archive.org/web/20160218174457/http://shop.example/a", ("20160218174457", "http://shop.example/a")),
    ("https://web.archive.org/web/20160218174457id_/shop.example", ("20160218174457", "http://shop.example")),
    ("http://web.archive.org/web/20160218174457im_/https://x.example/p.png", ("20160218174457", "https://x.example/p.png")),
    ("https://web.archive.org/web/2016*/http://shop.example/a", None),
    ("https://shop.example/web/20160218174457/http://x.example/", None),
    ("https://web.archive.org.evil.example/web/20160218174457/http://x.example/", None),
]  # fmt: skip


@pytest.mark.parametrize(("url", "parts"), REPLAYS)
def test_an_archived_copys_address_says_moment_and_original(url: str, parts: tuple[str, str] | None) -> None:
    """Only the archive's own host and form."""
    assert replayed(url) == parts
