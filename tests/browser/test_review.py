"""The review page in a real browser: read, judge and rule without the mouse, and nothing leaves the machine."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from pipeline.review.site import NAV
from pipeline.store import open_store
from tests.browser.conftest import serving

NEW = """
[invention]
title = "Emitter"
summary = "An emitter."
[invention.elements]
A = "an emitter"
[[concept]]
name = "emitter"
terms = ["drip emitter"]
"""
HOSTILE = '<script>alert(1)</script>\u202e"><b>' + "W" * 10_000


def test_ten_hits_are_judged_by_keyboard(review: Any, open_page: Callable[..., Any]) -> None:
    """Ten keys, ten decisions, in order; the list stays as it was; undo and a list made anew follow."""
    page = open_page()
    page.goto(review.address)
    before = page.locator("article.hit").evaluate_all("all => all.map(one => one.id)")
    page.keyboard.press("j")
    for done, key in enumerate("ynmynmynmy", start=1):
        page.keyboard.press(key)
        page.wait_for_selector(f"text=Recorded as number {done}")
        page.wait_for_load_state()  # the keys' script runs after the words are there
    made = review.decisions()
    words = {"y": "relevant", "n": "not relevant", "m": "undecided"}
    assert [one.facts["tag"] for one in made] == [words[key] for key in "ynmynmynmy"]
    assert [f"r-{one.records[0]}" for one in made] == before[:10]
    assert page.locator("article.hit").evaluate_all("all => all.map(one => one.id)") == before
    assert page.evaluate("document.activeElement.id") == before[10]
    page.keyboard.press("k")
    page.keyboard.press("z")
    page.wait_for_selector("text=took back decision 10")
    assert review.decisions()[-1].facts == {"undoes": 10}
    page.wait_for_load_state()
    page.keyboard.press("g")
    page.wait_for_selector("text=9 of 62 judged")
    assert page.locator("article.hit").first.get_attribute("id") == before[9]


def test_a_note_is_typed_with_the_keys_off_and_kept(review: Any, open_page: Callable[..., Any]) -> None:
    """Letters in a field are letters; the note goes with the judgement."""
    page = open_page()
    page.goto(review.address)
    page.keyboard.press("j")
    page.keyboard.press("e")
    page.keyboard.type("jynz: my note?")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    page.keyboard.press("Escape")
    page.keyboard.press("y")
    page.wait_for_selector("text=Recorded as number 1")
    facts = review.decisions()[0].facts
    assert (facts["note"], facts["elements"]) == ("jynz: my note?", ["A"])


def test_filters_live_in_the_address_and_survive_a_reload(shown: Any, open_page: Callable[..., Any]) -> None:
    """Slash leads to the field; the address of the answer is the view, also after a reload."""
    page = open_page()
    page.goto(shown.address)
    page.keyboard.press("/")
    page.keyboard.type("labyrinth")
    page.keyboard.press("Enter")
    page.wait_for_url("**/?*text=labyrinth*")
    rows = page.locator("article.hit").count()
    assert 0 < rows < 50
    page.reload()
    assert page.locator("article.hit").count() == rows
    assert page.locator('input[name="text"]').input_value() == "labyrinth"


def test_a_reference_is_opened_and_ruled_different(review: Any, open_page: Callable[..., Any]) -> None:
    """The record ruled out becomes a reference of its own; taking the ruling back joins it again."""
    page = open_page()
    page.goto(review.address)
    page.keyboard.press("j")
    page.keyboard.press("o")
    page.wait_for_url("**/reference/*")
    records = page.locator(".record").count()
    assert records > 1
    page.get_by_role("button", name="This is a different one").last.click()
    page.wait_for_selector("text=Recorded as number 1: different")
    assert 0 < page.locator(".record").count() < records
    page.get_by_role("button", name="Take back decision 1").click()
    page.wait_for_selector("text=took back decision 1")
    assert page.locator(".record").count() == records
    page.wait_for_load_state()
    page.keyboard.press("b")
    page.wait_for_selector("h1:has-text('New hits')")


def test_the_list_is_walked_from_page_to_page_by_keyboard(review: Any, open_page: Callable[..., Any]) -> None:
    """j and k lead to the neighbours in the list, judged on the way, and b back to where one is by then."""
    page = open_page()
    page.goto(review.address)
    names = page.locator("article.hit").evaluate_all("all => all.map(one => one.id.slice(2))")
    page.keyboard.press("j")
    page.keyboard.press("o")
    page.wait_for_url(f"**/reference/{names[0]}?*")
    page.wait_for_load_state()
    page.keyboard.press("y")
    page.wait_for_selector("text=Recorded as number 1")
    for key, name in (("j", names[1]), ("j", names[2]), ("k", names[1])):
        page.wait_for_load_state()
        page.keyboard.press(key)
        page.wait_for_url(f"**/reference/{name}?*")
    page.wait_for_load_state()
    page.keyboard.press("b")
    page.wait_for_url(f"**/?*#r-{names[1]}")
    assert page.locator("article.hit").first.get_attribute("id") == f"r-{names[0]}", "the list has not moved"


def test_the_element_matrix_is_seen(shown: Any, open_page: Callable[..., Any]) -> None:
    """Its picture is there, and its table names fifty references."""
    page = open_page()
    page.goto(shown.address + "pictures/elements")
    page.locator("main svg:visible, main img:visible").first.wait_for()
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    assert page.locator("main details table tbody tr").count() == 50


def test_keys_can_be_turned_off(shown: Any, open_page: Callable[..., Any]) -> None:
    """WCAG 2.1.4: single letters do nothing once switched off in Help, also after a reload."""
    page = open_page()
    page.goto(shown.address + "help")
    page.get_by_label("Single keys are on").uncheck()
    page.goto(shown.address)
    page.keyboard.press("j")
    page.keyboard.press("y")
    page.wait_for_timeout(300)
    assert shown.decisions() == []


def test_everything_works_without_scripts(review: Any, open_page: Callable[..., Any]) -> None:
    """Judge, note and take back by plain forms; the row stays where it was, and so does the reader."""
    page = open_page(scripts=False)
    page.goto(review.address)
    row = page.locator("article.hit").nth(2)
    name = row.get_attribute("id")
    row.locator("summary").click()
    row.locator("textarea").fill("by hand")
    row.get_by_role("button", name="Not relevant").click()
    assert page.url.endswith(f"#{name}")
    assert page.locator("article.hit").nth(2).get_attribute("id") == name
    assert "by hand" in page.locator(f"#{name} .note").inner_text()
    page.locator(f"#{name}").get_by_role("button", name="Take back").click()
    assert [one.kind for one in review.decisions()] == ["tag", "undo"]


def test_two_tabs_never_go_over_each_other(review: Any, open_page: Callable[..., Any]) -> None:
    """The older tab is asked; what was typed in it is there and can still be recorded."""
    old, new = open_page(), open_page()
    old.goto(review.address)
    new.goto(review.address)
    new.locator("article.hit").first.get_by_role("button", name="Relevant", exact=True).click()
    new.wait_for_selector("text=Recorded as number 1")
    row = old.locator("article.hit").first
    row.locator("summary").click()
    row.locator("textarea").fill("the other view")
    row.get_by_role("button", name="Not relevant").click()
    old.wait_for_selector("h1:has-text('Somebody has decided on this since')")
    assert len(review.decisions()) == 1
    assert old.locator("textarea").input_value() == "the other view"
    old.get_by_role("button", name="Record mine as well").click()
    old.wait_for_selector("text=Recorded as number 2")
    assert [one.facts["tag"] for one in review.decisions()] == ["relevant", "not relevant"]


def every_address(page: Any, review: Any) -> Iterator[str]:
    """Yield the pages of the menu, and one of each kind that they lead to."""
    yield from (path for path, _ in NAV)
    page.goto(review.address)
    reference = page.locator("article.hit h2 a").first.get_attribute("href")
    yield reference
    page.goto(review.address.rstrip("/") + reference)
    yield page.locator('a[href^="/answer/"]').first.get_attribute("href")
    yield "/?tag=all&kind=article&order=oldest"
    yield "/?text=nothingofthekind"
    yield "/nowhere"


def complaints(page: Any) -> list[tuple[str, list[str]]]:
    """Return what axe-core has to say against the page, its details open: the rule, and where."""
    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    # Every rule runs on every node; only the places where all is well are not listed, which took half the time.
    options = {"runOnly": {"type": "tag", "values": rules}, "resultTypes": ["violations"]}
    result = Axe().run(page, options=options).response
    return [(one["id"], [node["html"][:200] for node in one["nodes"][:3]]) for one in result["violations"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(shown: Any, open_page: Callable[..., Any], scheme: str) -> None:
    """axe-core, an outside judge of WCAG 2.2 A and AA, has no complaint about any page."""
    page, crawler = open_page(scheme=scheme), open_page()
    found = {}
    for address in every_address(crawler, shown):
        page.goto(shown.address.rstrip("/") + address)
        if said := complaints(page):
            found[address] = said
    assert found == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_where_somebody_else_has_decided(
    review: Any, open_page: Callable[..., Any], scheme: str
) -> None:
    """The page of a conflict, with a note that was typed, is held to the same rules."""
    page, other = open_page(scheme=scheme), open_page()
    page.goto(review.address)
    other.goto(review.address)
    other.locator("article.hit").first.get_by_role("button", name="Relevant", exact=True).click()
    other.wait_for_selector("text=Recorded as number 1")
    row = page.locator("article.hit").first
    row.locator("summary").click()
    row.locator("textarea").fill("the other view")
    row.get_by_role("button", name="Not relevant").click()
    page.wait_for_selector("h1:has-text('Somebody has decided on this since')")
    assert complaints(page) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_before_any_run(tmp_path: Path, open_page: Callable[..., Any], scheme: str) -> None:
    """A matter just made has a page that says what to do, and it is held to the same rules."""
    (tmp_path / "matter.toml").write_text(NEW, encoding="utf-8")
    page = open_page(scheme=scheme)
    with serving(tmp_path) as review:
        page.goto(review.address)
        page.wait_for_selector("h1:has-text('Nothing has been searched yet')")
        assert complaints(page) == []


@pytest.fixture(scope="module")
def overlong(demo_played: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """Serve a copy whose titles, names and addresses are 10,000 hostile characters long."""
    folder = Path(shutil.copytree(demo_played[0] / "matter", tmp_path_factory.mktemp("overlong") / "matter"))
    with open_store(folder) as con:
        con.execute(
            "UPDATE reference SET title = ? WHERE reference_id IN (SELECT reference_id FROM score WHERE place < 4)",
            [HOSTILE],
        )
        con.execute(
            "UPDATE record SET title = $1, venue = $1, native_id = $1, abstract = $1 || abstract, "
            "people = [{name: $1, role: 'author', family: '', given: ''}] WHERE record_id IN "
            "(SELECT record_id FROM membership JOIN score USING (reference_id) WHERE place < 4)",
            [HOSTILE],
        )
        con.execute(
            "UPDATE dated_event SET text = $1, note = $1 WHERE record_id IN (SELECT record_id FROM membership JOIN score USING (reference_id) WHERE place < 4)",
            [HOSTILE],
        )
        con.execute("UPDATE topic SET terms = ?", [HOSTILE])
        con.execute("UPDATE response SET request = ?", [HOSTILE])
    with serving(folder) as running:
        yield running


@pytest.mark.parametrize("width", [390, 640, 1280])  # 640 is 1280 at 200 % zoom
def test_no_page_is_wider_than_the_window(overlong: Any, open_page: Callable[..., Any], width: int) -> None:
    """With titles, names and addresses of 10,000 hostile characters the layout holds at every width."""
    page, crawler = open_page(width=width), open_page()
    for address in every_address(crawler, overlong):
        page.goto(overlong.address.rstrip("/") + address)
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, address
        assert page.locator("script:not([src])").count() == 0
        assert "\u202e" not in page.content()


def test_print_shows_the_text_and_no_buttons(shown: Any, open_page: Callable[..., Any]) -> None:
    """On paper the list is its text; controls are left out."""
    page = open_page()
    page.goto(shown.address)
    page.emulate_media(media="print")
    assert page.locator("button:visible").count() == 0
    assert page.locator("article.hit h2:visible").count() > 10


def test_judging_goes_on_while_a_run_holds_the_store(review: Any, open_page: Callable[..., Any]) -> None:
    """With the store held by another program a key still records, and the list is still there."""
    page = open_page()
    page.goto(review.address)
    with open_store(review.folder):
        page.keyboard.press("j")
        page.keyboard.press("y")
        page.wait_for_selector("text=Recorded as number 1")
        page.goto(review.address)
        assert re.search("Another program is writing to the store|references match", page.content())
    assert review.decisions()[0].facts["tag"] == "relevant"
