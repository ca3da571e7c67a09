"""What a capture keeps: evidence that checks, what had come before it was cut off, all of it after a rebuild."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from warcio.archiveiterator import ArchiveIterator

from pipeline.evidence import evidence_problem
from pipeline.journal import read_journal
from pipeline.responses import Responses
from pipeline.store import FILE_NAME
from tests.pipeline.capture.world import HTML, PAGE, PICTURE, PUBLIC, Bench, archive


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
