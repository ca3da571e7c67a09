"""The one loop: send, keep, parse, count, follow, until a sweep at one source is done.

It ends complete, incomplete (with numbers) or failed; only complete moves a watermark.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date

from connectors.connector import Connector, Page, Parsed, Request, Source
from connectors.errors import SourceError

MOST_PAGES = 2_000
SEARCH = "search"


class MiscountedPage(Exception):
    """A connector's counts do not add up: our mistake, not the source's. Facts are attributes."""

    def __init__(self, source: str, items: int, records: int, quarantined: int) -> None:
        """Keep source and counts."""
        super().__init__(source, items, records, quarantined)
        self.source, self.items, self.records, self.quarantined = source, items, records, quarantined

    def __str__(self) -> str:
        """Return one line that says which connector to mend."""
        return (
            f"connector {self.source} counted {self.items} items on a page but gave {self.records} records"
            f" and {self.quarantined} quarantined; the answer is kept. Please report this"
        )


@dataclass(frozen=True)
class Progress:
    """Where a sweep stands: pages read, requests waiting, items so far, total as stated."""

    source: str
    pages: int
    waiting: int
    items: int
    stated_total: int | None


@dataclass(frozen=True)
class _Doors:
    """What a step may touch."""

    send: Callable[[Request], Page]
    keep: Callable[[Page], None]
    recall: Callable[[Request], Page | None]
    held: Callable[[Request], bool]


@dataclass(frozen=True)
class FetchResult:
    """How one sweep at one source ended.

    outcome: complete, incomplete, failed. reason: "" or sentences with numbers; a search left
    at the user's most is complete and says so.
    requests: pages read, recalled among them. unsent: requests known and not sent.
    items == records + quarantined, counted page by page (a record met on two pages
    counts twice). stated_total: the sum over the searches whose answers were read to the
    end, so that a window cut in halves counts by its halves; where an expression was
    split, a document found by two of them counts twice. None where no search stated one.
    error: what stopped the sweep.
    """

    outcome: str
    reason: str
    requests: int
    recalled: int
    unsent: int
    items: int
    records: int
    quarantined: int
    stated_total: int | None
    total_is_floor: bool
    error: SourceError | None = None


@dataclass
class _Search:
    """One search and its further pages: what it stated, what came of that (items, but where one match
    gives several). cut: its halves stand for it.

    stated: the latest total; most_stated: the greatest. names: of the records that came.
    fresh: names on the latest page that had not come before. twice: records that had come
    before. by_item: an item is a match. held: look-ups not sent, as their answers are here.
    left: further pages were not wanted.
    """

    stated: int | None = None
    most_stated: int = 0
    is_floor: bool = False
    on_pages: int = 0
    by_lookup: int = 0
    cut: bool = False
    last_body: bytes = b""
    names: set[str] = field(default_factory=set)
    fresh: int = 0
    twice: int = 0
    by_item: bool = True
    held: int = 0
    left: bool = False

    @property
    def read(self) -> int:
        """Matches on the search's pages; where those only list numbers, on its look-ups."""
        return self.on_pages or self.by_lookup + self.held


@dataclass
class _Tally:
    """Everything counted on the way."""

    pages: int = 0
    parsed: int = 0
    recalled: int = 0
    items: int = 0
    records: int = 0
    quarantined: int = 0
    searches: list[_Search] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def add(self, parsed: Parsed) -> None:
        """Count a page."""
        self.parsed += 1
        self.items += parsed.items
        self.records += len(parsed.records)
        self.quarantined += len(parsed.quarantined)
        if parsed.partial:
            self.remark(f"the source says its answer is not whole: {parsed.partial}")

    def remark(self, text: str) -> None:
        """Note why the sweep is not complete, once."""
        if text not in self.remarks:
            self.remarks.append(text)

    def stated(self) -> int | None:
        """Return the sum of what the uncut searches stated, None where none did."""
        totals = [search.stated for search in self.searches if not search.cut and search.stated is not None]
        return sum(totals) if totals else None


class _Sweep:
    """The queue and the tally of one sweep at one source."""

    def __init__(
        self,
        connector: Connector,
        requests: Iterable[Request],
        doors: _Doors,
        today: date,
        most: int | None,
    ) -> None:
        self.connector, self.doors, self.today, self.most = connector, doors, today, most
        self.tally = _Tally()
        self.known: set[Request] = set()
        self.queue: deque[tuple[Request, _Search]] = deque()
        self.fresh: list[tuple[Request, _Search]] = []
        for request in requests:
            if request not in self.known:
                self.add(request, self.new_search())
        self.enqueue()

    def new_search(self) -> _Search:
        search = _Search()
        self.tally.searches.append(search)
        return search

    def add(self, request: Request, search: _Search) -> bool:
        """Queue the request unless it was queued before; say whether it is new."""
        new = request not in self.known
        if new:
            self.known.add(request)
            self.fresh.append((request, search))
        return new

    def enqueue(self) -> None:
        """Put what was added at the head: a search is read to its end before the next, as
        cursors run out when they are left waiting."""
        self.queue.extendleft(reversed(self.fresh))
        self.fresh.clear()

    def step(self) -> None:
        """Read the next page: recalled or sent and kept, then counted, then followed."""
        request, search = self.queue[0]
        page = self.doors.recall(request)
        if page is None:
            page = self.doors.send(request)
            self.doors.keep(page)
        else:
            self.tally.recalled += 1
        self.queue.popleft()
        self.tally.pages += 1
        parsed = _parsed(self.connector, page)
        self.tally.add(parsed)
        self.count(request, search, parsed)
        again = self.comes_again(request, search, page, parsed)
        onward = self.connector.follow(request, page, self.today)
        if again and onward:
            self.tally.remark(f"the source sent the same page again after {search.on_pages:,} items")
            return
        enough = self.most is not None and search.read >= self.most
        for wanted in onward:
            if enough and wanted.step == SEARCH:
                search.left = True
            else:
                self.follow(request, search, wanted)
        self.enqueue()

    def count(self, request: Request, search: _Search, parsed: Parsed) -> None:
        """Add the page to its search. The latest total is told: it drifts as a source grows."""
        matched = parsed.items if parsed.matched is None else parsed.matched
        if request.step != SEARCH:
            search.by_lookup += matched
            return
        names = {record.native_id for record in parsed.records} - search.names
        search.names |= names
        search.fresh = len(names)
        search.on_pages += matched
        search.twice += len(parsed.records) - len(names)
        search.by_item &= parsed.matched is None
        if parsed.stated_total is not None:
            search.stated, search.is_floor = parsed.stated_total, parsed.total_is_floor
            search.most_stated = max(search.most_stated, parsed.stated_total)

    def comes_again(self, request: Request, search: _Search, page: Page, parsed: Parsed) -> bool:
        """Say whether a search's page brings nothing new: the page before word for word, or
        records alone that came before (the source began anew)."""
        if request.step != SEARCH or not parsed.items:
            return False
        digest = hashlib.sha256(page.body).digest()
        again = digest == search.last_body or (not parsed.quarantined and not search.fresh)
        search.last_body = digest
        return again

    def follow(self, request: Request, search: _Search, onward: Request) -> None:
        """Queue what an answer asks for. Another window is a search of its own, cut from this one."""
        if onward.step == SEARCH and request.step == SEARCH and onward.window != request.window:
            search.cut = True
            self.add(onward, self.new_search())
        elif onward.step != SEARCH and onward not in self.known and self.doors.held(onward):
            search.held += 1
        elif not self.add(onward, search) and onward.step == SEARCH:
            self.tally.remark("the source asks for a page that was read already, over and over")


def fetch(  # noqa: PLR0913 (the four doors are named, so that the call reads)
    connector: Connector,
    send: Callable[[Request], Page],
    requests: Iterable[Request],
    *,
    keep: Callable[[Page], None],
    recall: Callable[[Request], Page | None],
    today: date,
    progress: Callable[[Progress], None],
    most: int | None = None,
    held: Callable[[Request], bool] = lambda _: False,
) -> FetchResult:
    """Send the requests and all that follows from them; return how it ended.

    most: how many matches of each search are read, by the user's choice; None reads all.

    send: as Session.send. keep: stores a page; called before the page is parsed, so that
    nothing received is lost to a parser. recall: the page that an earlier try of this run
    stored for the same request, else None; it is not sent or kept again. progress: told
    after each page. held: says of a look-up that a recent answer to it was loaded already:
    it is not sent.
    Requests that are equal in everything are sent once. A SourceError stops the sweep;
    what was read stays counted. Ends after MOST_PAGES pages, whatever the source says.
    Raises MiscountedPage where a connector's counts do not add up, and what keep raises
    (a full disk): the sweep can't go on without its store.
    """
    doors = _Doors(send, keep, recall, held)
    sweep = _Sweep(connector, requests, doors, today, most)
    error: SourceError | None = None
    while sweep.queue and error is None:
        if sweep.tally.pages >= MOST_PAGES:
            sweep.tally.remark(f"stopped after {MOST_PAGES:,} pages, the most for one sweep")
            break
        try:
            sweep.step()
        except SourceError as problem:
            error = problem
        progress(_progress(connector.SOURCE, sweep))
    return _result(connector.SOURCE, sweep, error)


def _parsed(connector: Connector, page: Page) -> Parsed:
    parsed = connector.parse(page)
    counts = len(parsed.records), len(parsed.quarantined)
    if parsed.items != sum(counts):
        raise MiscountedPage(connector.SOURCE.name, parsed.items, *counts)
    return parsed


def _progress(source: Source, sweep: _Sweep) -> Progress:
    tally = sweep.tally
    return Progress(source.name, tally.pages, len(sweep.queue), tally.items, tally.stated())


def _result(source: Source, sweep: _Sweep, error: SourceError | None) -> FetchResult:
    tally, unsent = sweep.tally, len(sweep.queue)
    remarks = list(tally.remarks)
    if error is not None:
        remarks.insert(0, str(error))
    else:
        remarks += [text for search in tally.searches if (text := _shortage(source, search, sweep.most))]
    if unsent:
        remarks.append(f"still to be answered: {_many(unsent, 'request')}")
    if remarks:
        remarks.append(f"kept: {_many(tally.items, 'item')} from {_many(tally.pages, 'page')}")
    read_nothing = error is not None and tally.parsed == 0
    return FetchResult(
        outcome="failed" if read_nothing else "incomplete" if remarks else "complete",
        reason="; ".join(dict.fromkeys([*remarks, *_by_choice(sweep)])),
        requests=tally.pages,
        recalled=tally.recalled,
        unsent=unsent,
        items=tally.items,
        records=tally.records,
        quarantined=tally.quarantined,
        stated_total=tally.stated(),
        total_is_floor=any(search.is_floor for search in tally.searches if not search.cut),
        error=error,
    )


def _by_choice(sweep: _Sweep) -> list[str]:
    """Return a sentence for each search that was left at the user's most: no fault, but said."""
    return [
        f"{search.read:,} of {'more' if search.stated is None else f'{search.stated:,}'} were read:"
        f" more than {sweep.most:,} are not wanted"
        for search in sweep.tally.searches
        if search.left
    ]


def _many(count: int, noun: str) -> str:
    return f"{count:,} {noun}{'' if count == 1 else 's'}"


def _shortage(source: Source, search: _Search, most: int | None) -> str:
    """Return by how much a search's answers fall short of what it stated, else "".

    A source that only ranks is read to its ranked depth by design, any to the user's most.
    """
    if search.cut:
        return ""
    if search.stated is None:
        return _in_doubt(source, search)
    # An item that came twice may have pushed another out, and what was stated once was there.
    read = search.read - search.twice if search.by_item else search.read
    stated = search.most_stated
    due = min([stated, *(limit for limit in (source.ranked_depth, most) if limit is not None)])
    if read >= due:
        return "" if search.by_item else _in_doubt(source, search)
    best = "the best " if due < stated else "at least " if search.is_floor else ""
    text = f"{read:,} of {best}{due:,} were read"
    if read < search.read:
        text += f", {search.twice:,} of them twice"
    if search.stated < stated:
        text += f"; the source stated {stated:,} at first and {search.stated:,} in the end"
    if source.depth is not None and search.stated > source.depth:
        text += f": the source shows no more than {source.depth:,} of one query"
        text += ", in the smallest window too" if source.narrows else ""
    return text


def _in_doubt(source: Source, search: _Search) -> str:
    """Return why a search whose items can't be held against a total may not be whole, else ""."""
    if search.stated is None and source.depth is not None and search.read >= source.depth:
        return f"read to its depth of {source.depth:,}; whether there is more is not known"
    if search.twice:
        return f"{_many(search.twice, 'record')} came twice; whether others never came is not known"
    return ""
