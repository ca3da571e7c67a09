"""EPO Open Patent Services 3.2: bibliographic data of patent documents of about 100 offices.

Manual: EPO, "OPS RESTful Web Services, Reference Guide", version 1.3.20 of June 2024; what
the guide leaves out is said where it is used. A search answers with one publication of each
application, and not always the first, so that each simple family on a page is looked up once
for the dates of its other members.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from connectors.connector import Compiled, Page, Parsed, Quarantined, Request, Signed, Sought, Source
from connectors.epo_ops_answers import no_results, pause_s, what_is_wrong
from connectors.epo_ops_cql import FIRST_DAY, dates_in_cql, expressible, fits, in_cql
from connectors.epo_ops_numbers import NAMES, docdb_number
from connectors.epo_ops_records import read_document, read_member, read_reference
from connectors.errors import SourceChanged, SourceError
from connectors.record import Record
from connectors.xml import excerpt, parse_xml
from queries.expression import Expression
from queries.split import CannotSplit, split
from queries.window import ALL_DAYS, Window

SOURCE = Source(
    name="epo_ops",
    title="EPO Open Patent Services",
    kinds=("patent", "patent application", "utility model", "design"),
    # The token's address and the data's differ below this.
    base_url="https://ops.epo.org/3.2",
    page_size=100,
    depth=2_000,
    narrows=True,
    # Families: the fair use charter's one a second. Searches wait longer, see pause.
    seconds_between=1.0,
    terms_of_use=(
        "Free up to a weekly volume within the fair use charter; data may go into one's own products,"
        " not be passed on as such. https://www.epo.org/en/service-support/ordering/fair-use"
    ),
    manual="https://developers.epo.org (OPS Reference Guide 1.3.20)",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "publication of application": "the office's day of publication of the application as filed (INID 43)",
        "publication of grant": "the office's day of publication of the granted patent (INID 45)",
        "published": "the office's day of publication of another kind of document (model, design…)",
        "filed": "the day of filing; not public",
        "priority": "the day of an earlier filing that is claimed; not public",
    },
    key_variables=("EPO_OPS_KEY", "EPO_OPS_SECRET"),
    how_to_get_a_key=(
        "Register at https://developers.epo.org, make an app for OPS 3.2 there, and put its consumer key"
        " and secret into EPO_OPS_KEY and EPO_OPS_SECRET."
    ),
    date_filter=True,
    # A week's volume is limited; a member published since is in the answer to the search itself.
    look_up_again_days=7,
    token_path="auth/accesstoken",  # noqa: S106 (an address)
)

FLOOR = 10_000  # total-result-count goes no higher, whatever the truth
_MOST_NUMBERS = 50  # of one request: half of what the service takes
_NUMBER = re.compile(r"[A-Z]{2}[A-Z0-9]{3,20}", re.ASCII).fullmatch
_ACCEPT = (("Accept", "application/exchange+xml"),)


def compile(expression: Expression, window: Window) -> Compiled:
    """Return one search for each part that keeps to ten words of an index and twenty in all."""
    asked, lost = expressible(expression)
    if asked is None:
        return Compiled((), (*lost, "Nothing is left that OPS can search by; it is not asked."))
    try:
        cut = split(asked, fits)
    except CannotSplit as problem:
        return Compiled((), (*lost, f"OPS takes ten words at most: {problem}"))
    requests = tuple(_search(in_cql(part), window, 1, ()) for part in cut.parts)
    if window.public_from and window.public_to:
        lost = (*lost, "Documents without a known day of publication are in no window of days.")
    return Compiled(requests, lost, cut.notes)


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return requests for the documents with these publication numbers, fifty a request.

    Each simple family found is looked up once, as after a search: a document may be the
    later of two, and its family holds others.
    """
    names = list(dict.fromkeys(each.docdb or each.epodoc for each in numbers if _NUMBER(each.epodoc)))
    docdb = [name for name in names if "." in name]
    epodoc = [name for name in names if "." not in name]
    return Compiled(tuple(
        _documents(format_, some[at : at + _MOST_NUMBERS])
        for format_, some in (("docdb", docdb), ("epodoc", epodoc))
        for at in range(0, len(some), _MOST_NUMBERS)
    ))  # fmt: skip


def cited(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: a document's record lists what it cites."""
    return Compiled(())


def citing(numbers: Sequence[Sought]) -> Compiled:
    """Return searches for the documents that cite any of these publications, ten a request."""
    names = list(dict.fromkeys(each.epodoc for each in numbers if _NUMBER(each.epodoc)))
    return Compiled(tuple(
        _search(" or ".join(f"ct={name}" for name in names[at : at + 10]), ALL_DAYS, 1, ())
        for at in range(0, len(names), 10)
    ))  # fmt: skip


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001 (protocol)
    """Return the bearer token as a header."""
    return Signed(headers=(("Authorization", f"Bearer {keys['token']}"),)) if keys.get("token") else Signed()


def judge(page: Page) -> SourceError | None:
    """Return None for records and for both writings of 'no results', else what is wrong.

    TokenExpired for a token run out (a 400 here); SourceBusy, with the wait, for throttling,
    quotas and server faults; SourceRefused for the rest.
    """
    return what_is_wrong(SOURCE.name, page, _begin(page.request) > 1)


def pause(page: Page) -> float:
    """Return the wait the throttling header asks for, by its worst colour for the service used."""
    return pause_s(page)


def follow(request: Request, page: Page, today: date) -> list[Request]:
    """Return the next page and a look-up for each family first seen on this one.

    Where more match than the 2,000 that can be read: both halves of the window instead.
    A look-up asks for nothing more. At most one per document found: 100 for a page.
    """
    if request.step == "numbers":
        return _singly(request) if page.status != 200 else _families(_found(_root(page)), {})
    if request.step != "search" or page.status != 200:
        return []
    root, total = _root(page), _total(page)
    query = dict(request.state).get("query", "")
    begin, depth = _begin(request), SOURCE.depth or 0
    if begin == 1 and total > depth and (halves := request.window.halves(FIRST_DAY, today)):
        return [_search(query, half, 1, ()) for half in halves]
    seen = dict.fromkeys(dict(request.state).get("families", "").split())
    found = _found(root)
    lookups = _families(found, seen)
    reached = begin + len(found)
    if found and reached <= min(total, depth):
        lookups.append(_search(query, request.window, reached, tuple(seen)))
    return lookups


def parse(page: Page) -> Parsed:
    """Return a record for each publication on the page, of a search or of a family.

    'Not found' placeholders and documents without a number are quarantined, and so is a
    family look-up that was refused. A page of 'no results' holds no item.
    """
    if no_results(page):
        return Parsed(0, (), stated_total=0 if page.request.step == "search" else None)
    if page.status != 200 and _singly(page.request):
        return Parsed(0, ())  # each is asked for by itself now
    if page.status != 200:
        reason = f"the look-up was refused with status {page.status}"
        said = page.body[:500].decode("utf-8", "replace")
        return Parsed(1, (), (Quarantined(0, page.request.path, reason, said),))
    root = _root(page)
    records: list[Record] = []
    quarantined: list[Quarantined] = []
    found = _found(root)
    for index, element in enumerate(found):
        read = _read(element)
        if isinstance(read, Record):
            records.append(read)
        else:
            path = element.getroottree().getpath(element)
            quarantined.append(Quarantined(index, path, read, excerpt(element)))
    total = _total(page) if root.find("o:biblio-search", NAMES) is not None else None
    return Parsed(
        len(found),
        tuple(records),
        tuple(quarantined),
        stated_total=total,
        total_is_floor=total is not None and total >= FLOOR,
        partial=_truncated(root),
    )


# --- asking ----------------------------------------------------------------------


def _search(query: str, window: Window, begin: int, families: tuple[str, ...]) -> Request:
    """Return the search for results begin and on. families: those already looked up, kept in
    the state so that a later page of the same search does not ask for them again."""
    dates = dates_in_cql(window)
    last = min(begin + SOURCE.page_size - 1, SOURCE.depth or 0)
    return Request(
        SOURCE.name,
        "rest-services/published-data/search/biblio",
        params=(("q", f"({query}) and {dates}" if dates else query), ("Range", f"{begin}-{last}")),
        headers=_ACCEPT,
        window=window,
        state=(("query", query), ("begin", str(begin)), ("families", " ".join(families))),
    )


def _family(family: str, number: str) -> Request:
    """Return the look-up of all members by one of them."""
    path = f"rest-services/family/publication/docdb/{number}/biblio"
    return Request(SOURCE.name, path, headers=_ACCEPT, step="family", state=(("family", family),))


def _families(found: list[Any], seen: dict[str, None]) -> list[Request]:
    """Return a look-up for each family on the page that is not among those seen, and add it to them."""
    lookups = []
    for element in found:
        family, number = element.get("family-id", ""), docdb_number(element)
        if family.isascii() and family.isdigit() and family not in seen and number:
            seen[family] = None
            lookups.append(_family(family, number))
    return lookups


def _documents(format_: str, names: list[str]) -> Request:
    """Return the request for documents by number: several go into the body."""
    path = f"rest-services/published-data/publication/{format_}"
    state = (("format", format_), ("numbers", " ".join(names)))
    if len(names) == 1:
        return Request(SOURCE.name, f"{path}/{names[0]}/biblio", headers=_ACCEPT, step="numbers", state=state)
    headers = (*_ACCEPT, ("Content-Type", "text/plain"))
    body = ",".join(names)
    return Request(SOURCE.name, f"{path}/biblio", (), "POST", headers, body, step="numbers", state=state)


def _singly(request: Request) -> list[Request]:
    """Return a request for each of several numbers: one that is bad can fail them all."""
    state = dict(request.state)
    names = state.get("numbers", "").split() if request.step == "numbers" else []
    return [_documents(state["format"], [name]) for name in names] if len(names) > 1 else []


def _begin(request: Request) -> int:
    return int(dict(request.state).get("begin", "1"))


# --- reading ---------------------------------------------------------------------


def _root(page: Page) -> Any:
    root = parse_xml(SOURCE.name, page.body)
    if root.tag != f"{{{NAMES['o']}}}world-patent-data":
        raise SourceChanged(SOURCE.name, f"the answer begins with {str(root.tag)[:80]}", path="/")
    return root


def _found(root: Any) -> list[Any]:
    """Return the page's items: family members, else whole documents, else bare numbers.

    Raises SourceChanged where there is no place for any.
    """
    for place, item in (
        ("o:patent-family", "o:family-member"),
        ("o:biblio-search/o:search-result", "e:exchange-documents/e:exchange-document"),
        (".", "e:exchange-documents/e:exchange-document"),
    ):
        holder = root.find(place, NAMES)
        if holder is None:
            continue
        items: list[Any] = holder.findall(item, NAMES)
        if place.startswith("o:biblio"):
            items += holder.findall("o:publication-reference", NAMES)
        if items or place != ".":
            return items
    if (
        root.find("o:biblio-search", NAMES) is not None
        or root.find("e:exchange-documents", NAMES) is not None
    ):
        return []
    raise SourceChanged(SOURCE.name, "the answer holds no documents", path="/ops:world-patent-data")


def _read(element: Any) -> Record | str:
    name = element.tag.rpartition("}")[2]
    if name == "family-member":
        return read_member(SOURCE.name, element)
    return (read_document if name == "exchange-document" else read_reference)(SOURCE.name, element)


def _total(page: Page) -> int:
    search = _root(page).find("o:biblio-search", NAMES)
    text = search.get("total-result-count", "") if search is not None else ""
    if not (text.isascii() and text.isdigit() and len(text) < 12):
        raise SourceChanged(
            SOURCE.name, "the search states no total", path="ops:biblio-search/@total-result-count"
        )
    return int(text)


def _truncated(root: Any) -> str:
    family = root.find("o:patent-family", NAMES)
    cut = family is not None and family.get("truncatedFamily", "").lower() in ("true", "yes", "1")
    return "the family is larger than one answer holds" if cut else ""
