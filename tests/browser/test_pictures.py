"""Pictures in a real browser: live under our policy, whole without the script, light on paper, hostile titles as letters."""

from __future__ import annotations

import contextlib
import re
import zlib
from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from pipeline.pictures.picture import DARK, LIGHT
from pipeline.store import open_store

PICTURES = tuple(f"pictures/{name}" for name in ("timeline", "topics", "elements", "sources"))
HOSTILE = "<script>alert(1)</script>\u202e" + "W" * 10_000


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 800), ("dark", 390)])
def test_every_picture_is_drawn_and_accessible(
    shown: Any, open_page: Callable[..., Any], scheme: str, width: int
) -> None:
    """Drawn live where it fits, still where it does not; axe finds nothing; open_page sees to the rest:

    no request beyond this machine, no breach of the policy, no fault of a script.
    """
    page = open_page(width, scheme)
    for path in PICTURES:
        page.goto(shown.address + path)
        page.wait_for_selector("figure.drawn .live svg" if width != 800 else "figure:not(.drawn) picture img")
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        assert Axe().run(page).response["violations"] == [], path
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path


def test_without_scripts_the_still_pictures_stand(shown: Any, open_page: Callable[..., Any]) -> None:
    """The page is whole: the picture of its look is there at its size, and its tables."""
    for width, look in ((1280, "light-wide"), (390, "light-narrow")):
        page = open_page(width, scripts=False)
        for path in PICTURES:
            with page.expect_response(f"**/drawing.svg?look={look}") as drawn:
                page.goto(shown.address + path)
            assert (drawn.value.status, drawn.value.headers["content-type"]) == (200, "image/svg+xml")
            box = page.locator("figure picture img").bounding_box()
            assert box["width"] > 200
            assert box["height"] > 100
            assert page.locator("main table").count() >= 2


def test_pointing_names_a_reference_and_a_click_opens_it(review: Any, open_page: Callable[..., Any]) -> None:
    """The hostile title is shown as letters, cut; the click leads to the reference's page."""
    with open_store(review.folder) as con:
        con.execute("UPDATE reference SET title = ?", [HOSTILE])
        best = con.execute("SELECT reference_id FROM score WHERE place = 1").fetchall()[0][0]
    page = open_page()
    for path, marks in (("timeline", ".mark-symbol"), ("topics", ".mark-symbol"), ("elements", ".mark-rect")):
        page.goto(f"{review.address}pictures/{path}")
        page.locator(f"figure.drawn .live {marks}.role-mark path").first.hover(force=True)
        tip = page.wait_for_selector("#vg-tooltip-element.visible").inner_text()
        assert "<script>alert(1)</script>WWW" in tip
        assert "\u202e" not in tip
        assert len(tip) < 400
        box = page.locator("#vg-tooltip-element").bounding_box()
        assert box["x"] + box["width"] <= 1280
    page.locator("figure.drawn .live .mark-rect.role-mark path").first.click(force=True)
    page.wait_for_url(f"**/reference/{best}")


def test_the_time_line_moves_only_when_asked(shown: Any, open_page: Callable[..., Any]) -> None:
    """The wheel scrolls the page; with Shift it zooms the days."""
    page = open_page()
    page.goto(shown.address + "pictures/timeline")
    page.wait_for_selector("figure.drawn .live svg")
    years = "[...document.querySelectorAll('.live .role-axis-label text')].map(one => one.textContent).join()"
    before = page.evaluate(years)
    page.locator(".live svg").hover(position={"x": 500, "y": 200})
    page.mouse.wheel(0, 60)
    until(page, "window.scrollY > 0")
    assert page.evaluate(years) == before
    page.evaluate("window.scrollTo(0, 0)")
    page.keyboard.down("Shift")
    page.mouse.wheel(0, -600)
    page.keyboard.up("Shift")
    until(page, f"{years} !== {before!r}")


def test_on_paper_the_light_picture_is_printed(shown: Any, open_page: Callable[..., Any]) -> None:
    """From a dark screen with a live drawing, the PDF holds the ink of the light look, not the dark one's."""
    page = open_page(scheme="dark")
    page.goto(shown.address + "pictures/elements")
    page.wait_for_selector("figure.drawn .live svg")
    until(page, "document.querySelector('.paper').complete")
    inks = colours_of(page.pdf())
    assert colour(LIGHT.ink) in inks
    assert colour(DARK.ink) not in inks


def test_every_answer_of_the_log_is_one_click_away(shown: Any, open_page: Callable[..., Any]) -> None:
    """Menu, a sweep's answers, the answer: shown as text in our own page."""
    page = open_page()
    page.goto(shown.address)
    page.get_by_role("link", name="Search log").click()
    page.locator('a[href^="/log/sweep"]').first.click()
    page.locator('a[href^="/answer/"]').first.click()
    assert page.locator("pre.raw").inner_text().strip()


def until(page: Any, expression: str) -> None:
    """Wait until the expression holds; our policy forbids the library's own way, which evaluates a text."""
    for _ in range(200):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never came true: {expression}")


def colour(hexadecimal: str) -> tuple[int, ...]:
    """Return the colour in hundredths, as exact as a PDF gives it."""
    return tuple(round(int(hexadecimal[at : at + 2], 16) / 2.55) for at in (1, 3, 5))


def colours_of(pdf: bytes) -> set[tuple[int, ...]]:
    """Return every fill colour of the PDF, in hundredths of red, green and blue."""
    found: set[tuple[int, ...]] = set()
    for packed in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.S):
        with contextlib.suppress(zlib.error):
            for parts in re.findall(rb"([\d.]+) ([\d.]+) ([\d.]+) rg", zlib.decompress(packed)):
                found.add(tuple(round(float(part) * 100) for part in parts))
    return found
