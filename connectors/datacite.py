"""DataCite: data, software, theses, reports and preprints with a DOI of its members.

Read 2026-11-25: the service's own code (github.com/datacite/lupo, 2026-08), its manual
(support.datacite.org) and recorded answers of 2020 to 2026.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from urllib.parse import parse_qs, urlencode, urlsplit

from connectors.connector import Compiled, Page, Parsed, Request, Signed, Sought, Source
from connectors.datacite_doi import read_doi
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceError, SourceRefused
from connectors.json_answer import Node, OddShape, read_items, read_json, said
from connectors.phrase import bare_phrase
from connectors.without_symbols import without_symbols
from queries.expression import And, Code, Expression, Not, Or, Text
from queries.split import CannotSplit, split
from queries.window import ALL_DAYS, Window

SOURCE = Source(
    name="datacite",
    title="DataCite",
    kinds=("article", "preprint", "conference paper", "chapter", "book", "thesis", "report", "standard",
           "dataset", "software", "picture", "other"),
    base_url="https://api.datacite.org",
    page_size=200,
    depth=None,
    # 500 requests in five minutes for the nameless, 1,000 for those who give an address.
    seconds_between=0.7,
    terms_of_use="Metadata are CC0. https://support.datacite.org/docs/datacite-data-file-use-policy",
    manual="https://support.datacite.org/docs/api",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "published": "the depositor's day, month or year of issue, or from when the content is available;"
        " 1 January is read as the whole year",
        "registered": "the DOI became resolvable: a page about the document existed by then, no more",
        "submitted": "handed in; not public",
        "accepted": "accepted for publication; not public",
        "updated": "the content was changed, says its depositor",
    },
    date_filter=True,
    added_filter=True,
    contact_wanted=True,
)  # fmt: skip

_LONGEST_ADDRESS = 4_000  # no limit is documented
_SIGNS_OF_ITS_OWN = (
    "DataCite looks for exclusions in every kind of description (methods, technical notes), and for phrases"
    " with one word in between: an exclusion shuts out those too."
)
_YEARS = "DataCite is asked by year of publication and by day of registration; each record's own days decide."


def compile(expression: Expression, window: Window) -> Compiled:
    """Return searches of titles and descriptions, read to the end by cursor.

    Symbols are left out and named; an expression too long for one address is split.
    """
    left, left_out = without_symbols(SOURCE.title, expression)
    if left is None:
        return Compiled((), left_out)
    notes = [*left_out]
    try:
        parts = split(left, lambda part: len(urlencode(_request(part, window).params)) <= _LONGEST_ADDRESS)
    except CannotSplit as error:
        return Compiled((), (*notes, f"DataCite: {error}"))
    if isinstance(left, And) and any(isinstance(part, Not) for part in left.parts):
        notes.append(_SIGNS_OF_ITS_OWN)
    if window.public_from or window.public_to:
        notes.append(_YEARS)
    return Compiled(tuple(_request(part, window) for part in parts.parts), tuple(notes), parts.notes)


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return searches by DOI, fifty a request; an arXiv number goes by the DOI that arXiv gives it."""
    dois = list(dict.fromkeys(filter(None, map(_doi, numbers))))
    asked = (_listed(dois[at : at + 50]) for at in range(0, len(dois), 50))
    return Compiled(tuple(asked))


def cited(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: what a depositor states to be cited is in its record."""
    return Compiled(())


def citing(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: it counts citations, and lists them in another service."""
    return Compiled(())


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001 (protocol)
    """Return nothing: no key is needed, and the contact goes into the User-Agent."""
    return Signed()


def judge(page: Page) -> SourceError | None:
    """Return what is wrong: 429 and the firewall's HTML 403 are busy, 5xx down, other errors refused."""
    if page.status == 200:
        return None
    what = f"answered {page.status}: {_complaint(page.body)}"
    if page.status in (429, 503) or (page.status == 403 and page.body.lstrip()[:1] == b"<"):
        return SourceBusy(SOURCE.name, what)
    return SourceDown(SOURCE.name, what) if page.status >= 500 else SourceRefused(SOURCE.name, what)


def pause(page: Page) -> float:  # noqa: ARG001 (protocol)
    """Return 0: no header asks for a wait."""
    return 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001 (protocol)
    """Return our own request with the cursor of the answer's link; nothing where there is no link.

    Of the link only the cursor is taken: the service leaves parameters out of it.
    """
    answer = read_json(SOURCE.name, page.body)
    try:
        onward, count = answer.at("links").at("next").raw(), len(answer.at("data").each())
        cursor = parse_qs(urlsplit(onward).query).get("page[cursor]", [""])[0]
    except (OddShape, ValueError) as odd:
        path = odd.path if isinstance(odd, OddShape) else "links.next"
        raise SourceChanged(SOURCE.name, "the way to the next page can't be read", path=path) from None
    if not onward or not count:
        return []
    if not cursor:
        raise SourceChanged(SOURCE.name, "the link to the next page holds no cursor", path="links.next")
    others = tuple(pair for pair in request.params if pair[0] != "page[cursor]")
    return [replace(request, params=(*others, ("page[cursor]", cursor)))]


def parse(page: Page) -> Parsed:
    """Return the DOIs of a list, or the one of a look-up."""
    answer = read_json(SOURCE.name, page.body)
    try:
        data = answer.at("data")
        if not isinstance(data.value, list | dict):
            data.odd("a list")
        items = [data] if isinstance(data.value, dict) else data.each()
        total = answer.at("meta").at("total").whole()
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_items(items, read_doi)
    return Parsed(len(items), records, quarantined, total)


def _complaint(body: bytes) -> str:
    """Return what the service says: `errors` is a list, or for a query it can't read one object."""
    try:
        errors = read_json(SOURCE.name, body).at("errors")
        each: list[Node] = [errors] if isinstance(errors.value, dict) else errors.each()
        titles = [error.at("title").text() for error in each]
    except (SourceChanged, OddShape):
        titles = []
    return "; ".join(filter(None, titles))[:200] or said(body)


def _request(part: Expression, window: Window) -> Request:
    query = _query(part)
    if filters := _filters(window):
        query = " AND ".join((f"({query})", *filters))
    return _asked(query, window, "search")


def _asked(query: str, window: Window, step: str) -> Request:
    params = (
        ("query", query),
        ("disable-facets", "true"),
        ("page[size]", str(SOURCE.page_size)),
        ("page[cursor]", "1"),
    )
    return Request(SOURCE.name, "dois", params, window=window, step=step)


def _doi(number: Sought) -> str:
    """Return the DOI to ask for, "" for a number that has none or holds a sign of the query language."""
    if number.scheme == "arxiv":
        return "10.48550/arxiv." + re.sub(r"v\d+$", "", number.text)
    return number.text if number.scheme == "doi" and not {'"', "\\"} & {*number.text} else ""


def _listed(dois: list[str]) -> Request:
    query = "doi:(" + " OR ".join(f'"{doi}"' for doi in dois) + ")"
    return _asked(query, ALL_DAYS, "numbers")


def _filters(window: Window) -> list[str]:
    """Return the window as ranges. The year of publication may be later than the first day in public,
    so that the day of registration counts beside it."""
    found = []
    if window.public_from:
        day = window.public_from
        found.append(f"(publicationYear:[{day.year} TO *] OR registered:[{day} TO *])")
    if window.public_to:
        day = window.public_to - timedelta(days=1)
        found.append(f"(publicationYear:[* TO {day.year}] OR registered:[* TO {day}])")
    if window.added_since:
        found.append(f"updated:[{window.added_since}T00:00:00Z TO *]")
    return found


def _query(expression: Expression) -> str:
    """Return the expression in OpenSearch's language: AND, OR, NOT, quotes for every term."""
    match expression:
        case Text(text):
            phrase = bare_phrase(text)
            return f'(titles.title:"{phrase}" OR descriptions.description:"{phrase}")'
        case And(parts):
            wanted = " AND ".join(dict.fromkeys(_grouped(p) for p in parts if not isinstance(p, Not)))
            barred = dict.fromkeys(f" AND NOT {_grouped(p.part)}" for p in parts if isinstance(p, Not))
            return wanted + "".join(barred)
        case Or(parts):
            if _texts_only(expression):
                return _any_of([bare_phrase(part.text) for part in parts if isinstance(part, Text)])
            return " OR ".join(dict.fromkeys(map(_grouped, parts)))
        case Not() | Code():
            raise ValueError(f"{expression} can't stand alone in a query for DataCite")


def _any_of(phrases: list[str]) -> str:
    """Return alternatives with each field named once: an address has its limit."""
    together = " OR ".join(f'"{phrase}"' for phrase in dict.fromkeys(phrases))
    return f"(titles.title:({together}) OR descriptions.description:({together}))"


def _texts_only(part: Expression) -> bool:
    return isinstance(part, Or) and all(isinstance(each, Text) for each in part.parts)


def _grouped(part: Expression) -> str:
    return _query(part) if isinstance(part, Text) or _texts_only(part) else f"({_query(part)})"
