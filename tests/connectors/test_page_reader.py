"""Pages read whole: text, structured data, claims with their places, pictures; hostile ones too."""

from __future__ import annotations

import json
from datetime import date

import pytest

from connectors.page_reader import Reading, read_body
from connectors.page_text import sample_of, share_of

URL = "https://shop.example/emitters/flusher"
SEEN = date(2026, 11, 25)
TEXT = "The emitter flushes itself when a shape memory spring warms in the sun. " * 8


def read(html: str | bytes, url: str = URL, content_type: str = "text/html; charset=utf-8") -> Reading:
    """Return what the page states."""
    return read_body(html.encode() if isinstance(html, str) else html, content_type, url, SEEN)


def page(head: str = "", body: str = "") -> str:
    """Return a whole page with a text of some length."""
    return (
        f"<!doctype html><html lang='en'><head><title>The Flusher</title>{head}</head>"
        f"<body><main><h1>The Flusher</h1><p>{TEXT}</p>{body}</main></body></html>"
    )


def ld(*nodes: object) -> str:
    """Return a JSON-LD block."""
    return f'<script type="application/ld+json">{json.dumps(nodes[0] if len(nodes) == 1 else list(nodes))}</script>'


def dates(reading: Reading) -> set[tuple[str, str, str]]:
    """Return (kind, days, field) of the dates."""
    return {(each.kind, each.days.text(), each.field) for each in reading.dates}


def test_a_page_is_read_into_a_record() -> None:
    """Title, text, language, site, people, numbers and canonical address."""
    head = (
        '<meta property="og:site_name" content="Wetline"><link rel="canonical" href="../emitters/flusher?x=1">'
        '<meta name="citation_author" content="Rivers, Ann"><meta name="citation_author" content="Bo Stone">'
        '<meta name="citation_doi" content="10.5555/flush.1"><meta name="citation_volume" content="7">'
        '<meta name="citation_firstpage" content="12"><meta name="citation_lastpage" content="19">'
    )
    reading = read(page(head))
    assert reading.kind == "web page"
    assert reading.texts["title"] == "The Flusher" and "shape memory spring" in reading.texts["abstract"]
    assert (reading.texts["language"], reading.texts["venue"], reading.texts["volume"], reading.texts["pages"]) == (
        "en", "Wetline", "7", "12-19",
    )  # fmt: skip
    assert [person.name for person in reading.people] == ["Ann Rivers", "Bo Stone"]
    assert [(one.scheme, one.text) for one in reading.identifiers] == [("doi", "10.5555/flush.1")]
    assert reading.canonical == "https://shop.example/emitters/flusher?x=1"


def test_a_product_without_a_publication_date_has_none() -> None:
    """When it was made and when its price ends are shown as facts, never as its publication."""
    product = {
        "@type": "Product", "name": "Flusher", "brand": {"@type": "Brand", "name": "Wetline"}, "sku": "F-1",
        "productionDate": "2018-07-21",
        "offers": {"@type": "Offer", "price": "4.10", "priceCurrency": "EUR", "priceValidUntil": "2020-12-03"},
    }  # fmt: skip
    reading = read(page(ld(product)))
    assert reading.dates == ()
    told = [text for _, text in reading.details]
    assert any("brand Wetline" in text and "sku F-1" in text for text in told)
    assert any("price 4.10" in text and "2020-12-03" in text for text in told)
    assert ("json-ld[1]/productionDate", "2018-07-21") in reading.details


def test_the_dates_of_other_things_on_the_page_are_not_its_own() -> None:
    """A comment, a video and a related article have days of their own: shown, not used."""
    article = {
        "@type": "Article", "@id": URL, "datePublished": "2019-05-02",
        "comment": {"@type": "Comment", "datePublished": "2021-01-01"},
        "video": {"@type": "VideoObject", "uploadDate": "2012-01-01"},
    }  # fmt: skip
    related = {"@type": "Article", "url": "https://shop.example/other", "datePublished": "2001-01-01"}
    reading = read(page(ld({"@graph": [article, related]})))
    assert dates(reading) == {("claimed published", "2019-05-02", "json-ld[1]/@graph[1]/datePublished")}
    others = " ".join(f"{name} {text}" for name, text in reading.details if name.startswith("of another"))
    assert "2021-01-01" in others and "2012-01-01" in others and "2001-01-01" in others


def test_microdata_is_read_with_its_place() -> None:
    """Items, nested items, and values from where each kind of tag keeps them."""
    body = (
        '<div itemscope itemtype="http://schema.org/Article"><span itemprop="headline">X</span>'
        '<time itemprop="datePublished" datetime="2019-05-02">2 May</time>'
        '<div itemprop="review" itemscope itemtype="https://schema.org/Review">'
        '<meta itemprop="datePublished" content="2020-01-01"></div></div>'
    )
    assert ("claimed published", "2019-05-02", "microdata[1]/datePublished") in dates(read(page("", body)))
    assert not any(
        days == "2020-01-01" for kind, days, _ in dates(read(page("", body))) if kind == "claimed published"
    )


def test_claims_that_differ_are_said_to() -> None:
    """The page's claim is shown with where it stands, and those that contradict it beside it."""
    head = '<meta name="DC.Date.issued" content="2020-10-01"><meta name="citation_date" content="2020/09/10">'
    told = dict(read(page(head)).details)
    assert (
        told["the page's own claim"].startswith("published 2020-09-10")
        and "no proof" in told["the page's own claim"]
    )
    assert "2020-10-01" in told["its claims differ"]


BROKEN = [
    ('{"@type": "Article", "datePublished": "2019-05-02"', "no JSON"),
    ('{"a": 1} trailing', "no JSON"),
    ("[" * 50_000, "nested too deep"),
    ("", "no JSON"),
]


@pytest.mark.parametrize(("block", "why"), BROKEN)
def test_a_broken_block_is_reported_and_costs_the_others_nothing(block: str, why: str) -> None:
    """One bad block is quarantined with its reason; the good one beside it is read."""
    bad = f'<script type="application/ld+json">{block}</script>'
    reading = read(page(bad + ld({"@type": "Article", "datePublished": "2019-05-02"})))
    assert dates(reading) == {("claimed published", "2019-05-02", "json-ld[2]/datePublished")}
    assert [(one.path, why in one.reason, len(one.excerpt) <= 500) for one in reading.unread] == [
        ("json-ld[1]", True, True)
    ]


WRAPPED = [
    '<!-- {"@type": "Article", "datePublished": "2019-05-02"} -->',
    '//<![CDATA[\n{"@type": "Article", "datePublished": "2019-05-02"}\n//]]>',
    '{"@type": "Article",\n "description": "two\nlines", "datePublished": "2019-05-02"}',
    '{"@type": ["Article", "https://schema.org/NewsArticle"], "DatePublished": ["2019-05-02"]}',
]


@pytest.mark.parametrize("block", WRAPPED)
def test_blocks_as_they_are_met_are_read(block: str) -> None:
    """Comments and CDATA round them, raw line ends in strings, odd case, lists."""
    reading = read(page(f'<script type="application/ld+json">{block}</script>'))
    assert {(kind, days) for kind, days, _ in dates(reading)} == {("claimed published", "2019-05-02")}


# Encoding standard (WHATWG): labels mean what browsers take them to mean.
CHARSETS = [
    (page().replace("Flusher", "Bewässerung").encode("utf-8"), "text/html; charset=utf-8", "Bewässerung"),
    (
        page().replace("Flusher", "Bewässerung").encode("latin-1"),
        "text/html; charset=iso-8859-1",
        "Bewässerung",
    ),
    (page().replace("Flusher", "“Flusher”").encode("cp1252"), "text/html; charset=iso-8859-1", "“Flusher”"),
    (
        b"\xef\xbb\xbf" + page().replace("Flusher", "Bewässerung").encode(),
        "text/html; charset=latin-1",
        "Bewässerung",
    ),
    (
        page('<meta charset="windows-1251">').replace("Flusher", "Капля").encode("cp1251"),
        "text/html",
        "Капля",
    ),
    (page().replace("Flusher", "Bewässerung").encode("cp1252"), "text/html", "Bewässerung"),
    (page().replace("Flusher", "しずく").encode("utf-8"), "text/html", "しずく"),
]


@pytest.mark.parametrize(("body", "content_type", "title"), CHARSETS)
def test_characters_come_out_as_meant(body: bytes, content_type: str, title: str) -> None:
    """Byte order mark, header, the page's own word, else UTF-8 or windows-1252."""
    assert read(body, URL, content_type).texts["title"] == f"The {title}"


def test_lost_characters_are_counted() -> None:
    """Single bytes that are no UTF-8 are replaced, and the record says how many."""
    body = page().encode().replace(b"Flusher</h1>", b"Fl\xfcsher</h1>")
    assert "1 were not valid utf-8" in dict(read(body).details)["characters lost"]


def test_pictures_of_the_page_come_with_what_is_said_of_them() -> None:
    """What the page calls its picture first, each once, absolute; icons, counters and data: addresses left out."""
    head = '<meta property="og:image" content="/big.jpg">'
    body = (
        '<figure><img src="small.jpg" data-src="/cut.png" alt="cut open"><figcaption>The seat, cut</figcaption></figure>'
        '<img src="/big.jpg" alt="whole"><img src="/favicon.png"><img src="/x.gif" width="1" height="1">'
        '<img src="data:image/gif;base64,R0lGOD"><img srcset="/set.jpg 1x, /set2.jpg 2x">'
    )
    reading = read(page(head + ld({"@type": "Product", "image": ["https://cdn.example/p.jpg"]}), body))
    assert [link.url for link in reading.pictures] == [
        "https://cdn.example/p.jpg", "https://shop.example/big.jpg", "https://shop.example/cut.png",
        "https://shop.example/set.jpg",
    ]  # fmt: skip
    assert (reading.pictures[1].alt, reading.pictures[2].alt, reading.pictures[2].caption) == (
        "whole",
        "cut open",
        "The seat, cut",
    )


HOSTILE = [
    b"", b"\0" * 5_000, b"<" * 200_000, b"<div>" * 50_000 + b"x", b"<html><title>" + b"a" * 500_000,
    page('<meta name="date" content="' + "9" * 100_000 + '">').encode(),
    page(ld({"@type": "A", "x": {"y": [[{"z": "q"}]]}, "datePublished": {"@value": "2019"}})).encode(),
    page(body="<p itemscope itemprop=a itemscope><b itemprop>" * 3_000).encode(),
    page().replace("Flusher", "\x00\u202e\ud7ff<script>alert(1)</script>").encode(),
]  # fmt: skip


@pytest.mark.timeout(60)
@pytest.mark.parametrize("body", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_pages_are_read_as_far_as_they_go(body: bytes) -> None:
    """Whatever stands in it, reading ends, says what it could, and holds no character that can't be stored."""
    reading = read(body)
    text = " ".join(reading.texts.values())
    assert len(text) < 250_000
    assert "\x00" not in text
    text.encode()


def test_a_page_past_all_measure_is_read_to_a_bound_and_said_so() -> None:
    """Twelve megabytes of paragraphs: the beginning is read, the rest is named as not read."""
    body = b"<html><title>Long</title><body>" + b"<p>The spring warms in the sun and opens.</p>" * 270_000
    reading = read(body)
    assert reading.texts["title"] == "Long" and len(reading.texts["abstract"]) == 100_000
    assert "characters of the page are kept but not read" in dict(reading.details)["length"]


def test_other_content_is_kept_and_said_to_be_unread() -> None:
    """A PDF and an unknown type have a title and say why there is no text; plain text is text."""
    pdf = read(b"%PDF-1.7 ...", "https://shop.example/docs/Flusher%20manual.pdf", "text/html")
    assert (pdf.kind, pdf.texts["title"]) == ("other", "Flusher manual.pdf") and "PDF" in dict(pdf.details)[
        "content"
    ]
    zipped = read(b"PK\x03\x04", "https://shop.example/a.zip", "application/zip")
    assert zipped.kind == "other" and "application/zip" in dict(zipped.details)["content"]
    plain = read(b"A spring warms.", "https://shop.example/note.txt", "text/plain")
    assert plain.texts["abstract"] == "A spring warms."


def test_how_much_of_a_text_stands_in_another_is_told() -> None:
    """All of it, none of it, about half of it; too short a text can't be compared."""
    one = " ".join(f"sentence {n} tells of a valve that opens at {n} degrees." for n in range(80))
    half = " ".join(one.split()[: len(one.split()) // 2])
    sample = sample_of(one)
    assert share_of(sample, f"before {one} after") == 1.0
    assert share_of(sample, "nothing of the kind stands here at all " * 20) == 0.0
    assert share_of(sample, half) == pytest.approx(0.5, abs=0.13)
    assert share_of(sample_of("too short a text"), one) is None
