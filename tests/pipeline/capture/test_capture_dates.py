"""What a capture proves of a page's day, and which captures are one reference: joined by content only."""

from __future__ import annotations

import pytest

from pipeline.judging import Judging
from pipeline.matter import load_matter
from tests.pipeline.capture.world import HTML, PAGE, PICTURE, PNG, Bench, archive


def test_a_captured_page_is_dated_by_the_archive_and_not_by_its_own_word(bench: Bench) -> None:
    """It says 2009; the archive first shows it in 2012: public by then, and the claim stays a claim."""
    archive(bench, "flusher", "20120304050607", PAGE.replace(b"spring 7 ", b"spring seven "))
    end = bench.capture("/flusher", pictures=0)
    assert end.outcome == "complete"
    (hit,) = bench.hits()
    assert (hit.title, hit.kind, hit.sources, hit.versions) == (
        "The Flusher",
        "web page",
        ("web", "web_archive"),
        2,
    )
    assert (
        hit.public is not None
        and hit.public.text() == "?..2012-03-04"
        and hit.public_says == "web_archive: captured"
    )
    events = bench.rows("SELECT kind, public, day_to::VARCHAR FROM dated_event ORDER BY ALL")
    assert ("claimed published", False, "2009-05-02") in events
    assert ("captured here", True, "2026-11-25") in events


VERDICTS = [("20120304050607", "prior_art"), ("20160304050607", "undecided"), (None, "undecided")]


@pytest.mark.parametrize(("timestamp", "outcome"), VERDICTS)
def test_the_verdict_follows_what_is_proven(bench: Bench, timestamp: str | None, outcome: str) -> None:
    """Filed 2015: a capture before it counts; one after it, or none, leaves the day open, whatever the page claims."""
    if timestamp:
        archive(bench, "flusher", timestamp, PAGE)
    bench.capture("/flusher", pictures=0)
    (hit,) = bench.hits()
    judging = Judging(load_matter(bench.folder), bench.now.date())
    verdicts = {
        one.office: one.verdict.outcome
        for one in judging.judge(bench.folder, [hit.reference_id])[hit.reference_id]
    }
    assert verdicts["EP"] == outcome


def test_other_content_at_the_address_is_another_reference(bench: Bench) -> None:
    """What the address showed in 1999 is not the page: two references, each with its own date."""
    parked = b"<html><title>The Flusher</title><p>" + b"This domain is for sale, write to its owner. " * 20
    archive(bench, "flusher", "19990101000000", parked)
    bench.capture("/flusher", pictures=0)
    found = {hit.sources: hit.public.text() for hit in bench.hits() if hit.public}
    assert found == {("web",): "?..2026-11-25", ("web_archive",): "?..1999-01-01"}


def test_the_canonical_address_is_asked_too_and_joined_by_content_only(bench: Bench) -> None:
    """A page with a session in its address is older under its own; a canonical link to the front page is not it."""
    bench.world.pages["/x"] = {"body": PAGE, "headers": HTML}
    archive(bench, "flusher", "20110101000000", PAGE + b"<!-- -->")
    bench.capture("/x", pictures=0)
    (hit,) = bench.hits()
    assert hit.public is not None and hit.public.text() == "?..2011-01-01"
    bench.world.pages["/y"] = {"body": PAGE.replace(b'href="/flusher"', b'href="/"').replace(b"Emitter", b"Dripper"),
                               "headers": HTML}  # fmt: skip
    archive(
        bench,
        "",
        "19960101000000",
        b"<html><title>Welcome</title><p>" + b"Welcome to our shop of many things. " * 9,
    )
    bench.capture("/y", pictures=0)
    assert "?..1996-01-01" not in {
        hit.public.text() for hit in bench.hits() if hit.public and "web" in hit.sources
    }


def test_pages_of_one_title_are_two_references(bench: Bench) -> None:
    """Titles repeat across a site and a web: without a common address or content nothing joins two pages."""
    title = b"Self-flushing drip emitter with a shape memory spring for buried irrigation lines"
    head = (
        b'<meta name="citation_author" content="Rivers, Ann"><meta property="og:site_name" content="Wetline">'
    )
    for path, number in (("/one", b"1"), ("/two", b"2")):
        body = PAGE.replace(b"The Flusher", title).replace(
            b'href="/flusher"', b'href="' + path.encode() + b'"'
        )
        bench.world.pages[path] = {"body": body.replace(b"</head>", head + b"</head>").replace(b"Emitter ", b"Part " + number),
                                   "headers": HTML}  # fmt: skip
    bench.capture("/one", "/two", pictures=0)
    assert [(hit.title.encode(), hit.versions) for hit in bench.hits()] == [(title, 1), (title, 1)]


def test_a_page_that_is_gone_is_still_looked_for_in_the_archive(bench: Bench) -> None:
    """The fetch fails and is named; the archive's copy becomes a reference with its text and date."""
    archive(bench, "gone", "20050607080910", PAGE)
    end = bench.capture("/gone")
    assert (end.outcome, end.captured[0].outcome) == ("incomplete", "failed")
    assert "no such page" in end.captured[0].reason
    (hit,) = bench.hits()
    assert (hit.title, hit.sources) == ("The Flusher", ("web_archive",))
    assert hit.public is not None and hit.public.text() == "?..2005-06-07"


def test_a_picture_is_a_reference_of_its_own(bench: Bench) -> None:
    """With what the page says of it, its own date in the archive, and kept apart from the page."""
    archive(bench, "cut.png", "20130405060708", PICTURE, PNG)
    bench.capture("/flusher")
    page, shown = sorted(bench.hits(), key=lambda hit: hit.kind, reverse=True)
    assert (page.kind, shown.kind, shown.title) == ("web page", "picture", "The seat, cut open")
    assert shown.public is not None and shown.public.text() == "?..2013-04-05"
    assert page.public is not None and page.public.text() == "?..2026-11-25"
    kinds = {row[0] for row in bench.rows("SELECT kind FROM relation")}
    assert "part of" in kinds
    details = dict(bench.rows("SELECT d.detail.name, d.detail.text FROM record, UNNEST(details) AS d(detail) "
                              "WHERE kind = 'picture' AND source = 'web'"))  # fmt: skip
    assert (
        details["alt text"] == "the seat" and details["likeness hash"] and "evidence/" in details["evidence"]
    )
