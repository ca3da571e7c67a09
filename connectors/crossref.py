"""Crossref: works with a DOI of its members, by their publishers' own statements.

Read 2026-11-25: github.com/CrossRef/rest-api-doc (2024-09), recorded answers of 2026-06
and 2026-07. The service ranks by words and knows no AND, OR, NOT or phrase.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from connectors.connector import Compiled, Page, Parsed, Request, Signed, Sought, Source
from connectors.crossref_work import read_work
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceError, SourceRefused
from connectors.json_answer import Node, OddShape, read_items, read_json, said
from connectors.without_symbols import without_symbols
from queries.combinations import combinations, wanted_parts
from queries.expression import Code, Expression, Text
from queries.window import Window
from queries.words import words

SOURCE = Source(
    name="crossref",
    title="Crossref",
    kinds=("article", "preprint", "conference paper", "chapter", "book", "thesis", "report", "standard",
           "dataset", "other"),
    base_url="https://api.crossref.org",
    page_size=100,
    depth=10_000,
    # Lists: 3 a second in the polite pool (recorded), 1 in the public one (from memory).
    seconds_between=1.0,
    terms_of_use="Metadata free to use; an abstract may be its publisher's. Give a contact address.",
    manual="https://api.crossref.org/swagger-ui/index.html",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "published": "the publisher's earliest day of publication, often a month or year alone",
        "published online": "the publisher put it on the web",
        "published in print": "the issue or book came out in print; often a month or year alone",
        "posted": "a preprint or other post was put on the web",
        "accepted": "accepted for publication; not public",
        "approved": "a thesis was accepted; not by itself public",
        "registered": "the DOI was first registered: public by then is likely, not proved",
        "event held": "the days of the conference",
        "updated": "the content was changed, says its publisher",
    },
    ranked_depth=200,
    date_filter=True,
    added_filter=True,
    contact_wanted=True,
)  # fmt: skip

MOST_REQUESTS = 40  # searches for one sweep, each read to the best 200
_MOST_DOIS = 40  # of one list: DOIs are long, and an address has an end
_CHECKED_HERE = (
    "Crossref ranks by words and knows no AND, OR, NOT or phrase: each request asks for one form of each"
    f" concept, its best {SOURCE.ranked_depth} are read, and the expression is checked here on title and"
    " abstract.",
)
_INTERVAL = re.compile(r"(\d{1,6})(ms|s|m)?")
_UNIT_S = {"ms": 0.001, "s": 1.0, "m": 60.0, None: 1.0}


def compile(expression: Expression, window: Window) -> Compiled:
    """Return one search for each combination of one form of each concept.

    Forms of the same words (hyphen or not) are one. Beyond MOST_REQUESTS combinations the
    last forms of the longest concepts are not sent, and named; new words go before
    endings of words already there.
    """
    left, left_out = without_symbols(SOURCE.title, expression, _searchable)
    if left is None:
        return Compiled((), left_out)
    combined = combinations(wanted_parts(left), MOST_REQUESTS)
    remarks = [*left_out, *filter(None, (*_CHECKED_HERE, combined.unsent))]
    if window.public_from and window.public_from != _first_day(window.public_from):
        since = _first_day(window.public_from)
        remarks.append(f"Crossref takes a year alone for its 1 January, so it is asked from {since} on.")
    texts = (" ".join(chosen) for chosen in combined.chosen)
    return Compiled(tuple(_request(text, window) for text in texts), tuple(remarks))


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return lists of works by DOI, forty a request."""
    dois = dict.fromkeys(each.text for each in numbers if each.scheme == "doi" and "," not in each.text)
    plain = list(dois)
    return Compiled(tuple(_listed(plain[at : at + _MOST_DOIS]) for at in range(0, len(plain), _MOST_DOIS)))


def cited(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: a work's record lists what it cites."""
    return Compiled(())


def citing(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: Crossref tells how many works cite one, not which."""
    return Compiled(())


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001
    """Return the contact address as the parameter that opens the polite pool."""
    return Signed(params=(("mailto", contact),) if contact else ())


def judge(page: Page) -> SourceError | None:
    """Return what is wrong: 429 and a lost cursor are busy, 5xx down, other errors refused."""
    if page.status == 200:
        return None
    what = f"answered {page.status}: {_complaint(page)}"
    if page.status == 404 and "cursor-invalid" in _error_types(page):
        return SourceBusy(SOURCE.name, "the cursor expired; begin the search anew")
    if page.status in (429, 503):
        return SourceBusy(SOURCE.name, what)
    if page.status == 403:
        return SourceRefused(
            SOURCE.name, f"{what}. It may have blocked this address: write to support@crossref.org"
        )
    return SourceDown(SOURCE.name, what) if page.status >= 500 else SourceRefused(SOURCE.name, what)


def pause(page: Page) -> float:
    """Return the seconds that the pool's rate leaves between two requests, 0 where not stated."""
    limit = page.headers.get("x-rate-limit-limit", "").strip()
    interval = _INTERVAL.fullmatch(page.headers.get("x-rate-limit-interval", "").strip())
    if interval is None or not re.fullmatch(r"[1-9]\d{0,5}", limit):
        return 0.0
    return int(interval[1]) * _UNIT_S[interval[2]] / int(limit)


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001
    """Return the next page until the best ranked_depth are read or a page is short.

    By offset, not by cursor: a cursor is lost after 5 minutes, and with it a run that
    is taken up again; offset reaches 10,000 and 200 is all that is read.
    """
    try:
        message = read_json(SOURCE.name, page.body).at("message")
        count, total = len(message.at("items").each()), message.at("total-results").whole()
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    reached = int(dict(request.params).get("offset", "0")) + SOURCE.page_size
    if count < SOURCE.page_size or reached >= (SOURCE.ranked_depth or 0) or (total or 0) <= reached:
        return []
    others = tuple(pair for pair in request.params if pair[0] != "offset")
    return [replace(request, params=(*others, ("offset", str(reached))))]


def parse(page: Page) -> Parsed:
    """Return the works of a list, or the one work of a look-up."""
    answer = read_json(SOURCE.name, page.body)
    try:
        kind, message = answer.at("message-type").raw(), answer.at("message")
        if kind not in ("work-list", "work"):
            raise OddShape("message-type", f"is {kind[:60]!r}, not 'work-list'")
        if not isinstance(message.value, dict):
            message.odd("an object")
        if kind == "work-list" and not isinstance(message.at("items").value, list):
            message.at("items").odd("a list")
        works = message.at("items").each() if kind == "work-list" else [message]
        total = message.at("total-results").whole()
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_items(works, read_work)
    return Parsed(len(works), records, quarantined, total)


def _complaint(page: Page) -> str:
    """Return what the service says of the error: a list of messages, or the body's beginning."""
    try:
        messages = [each.at("message").text() for each in _errors(page)]
    except (SourceChanged, OddShape):
        messages = []
    return "; ".join(filter(None, messages))[:200] or said(page.body)


def _error_types(page: Page) -> list[str]:
    try:
        return [each.at("type").text() for each in _errors(page)]
    except (SourceChanged, OddShape):
        return []


def _errors(page: Page) -> list[Node]:
    """Return the errors of the body: `message` is a list of them, or one (a failure inside)."""
    message = read_json(SOURCE.name, page.body).at("message")
    return [message] if isinstance(message.value, dict) else message.each()


def _listed(dois: list[str]) -> Request:
    """Return the request for these works: a filter named twice means either."""
    params = (("filter", ",".join(f"doi:{doi}" for doi in dois)), ("rows", str(SOURCE.page_size)))
    return Request(SOURCE.name, "works", params, step="numbers")


def _request(text: str, window: Window) -> Request:
    filters = []
    if window.public_from:
        filters.append(f"from-pub-date:{_first_day(window.public_from)}")
    if window.public_to:
        filters.append(f"until-pub-date:{window.public_to - timedelta(days=1)}")
    if window.added_since:
        filters.append(f"from-index-date:{window.added_since}")
    params = [("query.bibliographic", text), ("rows", str(SOURCE.page_size))]
    if filters:
        params.append(("filter", ",".join(filters)))
    return Request(SOURCE.name, "works", tuple(params), window=window)


def _searchable(leaf: Text | Code) -> bool:
    return isinstance(leaf, Text) and bool(words(leaf.text))


def _first_day(day: date) -> date:
    """Return 1 January of its year: a work dated by the year alone is filtered as that day."""
    return day.replace(month=1, day=1)
