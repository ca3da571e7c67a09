"""Capturing from the address to the reference: kept whole, dated by the archive, joined by content only."""

from __future__ import annotations

import io
import json
import socket
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageDraw
from warcio.archiveiterator import ArchiveIterator

from connectors.waiting import Clock
from connectors.web_archive import sha1_base32
from pipeline.capture import CaptureEnd, Wanted, capture_into, check_addresses
from pipeline.cli import main
from pipeline.errors import BadAddress, BadMatter
from pipeline.evidence import evidence_problem
from pipeline.harvest import Desk
from pipeline.journal import read_journal
from pipeline.judging import Judging
from pipeline.listing import Hit, read_hits
from pipeline.load import load_answers
from pipeline.lookalikes import Lookalike, compare
from pipeline.matter import load_matter
from pipeline.references import resolve_references
from pipeline.responses import Responses
from pipeline.review.troubles import read_troubles
from pipeline.showing import read_related
from pipeline.store import FILE_NAME, open_store

PUBLIC = "93.184.216.34"  # stands for every host of the tests; the loopback server answers for it
TEXT = " ".join(f"Emitter {n} flushes its seat when spring {n} warms in the sun." for n in range(60))
PAGE = (
    '<!doctype html><html lang="en"><head><title>The Flusher</title><link rel="canonical" href="/flusher">'
    '<meta property="article:published_time" content="2009-05-02"></head><body><main><h1>The Flusher</h1>'
    f'<p>{TEXT}</p><figure><img src="/cut.png" alt="the seat"><figcaption>The seat, cut open</figcaption></figure>'
    "</main></body></html>"
).encode()
HEAD = ["urlkey", "timestamp", "original", "mimetype", "statuscode", "digest", "length"]


def picture() -> bytes:
    """Return a picture's file."""
    image = Image.new("RGB", (200, 150), "white")
    pen = ImageDraw.Draw(image)
    pen.ellipse((20, 20, 120, 120), outline="black", width=5)
    pen.line((0, 0, 200, 150), fill="black", width=7)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


PICTURE = picture()
HTML, PNG = {"Content-Type": "text/html; charset=utf-8"}, {"Content-Type": "image/png"}


@dataclass
class World:
    """The web and the archive as they are now; both may be changed between captures.

    pages: path -> answer. captures: address without scheme -> (timestamp, body, headers).
    """

    pages: dict[str, dict[str, Any]]
    captures: dict[str, tuple[str, bytes, dict[str, str]]]
    asked: list[str]

    def answer(self, seen: Any) -> dict[str, Any]:
        """Return what the web or the archive answers."""
        self.asked.append(seen.target)
        if seen.path == "/cdx/search/cdx":
            return self.index(seen)
        if seen.path.startswith("/web/"):
            return self.replay(seen.target)
        return self.pages.get(seen.path, {"status": 404})

    def index(self, seen: Any) -> dict[str, Any]:
        """Return the index's answer for an address, or for it and a digest."""
        address = seen.query["url"].partition("://")[2]
        found = self.captures.get(address.partition("/")[2])
        if found is None:
            return {"body": b"[]"}
        row = ["key", found[0], f"http://{address}", "text/html", "200", sha1_base32(found[1]), "9"]
        if "digest" in seen.target and row[5] not in seen.target:
            return {"body": b"[]"}
        return {"body": json.dumps([HEAD, row]).encode()}

    def replay(self, target: str) -> dict[str, Any]:
        """Return the copy itself, with its moment."""
        path = target.partition("id_/http://")[2].partition("/")[2]
        timestamp, body, headers = self.captures[path]
        at = datetime.strptime(timestamp, "%Y%m%d%H%M%S").replace(tzinfo=UTC)
        moment = at.strftime("%a, %d %b %Y %H:%M:%S GMT")
        return {"body": body, "headers": {**headers, "Memento-Datetime": moment}}


MATTER = """
offices = ["US", "EP"]
[invention]
title = "Self-flushing emitter"
summary = "A drip emitter that flushes itself when the sun warms the line."
[invention.elements]
A = "a drip emitter"
[[concept]]
name = "emitter"
terms = ["drip emitter"]
[[date]]
kind = "filing"
day = "2015-01-01"
office = "EP"
[source.web_archive]
base_url = "{url}"
"""


@dataclass
class Bench:
    """A matter, the world, and what captures into it."""

    folder: Path
    world: World
    url: str
    now: datetime
    capture: Callable[..., CaptureEnd]

    def hits(self) -> list[Hit]:
        """Return the references, worked out without vectors."""
        load_answers(self.folder)
        resolve_references(self.folder, "")
        return read_hits(self.folder)

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Return what a query of the store gives."""
        with open_store(self.folder, read_only=True) as con:
            return con.execute(query).fetchall()


@pytest.fixture
def bench(scripted_server: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Give a matter whose web and archive are one loopback server behind a public address."""
    pages = {"/robots.txt": {"body": b""}, "/flusher": {"body": PAGE, "headers": HTML},
             "/cut.png": {"body": PICTURE, "headers": PNG}}  # fmt: skip
    world = World(pages, {}, [])
    server = scripted_server(route=world.answer)
    loopback = socket.socket.connect

    def connect(self: socket.socket, address: Any) -> None:
        return loopback(self, ("127.0.0.1", address[1]) if address[0] == PUBLIC else address)

    look_up = socket.getaddrinfo

    def numeric(host: Any, port: Any, *rest: Any, **named: Any) -> Any:
        if host == PUBLIC:  # an address already, as the connection is made to one
            return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (PUBLIC, port))]
        return look_up(host, port, *rest, **named)

    monkeypatch.setattr(socket.socket, "connect", connect)
    monkeypatch.setattr(socket, "getaddrinfo", numeric)
    folder = tmp_path / "m"
    folder.mkdir()
    (folder / "matter.toml").write_text(MATTER.replace("{url}", server.url), encoding="utf-8")
    made = Bench(folder, world, f"http://shop.example:{server.url.rsplit(':', 1)[1]}", datetime(2026, 11, 25, tzinfo=UTC),
                 lambda: None)  # type: ignore[arg-type, return-value]  # fmt: skip

    def capture(*paths: str, lookup: Any = lambda *_: (PUBLIC,), **choices: Any) -> CaptureEnd:
        passed = [0.0]

        def sleep(wait_s: float) -> None:
            passed[0] += wait_s

        clock = Clock(lambda: passed[0], sleep, lambda: made.now + timedelta(seconds=passed[0]), lambda: 0.5)
        urls = [path if "://" in path else made.url + path for path in paths]
        responses = Responses(folder)
        journal = read_journal(responses, made.now)
        desk = Desk(responses, journal, f"{made.now:%Y-%m-%dT%H:%M:%SZ}", clock.today, lambda _: None)
        wanted = Wanted(check_addresses([("here", url) for url in urls]), **choices)
        return capture_into(desk, load_matter(folder), wanted, clock, lookup)

    made.capture = capture
    return made


def archive(bench: Bench, path: str, timestamp: str, body: bytes, headers: dict[str, str] = HTML) -> None:
    """Put a capture into the archive."""
    bench.world.captures[path] = (timestamp, body, headers)


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


def test_everything_is_kept_as_evidence_that_checks(bench: Bench) -> None:
    """Each exchange is a WARC file: requests, responses with exact bytes and headers, digests good."""
    bench.world.pages["/to"] = {"status": 302, "headers": {"Location": "/flusher", "X-Odd": "1"}}
    bench.capture("/to")
    files = sorted((bench.folder / "evidence").rglob("*.warc.gz"))
    assert len(files) == 2
    seen = []
    for path in files:
        with path.open("rb") as file:
            for record in ArchiveIterator(file, check_digests=True):
                body = record.content_stream().read()
                if record.rec_type == "response":
                    assert record.digest_checker.passed
                    headers = record.http_headers
                    seen.append((record.rec_headers.get_header("WARC-Target-URI").rpartition("/")[2],
                                 headers.get_statuscode(), body, headers.get_header("X-Odd")))  # fmt: skip
                    assert record.rec_headers.get_header("WARC-IP-Address") == PUBLIC
    assert sorted(seen) == sorted(
        [("to", "302", b"", "1"), ("flusher", "200", PAGE, None), ("cut.png", "200", PICTURE, None)]
    )


def test_an_evidence_file_that_was_changed_is_told(bench: Bench) -> None:
    """Its name holds its hash: one byte changed, or the file gone, is seen; a page's own text is no name."""
    bench.capture("/flusher", pictures=0)
    (path,) = (bench.folder / "evidence").rglob("*.warc.gz")
    name = path.relative_to(bench.folder).as_posix()
    assert evidence_problem(bench.folder, name) == ""
    path.write_bytes(path.read_bytes()[:-1] + b"x")
    assert "not as it was written" in evidence_problem(bench.folder, name)
    path.unlink()
    assert "missing" in evidence_problem(bench.folder, name)
    assert evidence_problem(bench.folder, "../../etc/passwd") == ""


def test_a_capture_cut_off_keeps_what_had_come(bench: Bench) -> None:
    """Stopped between two pages: the first is a reference, the next capture and the next run go on as ever."""
    bench.world.pages["/x"] = {"body": PAGE.replace(b"Emitter", b"Dripper"), "headers": HTML}
    asked = []

    def lookup(host: str, port: int) -> tuple[str, ...]:
        asked.append(host)
        if len(asked) > 2:
            raise KeyboardInterrupt
        return (PUBLIC,)

    with pytest.raises(KeyboardInterrupt):
        bench.capture("/flusher", "/x", pictures=0, lookup=lookup)
    assert [hit.title for hit in bench.hits()] == ["The Flusher"]
    bench.now += timedelta(hours=1)
    assert bench.capture("/x", pictures=0).outcome == "complete"
    assert len(bench.hits()) == 2 and read_journal(Responses(bench.folder), bench.now).unfinished == ""


def test_text_that_no_file_can_hold_stops_nothing(bench: Bench) -> None:
    """Half characters spelled by JSON's escapes in a caption, a date and a name: kept as marks of loss."""
    block = json.dumps({"@type": "Product\ud800", "name": "A\udfff", "datePublished": "\ud8002019", "a\ud800": "b\x00",
                        "image": {"@type": "ImageObject", "url": "/cut.png", "caption": "c\ud800"}})  # fmt: skip
    script = f'<script type="application/ld+json">{block}</script></head>'.encode()
    bench.world.pages["/flusher"]["body"] = PAGE.replace(b"</head>", script)
    assert bench.capture("/flusher").captured[0].outcome == "complete"
    assert {hit.title for hit in bench.hits()} == {"The Flusher", "c\ufffd"}


def test_a_later_capture_is_a_further_response_of_the_same_record(bench: Bench) -> None:
    """The page changed: one record, the text of now, both captures' days stand, the claim of then marked."""
    bench.capture("/flusher", pictures=0)
    bench.hits()
    bench.now += timedelta(days=200)
    bench.world.pages["/flusher"]["body"] = PAGE.replace(b"2009-05-02", b"2008-01-01").replace(
        b"The Flusher", b"Flusher 2"
    )
    bench.capture("/flusher", pictures=0)
    (hit,) = bench.hits()
    assert hit.title == "Flusher 2" and hit.public is not None and hit.public.text() == "?..2026-11-25"
    assert bench.rows("SELECT count(*) FROM response WHERE source = 'web'") == [(2,)]
    stands = dict(bench.rows("SELECT kind || ' ' || day_to, stands FROM dated_event WHERE kind LIKE 'c%'"))
    assert stands == {
        "captured here 2026-11-25": True, "captured here 2027-06-13": True,
        "claimed published 2009-05-02": False, "claimed published 2008-01-01": True,
    }  # fmt: skip


def test_a_page_that_vanishes_later_loses_nothing(bench: Bench) -> None:
    """Captured once, gone at the next capture: the reference keeps its parts and its date."""
    archive(bench, "flusher", "20120304050607", PAGE + b"<!-- -->")
    bench.capture("/flusher", pictures=0)
    before = [(hit.reference_id, hit.public) for hit in bench.hits()]
    bench.world.pages["/flusher"] = {"status": 410}
    bench.now += timedelta(days=1)
    bench.capture("/flusher", pictures=0)
    assert [(hit.reference_id, hit.public) for hit in bench.hits()] == before


def test_the_database_is_made_again_from_what_was_kept(bench: Bench) -> None:
    """Responses and journal are enough: the same references, dates and search log."""
    archive(bench, "flusher", "20120304050607", PAGE)
    bench.capture("/flusher")
    tables = (
        "record",
        "identifier",
        "dated_event",
        "relation",
        "membership",
        "reference",
        "search",
        "response",
    )
    bench.hits()
    before = {name: sorted(map(repr, bench.rows(f"SELECT * FROM {name}"))) for name in tables}
    (bench.folder / FILE_NAME).unlink()
    bench.hits()
    assert {name: sorted(map(repr, bench.rows(f"SELECT * FROM {name}"))) for name in tables} == before


def test_the_search_log_says_what_was_asked_and_how_it_ended(bench: Bench) -> None:
    """One line for the web and one for the archive, with numbers and reasons."""
    bench.world.pages["/flusher"]["body"] = PAGE.replace(b"/cut.png", b"/missing.png")
    bench.capture("/flusher", "/none")
    bench.hits()
    log = {(s, w.rpartition("/")[2]): (o, q, i, r) for s, w, o, q, i, r in bench.rows(
        "SELECT source, sweep, outcome, requests, items, reason FROM search")}  # fmt: skip
    outcome, requests, items, reason = log[("web", "flusher")]
    assert (outcome, requests, items) == ("incomplete", 1, 1) and "a picture" in reason and "404" in reason
    assert log[("web", "none")][0] == "failed"
    assert log[("web_archive", "none")][:3] == ("complete", 1, 0)
    requests_sent = [row[0] for row in bench.rows("SELECT request FROM response ORDER BY seq")]
    assert requests_sent[0] == f"GET {bench.url}/flusher"
    assert any("/cdx/search/cdx?url=" in line for line in requests_sent)


def test_no_archive_means_that_it_hears_nothing(bench: Bench) -> None:
    """By choice on the command line or in matter.toml: skipped, said, and not sent."""
    end = bench.capture("/flusher", archive=False)
    assert end.outcome == "complete" and end.captured[0].archive_outcome == "skipped"
    text = (bench.folder / "matter.toml").read_text(encoding="utf-8")
    (bench.folder / "matter.toml").write_text(text + "on = false\n", encoding="utf-8")
    assert "matter.toml" in bench.capture("/flusher").captured[0].archive_reason
    assert not [target for target in bench.world.asked if target.startswith(("/cdx", "/web/"))]


def test_inner_addresses_are_told_to_nobody(bench: Bench) -> None:
    """An address that leads inside is not fetched, and the archive is not asked about it either."""
    end = bench.capture(
        "http://10.0.0.1/plan", "http://wiki/x", "http://firm.example/y", lookup=lambda *_: ("10.1.1.1",)
    )
    assert end.outcome == "failed" and bench.world.asked == []
    assert all("told to nobody" in one.archive_reason for one in end.captured)


def test_a_named_host_is_fetched_and_not_told_to_the_archive(bench: Bench) -> None:
    """The matter says it lies inside: its pages are kept, its addresses stay here."""
    host = bench.url.removeprefix("http://")
    text = (bench.folder / "matter.toml").read_text(encoding="utf-8")
    (bench.folder / "matter.toml").write_text(f'{text}[capture]\nhosts = ["{host}"]\n', encoding="utf-8")
    end = bench.capture("/flusher", pictures=0, lookup=lambda *_: ("127.0.0.1",))
    assert end.captured[0].outcome == "complete" and "named" not in end.captured[0].reason
    assert "names this host" in end.captured[0].archive_reason
    assert bench.world.asked == ["/robots.txt", "/flusher"]


def test_a_canonical_address_that_lies_inside_is_not_told_to_the_archive(bench: Bench) -> None:
    """Whatever a page calls its own address: a host the matter names, or an inner name, is told to nobody."""
    text = (bench.folder / "matter.toml").read_text(encoding="utf-8")
    (bench.folder / "matter.toml").write_text(
        f'{text}[capture]\nhosts = ["wiki.firm.example"]\n', encoding="utf-8"
    )
    for path, inner in (
        ("/a", b"http://wiki.firm.example/plan"),
        ("/b", b"http://10.1.2.3/plan"),
        ("/c", b"http://wiki/plan"),
    ):
        bench.world.pages[path] = {
            "body": PAGE.replace(b'href="/flusher"', b'href="' + inner + b'"'),
            "headers": HTML,
        }
    bench.capture("/a", "/b", "/c", pictures=0)
    asked = [target for target in bench.world.asked if target.startswith("/cdx")]
    assert len(asked) == 3 and not [target for target in asked if "plan" in target]


def test_a_page_can_not_send_us_inside_through_its_pictures(bench: Bench) -> None:
    """A picture's address is judged like any other; the page is kept, the picture named as refused."""
    bench.world.pages["/flusher"]["body"] = PAGE.replace(
        b"/cut.png", b"http://169.254.169.254/latest/meta-data/a.png"
    )
    end = bench.capture("/flusher")
    assert end.captured[0].outcome == "incomplete"
    assert "169.254.169.254 lies in this machine or its network" in end.captured[0].reason
    assert not [target for target in bench.world.asked if "meta-data" in target]


def test_a_picture_that_is_none_is_not_kept_as_one(bench: Bench) -> None:
    """A site that answers with a page where a picture should be: named, and no reference of it."""
    bench.world.pages["/cut.png"] = {"body": b"<html>sign in first", "headers": HTML}
    end = bench.capture("/flusher")
    assert end.captured[0].outcome == "incomplete" and "is no picture" in end.captured[0].reason
    assert [hit.kind for hit in bench.hits()] == ["web page"]


def test_an_archive_that_asks_to_be_left_alone_is_left_alone(bench: Bench) -> None:
    """Two 429s: the look-ups end, later pages' are not sent, all is said and nothing lost."""
    answer = bench.world.answer
    asked = []

    def busy(seen: Any) -> dict[str, Any]:
        if seen.path.startswith("/cdx"):
            asked.append(seen.target)
            return {"status": 429}
        return answer(seen)

    bench.world.index = lambda seen: busy(seen)  # type: ignore[method-assign]
    end = bench.capture("/flusher", "/cut.png", pictures=0)
    assert len(asked) == 2 and end.outcome == "incomplete"
    assert "429" in end.captured[0].archive_reason
    assert "earlier look-up failed" in end.captured[1].archive_reason
    assert len(bench.hits()) == 2


def test_a_capture_leaves_an_unfinished_nightly_run_as_it_was(bench: Bench) -> None:
    """The next run still goes on where the one that was cut off stopped."""
    responses = Responses(bench.folder)
    at = bench.now.isoformat()
    responses.journal.append({"line": "run started", "run": "night", "at": at})
    bench.capture("/flusher", pictures=0)
    assert read_journal(responses, bench.now).unfinished == "night"


def test_a_capture_hides_no_trouble_of_the_night_and_adds_none(
    bench: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a source still owes stays in sight; a page that could not be captured is no debt of the next run."""
    responses = Responses(bench.folder)
    at, run = (bench.now - timedelta(days=1)).isoformat(), "2026-11-24T02:00:00Z"
    end = {"source": "crossref", "sweep": "all", "expression": "x", "outcome": "failed", "reason": "503", "requests": 1,
           "items": 0, "records": 0, "quarantined": 0, "stated_total": None, "total_is_floor": False, "waited_s": 0.0}  # fmt: skip
    for line in (
        {"line": "run started"},
        {"line": "sweep ended", **end},
        {"line": "run ended", "outcome": "incomplete"},
    ):
        responses.journal.append({**line, "run": run, "at": at})
    bench.capture("/flusher", "/none", pictures=0)
    bench.hits()
    with open_store(bench.folder, read_only=True) as con:
        assert [(one.source, one.sweep) for one in read_troubles(con)] == [("crossref", "all")]
    assert main(["status", str(bench.folder)]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"run {run}: incomplete") and "capture of 2026-11-25" in said
    assert main(["status", str(bench.folder), "--run", "2026-11-25T00:00:00Z"]) == 0
    assert "no such page" in capsys.readouterr().out


def test_an_address_that_is_none_stops_all_before_anything_is_sent(bench: Bench) -> None:
    """With where it was written and what is wrong."""
    with pytest.raises(BadAddress, match=r"here.*ftp.*Nothing was fetched"):
        bench.capture("/flusher", "ftp://shop.example/x")
    assert bench.world.asked == []


def test_hosts_to_capture_are_checked_in_matter_toml(bench: Bench) -> None:
    """A whole address where a host belongs is an error with its line."""
    path = bench.folder / "matter.toml"
    path.write_text(
        path.read_text(encoding="utf-8") + '[capture]\nhosts = ["http://wiki/"]\n', encoding="utf-8"
    )
    with pytest.raises(BadMatter, match=r"capture\.hosts"):
        load_matter(bench.folder)


def test_pictures_that_look_alike_are_shown_and_not_merged(bench: Bench) -> None:
    """The same drawing as JPEG at another address: another reference, found to look like the first."""
    out = io.BytesIO()
    Image.open(io.BytesIO(PICTURE)).save(out, "JPEG", quality=80)
    bench.world.pages["/copy.jpg"] = {"body": out.getvalue(), "headers": {"Content-Type": "image/jpeg"}}
    bench.capture("/cut.png", "/copy.jpg")
    one, two = bench.hits()
    with open_store(bench.folder, read_only=True) as con:
        (found,) = [each for each in read_related(con, one.reference_id) if each.kind == "looks like"]
    assert found.reference_id == two.reference_id and "likeness merges nothing" in found.note


def test_lookalikes_are_sorted_by_likeness_and_bounded() -> None:
    """The nearest first, each reference once by its nearest picture, nothing past the bound, oneself never."""
    base = "0000000000000000-0000000000000000"
    rows = [("a", "A", base), ("a", "A", "ffffffffffffffff-ffffffffffffffff"), ("b", "B", "0000000000000007-0000000000000000"),
            ("b", "B", "0000000000000001-0000000000000000"), ("c", "C", base), ("d", "D", "00000000000000ff-0000000000000000")]  # fmt: skip
    assert compare("a", rows) == [Lookalike("c", "C", 0), Lookalike("b", "B", 1)]
    assert compare("x", rows) == []
