"""The list: what it shows, how it is narrowed, and that judging does not move it."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import quote

import pytest

from pipeline.decisions import Decisions
from pipeline.store import open_store


def listed(page: str) -> list[str]:
    """Return the ids of the rows, in order, by their first letter."""
    return re.findall(r'<article class="hit[^"]*" id="r-(.)', page)


def test_the_list_is_best_first_with_every_fact_of_a_row(web: Any) -> None:
    """Each row says title, kind, who, where, number, dates and who says so, verdicts, closeness, why."""
    page = web.get("/")
    assert listed(page) == ["a", "b", "c", "d", "e"]
    row = page[page.index('id="r-aaaaaaaaaaaa"') : page.index('id="r-bbbbbbbbbbbb"')]
    text = " ".join(re.sub(r"<[^>]+>", " ", row).split())
    for fact in (
        "#1", "Friction hinge for a lid", "article", "Ida Moravec", "Journal of Hinges", "10.5555/lid.1",
        "2019-05-04 (day stated)", "says crossref: published", "US counts", "EP counts", "A 0.80", "B 0.10",
        "The hinge holds.", "closest to A, in abstract", "meaning 0.50 and words 0.50", "1 version",
        "topic lid, hinge", "new in the latest run",
    ):  # fmt: skip
        assert fact in text, fact


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("tag=all", "abcde"),
        ("tag=judged", ""),
        ("kind=article", "ab"),
        ("source=epo_ops", "c"),
        ("topic=lid%2C+hinge", "ab"),
        ("office=US&verdict=prior_art", "ab"),
        ("office=US&verdict=not_prior_art", "c"),
        ("verdict=undecided", "de"),  # March over the 16th, and no date; the first office is meant
        ("element=A&least=70", "ab"),
        ("element=B&least=5", "abcde"),
        ("since=2020&until=2020", "b"),
        ("since=2020-06", "bcd"),  # a year alone may lie after June
        ("until=2019", "a"),
        ("run=latest", "abcde"),
        ("run=2020-01-01T00:00:00Z", ""),
        ("text=hinge", "abcde"),  # in the name of the journal too
        ("text=friction+lid", "a"),
        ("text=%22lid+hinge%22", ""),
        ("text=muller", "b"),  # Müller without the dots
        ("text=10.5555", "a"),
        ("text=O%27Brien", ""),
        ("text=%25", ""),
        ("order=oldest", "abdce"),
        ("order=newest", "cdbae"),
        ("kind=article&since=2020", "b"),
    ],
)
def test_filters_live_in_the_address(web: Any, asked: str, found: str) -> None:
    """Each filter, and two together, finds exactly its references, in order."""
    page = web.get(f"/?{asked}")
    assert "".join(listed(page)) == found
    assert f"{len(found)} of 5 references match" in re.sub(r"<[^>]+>", "", page)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("tag=maybe", "known: open, all, judged"),
        ("office=XX", "known: US, EP"),
        ("verdict=lost", "known: prior_art"),
        ("element=Z", "known: A, B"),
        ("since=yesterday", "is no day; write 2026-03-04"),
        ("least=many", "is not a number"),
        ("page=-1", "is not a number"),
    ],
)
def test_a_filter_that_is_not_known_is_named(web: Any, asked: str, says: str) -> None:
    """A mistyped bookmark gets an error that lists what there is, never a list that looks complete."""
    answer = web.client.get(f"/?{asked}")
    assert answer.status_code == 404
    assert says in answer.text


def test_a_page_past_the_end_is_the_last(web: Any) -> None:
    """After the list got shorter an old address still shows something."""
    assert listed(web.get("/?page=99")) == ["a", "b", "c", "d", "e"]


def test_judging_records_and_does_not_move_the_list(web: Any) -> None:
    """The judged row keeps its place, marked, with an undo; a list made anew leaves it out."""
    web.get("/")
    answer = web.post(
        "/reference/bbbbbbbbbbbb/tag", tag="relevant", note="shows B", element=["A", "B"], category="X",
        last="0", back="/?as_of=0#r-bbbbbbbbbbbb",
    )  # fmt: skip
    assert str(answer.url).endswith("/?as_of=0&done=1#r-bbbbbbbbbbbb")
    assert listed(answer.text) == ["a", "b", "c", "d", "e"]
    assert "Recorded as number 1: <bdi>relevant X A B shows B" in answer.text
    assert "1 decided since this list was made" in answer.text
    made = web.decisions()[0]
    assert (made.kind, made.made_by, made.records) == ("tag", "ida", ("bbbbbbbbbbbb", "bbbbbbbbbbb2"))
    assert made.facts == {"tag": "relevant", "note": "shows B", "elements": ["A", "B"], "category": "X"}
    assert listed(web.get("/")) == ["a", "c", "d", "e"]
    assert listed(web.get("/?tag=relevant")) == ["b"]


def test_a_decision_made_on_the_command_line_shows_at_once(web: Any) -> None:
    """The file is read for every page; what another program wrote counts."""
    web.get("/")
    facts = {"tag": "not relevant", "note": "", "elements": [], "category": ""}
    Decisions(web.folder).add("tag", ("aaaaaaaaaaaa",), facts, "ada", web_now())
    assert listed(web.get("/")) == ["b", "c", "d", "e"]


def web_now() -> Any:
    """Return a time."""
    from datetime import UTC, datetime

    return datetime(2026, 11, 25, 8, tzinfo=UTC)


def test_another_state_of_the_store_is_read_again(web: Any) -> None:
    """What a run writes shows on the next page, without a restart."""
    web.get("/")
    with open_store(web.folder) as con:
        con.execute("UPDATE reference SET title = 'Renamed' WHERE reference_id = 'aaaaaaaaaaaa'")
    assert "Renamed" in web.get("/")


def test_empty_states_teach(empty: Any) -> None:
    """Before the first run the page says which commands to give."""
    page = empty.get("/")
    assert "Nothing has been searched yet" in page
    assert f"antedate run {empty.folder}" in page


def test_empty_lists_say_why(web: Any) -> None:
    """A filter that matches nothing, a tag nobody gave and all judged are told apart."""
    assert "Nothing matches these filters" in web.get("/?kind=" + quote("web page"))
    assert "None is tagged so" in web.get("/?tag=relevant")
    for key in "abcde":
        web.post(f"/reference/{key * 12}/tag", tag="undecided", last="99")
    assert "All 5 are judged" in web.get("/")


def test_a_store_of_runs_that_found_nothing_says_so(empty: Any) -> None:
    """No reference at all is not the same as all judged."""
    with open_store(empty.folder) as con:
        con.execute("INSERT INTO run VALUES ('r', '2026-11-24', '2026-11-24', 'complete')")
    assert "The runs so far found nothing" in empty.get("/")


def test_sweeps_not_answered_in_full_stand_on_every_page(web: Any) -> None:
    """The source is named on list, reference and help until a later sweep of it is complete."""
    log = "INSERT INTO search VALUES (?, 'crossref', 'hinge', 'hinge', '2026-11-24 02:00', ?, ?, 1, 9, FALSE, 1, 1, 0, 0)"
    with open_store(web.folder) as con:
        con.execute(log, ["2026-11-24T02:00:00Z", "failed", "answered 500 three times"])
    for address in ("/", "/reference/aaaaaaaaaaaa", "/help", "/answer/2"):
        answer = web.client.get(address)
        assert "crossref not answered in full" in answer.text, address
    assert "answered 500 three times" in web.get("/")
    with open_store(web.folder) as con:
        con.execute(log, ["2026-11-25T02:00:00Z", "skipped", "no key"])
    assert "crossref not answered in full" in web.get("/help")
    with open_store(web.folder) as con:
        con.execute(log, ["2026-11-26T02:00:00Z", "complete", ""])
    assert "not answered in full" not in web.get("/help")
    with open_store(web.folder) as con:
        con.execute(log, ["2026-11-27T02:00:00Z", "skipped", "answered in full today"])
    assert "not answered in full" not in web.get("/help")
