"""The loop: what is kept, counted and followed, and how a sweep ends. Pages are invented."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from connectors.connector import Page, Parsed, Quarantined, Request, Source
from connectors.errors import SourceBusy, SourceChanged, SourceError
from connectors.fetch import MOST_PAGES, FetchResult, MiscountedPage, Progress, fetch
from connectors.record import Record
from queries.window import Window

TODAY = date(2026, 11, 25)
SOURCE = Source("gulper", "Gulper", ("article",), "https://gulper.example", 10, None, 0.0, "", "", TODAY, {})


def parse(page: Page) -> Parsed:
    """Read {"records": [...], "bad": n, "total": n, "floor": bool, "partial": text}."""
    try:
        told = json.loads(page.body)
    except ValueError:
        told = None
    if told is None:
        raise SourceChanged("gulper", "torn page", path="$")
    records = tuple(Record("gulper", name, "article", name) for name in told.get("records", []))
    bad = tuple(Quarantined(i, "$", "odd", "") for i in range(told.get("bad", 0)))
    items = told.get("items", len(records) + len(bad))
    return Parsed(items, records, bad, told.get("total"), told.get("floor", False), told.get("partial", ""))


def follow(request: Request, page: Page, today: date) -> list[Request]:
    """Go on as the page says: {"next": {"path", "step", "cut"}}."""
    onward = []
    for told in json.loads(page.body).get("next", []):
        window = Window(public_from=date.fromisoformat(told["from"])) if "from" in told else request.window
        onward.append(Request("gulper", told["path"], step=told.get("step", "search"), window=window))
    return onward


class Shelf:
    """A source whose answers stand on a shelf, and the doors of the loop to it."""

    def __init__(self, answers: dict[str, Any], stored: dict[str, Any] | None = None) -> None:
        """Take the answers by path; stored ones are recalled instead of sent."""
        self.answers, self.stored, self.held = answers, stored or {}, set[str]()
        self.events: list[tuple[str, str]] = []
        self.progress: list[Progress] = []

    def page(self, request: Request, told: Any) -> Page:
        """Return the page that holds what is told."""
        body = told if isinstance(told, bytes) else json.dumps(told).encode()
        return Page(request, 200, {}, body, TODAY)

    def send(self, request: Request) -> Page:
        """Answer from the shelf, or raise the error that stands there."""
        self.events.append(("sent", request.path))
        told = self.answers[request.path]
        if isinstance(told, SourceError):
            raise told
        return self.page(request, told)

    def recall(self, request: Request) -> Page | None:
        """Return what an earlier try stored."""
        return self.page(request, self.stored[request.path]) if request.path in self.stored else None

    def keep(self, page: Page) -> None:
        """Note that the page was kept."""
        self.events.append(("kept", page.request.path))

    def fetch(self, *paths: str, source: Source = SOURCE, most: int | None = None) -> FetchResult:
        """Run the loop over the paths."""
        connector: Any = SimpleNamespace(SOURCE=source, parse=parse, follow=follow)
        return fetch(
            connector,
            self.send,
            [Request("gulper", path) for path in paths],
            keep=self.keep,
            recall=self.recall,
            today=TODAY,
            progress=self.progress.append,
            held=lambda request: request.path in self.held,
            most=most,
        )


def page(*names: str, **told: Any) -> dict[str, Any]:
    """Return an answer with records of those names."""
    return {"records": list(names), **told}


def test_a_sweep_is_read_to_its_end() -> None:
    """Pages are followed until the source asks for no more; the counts are the sums."""
    shelf = Shelf({"1": page("a", "b", total=4, next=[{"path": "2"}]), "2": page("c", bad=1, total=4)})
    result = shelf.fetch("1")
    assert (result.outcome, result.reason, result.error) == ("complete", "", None)
    assert (result.requests, result.items, result.records, result.quarantined) == (2, 4, 3, 1)
    assert (result.stated_total, result.total_is_floor, result.unsent) == (4, False, 0)
    assert [(p.pages, p.items, p.waiting) for p in shelf.progress] == [(1, 2, 1), (2, 4, 0)]


def test_each_page_is_kept_before_it_is_parsed() -> None:
    """A torn page is stored though its parsing fails."""
    shelf = Shelf({"1": b"{torn"})
    result = shelf.fetch("1")
    assert shelf.events == [("sent", "1"), ("kept", "1")]
    assert (result.outcome, result.requests, result.items) == ("failed", 1, 0)
    assert isinstance(result.error, SourceChanged) and "torn page (at $)" in result.reason


def test_no_results_is_complete() -> None:
    """An empty answer that states zero is a whole answer."""
    result = Shelf({"1": page(total=0)}).fetch("1")
    assert (result.outcome, result.items, result.stated_total) == ("complete", 0, 0)


def test_nothing_to_ask_is_complete_with_no_total() -> None:
    """No requests: no pages, and a total that is unknown, not zero."""
    result = Shelf({}).fetch()
    assert (result.outcome, result.requests, result.stated_total) == ("complete", 0, None)


def test_a_stored_page_is_not_asked_for_again() -> None:
    """What an earlier try of the run stored is recalled, counted and followed, not sent."""
    first = page("a", total=2, next=[{"path": "2"}])
    shelf = Shelf({"2": page("b", total=2)}, stored={"1": first})
    result = shelf.fetch("1")
    assert shelf.events == [("sent", "2"), ("kept", "2")]
    assert (result.outcome, result.requests, result.recalled, result.items) == ("complete", 2, 1, 2)


def test_a_later_failure_leaves_the_sweep_incomplete_with_numbers() -> None:
    """What was read stays counted; the requests still open are counted too; the others are not sent."""
    busy = SourceBusy("gulper", "answered 429, 5 times", 60.0)
    shelf = Shelf({"1": page("a", total=3, next=[{"path": "2"}]), "2": busy, "3": page("z")})
    result = shelf.fetch("1", "3")
    assert (result.outcome, result.items, result.unsent, result.error) == ("incomplete", 1, 2, busy)
    assert result.reason == (
        "gulper: answered 429, 5 times; still to be answered: 2 requests; kept: 1 item from 1 page"
    )
    assert ("sent", "3") not in shelf.events


def test_a_failure_before_anything_is_failed() -> None:
    """Nothing read at all is failed, not incomplete."""
    result = Shelf({"1": SourceBusy("gulper", "busy")}).fetch("1")
    assert (result.outcome, result.requests, result.unsent) == ("failed", 0, 1)


@pytest.mark.parametrize(
    ("told", "source", "outcome", "words"),
    [
        (page("a", total=5), SOURCE, "incomplete", "1 of 5 were read"),
        (page("a", total=5, floor=True), SOURCE, "incomplete", "1 of at least 5 were read"),
        (page("a", total=5), replace(SOURCE, depth=2), "incomplete", "no more than 2 of one query"),
        (page("a", total=5), replace(SOURCE, ranked_depth=1), "complete", ""),
        (page("a", total=5), replace(SOURCE, ranked_depth=2), "incomplete", "1 of the best 2 were read"),
        (page("a", "a"), SOURCE, "incomplete", "1 record came twice"),
        (page("a", bad=4, total=5), SOURCE, "complete", ""),
        (page("a", "b", total=1), SOURCE, "complete", ""),
        (page("a"), SOURCE, "complete", ""),
        (page("a", "b"), replace(SOURCE, depth=2), "incomplete", "whether there is more is not known"),
        (page("a", partial="two shards timed out"), SOURCE, "incomplete", "two shards timed out"),
    ],
)
def test_falling_short_of_the_stated_total_is_incomplete(
    told: dict[str, Any], source: Source, outcome: str, words: str
) -> None:
    """Fewer items than stated is incomplete, with numbers, save where the source only ranks."""
    result = Shelf({"1": told}).fetch("1", source=source)
    assert result.outcome == outcome and words in result.reason


def test_an_item_that_came_twice_stands_for_no_other() -> None:
    """Paging that slips shows one item again and another never: as many as stated is then too few."""
    shelf = Shelf({"1": page("a", "b", total=4, next=[{"path": "2"}]), "2": page("b", "d", total=4)})
    result = shelf.fetch("1")
    assert result.outcome == "incomplete" and "3 of 4 were read, 1 of them twice" in result.reason
    shelf.answers["2"] = page("b", "c", "d", total=4)
    assert shelf.fetch("1").outcome == "complete"


def test_a_total_that_shrinks_is_not_believed() -> None:
    """What was stated once was there; reading to the smaller total is no whole reading."""
    shelf = Shelf({"1": page("a", "b", total=4, next=[{"path": "2"}]), "2": page("c", total=3)})
    result = shelf.fetch("1")
    assert (result.outcome, result.stated_total) == ("incomplete", 3)
    assert "3 of 4 were read; the source stated 4 at first and 3 in the end" in result.reason
    shelf.answers["2"] = page("c", "d", total=3)
    assert shelf.fetch("1").outcome == "complete"


def test_a_source_that_begins_anew_ends() -> None:
    """A cursor it can't read makes it start over: other bytes, new cursors, no new item."""
    shelf = Shelf({"1": page("a", "b", total=4, next=[{"path": "2"}])})
    shelf.answers["2"] = page("a", "b", total=4, next=[{"path": "3"}], took=7)
    result = shelf.fetch("1")
    assert (result.outcome, result.requests) == ("incomplete", 2) and "same page again" in result.reason


def test_a_halved_window_counts_by_its_halves() -> None:
    """The whole window's total is not added to its halves', nor held against what it showed."""
    halves = [{"path": "old", "from": "2001-01-01"}, {"path": "new", "from": "2011-01-01"}]
    shelf = Shelf(
        {"1": page("a", total=9, next=halves), "old": page("a", "b", total=2), "new": page("c", total=1)}
    )
    result = shelf.fetch("1")
    assert (result.outcome, result.stated_total, result.items) == ("complete", 3, 4)
    shelf.answers["new"] = page("c", total=7)
    result = shelf.fetch("1")
    assert (result.outcome, result.stated_total) == ("incomplete", 9) and "1 of 7 were read" in result.reason


def test_one_short_search_is_not_hidden_by_another() -> None:
    """Each search is held to its own total, however much the others brought."""
    result = Shelf({"1": page("a", total=2), "2": page("b", "c", "d", total=2)}).fetch("1", "2")
    assert result.outcome == "incomplete" and result.stated_total == 4


def test_look_ups_stand_in_where_a_search_only_lists_numbers() -> None:
    """A search page without items is made good by its look-ups; one with items is not padded by them."""
    looks = [{"path": "a", "step": "biblio"}, {"path": "b", "step": "biblio"}]
    shelf = Shelf({"1": page(total=2, next=looks), "a": page("a"), "b": page("b")})
    assert shelf.fetch("1").outcome == "complete"
    shelf.answers["1"] = page("x", total=2, next=looks)
    assert shelf.fetch("1").outcome == "incomplete"


def test_a_look_up_whose_answer_is_held_is_not_sent() -> None:
    """It is no shortage, and a search is asked however much is held."""
    looks = [{"path": "a", "step": "biblio"}, {"path": "b", "step": "biblio"}, {"path": "2"}]
    shelf = Shelf({"1": page(total=2, next=looks), "b": page("b"), "2": page(total=2)})
    shelf.held = {"a", "1", "2"}
    assert shelf.fetch("1").outcome == "complete"
    assert [path for what, path in shelf.events if what == "sent"] == ["1", "b", "2"]


@pytest.mark.parametrize(("total", "told"), [(9, "2 of 9 were read"), (None, "2 of more were read")])
def test_a_search_is_left_at_the_users_most(total: int | None, told: str) -> None:
    """Further pages are not sent, look-ups are; it is complete by choice, and says so."""
    onward = [{"path": "2"}, {"path": "look-up", "step": "family"}]
    shelf = Shelf({"1": page("a", "b", total=total, next=onward), "look-up": page("c")})
    result = shelf.fetch("1", most=2)
    assert [path for done, path in shelf.events if done == "sent"] == ["1", "look-up"]
    assert (result.outcome, result.unsent) == ("complete", 0)
    assert result.reason == f"{told}: more than 2 are not wanted"


def test_the_same_request_is_sent_once() -> None:
    """Equal requests and look-ups asked for twice go out once, and that is no shortage."""
    look = [{"path": "x", "step": "biblio"}]
    shelf = Shelf({"1": page("a", next=look), "2": page("b", next=look), "x": page("c")})
    assert shelf.fetch("1", "1", "2").outcome == "complete"
    assert [path for what, path in shelf.events if what == "sent"] == ["1", "x", "2"]


def test_a_search_is_read_to_its_end_before_the_next() -> None:
    """Cursors run out when left waiting, so pages of one search follow each other."""
    shelf = Shelf({"1": page("a", next=[{"path": "1b"}]), "1b": page("b"), "2": page("c")})
    shelf.fetch("1", "2")
    assert [path for what, path in shelf.events if what == "sent"] == ["1", "1b", "2"]


def test_a_page_that_asks_for_itself_ends() -> None:
    """A next page that is the page just read is said, not read for ever."""
    result = Shelf({"1": page("a", next=[{"path": "1"}])}).fetch("1")
    assert (result.outcome, result.requests) == ("incomplete", 1) and "over and over" in result.reason


def test_a_cursor_that_stands_still_ends() -> None:
    """New requests that bring the same page again are noticed at the second."""
    shelf = Shelf({"1": page("a", next=[{"path": "2"}])})
    shelf.answers["2"] = shelf.answers["1"]
    result = shelf.fetch("1")
    assert (result.outcome, result.requests) == ("incomplete", 2) and "same page again" in result.reason


def test_a_source_without_end_is_stopped() -> None:
    """A cursor that never ends is left at the page limit, with the number."""

    class Endless(Shelf):
        def send(self, request: Request) -> Page:
            """Always give one more."""
            at = int(request.path)
            return self.page(request, page(f"r{at}", next=[{"path": str(at + 1)}]))

    result = Endless({}).fetch("1")
    assert (result.outcome, result.requests, result.items) == ("incomplete", MOST_PAGES, MOST_PAGES)
    assert result.unsent == 1 and "stopped after 2,000 pages" in result.reason


def test_counts_that_do_not_add_up_are_our_fault_and_said() -> None:
    """items must be records + quarantined; the error names the connector."""
    with pytest.raises(MiscountedPage, match="connector gulper counted 3 items"):
        Shelf({"1": page("a", items=3)}).fetch("1")


def test_a_store_that_fails_stops_the_sweep() -> None:
    """A full disk is not the source's fault and is not swallowed."""

    class Full(Shelf):
        def keep(self, _page: Page) -> None:
            """Fail as a full disk does."""
            raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space"):
        Full({"1": page("a")}).fetch("1")
