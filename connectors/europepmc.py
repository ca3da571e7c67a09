"""Europe PMC: papers, preprints, books and theses of the life sciences, PubMed among them.

Read 2026-11-25: europepmc.org/RestfulWebService (a stored copy), its list of search fields of
2026, recorded answers of 2025-06 (version 6.9). Searched in title and abstract alone: words
without a field are looked for in full texts too, and the answers would run to millions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from urllib.parse import urlencode

from connectors.boolean_query import Signs, write_query
from connectors.connector import Compiled, Page, Parsed, Request, Signed, Sought, Source
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceError, SourceRefused
from connectors.europepmc_result import read_result
from connectors.json_answer import OddShape, read_items, read_json, said
from connectors.phrase import bare_phrase
from connectors.without_symbols import without_symbols
from queries.expression import Expression
from queries.split import CannotSplit, split
from queries.window import ALL_DAYS, Window

SOURCE = Source(
    name="europepmc",
    title="Europe PMC",
    kinds=("article", "preprint", "conference paper", "chapter", "book", "thesis", "report", "dataset",
           "other"),
    base_url="https://www.ebi.ac.uk/europepmc/webservices/rest",
    # A record is about 10 kB.
    page_size=100,
    depth=None,
    # No limit is published; a client's notes name 10 a second or 500 in a minute.
    seconds_between=0.5,
    terms_of_use=(
        "Metadata free to use; abstracts and full texts keep their own rights; no crawling."
        " https://europepmc.org/Copyright"
    ),
    manual="https://europepmc.org/RestfulWebService",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "published online": "the publisher's day of electronic publication",
        "published in print": "the day, month or year of the printed issue, as exact as it is written",
        "published": "the earlier of the two, as the publisher gave it, where neither is stated",
        "posted": "the day a preprint was put on its server; of which version is not said",
        "listed": "the first day in Europe PMC's public index: title, and abstract where given, could be"
        " read there from then on",
        "updated": "the record was revised; not the document",
    },
    date_filter=True,
    added_filter=True,
    contact_wanted=True,
)  # fmt: skip

_LONGEST_ADDRESS = 1_800  # beyond it the query travels in the body
_MOST_NUMBERS = 40  # of one search, and fewer than a page holds
_LONGEST_QUERY = 8_000  # characters; no limit is documented
_LAST_DAY = "3000-12-31"
# Records new, changed and first indexed since: three fields, as which of them a late record
# moves is not written down, and one the service does not know finds nothing instead of failing.
_ADDED = ("CREATION_DATE", "UPDATE_DATE", "FIRST_IDATE")
_FIRST = "*"


def compile(expression: Expression, window: Window) -> Compiled:
    """Return searches of title and abstract, read to the end by cursor.

    Symbols are left out and named; an expression too long for one query is split.
    """
    left, notes = without_symbols(SOURCE.title, expression)
    if left is None:
        return Compiled((), notes)
    try:
        parts = split(left, lambda part: len(_query(part)) <= _LONGEST_QUERY)
    except CannotSplit as error:
        return Compiled((), (*notes, f"Europe PMC: {error}"))
    return Compiled(tuple(_request(part, window) for part in parts.parts), notes, parts.notes)


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return searches by DOI, PubMed and PubMed Central number, forty a request."""
    clauses = list(dict.fromkeys(filter(None, map(_by_number, numbers))))
    queries = (" OR ".join(clauses[at : at + _MOST_NUMBERS]) for at in range(0, len(clauses), _MOST_NUMBERS))
    return Compiled(tuple(_asked(query, _FIRST, ALL_DAYS, "numbers") for query in queries))


def cited(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: its lists of references come one result at a time, and are not asked for."""
    return Compiled(())


def citing(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: its lists of citations come one result at a time, and are not asked for."""
    return Compiled(())


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001 (protocol)
    """Return nothing: no key is needed, and the contact goes into the User-Agent."""
    return Signed()


def judge(page: Page) -> SourceError | None:
    """Return what is wrong, also where an error comes with status 200 and a code in its body."""
    status, what = page.status, f"answered {page.status}: {said(page.body)}"
    if status == 200:
        code, told = _error_in_body(page.body)
        if not told:
            return None
        status, what = code, f"answered with error {code}: {told}"
    if status in (429, 503):
        return SourceBusy(SOURCE.name, what)
    return SourceDown(SOURCE.name, what) if status >= 500 else SourceRefused(SOURCE.name, what)


def pause(page: Page) -> float:  # noqa: ARG001 (protocol)
    """Return 0: no header asks for a wait."""
    return 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001 (protocol)
    """Return the next page by its mark; nothing after an empty page or where the mark stands still."""
    answer = read_json(SOURCE.name, page.body)
    try:
        mark, count = answer.at("nextCursorMark").raw(), len(answer.at("resultList").at("result").each())
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    state = dict(request.state)
    if request.step == "numbers" and count < SOURCE.page_size:
        return []  # of a few numbers seldom more than a page comes
    if not count or not mark or mark == state["mark"]:
        return []
    return [_asked(state["query"], mark, request.window, request.step)]


def parse(page: Page) -> Parsed:
    """Return the results of a page."""
    answer = read_json(SOURCE.name, page.body)
    try:
        results = answer.at("resultList").at("result")
        if not isinstance(results.value, list):
            results.odd("a list")
        total = answer.at("hitCount").whole()
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_items(results.each(), read_result)
    return Parsed(len(results.each()), records, quarantined, total)


def _error_in_body(body: bytes) -> tuple[int, str]:
    """Return the code and text of an error sent with status 200; "" where it is no such error."""
    try:
        answer = read_json(SOURCE.name, body)
        code = answer.at("errCode").whole()
        return (code, answer.at("errMsg").text() or "no reason given") if code else (0, "")
    except (SourceChanged, OddShape):
        return 0, ""


def _request(part: Expression, window: Window) -> Request:
    query = _query(part)
    if filters := _filters(window):
        query = " AND ".join((f"({query})", *filters))
    return _asked(query, _FIRST, window)


def _by_number(number: Sought) -> str:
    """Return the clause that asks for the number, "" for one it can't be asked for."""
    if '"' in number.text or "\\" in number.text:
        return ""
    if number.scheme == "pmid":
        return f'(EXT_ID:"{number.text}" AND SRC:MED)'
    field = {"doi": "DOI", "pmcid": "PMCID"}.get(number.scheme)
    return f'{field}:"{number.text}"' if field else ""


def _asked(query: str, mark: str, window: Window, step: str = "search") -> Request:
    """Return the page at that mark, asked for in the address or, where long, in the body."""
    params = (
        ("query", query),
        ("resultType", "core"),
        ("format", "json"),
        ("synonym", "false"),
        ("pageSize", str(SOURCE.page_size)),
        ("cursorMark", mark),
    )
    state = (("query", query), ("mark", mark))
    asked = Request(SOURCE.name, "search", window=window, step=step, state=state)
    form = urlencode(params)
    if len(form) <= _LONGEST_ADDRESS:
        return replace(asked, params=params)
    headers = (("Content-Type", "application/x-www-form-urlencoded"),)
    return replace(asked, path="searchPOST", method="POST", headers=headers, body=form)


def _filters(window: Window) -> list[str]:
    """Return the window as ranges, both ends counted."""
    found = []
    if window.public_from or window.public_to:
        first = window.public_from or date(1000, 1, 1)
        last = window.public_to - timedelta(days=1) if window.public_to else _LAST_DAY
        found.append(f"FIRST_PDATE:[{first} TO {last}]")
    if window.added_since:
        since = f"[{window.added_since} TO {_LAST_DAY}]"
        found.append("(" + " OR ".join(f"{field}:{since}" for field in _ADDED) + ")")
    return found


def _query(expression: Expression) -> str:
    """Return the expression in the service's language: AND, OR, NOT, quotes for every term."""
    return write_query(expression, lambda text: f'TITLE_ABS:"{bare_phrase(text)}"', Signs())
