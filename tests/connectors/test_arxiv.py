"""arXiv: what is asked, what is made of the answers, and what its days prove."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from urllib.parse import parse_qs

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors import arxiv
from connectors.arxiv_announcement import announcement, first_evening, id_month
from connectors.connector import Connector, Page, Request
from connectors.errors import SourceBusy, SourceChanged, SourceRefused
from connectors.record import Record
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS, Window

ARXIV: Connector = arxiv
ROOT = Path(__file__).resolve().parents[2]
FIXTURES = ROOT / "fixtures" / "arxiv"
SAMPLES = ROOT / ".." / "shared" / "sources" / "samples" / "arxiv"
TODAY = date(2026, 11, 25)
DRIP = And((Text("drip-irrigation"), Or((Text("emitter"), Text("dripper")))))

recorded = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded answers beside the checkout")


def _page(body: bytes, status: int = 200, start: int = 0, window: Window = ALL_DAYS) -> Page:
    request = Request("arxiv", "query", window=window, state=(("query", '(ti:"x")'), ("start", str(start))))
    return Page(request, status, {}, body, TODAY)


def _fixture(name: str, start: int = 0) -> Page:
    return _page((FIXTURES / name).read_bytes(), start=start)


def _sample(name: str, status: int = 200) -> Page:
    return _page((SAMPLES / name).read_bytes(), status)


def _day_texts(record: Record) -> dict[str, str]:
    return {stated.kind: stated.days.text() for stated in record.dates}


def _feed(total: int, entries: int) -> bytes:
    entry = "<entry><id>http://arxiv.org/abs/2403.99901v1</id></entry>"
    return (
        '<feed xmlns="http://www.w3.org/2005/Atom" xmlns:p="http://a9.com/-/spec/opensearch/1.1/">'
        f"<p:totalResults>{total}</p:totalResults>{entry * entries}</feed>"
    ).encode()


# --- announcement ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("submitted", "evening"),
    [  # info.arxiv.org/help/availability: the table of submission and announcement, Eastern time
        ("2024-03-04T14:00-05:00", date(2024, 3, 5)),  # Mon 14:00 begins Tuesday's
        ("2024-03-05T13:59-05:00", date(2024, 3, 5)),  # to Tue 14:00
        ("2024-03-05T14:00-05:00", date(2024, 3, 6)),  # Tue-Wed: Wednesday
        ("2024-03-06T14:00-05:00", date(2024, 3, 7)),  # Wed-Thu: Thursday
        ("2024-03-07T14:00-05:00", date(2024, 3, 10)),  # Thu-Fri: Sunday
        ("2024-03-08T13:59-05:00", date(2024, 3, 10)),
        ("2024-03-08T14:00-05:00", date(2024, 3, 11)),  # Fri-Mon: Monday
        ("2024-03-10T12:00-04:00", date(2024, 3, 11)),  # summer time began that night
        ("2024-03-05T18:30+00:00", date(2024, 3, 5)),  # 13:30 Eastern
        ("2024-07-02T18:30+00:00", date(2024, 7, 3)),  # 14:30 Eastern in summer
        ("2019-02-07T09:22:51+00:00", date(2019, 2, 7)),  # DataCite: 1902.02534v1, 2019-02-08T01:08:49Z
        ("2019-06-21T06:21:52+00:00", date(2019, 6, 23)),  # DataCite: its v2, 2019-06-24T00:08:45Z
        ("2026-07-03T12:00-04:00", date(2026, 7, 5)),  # Friday, a listed holiday: Sunday anyhow
        ("2026-09-04T15:00-04:00", date(2026, 9, 8)),  # Monday 2026-09-07 is listed: Tuesday
        ("2026-12-29T12:00-05:00", date(2026, 12, 30)),  # listed
    ],
)
def test_first_evening_follows_the_published_schedule(submitted: str, evening: date) -> None:
    """Each row of the schedule, its edges, summer time and the listed holidays."""
    assert first_evening(datetime.fromisoformat(submitted)) == evening


@pytest.mark.parametrize(
    ("arxiv_id", "submitted", "announced"),
    [  # DataCite's records of the two papers give the instants of announcement
        ("1902.02534", "2019-02-07T09:22:51+00:00", "2019-02-08T01:08:49+00:00"),
        ("2311.16162", "2023-11-09T11:44:22+00:00", "2023-11-29T01:01:25+00:00"),
    ],
)
def test_recorded_announcement_lies_in_the_computed_days(
    arxiv_id: str, submitted: str, announced: str
) -> None:
    """The interval holds the true day in UTC and the day before it, which it was in New York."""
    days = announcement(arxiv_id, datetime.fromisoformat(submitted)).days
    utc = datetime.fromisoformat(announced).date()
    assert days.first and days.last
    assert days.first <= date.fromordinal(utc.toordinal() - 1) and utc <= days.last


@pytest.mark.parametrize(
    ("arxiv_id", "submitted", "days", "word"),
    [
        ("2403.99901", "2024-03-05T17:59:00+00:00", "2024-03-05..2024-04-01", "Computed"),
        ("2404.99902", "2024-03-08T10:00:00+00:00", "2024-03-31..2024-05-01", "Held back"),
        ("2403.99901", "2024-04-05T10:00:00+00:00", "2024-03-31..2024-04-08", "over before"),
        ("physics/0601901", "2006-01-30T23:30:00+00:00", "2006-01-30..2006-02-01", "that year"),
        ("2403.99901", None, "2024-02-29..2024-04-01", "Only the month"),
    ],
)
def test_days_of_announcement_say_why(arxiv_id: str, submitted: str | None, days: str, word: str) -> None:
    """Ordinary, held back, contradicted, before the known schedule, and without a stamp."""
    found = announcement(arxiv_id, datetime.fromisoformat(submitted) if submitted else None)
    assert (found.days.text(), word in found.note) == (days, True)


@settings(derandomize=True, max_examples=200)
@given(st.datetimes(datetime(2019, 1, 2), datetime(2030, 1, 1)))  # noqa: DTZ001 (made aware below)
def test_announcement_is_never_before_submission_nor_on_friday_or_saturday(naive: datetime) -> None:
    """An evening of announcement is Sunday to Thursday, at most four days and holidays later."""
    submitted = naive.astimezone(datetime.fromisoformat("2024-01-01T00:00-05:00").tzinfo)
    evening = first_evening(submitted)
    assert evening.weekday() not in (4, 5)
    assert -1 <= (evening - submitted.date()).days <= 6


@pytest.mark.parametrize(
    ("arxiv_id", "month"),
    [  # info.arxiv.org/help/arxiv_identifier
        ("astro-ph/0601001", (2006, 1)),
        ("math.GT/9901123", (1999, 1)),
        ("0704.0001", (2007, 4)),
        ("1501.00001", (2015, 1)),
        ("2413.00001", None),
        ("2403.1", None),
        ("١٤03.00001", None),
        ("../2403.00001", None),
    ],
)
def test_identifier_carries_its_month(arxiv_id: str, month: tuple[int, int] | None) -> None:
    """Old and new style; what is neither is refused."""
    assert id_month(arxiv_id) == month


# --- asking ---------------------------------------------------------------------


def _asked(request: Request) -> dict[str, str]:
    form = parse_qs(request.body) if request.method == "POST" else {k: [v] for k, v in request.params}
    return {name: values[0] for name, values in form.items()}


@pytest.mark.parametrize(
    ("expression", "query"),
    [
        (Text("shape-memory spring"), '(ti:"shape memory spring" OR abs:"shape memory spring")'),
        (
            And((Text("a"), Text("b"), Not(Text("c")))),
            '(((ti:"a" OR abs:"a") AND (ti:"b" OR abs:"b")) ANDNOT (ti:"c" OR abs:"c"))',
        ),
        (Or((Text("a"), Text("b"))), '((ti:"a" OR abs:"a") OR (ti:"b" OR abs:"b"))'),
        (Text('x") OR (all:"y'), '(ti:"x OR all y" OR abs:"x OR all y")'),
        (Text("möbius"), '(ti:"möbius" OR abs:"möbius")'),
    ],
)
def test_expression_is_asked_in_arxivs_language(expression: Text, query: str) -> None:
    """Title or abstract, AND, OR, ANDNOT, brackets everywhere; no text can leave its quotes."""
    compiled = arxiv.compile(expression, ALL_DAYS)
    assert [_asked(request)["search_query"] for request in compiled.requests] == [query]
    assert compiled == arxiv.compile(expression, ALL_DAYS)
    assert not compiled.not_expressed


@pytest.mark.parametrize(
    ("window", "filters"),
    [
        (
            Window(date(2024, 3, 1), date(2024, 4, 1)),
            " AND submittedDate:[202401300000 TO 202403312359]",
        ),
        (Window(None, date(2024, 4, 1)), " AND submittedDate:[199108140000 TO 202403312359]"),
        (Window(date(2024, 3, 1), None), " AND submittedDate:[202401300000 TO 299912312359]"),
        (Window(None, None, date(2026, 11, 1)), " AND lastUpdatedDate:[202610010000 TO 299912312359]"),
        (ALL_DAYS, ""),
    ],
)
def test_half_open_window_becomes_inclusive_minutes_of_submission(window: Window, filters: str) -> None:
    """The window begins 31 days early: a paper announced in it can have been handed in before it."""
    compiled = arxiv.compile(Text("x"), window)
    assert _asked(compiled.requests[0])["search_query"] == '(ti:"x" OR abs:"x")' + filters
    assert bool(compiled.not_expressed) == bool(window.public_from or window.added_since)


def test_long_query_travels_in_the_body() -> None:
    """A query too long for an address is sent as a form, word for word the same."""
    many = Or(tuple(Text(f"emitter number {number}") for number in range(60)))
    (request,) = arxiv.compile(many, ALL_DAYS).requests
    assert (request.method, request.params) == ("POST", ())
    assert dict(request.headers) == {"Content-Type": "application/x-www-form-urlencoded"}
    assert _asked(request)["search_query"].count("ti:") == 60
    assert _asked(request)["sortBy"] == "submittedDate"


def test_class_is_left_out_and_said() -> None:
    """A classification code can't be asked: the rest is, and the plan says so."""
    compiled = arxiv.compile(And((Text("emitter"), Code("CPC", "A01G 25/02"))), ALL_DAYS)
    assert _asked(compiled.requests[0])["search_query"] == '(ti:"emitter" OR abs:"emitter")'
    assert "A01G 25/02" in compiled.not_expressed[0]


@pytest.mark.parametrize(
    "expression", [Code("CPC", "A01G 25/02"), Text("—"), Or((Text("a"), Code("CPC", "A01G")))]
)
def test_nothing_expressible_is_not_asked(expression: Text) -> None:
    """No words: no request, and a sentence that says why."""
    compiled = arxiv.compile(expression, ALL_DAYS)
    assert compiled.requests == ()
    assert "not asked" in compiled.not_expressed[-1]


def test_pages_follow_to_the_end() -> None:
    """The first page asks for the next from where it ended; the last asks for nothing."""
    (first,) = arxiv.compile(DRIP, Window(date(2024, 1, 1), date(2025, 1, 1))).requests
    (second,) = arxiv.follow(first, _page(_feed(101, 100)), TODAY)
    assert (_asked(second)["start"], second.window) == ("100", first.window)
    assert _asked(second)["search_query"] == _asked(first)["search_query"]
    assert arxiv.follow(second, _fixture("last.xml", 100), TODAY) == []
    assert arxiv.follow(first, _fixture("empty.xml"), TODAY) == []


def test_more_than_the_depth_halves_the_window_of_submission_days() -> None:
    """30,001 results: both halves are asked, together the whole window, nothing twice."""
    (first,) = arxiv.compile(DRIP, Window(date(2024, 2, 1), date(2024, 2, 3))).requests
    older, newer = arxiv.follow(first, _page(_feed(30_001, 100)), TODAY)
    assert older.window.public_from == first.window.public_from
    assert older.window.public_to == newer.window.public_from
    assert newer.window.public_to == date(2024, 2, 3)
    assert "ti:" in _asked(newer)["search_query"]


def test_single_day_is_read_to_the_depth_and_no_further() -> None:
    """A day with too many results can't be cut: its pages are asked up to 30,000."""
    day = Window(date(2024, 2, 1), date(2024, 2, 2))
    request = Request("arxiv", "query", window=day, state=(("query", "q"), ("start", "0")))
    (onward,) = arxiv.follow(request, _page(_feed(40_000, 100)), TODAY)
    assert onward.window == day
    late = Request("arxiv", "query", window=day, state=(("query", "q"), ("start", "29900")))
    assert arxiv.follow(late, _page(_feed(40_000, 100)), TODAY) == []


# --- judging --------------------------------------------------------------------


def test_error_feed_is_refused_whatever_its_status() -> None:
    """The manual describes errors with status 200; recordings show 400."""
    body = (
        b'<feed xmlns="http://www.w3.org/2005/Atom" xmlns:o="http://a9.com/-/spec/opensearch/1.1/">'
        b"<o:totalResults>1</o:totalResults><entry><id>https://arxiv.org/api/errors#invented</id>"
        b"<summary>start is beyond the end</summary></entry></feed>"
    )
    for status in (200, 400):
        error = arxiv.judge(_page(body, status))
        assert isinstance(error, SourceRefused)
        assert "start is beyond the end" in str(error)


@pytest.mark.parametrize(
    ("answer", "error"),
    [
        (_page(b"Rate exceeded.", 429), SourceBusy),  # recorded text, no Retry-After
        (_page(b"<html>", 503), SourceBusy),
        (_page(_feed(101, 0), start=100), SourceBusy),  # empty page in mid-harvest
        (_page(b"not here", 404), SourceRefused),
        (_page(_feed(1, 1), 403), SourceRefused),
        (_fixture("ordinary.xml"), None),
        (_fixture("empty.xml"), None),
        (_fixture("torn.xml"), None),  # kept, and parse says what it is
    ],
)
def test_answers_are_judged(answer: Page, error: type[Exception] | None) -> None:
    """Busy, refused, or fit to be parsed."""
    assert type(arxiv.judge(answer)) is (error or type(None))


# --- reading --------------------------------------------------------------------


def test_ordinary_page_is_read_whole() -> None:
    """Versions, days, the article's DOIs, a withdrawal and TeX come through."""
    parsed = arxiv.parse(_fixture("ordinary.xml"))
    assert (parsed.items, parsed.stated_total, parsed.quarantined) == (3, 3, ())
    one, held, old = parsed.records
    assert one.abstract == r"Springs of $\mathrm{NiTi}$ open at T>40 degrees and flush the labyrinth."
    assert _day_texts(one) == {"submitted": "2024-03-05", "announced": "2024-03-05..2024-04-01"}
    assert [(i.scheme, i.text) for i in one.identifiers] == [
        ("arxiv", "2403.99901"),
        ("doi", "10.48550/arXiv.2403.99901"),
    ]
    assert _day_texts(held)["updated"] == "2024-06-01"
    assert _day_texts(held)["announced"] == "2024-03-31..2024-05-01"
    assert [(r.kind, r.identifier.text) for r in held.relations] == [
        ("preprint of", "10.5555/drip.2024.1"),
        ("preprint of", "10.5555/drip.2024.2"),
    ]
    assert "v1 may differ" in dict(held.details)["text"]
    assert "equation 4" in dict(old.details)["withdrawal notice"]
    assert (old.native_id, old.version) == ("physics/0601901", "v2")


def test_odd_page_loses_nothing() -> None:
    """A forbidden character, no stamp and markup in text are read; two wrong ids are quarantined."""
    parsed = arxiv.parse(_fixture("odd.xml"))
    assert parsed.items == 3 == len(parsed.records) + len(parsed.quarantined)
    (record,) = parsed.records
    assert record.title == "Clogging of emitters"
    assert record.abstract == "<script>alert(1)</script> stays text."
    assert _day_texts(record) == {"announced": "2024-05-31..2024-07-01"}
    assert [(q.index, q.path) for q in parsed.quarantined] == [(1, "feed/entry[2]"), (2, "feed/entry[3]")]


@pytest.mark.parametrize(
    "answer",
    [
        _fixture("torn.xml"),
        _page(b"<!DOCTYPE html><html></html>"),
        _page(b"<rss/>"),
        _page(b'<feed xmlns="http://www.w3.org/2005/Atom"/>'),
    ],
    ids=["torn", "html", "another root", "no total"],
)
def test_what_is_no_feed_is_a_changed_source(answer: Page) -> None:
    """Parsing and following refuse it, with the place."""
    with pytest.raises(SourceChanged):
        arxiv.parse(answer)
    with pytest.raises(SourceChanged):
        arxiv.follow(answer.request, answer, TODAY)


def test_every_fixture_is_used() -> None:
    """No fixture lies about unread."""
    text = Path(__file__).read_text()
    assert all(f'"{path.name}"' in text for path in FIXTURES.iterdir())


@recorded
@pytest.mark.parametrize(
    ("name", "items", "total"),
    [
        ("search_testing_first_10.xml", 10, 214_881),
        ("search_testing_start_50.xml", 10, 214_881),
        ("id_one_entry_latest_version.xml", 1, 1),
        ("id_list_two_ids_one_missing.xml", 1, 1),
        ("id_unknown_empty_feed.xml", 0, 0),
    ],
)
def test_recorded_pages_are_read_whole(name: str, items: int, total: int) -> None:
    """Every recorded entry becomes a record with title, text, people and two days at least."""
    parsed = arxiv.parse(_sample(name))
    assert (parsed.items, len(parsed.records), parsed.stated_total) == (items, items, total)
    assert arxiv.judge(_sample(name)) is None
    assert all(r.title and r.abstract and r.people and len(r.dates) >= 2 for r in parsed.records)


@recorded
def test_recorded_old_identifier() -> None:
    """astro-ph/0601001: submitted 2 January 2006, public by the end of that month."""
    (record,) = arxiv.parse(_sample("id_old_style_astro_ph.xml")).records
    assert record.native_id == "astro-ph/0601001"
    assert _day_texts(record) == {"submitted": "2006-01-02", "announced": "2006-01-02..2006-02-01"}
    assert "Ohio State" in dict(record.details)["affiliations"]
    assert "V_max<17.5" in record.abstract


@recorded
def test_recorded_error_is_no_paper() -> None:
    """The error entry is refused with its message."""
    error = arxiv.judge(_sample("error_400_incorrect_id_format.xml", 400))
    assert isinstance(error, SourceRefused)
    assert "incorrect id format for abc" in error.what
