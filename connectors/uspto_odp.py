"""USPTO Open Data Portal: the file wrappers of US applications filed since 2001.

Read 2026-11-25: the Office's OpenAPI files of the portal (1.0.0), its "Simplified Query
Syntax" of January 2025, recorded answers of 2024 to 2026. Titles, classes and numbers can be
searched, abstracts, claims and descriptions cannot. A file tells of two documents, the
application as published and the patent, so each becomes a record of its own.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

from connectors.connector import Compiled, Page, Parsed, Request, Signed, Sought, Source
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceError, SourceRefused
from connectors.json_answer import Node, OddShape, read_groups, read_json, said
from connectors.uspto_odp_file import read_file_wrapper
from queries.expression import And, Code, Expression, Not, Or, Text, leaves
from queries.split import loosen
from queries.window import ALL_DAYS, Window
from queries.words import words

SOURCE = Source(
    name="uspto_odp",
    title="USPTO Open Data Portal",
    kinds=("patent", "patent application", "design"),
    base_url="https://api.uspto.gov/api/v1",
    page_size=50,
    # No highest offset is published; 10,000 is what the search engine behind it is set to (from memory).
    depth=10_000,
    narrows=True,
    seconds_between=1.0,
    terms_of_use="Data of the US government, not under copyright in the US. One request at a time for a key.",
    manual="https://data.uspto.gov/apis/getting-started",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "publication of application": "the Office's day of publication of the application (INID 43); of the"
        " international application where that is what the file names",
        "publication of grant": "the Office's day of issue of the patent (INID 45)",
        "filed": "the day of filing; not public",
        "priority": "the day of an earlier filing of the same chain, or abroad; not public",
    },
    key_variables=("USPTO_ODP_KEY",),
    how_to_get_a_key=(
        "Make an account at https://data.uspto.gov (it asks for proof of identity), copy the key shown under"
        " 'My API Key' into USPTO_ODP_KEY, and use it at least every 90 days: an unused one is deleted."
    ),
    date_filter=True,
)

FIRST_DAY = date(1997, 1, 1)  # no filing of these files was public before
_META = "applicationMetaData"
_TITLE, _CPC = f"{_META}.inventionTitle", f"{_META}.cpcClassificationBag"
_PUBLIC_DAYS = ("earliestPublicationDate", "grantDate", "pctPublicationDate")
# Not asked for: events, assignments, attorneys and their addresses.
_FIELDS = (
    "applicationNumberText", _META, "parentContinuityBag", "childContinuityBag", "foreignPriorityBag",
    "patentTermAdjustmentData", "pgpubDocumentMetaData", "grantDocumentMetaData", "lastIngestionDateTime",
)  # fmt: skip
_TITLES_ONLY = (
    "The portal searches titles, not abstracts or claims: what has the words there alone is not found."
)
_MOST_NUMBERS = 40  # in one search
_NOTHING = "no matching records"
_JSON = (("Content-Type", "application/json"), ("Accept", "application/json"))


def compile(expression: Expression, window: Window) -> Compiled:
    """Return one search of titles and CPC subclasses.

    A symbol is asked for by its subclass, which finds more than it: how the portal's
    padded symbols are cut into words is not documented. IPC is not held there.
    """
    left, dropped = loosen(expression, _searchable)
    notes = [f"The portal can't search for {part}: it is left out of what is sent." for part in dropped]
    if left is None:
        return Compiled((), tuple(notes))
    texts = [leaf for leaf in leaves(left) if isinstance(leaf, Text)]
    if not texts or (dropped and any(isinstance(leaf, Code) for leaf in leaves(expression))):
        notes.append("What is left would ask for a whole subclass or for one concept alone: not sent.")
        return Compiled((), tuple(notes))
    notes.append(_TITLES_ONLY)
    wide = sorted({leaf.symbol for leaf in leaves(left) if isinstance(leaf, Code) and len(leaf.symbol) > 4})
    if wide:
        notes.append(f"Asked for by subclass, which is wider: {', '.join(wide)}.")
    if window.public_from or window.public_to:
        notes.append("A file neither published nor granted is in no window of days.")
    query = _query(left)
    return Compiled((_search(query, window, 0, SOURCE.page_size),), tuple(notes))


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return searches for the files of these US patents, published applications or applications, forty
    a request: the address takes an application number only."""
    clauses = list(dict.fromkeys(filter(None, map(_by_number, numbers))))
    lists = [clauses[at : at + _MOST_NUMBERS] for at in range(0, len(clauses), _MOST_NUMBERS)]
    return Compiled(
        tuple(_search(" OR ".join(each), ALL_DAYS, 0, SOURCE.page_size, "numbers") for each in lists)
    )


def cited(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: a file's citations are not among what is asked for."""
    return Compiled(())


def citing(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: a file's citations are not among what is asked for."""
    return Compiled(())


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001
    """Return the key as a header; it never stands in an address."""
    key = keys.get("USPTO_ODP_KEY", "").strip()
    return Signed(headers=(("X-API-KEY", key),) if key else ())


def judge(page: Page) -> SourceError | None:
    """Return None for records, for 'no matching records' and for a page that was too large.

    The portal answers 404 where nothing matches; any other 404 is an error, and so is
    'no matching records' where earlier pages said that more follow.
    """
    if page.status == 200:
        return None
    what = f"answered {page.status}: {_complaint(page)}"
    if page.status == 404 and _NOTHING in what.lower():
        later = _state(page.request)[0] > 0
        return SourceBusy(SOURCE.name, "said 'no records' in the middle of them") if later else None
    if page.status == 413 and _state(page.request)[1] > 1:
        return None
    if page.status in (401, 403):
        return SourceRefused(SOURCE.name, f"{what}. Check USPTO_ODP_KEY. {SOURCE.how_to_get_a_key}")
    if page.status in (429, 503):
        # Public notes say to rest at least 5 s after a 429; a Retry-After header goes before.
        wait_s = None if "retry-after" in page.headers else 5.0
        return SourceBusy(SOURCE.name, what, wait_s)
    return SourceDown(SOURCE.name, what) if page.status >= 500 else SourceRefused(SOURCE.name, what)


def pause(page: Page) -> float:  # noqa: ARG001
    """Return 0: no header tells a rate."""
    return 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:
    """Return the next page; half a page where it was too large; both halves of too wide a window."""
    offset, limit = _state(request)
    query = dict(request.state).get("query", "")
    if page.status == 413:
        return [_search(query, request.window, offset, max(1, limit // 2), request.step)]
    if page.status != 200:
        return []
    try:
        answer = read_json(SOURCE.name, page.body)
        found, total = len(_files(answer)), answer.at("count").whole() or 0
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    depth = SOURCE.depth or 0
    if offset == 0 and total > depth and (halves := request.window.halves(FIRST_DAY, today)):
        return [_search(query, half, 0, limit, request.step) for half in halves]
    reached = offset + found
    if not found or reached >= min(total, depth):
        return []
    return [_search(query, request.window, reached, min(limit, depth - reached), request.step)]


def parse(page: Page) -> Parsed:
    """Return the records of the files on the page: one for each publication of a file.

    items counts records and what was set aside; matched counts files.
    """
    if page.status != 200:
        return Parsed(0, (), stated_total=0 if page.status == 404 else None)
    answer = read_json(SOURCE.name, page.body)
    try:
        files, total = _files(answer), answer.at("count").whole()
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_groups(files, read_file_wrapper)
    return Parsed(len(records) + len(quarantined), records, quarantined, total, matched=len(files))


def _files(answer: Node) -> list[Node]:
    bag = answer.at("patentFileWrapperDataBag")
    if not isinstance(bag.value, list):
        bag.odd("a list")
    return bag.each()


# --- asking ----------------------------------------------------------------------


def _search(query: str, window: Window, offset: int, limit: int, step: str = "search") -> Request:
    """Return the search for the files from offset on, oldest filing first, so that pages stay put."""
    body: dict[str, Any] = {
        "q": " AND ".join(filter(None, (query, _public_in(window)))),
        "sort": [{"field": f"{_META}.filingDate", "order": "Asc"}],
        "fields": list(_FIELDS),
        "pagination": {"offset": offset, "limit": limit},
    }
    state = (("query", query), ("offset", str(offset)), ("limit", str(limit)))
    text = json.dumps(body, ensure_ascii=False)
    path = "patent/applications/search"
    return Request(SOURCE.name, path, (), "POST", _JSON, text, window, step, state)


def _by_number(number: Sought) -> str:
    """Return the clause for a file by one of its numbers, "" for a number of another office."""
    if number.scheme == "application":
        found = re.fullmatch(r"US(\d{8})", number.text)
        return f"applicationNumberText:{found[1]}" if found else ""
    if number.scheme != "publication":
        return ""
    if published := re.fullmatch(r"US(\d{4})(\d{7})([A-Z]\d)?", number.text):
        # Written US20210210819A1 since 2026; the kind of a first publication is A1 where it is not said.
        return f"{_META}.earliestPublicationNumber:US{published[1]}{published[2]}{published[3] or 'A1'}"
    granted = re.fullmatch(r"US((?:D|PP|RE|H|T)?\d{4,8})([A-Z]\d?)?", number.text)
    return f"{_META}.patentNumber:{granted[1]}" if granted else ""


def _state(request: Request) -> tuple[int, int]:
    """Return offset and limit."""
    state = dict(request.state)
    return int(state.get("offset", "0")), int(state.get("limit", str(SOURCE.page_size)))


def _public_in(window: Window) -> str:
    """Return the clause for a publication of any of the file's documents within the window, or ""."""
    if not (window.public_from or window.public_to):
        return ""
    first = (window.public_from or FIRST_DAY).isoformat()
    last = date.fromordinal((window.public_to or date(9999, 12, 31)).toordinal() - 1).isoformat()
    return "(" + " OR ".join(f"{_META}.{name}:[{first} TO {last}]" for name in _PUBLIC_DAYS) + ")"


def _searchable(leaf: Text | Code) -> bool:
    if isinstance(leaf, Text):
        return bool(words(leaf.text))
    return leaf.scheme.casefold() == "cpc" and re.fullmatch(r"[A-HY]\d\d[A-Z].*", leaf.symbol) is not None


def _query(expression: Expression) -> str:
    """Return the expression in the portal's syntax. A blank would mean OR: every text is a phrase."""
    negated = isinstance(expression, Not)  # inside the brackets it would be a search for nothing else
    if not negated and all(isinstance(leaf, Text) for leaf in leaves(expression)):
        return f"{_TITLE}:({_joined(expression, _phrase)})"
    return _joined(expression, _query)


def _phrase(expression: Expression) -> str:
    """Return a text in quotes, or a group of them."""
    if isinstance(expression, Text):
        return f'"{" ".join(words(expression.text))}"'
    return _joined(expression, _phrase)


def _joined(expression: Expression, write: Callable[[Expression], str]) -> str:
    """Return the expression with its parts written so, groups in brackets."""
    match expression:
        case And(parts) | Or(parts):
            word = " AND " if isinstance(expression, And) else " OR "
            # Forms that differ in a hyphen alone stand once.
            return word.join(dict.fromkeys(_bracketed(part, write) for part in parts))
        case Not(part):
            return f"NOT {_bracketed(part, write)}"
        case Code(_, symbol):
            return f"{_CPC}:{symbol[:4]}*"
        case Text():
            return _phrase(expression)


def _bracketed(part: Expression, write: Callable[[Expression], str]) -> str:
    written = write(part)
    return f"({written})" if isinstance(part, And | Or) and not written.startswith(_TITLE) else written


def _complaint(page: Page) -> str:
    """Return what the error says: two spellings of its members live side by side."""
    try:
        answer = read_json(SOURCE.name, page.body)
        names = ("message", "detailedMessage", "error", "errorDetails", "errorDetailed")
        told = [answer.at(name).value for name in names]
    except (SourceChanged, OddShape):
        return said(page.body)
    return said("; ".join(dict.fromkeys(text for text in told if isinstance(text, str))).encode())
