"""The pages of the pictures: drawings, files to save and tables say the same; nothing is loaded from outside."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from lxml import html
from starlette.testclient import TestClient

from pipeline.review.app import create_app
from pipeline.review.site import Settings

NAMES = ("timeline", "topics", "elements", "sources")
LOOKS = ("light-wide", "light-narrow", "dark-wide", "dark-narrow")


def client_of(folder: Path) -> TestClient:
    """Return a browser without scripts at the matter's page."""
    app = create_app(Settings(folder, 8123, lambda: datetime(2026, 11, 25, tzinfo=UTC), 0.1))
    return TestClient(app, base_url="http://127.0.0.1:8123")


@pytest.fixture
def client(drawn_up: Path) -> TestClient:
    """Give a browser at the small field."""
    return client_of(drawn_up)


@pytest.mark.parametrize("name", NAMES)
def test_every_drawing_a_page_names_is_there(client: TestClient, name: str) -> None:
    """Each still drawing, each file to save and the live one answer with their kind."""
    tree = html.fromstring(client.get(f"/pictures/{name}").text)
    stills = [*tree.xpath("//source/@srcset"), *tree.xpath("//img[@alt != '']/@src")]
    assert [re.findall("look=([a-z-]+)", still)[0] for still in stills] == [
        "dark-narrow", "light-narrow", "dark-wide", "light-wide",
    ]  # fmt: skip
    for still in stills:
        answer = client.get(still)
        assert (answer.status_code, answer.headers["content-type"]) == (200, "image/svg+xml")
    saves = tree.xpath("//figcaption//a/@href")
    kinds = {client.get(save).headers["content-type"] for save in saves}
    assert kinds == {"image/svg+xml", "image/png"}
    for save in saves:
        assert client.get(save).headers["content-disposition"].startswith("attachment; filename=")
    live = tree.xpath("//figure")[0]
    address = f"{live.get('data-drawing')}?look=light-wide{live.get('data-query')}"
    assert "layer" in json.dumps(client.get(address).json())
    assert tree.xpath("//img/@alt")[0].endswith("the tables below say the same in words.")


@pytest.mark.parametrize("name", NAMES)
def test_drawings_may_load_nothing(client: TestClient, name: str) -> None:
    """A drawing opened by itself is in a sandbox; the page has no address outside."""
    answer = client.get(f"/pictures/{name}/drawing.svg?look=dark-wide")
    assert answer.headers["content-security-policy"] == "sandbox; default-src 'none'"
    page = client.get(f"/pictures/{name}").text
    assert not re.findall(r'(?:src|href|srcset)="(?!/|\?|#)[^"]*"', page)
    assert not re.findall(r"<script(?! src=)|<style| style=| on[a-z]+=", page)


def test_the_tables_of_a_page_lead_to_the_references(client: TestClient) -> None:
    """A row about a reference has one link, to its page; what it says is the picture's table."""
    tree = html.fromstring(client.get("/pictures/elements").text)
    rows = tree.xpath("//table")[0].xpath(".//tbody/tr")
    assert [row.xpath(".//a/@href") for row in rows] == [[f"/reference/r{n}"] for n in range(1, 6)]
    assert [cell.text_content() for cell in rows[1].xpath("td")] == [
        "#2", "A spring & a lid", "0.10", "0.60",
    ]  # fmt: skip


def test_a_hostile_title_is_text_on_the_page(client: TestClient) -> None:
    """Markup shows as letters; direction marks are gone."""
    page = client.get("/pictures/timeline").text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script>alert" not in page
    assert "\u202e" not in page


def test_the_matrix_turns_its_pages(client: TestClient) -> None:
    """?from= begins at a place, in the page and in all its drawings; past the end it says so."""
    tree = html.fromstring(client.get("/pictures/elements?from=4").text)
    assert [row.xpath("td")[0].text_content() for row in tree.xpath("//table")[0].xpath(".//tbody/tr")] == [
        "#4", "#5",
    ]  # fmt: skip
    assert all(still.endswith("look=light-wide&from=4") for still in tree.xpath("//img/@src"))
    assert tree.xpath("//a[@rel='prev']/@href") == ["/pictures/elements?from=1"]
    assert "none stands below place 98" in client.get("/pictures/elements?from=99").text


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/pictures/nothing", 400),
        ("/pictures/timeline/drawing.svg", 400),
        ("/pictures/timeline/drawing.svg?look=pink", 400),
        ("/pictures/elements?from=0", 400),
        ("/pictures/elements?from=x", 400),
        ("/pictures/elements/save.png?from=99", 404),
    ],
)
def test_what_is_no_picture_is_refused_in_words(client: TestClient, address: str, status: int) -> None:
    """A wrong name, look or place is a plain page, no fault of the program."""
    answer = client.get(address)
    assert answer.status_code == status
    assert "<h1>" in answer.text


@pytest.mark.parametrize("name", NAMES)
def test_a_matter_without_references_says_so(empty_folder: Path, name: str) -> None:
    """No run yet: words, no empty drawing, no script for one."""
    page = client_of(empty_folder).get(f"/pictures/{name}").text
    assert "No run has brought anything yet" in page
    assert "<figure" not in page
    assert "live.js" not in page


def test_the_script_is_ours_and_evaluates_nothing(client: TestClient) -> None:
    """One file from this machine, with the interpreter of expressions switched on."""
    answer = client.get("/pictures/live.js")
    assert answer.headers["content-type"].startswith("text/javascript")
    assert "figure.picture" in answer.text
    assert re.search(r"ast:\s*(?:true|!0)", answer.text)
    again = client.get("/pictures/live.js", headers={"If-None-Match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert client.get("/pictures/live.js", headers={"If-None-Match": '"old"'}).status_code == 200
