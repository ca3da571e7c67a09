"""Crossref: what is sent, what errors mean, and what its works become."""

from __future__ import annotations

import json
from datetime import date
from itertools import product
from pathlib import Path

import pytest

from connectors import crossref
from connectors.connector import Page, Request
from connectors.days import Days
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceRefused
from connectors.record import Record
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS, Window

HERE = Path(__file__).resolve()
# All invented. ordinary: article, preprint, thesis. full: a hundred of 1,140. last: the last of 101.
# empty: nothing found. odd: nine items, three of no known shape. torn: ordinary, cut off.
FIXTURES = HERE.parents[2] / "fixtures" / "crossref"
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples" / "crossref"
TODAY = date(2026, 11, 25)
REQUEST = crossref.compile(Text("emitter"), ALL_DAYS).requests[0]
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")


def page(body: bytes, status: int = 200, headers: dict[str, str] | None = None) -> Page:
    """Return an answer with that body."""
    return Page(REQUEST, status, headers or {}, body, TODAY)


def fixture(name: str) -> Page:
    """Return the invented page of that name."""
    return page((FIXTURES / f"{name}.json").read_bytes())


def records(name: str) -> dict[str, Record]:
    """Return its records by DOI."""
    return {record.native_id: record for record in crossref.parse(fixture(name)).records}


def sample(name: str) -> dict[str, Record]:
    """Return the records of a recorded answer by DOI; none may be set aside."""
    parsed = crossref.parse(page((SAMPLES / f"{name}.json").read_bytes()))
    assert parsed.items == len(parsed.records), parsed.quarantined
    return {record.native_id: record for record in parsed.records}


def dates(record: Record) -> list[tuple[str, str, str]]:
    """Return kind, days and field of each dated event."""
    return [(stated.kind, stated.days.text(), stated.field) for stated in record.dates]


def asked(expression: object, window: Window = ALL_DAYS) -> list[str]:
    """Return the texts that would be asked for."""
    compiled = crossref.compile(expression, window)  # type: ignore[arg-type]
    return [dict(request.params)["query.bibliographic"] for request in compiled.requests]


def any_of(*texts: str) -> Or:
    """Return the alternatives."""
    return Or(tuple(map(Text, texts)))


# --- what is sent -----------------------------------------------------------------


def test_a_request_is_complete() -> None:
    """Words in query.bibliographic (rest-api-doc, field queries), a hundred rows."""
    assert Request("crossref", "works", (("query.bibliographic", "emitter"), ("rows", "100"))) == REQUEST


def test_one_request_for_each_combination_first_forms_first() -> None:
    """The service knows no OR: each synonym of one concept meets each of the other."""
    expression = And((any_of("drip emitter", "dripper"), any_of("nitinol", "alloy"), Not(Text("hose"))))
    assert asked(expression) == [
        "drip emitter nitinol",
        "drip emitter alloy",
        "dripper nitinol",
        "dripper alloy",
    ]


def test_forms_of_the_same_words_are_asked_once() -> None:
    """To a bag of words a hyphen makes no difference."""
    assert asked(any_of("drip-line", "drip line", "line drip", "dripline")) == ["drip-line", "dripline"]


def test_what_the_ranking_cannot_say_is_told() -> None:
    """That the boolean test is made here stands in every plan."""
    [told] = crossref.compile(And((Text("a"), Not(Text("b")))), ALL_DAYS).not_expressed
    assert "no AND, OR, NOT" in told
    assert "best 200" in told


def test_beyond_forty_combinations_the_unsent_ones_are_named() -> None:
    """Sent and named together are all combinations: none is left out in silence."""
    groups = [
        [f"{letter}{number}" for number in range(size)] for letter, size in (("a", 9), ("b", 4), ("c", 5))
    ]
    compiled = crossref.compile(And(tuple(any_of(*texts) for texts in groups)), ALL_DAYS)
    sent = {dict(request.params)["query.bibliographic"] for request in compiled.requests}
    [told] = [text for text in compiled.not_expressed if "combinations" in text]
    unsent = {" ".join(each) for each in product(*groups) if any(f"'{text}'" in told for text in each)}
    assert 20 <= len(sent) <= crossref.MOST_REQUESTS
    assert sent | unsent == {" ".join(each) for each in product(*groups)}
    assert not sent & unsent
    assert "a0 b0 c0" in sent


def test_new_words_are_sent_before_endings_of_the_same() -> None:
    """With room for some forms only, a synonym says more to a ranking than a plural."""
    forms = [text for number in range(30) for text in (f"emitter{number}", f"emitter{number}s")]
    sent = asked(any_of(*forms))
    assert [f"emitter{number}" for number in range(30)] == sent[:30]
    assert len(sent) == crossref.MOST_REQUESTS


def test_the_window_is_closed_and_keeps_years_alone() -> None:
    """Incomplete dates are filtered as their first day (rest-api-doc), so from is 1 January."""
    window = Window(date(2019, 3, 1), date(2020, 7, 1), added_since=date(2026, 11, 20))
    compiled = crossref.compile(Text("emitter"), window)
    assert dict(compiled.requests[0].params)["filter"] == (
        "from-pub-date:2019-01-01,until-pub-date:2020-06-30,from-index-date:2026-11-20"
    )
    assert any("asked from 2019-01-01 on" in text for text in compiled.not_expressed)


@pytest.mark.parametrize(
    "expression", [And((Code("cpc", "A01G"), Text("a"))), Code("cpc", "A01G"), Text("+")]
)
def test_a_symbol_with_one_concept_is_not_sent(expression: object) -> None:
    """The best 200 of one word alone are noise; the reason is told."""
    compiled = crossref.compile(expression, ALL_DAYS)  # type: ignore[arg-type]
    assert not compiled.requests
    assert compiled.not_expressed


def test_nested_alternatives_are_asked_too() -> None:
    """An And inside an Or is one more text to ask for."""
    assert asked(Or((Text("a"), And((Text("b"), any_of("c", "d")))))) == ["a", "b c", "b d"]


def test_the_contact_opens_the_polite_pool() -> None:
    """mailto is added when sending, and only where there is a contact."""
    assert crossref.sign(REQUEST, {}, "me@example.org").params == (("mailto", "me@example.org"),)
    assert crossref.sign(REQUEST, {}, "").params == ()


# --- errors and pace --------------------------------------------------------------

ERRORS = {
    "429 in HTML": (429, b"<html><h1>429 Too Many Requests</h1></html>", SourceBusy, "Too Many"),
    "a lost cursor": (
        404,
        b'{"status":"failed","message":[{"type":"cursor-invalid","value":"x","message":"m"}]}',
        SourceBusy,
        "cursor expired",
    ),
    "an unknown address": (404, b"Resource not found.", SourceRefused, "Resource not found"),
    "a wrong parameter": (
        400,
        b'{"status":"failed","message-type":"validation-failure","message":[{"message":"Bad rows"}]}',
        SourceRefused,
        "Bad rows",
    ),
    "a failure inside": (
        500,
        b'{"message":{"message":"Response Exception","stack":[]}}',
        SourceDown,
        "Response",
    ),
    "a gateway": (504, b"<html>504 Gateway Time-out</html>", SourceDown, "504"),
    "a block": (403, b"no", SourceRefused, "support@crossref.org"),
    "no service": (503, b"", SourceBusy, "503"),
}


@pytest.mark.parametrize(("status", "body", "kind", "told"), ERRORS.values(), ids=ERRORS)
def test_errors_are_judged_by_status_and_shape(status: int, body: bytes, kind: type, told: str) -> None:
    """HTML, text, a list of messages or one message: each is read, none breaks the judge."""
    error = crossref.judge(page(body, status))
    assert type(error) is kind
    assert told in str(error)
    assert "<" not in str(error)


@needs_samples
@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("error_400_validation_failure.json", SourceRefused),
        ("error_404_cursor_invalid.json", SourceBusy),
        ("error_404_resource_not_found.txt", SourceRefused),
        ("error_429_too_many_requests.html", SourceBusy),
        ("error_500_exception.json", SourceDown),
        ("error_504_gateway_timeout.html", SourceDown),
    ],
)
def test_recorded_errors_are_judged(name: str, kind: type) -> None:
    """The recorded bodies of the service's errors."""
    assert type(crossref.judge(page((SAMPLES / name).read_bytes(), int(name[6:9])))) is kind


@pytest.mark.parametrize(
    ("limit", "interval", "pause_s"),
    # As recorded in 2026-06 and 2026-07; then what can't be read.
    [("3", "1s", 1 / 3), ("10", "1s", 0.1), ("1", "1m", 60), ("0", "1s", 0), ("x", "1s", 0), ("5", "", 0)],
)
def test_the_pace_follows_the_headers(limit: str, interval: str, pause_s: float) -> None:
    """The limits changed twice in eight months, so the headers are obeyed."""
    headers = {"x-rate-limit-limit": limit, "x-rate-limit-interval": interval}
    assert crossref.pause(page(b"", headers=headers)) == pytest.approx(pause_s)
    assert crossref.pause(page(b"")) == 0


# --- paging -----------------------------------------------------------------------


def test_the_best_two_hundred_are_read_and_no_more() -> None:
    """A full page leads to the next until ranked_depth; then the sweep is done by design."""
    [onward] = crossref.follow(REQUEST, fixture("full"), TODAY)
    assert onward.params == (*REQUEST.params, ("offset", "100"))
    assert crossref.follow(onward, fixture("full"), TODAY) == []


@pytest.mark.parametrize("name", ["ordinary", "last", "empty"])
def test_a_short_page_is_the_last(name: str) -> None:
    """Fewer items than rows end the list (rest-api-doc, deep paging)."""
    assert crossref.follow(REQUEST, fixture(name), TODAY) == []


# --- records ----------------------------------------------------------------------


def test_an_article_becomes_a_record() -> None:
    """Markup goes, entities are resolved, people, places and numbers are told apart."""
    article = records("ordinary")["10.5555/lattice.2019.7"]
    assert article.title == "Self-flushing drip emitters with a shape-memory spring, CO2-free & cheap"
    assert article.abstract == "An emitter flushes itself. The spring warms."
    assert [(each.name, each.role) for each in article.people] == [
        ("Ilse Maren Tagholm", "author"),
        ("The Emitter Group", "author"),
        ("Rui Quendera", "editor"),
    ]
    assert (article.venue, article.volume, article.pages) == (
        "Journal of Invented Irrigation",
        "12",
        "101-118",
    )
    assert article.url == "https://lattice.example.org/7"
    assert article.retracted
    assert ("cited without a DOI", "1") in article.details


def test_every_stated_date_is_kept_with_its_field() -> None:
    """Equal statements stand each on their own; months stay months; bookkeeping is left out."""
    assert dates(records("ordinary")["10.5555/lattice.2019.7"]) == [
        ("published online", "2019-03-04", "published-online"),
        ("published in print", "2019-06", "published-print"),
        ("published", "2019-03-04", "published"),
        ("published", "2019-03-04", "issued"),
        ("accepted", "2019-01-30", "accepted"),
        ("registered", "2019-02-20", "created"),
    ]


def test_relations_and_updates_are_kept_or_told() -> None:
    """Those with a kind here become relations; reviews and supplements are told in words."""
    article = records("ordinary")["10.5555/lattice.2019.7"]
    assert [(each.kind, each.identifier.scheme, each.identifier.text) for each in article.relations] == [
        ("has preprint", "doi", "10.5555/preprint.88"),
        ("retracted by", "doi", "10.5555/lattice.note"),
        ("part of", "issn", "1234-5679"),
        ("cites", "doi", "10.5555/shelf.4"),
    ]
    assert ("relation has-review", "doi 10.5555/review.1") in article.details
    assert ("relation is-supplemented-by", "uri https://data.example.org/9") in article.details


def test_a_preprint_and_a_thesis_have_their_own_dates() -> None:
    """Posted is public; approved is not, and an unknown issue day is told, never guessed."""
    found = records("ordinary")
    preprint, thesis = found["10.5555/preprint.88"], found["10.5555/thesis.5"]
    assert (preprint.kind, preprint.version, preprint.venue) == ("preprint", "v2", "Invented Preprints")
    assert dates(preprint)[0] == ("posted", "2018-11-02", "posted")
    assert preprint.relations[0].kind == "preprint of"
    assert [kind for kind, _, _ in dates(thesis)] == ["approved", "registered"]
    assert ("date not known", "issued [[null]]") in thesis.details


def test_an_odd_page_loses_nothing() -> None:
    """What can't be read is set aside with its place and reason; the others are read."""
    parsed = crossref.parse(fixture("odd"))
    assert parsed.items == 9 == len(parsed.records) + len(parsed.quarantined)
    assert [(each.index, each.path) for each in parsed.quarantined] == [
        (2, "message.items[2].DOI"),
        (3, "message.items[3]"),
        (4, "message.items[4].title"),
    ]
    found = records("odd")
    assert (found["10.5555/issue.1"].kind, found["10.5555/issue.1"].title) == ("other", "")
    assert found["10.5555/notice.1"].relations[0].kind == "corrects"
    assert dates(found["10.5555/day.1"]) == [("registered", "2019-02-20", "created")]
    assert ("unreadable date", "issued [[2019, 2, 30]]") in found["10.5555/day.1"].details
    assert ("relation is-review-of", "doi 10.5555/lattice.2019.7") in found["10.5555/review.1"].details


def test_books_own_their_number_and_papers_are_part_of_theirs() -> None:
    """A chapter or paper shares the book's ISBN with all its neighbours: it is no name for it."""
    paper, book = records("odd")["10.5555/proc.1"], records("odd")["10.5555/book.1"]
    assert [each.scheme for each in paper.identifiers] == ["doi"]
    assert ("part of", "9780000000002") in [(each.kind, each.identifier.text) for each in paper.relations]
    assert [each.scheme for each in book.identifiers] == ["doi", "isbn"]
    assert (book.title, ("further title", "Drip lines") in book.details) == ("滴灌", True)


def test_spans_and_conference_days_are_intervals() -> None:
    """A span is its first to its last day."""
    found = records("odd")
    [book] = [each for each in found["10.5555/book.1"].dates if each.field == "issued"]
    assert book.days == Days(date(2001, 3, 1), date(2001, 5, 31))
    assert ("event held", "2015-04-11..2015-04-13", "event") in dates(found["10.5555/proc.1"])


@pytest.mark.parametrize(
    ("parts", "days"),
    [
        ([[1908]], Days.of_year(1908)),
        ([[2019, 3]], Days.of_month(2019, 3)),
        ([[2019, 3, 4]], Days.of_day(date(2019, 3, 4))),
        ([[2019, None]], Days.of_year(2019)),
        ([[2019, None, 4]], None),
        ([[None]], None),
        ([[]], None),
        ([], None),
        ([[2019, 13]], None),
        ([[2019], [2018]], None),
        ([[0]], None),
    ],
)
def test_partial_dates_stay_partial(parts: list[list[int | None]], days: Days | None) -> None:
    """Date-parts as the manual allows them; what gives no day gives no dated event."""
    body = {"message-type": "work", "message": {"DOI": "10.5555/x", "issued": {"date-parts": parts}}}
    [record] = crossref.parse(page(json.dumps(body).encode())).records
    assert [each.days for each in record.dates] == ([days] if days else [])
    assert bool(record.details) is (days is None)


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ((FIXTURES / "torn.json").read_bytes(), "not whole JSON"),
        (b"<html>maintenance", "web page"),
        (b"{}", "message-type"),
        (b'{"message-type": "member-list", "message": {}}', "member-list"),
        (b'{"message-type": "work-list", "message": []}', "at message"),
        (b'{"message-type": "work-list", "message": {"items": {}}}', "message.items"),
        (b'{"message-type": "work-list", "message": {}}', "message.items"),
        (b'{"a":' * 100_000, "too deep"),
    ],
)
def test_a_page_that_is_not_what_the_manual_says_is_refused(body: bytes, told: str) -> None:
    """Torn, foreign, absurd: SourceChanged, with what came or where."""
    with pytest.raises(SourceChanged, match=told):
        crossref.parse(page(body))


# --- recorded answers -------------------------------------------------------------


@needs_samples
def test_every_recorded_answer_is_read_whole() -> None:
    """75 recorded works, none set aside."""
    names = [path for path in SAMPLES.glob("*.json") if not path.stem.startswith(("error", "responses"))]
    parsed = [crossref.parse(page(path.read_bytes())) for path in names]
    assert sum(each.items for each in parsed) == sum(len(each.records) for each in parsed) == 75


@needs_samples
def test_recorded_facts_come_out() -> None:
    """The year 1908 alone, a Japanese and a Russian title, a thesis, a preprint, a correction."""
    old = sample("sample_5_works_japanese_title_1908")["10.15281/jplantres1887.22.259_307"]
    assert old.title.startswith("雜録")
    assert {text for kind, text, _ in dates(old) if kind != "registered"} == {"1908"}
    russian = sample("sample_20_works_cyrillic_title")["10.7868/s0040357115030100"]
    assert any("\u0400" <= letter <= "\u04ff" for letter in russian.title)
    [thesis] = sample("work_dissertation_issued_null").values()
    assert dates(thesis)[0] == ("approved", "2020-05-25", "approved")
    [preprint] = sample("work_posted_content_preprint").values()
    assert preprint.title.startswith(
        "Identification of a novel cationic glycolipid in Streptococcus agalactiae that"
    )
    assert preprint.abstract.startswith("Bacterial membrane lipids are critical")
    [corrected] = sample("work_with_correction_updated_by").values()
    assert [(each.kind, each.note.split(",")[0]) for each in corrected.relations if "by" in each.kind] == [
        ("corrected by", "correction")
    ]
    osf = crossref.parse(page((SAMPLES / "list_with_is_preprint_of_relation_2021.json").read_bytes()))
    assert osf.records[0].relations[0].identifier.text == "10.1038/s41559-019-0835-0"
    worm = sample("sample_5_works_markup_titles")["10.1080/19420889.2017.1395120"]
    assert worm.title == "The dire side of autophagy in aging: Lessons from C. elegans"
