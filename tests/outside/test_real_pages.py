"""Real saved pages, archive answers, evidence files and pictures give the facts that are known of them.

They lie in ../shared/sources/samples (each folder's SAMPLES.md says whose recording of what
each is). Outside judges: people's reading of the pages' dates, extruct for structured data,
htmldate as a witness of dates, warcio's own check of digests.
"""

from __future__ import annotations

import base64
import hashlib
import json
import warnings
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from warcio.archiveiterator import ArchiveIterator

from connectors import web, web_archive
from connectors.connector import Page
from connectors.page_dates import best_claim
from connectors.page_items import Item, all_items, read_items
from connectors.page_reader import Reading, read_body
from connectors.picture_file import read_picture
from connectors.replay_address import moment

SAMPLES = Path(__file__).resolve().parents[2] / "../shared/sources/samples"
pytestmark = pytest.mark.skipif(
    not SAMPLES.is_dir(), reason="the recorded answers are not beside the checkout"
)
SEEN = date(2026, 11, 25)


def listed(folder: str) -> list[dict[str, Any]]:
    """Return what is known of each file of a folder."""
    path = SAMPLES / folder / "responses.json"
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else []


PAGES = {one["file"]: one for one in listed("webpage")}


def body_of(name: str, folder: str = "webpage") -> bytes:
    """Return a file, byte for byte."""
    return (SAMPLES / folder / name).read_bytes()


def page(name: str) -> Reading:
    """Return what the saved page states."""
    return read_body(body_of(name), "text/html", PAGES[name]["page_url"], SEEN)


# The day people read off each page (labels of the pages' own repository, or the page's own
# words, as SAMPLES.md says); None: no publication day is known, and the right answer is none.
# The third column is what is claimed here.
KNOWN = [
    ("product_jsonld_parallels_desktop.html", "2020-02-03", None),
    ("product_microdata_aggregateoffer_no_date.html", None, None),
    ("listing_jsonld_car_with_offer.html", None, None),
    ("review_jsonld_item_reviewed_product.html", "2017-06-29", "2017-06-29"),
    ("pressrelease_us_date_formats.html", "2016-04-06", "2016-04-06"),
    ("article_citation_plos_0000001.html", "2006-12-20", "2006-12-20"),
    ("abstract_citation_arxiv_1706_03762.html", "2017-06-12", "2017-06-12"),
    ("article_ojs_four_dates_first_monday.html", "2020-09-10", "2020-09-10"),
    ("wayback_saved_blog_2010_captured_2016.html", "2010-05-19", "2010-05"),
    ("blog_cc_wikimedia_2018.html", "2018-06-28", "2018-06-28"),
    ("forum_latin1_thread_start_vs_page.html", "2011-03-03", None),
    ("charset_declared_utf8_mixed_bytes.html", "2010-12-08", None),
]


@pytest.mark.parametrize(("name", "true_day", "claimed"), KNOWN)
def test_the_claim_shown_is_the_day_people_read_or_none(
    name: str, true_day: str | None, claimed: str | None
) -> None:
    """Never a day that is not the page's own: none where the page does not say, and nothing earlier."""
    best = best_claim(page(name).dates)
    assert (best.days.text() if best else None) == claimed
    if best and true_day:
        day = date.fromisoformat(true_day)
        assert best.days.first is not None and best.days.last is not None
        assert best.days.first <= day <= best.days.last


def test_accuracy_on_the_samples_is_reported(capsys: pytest.CaptureFixture[str]) -> None:
    """A table: the day people read, our claim, and a general date finder's guess; none of ours is early."""
    htmldate = pytest.importorskip("htmldate", reason="the witness of dates is not installed")
    rows = []
    for name, true_day, _ in KNOWN:
        best = best_claim(page(name).dates)
        witness = htmldate.find_date(body_of(name), url=PAGES[name]["page_url"], original_date=True)
        rows.append((name, true_day or "none known", best.days.text() if best else "none", witness or "none"))
    with capsys.disabled():
        print("\npage | read by people | claimed here | guessed by a date finder")
        for row in rows:
            print(" | ".join(row))
    early = [row for row in rows if row[1] != "none known" and row[2] != "none" and row[2][:4] < row[1][:4]]
    assert early == [] and sum(row[2] != "none" for row in rows) == 7


def test_dates_that_are_no_publication_are_not_called_so() -> None:
    """Submitted, created, modified, produced, a thread's start and an offer's end, each by its name."""
    kinds = {(one.text, one.kind) for one in page("article_ojs_four_dates_first_monday.html").dates}
    assert {("2019-09-15", "submitted"), ("2020-09-10", "claimed created"), ("2020-10-01", "claimed published"),
            ("2020-10-01", "updated"), ("2020/09/10", "claimed published")} <= kinds  # fmt: skip
    assert not [
        one for one in page("listing_jsonld_car_with_offer.html").dates if one.kind == "claimed published"
    ]
    (thread,) = [
        one for one in page("forum_latin1_thread_start_vs_page.html").dates if one.kind == "claimed created"
    ]
    assert thread.text.startswith("2011-02-21") and "thread" in thread.note
    online = {one.text: one.note for one in page("abstract_citation_arxiv_1706_03762.html").dates}
    assert "newest version" in online["2023/08/02"]
    vague = {one.text: one.days.text() for one in page("pressrelease_us_date_formats.html").dates}
    assert vague["4/6/2016"] == "2016" and vague["2016-04-06T16:00:00Z"] == "2016-04-06"


def test_products_and_offers_come_out() -> None:
    """Names, makers, numbers and prices, in JSON-LD and in microdata, a brand wrongly typed as Offer too."""
    told = {
        name: " ".join(f"{a} {b}" for a, b in page(name).details)
        for name in PAGES
        if name.startswith(("product", "list"))
    }
    assert "brand Parallels" in told["product_jsonld_parallels_desktop.html"]
    assert "priceValidUntil 2019-10-01" in told["product_jsonld_parallels_desktop.html"]
    assert "offerCount" in told["product_microdata_aggregateoffer_no_date.html"] or "lowPrice" in told[
        "product_microdata_aggregateoffer_no_date.html"]  # fmt: skip
    assert "GBP" in told["product_microdata_aggregateoffer_no_date.html"]
    car = told["listing_jsonld_car_with_offer.html"]
    assert "productionDate 2018-07-21" in car and "SoldOut" in car and "5YJSA7E49JF269238" in car


def test_scholarly_tags_come_out() -> None:
    """Title, people, numbers and place in print of an article page."""
    reading = page("article_citation_plos_0000001.html")
    assert reading.texts["title"] == "Neural Substrate of Cold-Seeking Behavior in Endotoxin Shock"
    assert ("doi", "10.1371/journal.pone.0000001") in {(one.scheme, one.text) for one in reading.identifiers}
    assert (reading.texts["venue"], reading.texts["volume"], reading.texts["issue"]) == ("PLOS ONE", "1", "1")
    assert len(reading.people) == 4 and len(reading.texts["abstract"]) > 2_000
    preprint = page("abstract_citation_arxiv_1706_03762.html")
    assert ("arxiv", "1706.03762") in {(one.scheme, one.text) for one in preprint.identifiers}
    assert [person.name for person in preprint.people][:2] == ["Ashish Vaswani", "Noam Shazeer"]


def test_characters_come_out_as_meant_on_real_pages() -> None:
    """ISO-8859-1 as browsers read it; single bytes in a UTF-8 page are counted."""
    forum = page("forum_latin1_thread_start_vs_page.html")
    assert "\ufffd" not in forum.texts["title"] + forum.texts["abstract"]
    assert "ü" in forum.texts["abstract"] or "ä" in forum.texts["abstract"]
    mixed = dict(page("charset_declared_utf8_mixed_bytes.html").details)
    assert mixed["characters lost"].startswith("3 were not valid utf-8")


def test_a_page_saved_through_an_archive_gives_moment_and_original() -> None:
    """The capture's day is the archive's; the month in the original address stays the page's claim."""
    name = "wayback_saved_blog_2010_captured_2016.html"
    url = PAGES[name]["page_url"]
    request = web.capture_request(url, {"final": url, "at": "2026-11-25T10:00:00+00:00"})
    (record,) = web.parse(Page(request, 200, {"content-type": "text/html"}, body_of(name), SEEN)).records
    events = {(one.kind, one.days.text()) for one in record.dates}
    assert ("captured", "?..2016-02-18") in events and ("claimed published", "2010-05") in events
    assert (
        "archived copy of",
        "http://bewegliche-lettern.de/2010/05/literatur-und-animated-typography/",
    ) in record.details


@pytest.mark.parametrize("name", PAGES)
def test_every_page_is_one_record_with_its_text(name: str) -> None:
    """items = records + quarantined; a title and some text; nothing that can't be stored."""
    request = web.capture_request(PAGES[name]["page_url"], {})
    parsed = web.parse(Page(request, 200, {"content-type": "text/html"}, body_of(name), SEEN))
    assert parsed.items == len(parsed.records) + len(parsed.quarantined) == 1
    (record,) = parsed.records
    assert record.title and len(record.abstract) > 100
    assert "\x00" not in repr(record)


# --- structured data, held against extruct ------------------------------------------


def values_of(items: list[Item]) -> set[tuple[str, str]]:
    """Return every (property, text) of our items, blanks aside."""
    return {
        (name.lower(), "".join(value.split()))
        for item in all_items(items)
        for name, values in item.properties.items()
        for value in values
        if isinstance(value, str) and value.strip()
    }


def their_values(node: Any) -> Iterator[tuple[str, str]]:
    """Yield every (property, text) of extruct's answer, blanks aside."""
    if isinstance(node, list):
        for one in node:
            yield from their_values(one)
    elif isinstance(node, dict):
        for name, value in (node.get("properties") or node).items():
            for one in value if isinstance(value, list) else [value]:
                if isinstance(one, dict | list):
                    yield from their_values(one)
                elif (
                    isinstance(one, str | int | float)
                    and name not in ("@type", "@context", "type")
                    and str(one).strip()
                ):
                    yield name.lower(), "".join(str(one).split())


@pytest.mark.parametrize("name", PAGES)
def test_structured_data_agrees_with_an_independent_reader(name: str) -> None:
    """Every JSON-LD and microdata value that extruct finds is found here, and none besides."""
    extruct = pytest.importorskip("extruct", reason="the judge of structured data is not installed")
    from w3lib.encoding import html_to_unicode

    text = html_to_unicode("text/html", body_of(name))[1]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = extruct.extract(
            text, base_url=PAGES[name]["page_url"], syntaxes=["json-ld", "microdata"], errors="log"
        )
        ours = read_items(BeautifulSoup(text, "lxml"))
    for syntax, front in (("json-ld", "json-ld"), ("microdata", "microdata")):
        mine = values_of([item for item in ours.items if item.path.startswith(front)])
        wanted = {(n, t) for n, t in their_values(theirs[syntax]) if len(t) < 1_500}  # ours are cut at 2,000
        lost = {(n, t) for n, t in wanted - mine if not t.startswith(("http", "//")) and "//" not in t}
        assert not lost, f"{syntax}: extruct alone found {sorted(lost)[:5]}"
        assert len(mine) >= len(wanted) * 0.9


def test_open_graph_agrees_with_an_independent_reader() -> None:
    """Every og: property that extruct finds on the samples stands among our meta tags."""
    extruct = pytest.importorskip("extruct", reason="the judge of structured data is not installed")
    from connectors.page_markup import read_markup

    for name in PAGES:
        markup = read_markup(body_of(name), "text/html", PAGES[name]["page_url"])
        found = extruct.extract(markup.html, syntaxes=["opengraph"], errors="log")["opengraph"]
        theirs = {
            (key, " ".join(value.split()))
            for one in found
            for key, value in one["properties"]
            if value.strip()
        }
        ours = {(tag.name, tag.text) for tag in markup.meta}
        assert {(key.strip().lower(), value) for key, value in theirs if key.startswith("og:")} <= ours


# --- the archive's recorded answers ---------------------------------------------------

ARCHIVED = {one["file"]: one for one in listed("webarchive")}


def archive_page(name: str, step: str, path: str = "cdx/search/cdx") -> Page:
    """Return a recorded answer of the archive as an answer to a question of ours."""
    known = ARCHIVED[name]
    headers = {key.lower(): value for key, value in (known.get("headers") or {}).items()}
    request = web_archive.earliest_request("http://x.example/", {"page": "http://x.example/"})
    request = type(request)(request.source, path, step=step, state=request.state)
    return Page(request, int(known["status"]), headers, body_of(name, "webarchive"), SEEN)


@pytest.mark.parametrize(
    "name", ["cdx_json_limit_1_earliest_commoncrawl.json", "cdx_json_prefix_commoncrawl.json"]
)
def test_the_earliest_capture_comes_out_of_a_recorded_index(name: str) -> None:
    """2008-03-28 04:14:43, and the look-up for its copy is the one that was recorded."""
    page_ = archive_page(name, web_archive.INDEX)
    assert web_archive.judge(page_) is None
    (record,) = web_archive.parse(page_).records
    assert record.dates[0].text == "20080328041443" and record.dates[0].days.last == date(2008, 3, 28)
    (copy,) = web_archive.follow(page_.request, page_, SEEN)
    assert copy.path == "web/20080328041443id_/http://www.commoncrawl.org:80/"


COPIES = [
    ("memento_zew_19970427_original_bytes.html", "1997-04-27", "GOE2BMK6YVBA6HNPZJW2N5SHBJPHJBD4"),
    ("memento_commoncrawl_20080328_original_bytes.html", "2008-03-28", "YEIPJFLNQ4IJ3HP4YBDJBWGJL4MTEJ42"),
]


@pytest.mark.parametrize(("name", "day", "digest"), COPIES)
def test_a_recorded_copy_is_dated_by_its_header_and_its_digest_checks(
    name: str, day: str, digest: str
) -> None:
    """The archive's moment, and the base32 SHA-1 that its index states for these bytes."""
    page_ = archive_page(name, web_archive.REPLAY, "web/1id_/http://www.x.example/")
    if "memento-datetime" not in page_.headers:
        pytest.skip("its headers were not recorded")
    assert web_archive.judge(page_) is None
    (record,) = web_archive.parse(page_).records
    assert record.dates[0].days.last == date.fromisoformat(day)
    assert web_archive.sha1_base32(page_.body) == digest
    assert record.kind == "web page" and record.title


def test_the_servers_own_clock_of_1997_stays_a_claim() -> None:
    """Last-Modified 18 March 1997 is the server's word; the archive's 27 April is the proof."""
    page_ = archive_page(
        "memento_zew_19970427_original_bytes.html", web_archive.REPLAY, "web/1id_/http://www.zew.de/"
    )
    (record,) = web_archive.parse(page_).records
    assert ("updated", "1997-03-18") in {(one.kind, one.days.text()) for one in record.dates}


def test_recorded_refusals_are_told_apart() -> None:
    """Closed by the archive; an archived 429; a page that was never captured."""
    closed = archive_page("cdx_403_site_excluded.txt", web_archive.INDEX)
    assert web_archive.judge(closed) is None and "closed" in web_archive.parse(closed).partial
    archived = archive_page("memento_archived_429.html", web_archive.REPLAY, "web/1id_/http://x.example/")
    assert web_archive.judge(archived) is None
    assert "status 429" in web_archive.parse(archived).quarantined[0].reason
    never = archive_page("memento_404_never_captured.html", web_archive.REPLAY, "web/1id_/http://x.example/")
    assert web_archive.judge(never) is None and web_archive.parse(never).records == ()


def test_recorded_impossible_moments_date_nothing() -> None:
    """Month 00, and day 00 with hour 24, stand in real index rows."""
    text = body_of("cdx_text_impossible_timestamps.txt", "webarchive").decode()
    stamps = [line.split(" ")[1] for line in text.splitlines() if line.count(" ") >= 6]
    assert {"20000012170449", "20000800241623"} <= set(stamps)
    assert [moment(stamp) for stamp in ("20000012170449", "20000800241623")] == [None, None]
    rows = [dict(zip(("urlkey", "timestamp", "original", "mimetype", "statuscode", "digest", "length"), line.split(" "), strict=False))
            for line in text.splitlines() if line.count(" ") >= 6]  # fmt: skip
    head = list(rows[0])
    body = json.dumps([head, *([row.get(name, "") for name in head] for row in rows)]).encode()
    parsed = web_archive.parse(
        Page(web_archive.earliest_request("http://x.example/", {}), 200, {}, body, SEEN)
    )
    assert len(parsed.quarantined) >= 2 and parsed.items == len(parsed.records) + len(parsed.quarantined)


WARCS = [
    ("warc_example.warc.gz", True),
    ("warc_iana_chunked.warc", True),
    ("warc_truncated_bad_digests.warc", False),
]


@pytest.mark.parametrize(("name", "good"), WARCS)
def test_the_digest_check_we_rely_on_tells_good_from_bad(name: str, good: bool) -> None:
    """warcio says so of files made by others: whole ones pass, one cut short on purpose does not."""
    passed = []
    with (SAMPLES / "webarchive" / name).open("rb") as file:
        for record in ArchiveIterator(file, check_digests=True):
            record.content_stream().read()
            if record.rec_type == "response":
                passed.append(record.digest_checker.passed)
    assert passed and all(passed) is good


def test_a_digest_is_the_base32_of_sha1() -> None:
    """As the archive's index writes it, checked on recorded bytes."""
    body = body_of("memento_zew_19970427_original_bytes.html", "webarchive")
    assert base64.b32encode(hashlib.sha1(body).digest()).decode() == web_archive.sha1_base32(body)  # noqa: S324


# --- pictures -------------------------------------------------------------------------

CLOCKS = [
    ("exif_edit_date_and_original_date.jpg", {("taken", "2008-05-30"), ("updated", "2008-07-31")}),
    ("exif_future_camera_clock.jpg", {("updated", "2008-07-31")}),
    ("exif_reset_camera_clock.jpg", set()),
    (
        "exif_gps_utc_and_local_time.jpg",
        {("taken", "2008-10-22"), ("updated", "2008-11-01"), ("taken", "2008-10-23")},
    ),
]


@pytest.mark.parametrize(("name", "dates"), CLOCKS)
def test_real_cameras_clocks_are_read_and_doubted(name: str, dates: set[tuple[str, str]]) -> None:
    """A clock of 2026 in a picture of 2008 and one that was reset give no event, and say why."""
    read = read_picture(body_of(name, "pictures"), date(2013, 1, 1))
    assert {(one.kind, one.days.text()) for one in read.dates} == dates
    assert read.likeness and read.width
    if "clock.jpg" in name:
        assert any("not used" in what for what, _ in read.details)
