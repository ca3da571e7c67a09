"""Semantic Scholar's Academic Graph: papers of all fields, gathered by a research institute.

Read 2026-11-25: api.semanticscholar.org/api-docs/graph (its text of 2025), the service's
release notes of 2025-01, recorded answers of 2023-12 to 2024-12. Only the bulk search knows
AND, OR, NOT and phrases. It takes words by their English stem and has no field for the day a
paper was added, so every night it is read to the end again: a page is a thousand papers.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from connectors.boolean_query import Signs, write_query
from connectors.connector import Compiled, Page, Parsed, Request, Signed, Sought, Source
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceError, SourceRefused
from connectors.json_answer import Node, OddShape, read_items, read_json, said
from connectors.phrase import bare_phrase
from connectors.record import Record
from connectors.semanticscholar_paper import read_paper
from connectors.without_symbols import without_symbols
from queries.expression import And, Expression, Not
from queries.split import CannotSplit, split
from queries.window import Window

SOURCE = Source(
    name="semanticscholar",
    title="Semantic Scholar",
    kinds=("article", "preprint", "conference paper", "chapter", "book", "dataset", "other"),
    base_url="https://api.semanticscholar.org/graph/v1",
    page_size=1_000,
    depth=None,
    # With a key: one a second over all addresses. Without: a share of what all keyless users have.
    seconds_between=1.0,
    terms_of_use=(
        "Its own licence (https://www.semanticscholar.org/product/api/license): name Semantic Scholar in"
        " what is published, pass on no bulk; commercial use is restricted."
    ),
    manual="https://api.semanticscholar.org/api-docs/graph",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "published": "a day of publication of the preprint or of the article, it does not say which; the"
        " first of a month or year may stand for the month or year alone"
    },
    optional_key_variables=("SEMANTICSCHOLAR_API_KEY",),
    how_to_get_a_key="A free key, one request a second: https://www.semanticscholar.org/product/api",
    date_filter=True,
    off_because=(
        "its licence restricts commercial use, and a search for a client may be one: read"
        " https://www.semanticscholar.org/product/api/license first"
    ),
)

_FIELDS = (
    "paperId,corpusId,externalIds,url,title,abstract,venue,publicationVenue,year,publicationDate,journal,"
    "publicationTypes,authors,openAccessPdf"
)
_BATCH, _MOST_OF_BATCH = "paper/batch", 500
_IN_PATH = re.compile(r"(?!.*\.\.)[\w./:()-]+", re.ASCII)  # a number that changes no address
_MOST_PAPERS = 3  # of one reference: preprint, article, a copy
_MOST_LINKS = 9_000  # offset and limit together may not pass 9,999
_LONGEST_QUERY = 2_000  # characters; no limit is documented
_STEMMED = "Semantic Scholar takes words by their stem: an exclusion shuts out every word of the same stem."
# The total is an estimate. A page lost is a thousand papers; less than this is its vagueness.
_VAGUE_SHARE, _VAGUE_COUNT = 0.1, 100


def compile(expression: Expression, window: Window) -> Compiled:
    """Return bulk searches of title and abstract, read to the end by token.

    Symbols are left out and named; an expression too long for one query is split.
    """
    left, left_out = without_symbols(SOURCE.title, expression)
    if left is None:
        return Compiled((), left_out)
    notes = [*left_out]
    try:
        parts = split(left, lambda part: len(_query(part)) <= _LONGEST_QUERY)
    except CannotSplit as error:
        return Compiled((), (*notes, f"Semantic Scholar: {error}"))
    if isinstance(left, And) and any(isinstance(part, Not) for part in left.parts):
        notes.append(_STEMMED)
    if window.public_from and window.public_from != _first_day(window.public_from):
        since = _first_day(window.public_from)
        notes.append(
            f"Semantic Scholar takes a year alone for its 1 January, so it is asked from {since} on."
        )
    return Compiled(tuple(_request(part, window) for part in parts.parts), tuple(notes), parts.notes)


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return look-ups of papers by DOI, arXiv or PubMed number, five hundred a request."""
    names = _names(numbers)
    asked = (names[at : at + _MOST_OF_BATCH] for at in range(0, len(names), _MOST_OF_BATCH))
    return Compiled(tuple(_batch(some) for some in asked))


def cited(numbers: Sequence[Sought]) -> Compiled:
    """Return lists of what these papers cite, by DOI, arXiv or PubMed number, three papers at most."""
    return Compiled(tuple(_linked(name, "references") for name in _names(numbers)[:_MOST_PAPERS]))


def citing(numbers: Sequence[Sought]) -> Compiled:
    """Return lists of what cites these papers, three papers at most."""
    return Compiled(tuple(_linked(name, "citations") for name in _names(numbers)[:_MOST_PAPERS]))


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001 (protocol)
    """Return the key as a header where one is set."""
    key = keys.get("SEMANTICSCHOLAR_API_KEY", "").strip()
    return Signed(headers=(("x-api-key", key),) if key else ())


def judge(page: Page) -> SourceError | None:
    """Return what is wrong: 429 is busy (no Retry-After is sent), 5xx down, other errors refused."""
    if page.status == 200 or (page.status == 404 and _is_list(page.request)):
        return None  # a paper it does not know has no list
    what = f"answered {page.status}: {_complaint(page.body)}"
    if page.status in (401, 403):
        return SourceRefused(
            SOURCE.name, f"{what}. Check SEMANTICSCHOLAR_API_KEY, or unset it to ask without"
        )
    if page.status in (429, 503):
        return SourceBusy(SOURCE.name, what)
    return SourceDown(SOURCE.name, what) if page.status >= 500 else SourceRefused(SOURCE.name, what)


def pause(page: Page) -> float:  # noqa: ARG001 (protocol)
    """Return 0: no header asks for a wait."""
    return 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001 (protocol)
    """Return the same query with the answer's token; nothing where there is none or no paper came."""
    if page.status != 200 or request.path == _BATCH:
        return []
    answer = read_json(SOURCE.name, page.body)
    try:
        if _is_list(request):
            return _next_links(request, answer.at("next").whole())
        token, count = answer.at("token").raw(), len(answer.at("data").each())
        estimate = max(answer.at("total").whole() or 0, _before(request, "estimate"))
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    if not token or not count:
        return []
    others = tuple(pair for pair in request.params if pair[0] != "token")
    state = (("read", str(_before(request, "read") + count)), ("estimate", str(estimate)))
    return [replace(request, params=(*others, ("token", token)), state=state)]


def parse(page: Page) -> Parsed:
    """Return the papers of a page, of a list of citations, or of those looked up by number.

    The total is an estimate and not stated on; the last page is partial where far less came.
    """
    if page.status != 200:
        return Parsed(0, ())
    if page.request.path == _BATCH:
        return _looked_up(page.body)
    answer = read_json(SOURCE.name, page.body)
    if _is_list(page.request):
        return _links(answer)
    try:
        if "data" not in answer.object() and "total" not in answer.object():
            answer.at("data").odd("a list")
        papers, total = answer.at("data").each(), answer.at("total").whole() or 0
        last = not answer.at("token").raw() or not papers
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_items(papers, read_paper)
    read = _before(page.request, "read") + len(papers)
    estimate = max(total, _before(page.request, "estimate"))
    short = last and _far_below(read, estimate)
    partial = f"it estimated {estimate:,} papers, sent {read:,} and no way on" if short else ""
    return Parsed(len(papers), records, quarantined, partial=partial)


def _looked_up(body: bytes) -> Parsed:
    """Return the papers of a bare list in the order asked; null, for a number not known, is no item."""
    answer = read_json(SOURCE.name, b'{"papers": ' + body + b"}")
    try:
        papers = [each for each in answer.at("papers").each() if each.value is not None]
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_items(papers, read_paper)
    return Parsed(len(papers), records, quarantined)


def _links(answer: Node) -> Parsed:
    """Return the papers of a list of citations or references; a row without a number is set aside."""
    try:
        if not isinstance(answer.at("data").value, list):
            answer.at("data").odd("a list")
        rows = answer.at("data").each()
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_items(rows, _linked_paper)
    return Parsed(len(rows), records, quarantined)


def _linked_paper(row: Node) -> Record:
    name = "citingPaper" if "citingPaper" in row.object() else "citedPaper"
    return read_paper(row.at(name))


def _next_links(request: Request, offset: int | None) -> list[Request]:
    if offset is None or offset >= _MOST_LINKS:
        return []
    others = tuple(pair for pair in request.params if pair[0] != "offset")
    return [replace(request, params=(*others, ("offset", str(offset))))]


def _names(numbers: Sequence[Sought]) -> list[str]:
    """Return the papers as the service's addresses name them."""
    prefixes = {"doi": "DOI:", "arxiv": "ARXIV:", "pmid": "PMID:"}
    plain = [each for each in numbers if each.scheme in prefixes and _IN_PATH.fullmatch(each.text)]
    names = [prefixes[each.scheme] + re.sub(r"(?<=\d)v\d+$", "", each.text) for each in plain]
    return list(dict.fromkeys(names))


def _batch(names: list[str]) -> Request:
    headers = (("Content-Type", "application/json"),)
    body = json.dumps({"ids": names})
    return Request(SOURCE.name, _BATCH, (("fields", _FIELDS),), "POST", headers, body, step="numbers")


def _linked(name: str, which: str) -> Request:
    params = (("fields", _FIELDS), ("limit", str(SOURCE.page_size)), ("offset", "0"))
    return Request(SOURCE.name, f"paper/{name}/{which}", params)


def _is_list(request: Request) -> bool:
    return request.path.endswith(("/citations", "/references"))


def _before(request: Request, what: str) -> int:
    """Return how many papers were read, or the greatest estimate, on the pages before."""
    return int(dict(request.state).get(what, "0"))


def _far_below(read: int, estimate: int) -> bool:
    missing = estimate - read
    return missing > 0 and (read == 0 or missing > max(_VAGUE_COUNT, estimate * _VAGUE_SHARE))


def _complaint(body: bytes) -> str:
    """Return what the service says: its errors name it `error` or `message`, gateways send HTML."""
    try:
        answer = read_json(SOURCE.name, body)
        return (answer.at("error").text() or answer.at("message").text())[:200] or said(body)
    except (SourceChanged, OddShape):
        return said(body)


def _request(part: Expression, window: Window) -> Request:
    params = [("query", _query(part)), ("fields", _FIELDS)]
    if window.public_from or window.public_to:
        first = _first_day(window.public_from).isoformat() if window.public_from else ""
        last = (window.public_to - timedelta(days=1)).isoformat() if window.public_to else ""
        params.append(("publicationDateOrYear", f"{first}:{last}"))
    return Request(SOURCE.name, "paper/search/bulk", tuple(params), window=window)


def _first_day(day: date) -> date:
    """Return 1 January of its year: papers dated by the year alone are filtered as that day."""
    return day.replace(month=1, day=1)


def _query(expression: Expression) -> str:
    """Return the expression in the service's signs: + and, | or, - not, quotes for a phrase."""
    return write_query(expression, _term, Signs(" + ", " | ", " -"))


def _term(text: str) -> str:
    phrase = bare_phrase(text)
    return phrase if phrase.isascii() and phrase.isalnum() else f'"{phrase}"'
