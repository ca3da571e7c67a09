"""arXiv's search API (Atom): preprints of physics, mathematics, computing and neighbours.

Manual: info.arxiv.org/help/api/user-manual (https://info.arxiv.org/help/api/), its text of
2026-07-24. The feed gives the latest version's text and the day version 1 was submitted;
the day of announcement is computed (arxiv_announcement.py).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from connectors.arxiv_entry import ATOM, read_entry
from connectors.connector import Compiled, Page, Parsed, Quarantined, Request, Signed, Sought, Source
from connectors.errors import SourceBusy, SourceChanged, SourceError, SourceRefused
from connectors.record import Record
from connectors.xml import excerpt, find_text, parse_xml
from queries.expression import And, Code, Expression, Not, Or, Text
from queries.split import loosen
from queries.window import Window

SOURCE = Source(
    name="arxiv",
    title="arXiv",
    kinds=("preprint",),
    base_url="https://export.arxiv.org/api",
    page_size=100,
    depth=30_000,
    narrows=True,
    seconds_between=3.0,
    terms_of_use=(
        "Descriptions are CC0; papers keep their own licences. One request every three seconds from"
        " all of one's machines together. https://info.arxiv.org/help/api/tou.html"
    ),
    manual="https://info.arxiv.org/help/api/user-manual.html",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "submitted": "the day version 1 was handed in, by UTC; not yet public",
        "announced": "computed: the days on which version 1 can have become public",
        "updated": "the day the latest version was handed in; the text shown is that version's",
    },
    date_filter=True,
    added_filter=True,
)

FIRST_DAY = date(1991, 8, 14)  # the archive's first day
# The filters go by submission, which moderation keeps from view "1-4 days, sometimes longer";
# a recorded paper waited 19. Windows therefore begin this much earlier.
HOLD = timedelta(days=31)
LONGEST_ADDRESS = 1_800  # beyond it the query travels in the body (manual, 3.1)
_FOREVER = "299912312359"


def compile(expression: Expression, window: Window) -> Compiled:
    """Return one search in submission order; the window of its request is one of submission days."""
    expressible, dropped = loosen(expression, _searchable)
    lost = [f"arXiv can't search by {part}; it is checked here when the answers are in." for part in dropped]
    if expressible is None:
        return Compiled((), (*lost, "No words are left that arXiv can search by; it is not asked."))
    query = _query(expressible)
    searched = replace(
        window, public_from=_earlier(window.public_from), added_since=_earlier(window.added_since)
    )
    notes = lost
    if searched != window:
        notes.append(
            "arXiv filters by the day of submission, not of announcement: it is asked from"
            f" {HOLD.days} days before the window, and each record's own days decide."
        )
    return Compiled((_request(query, searched, 0),), tuple(notes))


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return lists of entries by arXiv number, a hundred a request, in the version named or the latest."""
    names = list(dict.fromkeys(each.text for each in numbers if each.scheme == "arxiv"))
    lists = [names[at : at + SOURCE.page_size] for at in range(0, len(names), SOURCE.page_size)]
    asked = [(("id_list", ",".join(each)), ("max_results", str(len(each)))) for each in lists]
    return Compiled(tuple(Request(SOURCE.name, "query", params, step="numbers") for params in asked))


def cited(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: arXiv states no citations."""
    return Compiled(())


def citing(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: arXiv states no citations."""
    return Compiled(())


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001 (protocol)
    """Return nothing: arXiv takes no key."""
    return Signed()


def judge(page: Page) -> SourceError | None:
    """Return SourceBusy for 429, a server fault and an empty page in mid-harvest, SourceRefused
    for an error feed or another status, else None (a torn body too: it is kept and parse says so)."""
    if page.status == 429 or page.status >= 500:
        return SourceBusy(SOURCE.name, f"answered {page.status}, it is overloaded or we ask too often")
    try:
        feed = parse_xml(SOURCE.name, page.body)
        entries, total = _entries(feed), _total(feed)
    except SourceChanged:
        return None if page.status == 200 else _refused(page, "")
    for entry in entries:
        if "api/errors" in find_text(entry, "a:id", ATOM):
            return _refused(page, find_text(entry, "a:summary", ATOM))
    if page.status != 200:
        return _refused(page, "")
    start = _start(page.request)
    if not entries and start < total and page.request.step == "search":
        # Seen by authors of clients: a page in the middle comes with the right total and no entry.
        return SourceBusy(SOURCE.name, f"sent an empty page at {start:,} of {total:,} results")
    return None


def pause(page: Page) -> float:  # noqa: ARG001 (protocol)
    """Return 0: no header of arXiv's asks for a wait."""
    return 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:
    """Return the next page, or both halves of the window where more match than can be read."""
    if request.step != "search":
        return []
    feed = parse_xml(SOURCE.name, page.body)
    total, start, depth = _total(feed), _start(request), SOURCE.depth or 0
    query = dict(request.state).get("query", "")
    if start == 0 and total > depth and (halves := request.window.halves(FIRST_DAY, today)):
        return [_request(query, half, 0) for half in halves]
    reached = start + len(_entries(feed))
    if reached == start or reached >= min(total, depth):
        return []
    return [_request(query, request.window, reached)]


def parse(page: Page) -> Parsed:
    """Return a record for each entry, and the entries without an arXiv identifier as quarantined."""
    feed = parse_xml(SOURCE.name, page.body)
    entries = _entries(feed)
    records: list[Record] = []
    quarantined: list[Quarantined] = []
    for index, entry in enumerate(entries):
        read = read_entry(SOURCE.name, entry)
        if isinstance(read, Record):
            records.append(read)
        else:
            quarantined.append(Quarantined(index, f"feed/entry[{index + 1}]", read, excerpt(entry)))
    return Parsed(len(entries), tuple(records), tuple(quarantined), _total(feed))


# --- asking ----------------------------------------------------------------------


def _request(query: str, window: Window, start: int) -> Request:
    """Return the search from that place on, in the address or, where long, in the body."""
    params = (
        ("search_query", query + _dates(window)),
        ("start", str(start)),
        ("max_results", str(min(SOURCE.page_size, (SOURCE.depth or 0) - start))),
        # By relevance the order changes from day to day, and pages would overlap.
        ("sortBy", "submittedDate"),
        ("sortOrder", "ascending"),
    )
    asked = Request(SOURCE.name, "query", window=window, state=(("query", query), ("start", str(start))))
    form = urlencode(params)
    if len(form) <= LONGEST_ADDRESS:
        return replace(asked, params=params)
    headers = (("Content-Type", "application/x-www-form-urlencoded"),)
    return replace(asked, method="POST", headers=headers, body=form)


def _dates(window: Window) -> str:
    """Return the window as filters. Minutes count at both ends, so the last is 23:59 of the day before."""
    text = ""
    if window.public_from or window.public_to:
        first = window.public_from or FIRST_DAY
        last = f"{window.public_to - timedelta(days=1):%Y%m%d}2359" if window.public_to else _FOREVER
        text += f" AND submittedDate:[{first:%Y%m%d}0000 TO {last}]"
    if window.added_since:
        # Not in the manual; it works like submittedDate. Were it gone, arXiv would answer an error.
        text += f" AND lastUpdatedDate:[{window.added_since:%Y%m%d}0000 TO {_FOREVER}]"
    return text


def _earlier(day: date | None) -> date | None:
    return max(day - HOLD, FIRST_DAY) if day and day > FIRST_DAY else day


def _query(expression: Expression) -> str:
    """Return an expression of words in arXiv's language."""
    match expression:
        case Text(text):
            phrase = _phrase(text)
            return f'(ti:"{phrase}" OR abs:"{phrase}")'
        case Or(parts):
            return "(" + " OR ".join(_each(parts)) + ")"
        case And(parts):
            wanted = _each(part for part in parts if not isinstance(part, Not))
            unwanted = _each(part.part for part in parts if isinstance(part, Not))
            # Chained in brackets: how AND and ANDNOT bind without them is not written down.
            text = " AND ".join(wanted)
            for part in unwanted:
                text = f"({text}) ANDNOT {part}"
            return f"({text})"
        case _:
            raise ValueError(f"arXiv can't search by {expression}: compile leaves such parts out")


def _each(parts: Iterable[Expression]) -> list[str]:
    """Return the parts in arXiv's language; forms that differ in a hyphen alone stand once."""
    return list(dict.fromkeys(map(_query, parts)))


def _phrase(text: str) -> str:
    """Return the words as arXiv indexes them: marks part words, and none of the query's own stay."""
    plain = unicodedata.normalize("NFKC", text)
    return " ".join(re.sub(r"[\W_]+", " ", plain).split())


def _searchable(leaf: Text | Code) -> bool:
    return isinstance(leaf, Text) and bool(_phrase(leaf.text))


# --- reading ---------------------------------------------------------------------


def _entries(feed: Any) -> list[Any]:
    """Return the feed's entries. Raises SourceChanged where the root is no Atom feed."""
    if feed.tag != f"{{{ATOM['a']}}}feed":
        raise SourceChanged(SOURCE.name, f"the answer is not an Atom feed but {str(feed.tag)[:80]}", path="/")
    found: list[Any] = feed.findall("a:entry", ATOM)
    return found


def _total(feed: Any) -> int:
    text = find_text(feed, "o:totalResults", ATOM)
    if not (text.isascii() and text.isdigit() and len(text) < 12):
        raise SourceChanged(SOURCE.name, "the feed states no total", path="feed/opensearch:totalResults")
    return int(text)


def _start(request: Request) -> int:
    return int(dict(request.state).get("start", "0"))


def _refused(page: Page, why: str) -> SourceRefused:
    said = f", saying: {why}" if why else ""
    return SourceRefused(SOURCE.name, f"refused the request with status {page.status}{said}")
