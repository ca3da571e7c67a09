"""The search log: what was asked, of whom, when, with what outcome, and every answer behind it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from lxml import html
from starlette.testclient import TestClient

from pipeline.review.app import create_app
from pipeline.review.log_page import ANSWERS, RUNS
from pipeline.review.site import Settings
from pipeline.store import open_store

FIRST = datetime.fromisoformat("2026-10-01T02:00:00")  # as the store keeps it: UTC, unmarked
RUN = "2026-10-02T02:00:00Z"
HOSTILE = 'lid <b>"hinge"</b> & \u202espring'
SEARCHES = (
    # source, sweep, asked, outcome, reason, requests, stated, floor, items, records, quarantined
    ("crossref", "all concepts", True, "complete", "", 2, 51, False, 51, 50, 1),
    ("arxiv", HOSTILE, True, "failed", "answered 503 five times", 5, None, False, 0, 0, 0),
    ("openalex", "all concepts", True, "incomplete", "stated 900, read 600", 6, 900, True, 600, 600, 0),
    ("epo_ops", "all concepts", False, "skipped", "needs a key", 0, None, False, 0, 0, 0),
)


@pytest.fixture
def logged(tmp_path: Path) -> Path:
    """Give a matter with two runs; the second asked four sources and got 52 answers of crossref."""
    with open_store(tmp_path) as con:
        for day, outcome in ((0, "complete"), (1, "incomplete")):
            at = FIRST + timedelta(days=day)
            con.execute(
                "INSERT INTO run VALUES (?, ?, ?, ?)",
                [f"{at:%Y-%m-%dT%H:%M:%SZ}", at, at + timedelta(minutes=4), outcome],
            )
        for source, sweep, asked, *rest in SEARCHES:
            at = FIRST + timedelta(days=1) if asked else None
            values = [RUN, source, sweep, f"({sweep})", at, *rest[:2], *rest[2:], 1.5]
            con.execute(f"INSERT INTO search VALUES ({', '.join('?' * 14)})", values)
        for seq in range(1, ANSWERS + 3):
            con.execute(
                "INSERT INTO response VALUES (?, ?, 'crossref', 'all concepts', ?, 200, ?, 'ab', 10, 1, 1, 0)",
                [seq, RUN, f"GET https://api.example/works?page={seq}&q=<i>", FIRST],
            )
        con.execute("INSERT INTO quarantine VALUES (2, 0, 'items[3]', 'no <u>name</u>', '{}')")
    return tmp_path


def client_of(folder: Path) -> TestClient:
    """Return a browser without scripts at the matter's page."""
    app = create_app(Settings(folder, 8123, lambda: datetime(2026, 11, 25, tzinfo=UTC), 0.1))
    return TestClient(app, base_url="http://127.0.0.1:8123")


def table(text: str, name: str) -> list[list[str]]:
    """Return the rows of the table of that name, cell by cell."""
    rows = html.fromstring(text).xpath(f"//*[@aria-label='{name}']//tbody/tr")
    return [[" ".join(cell.text_content().split()) for cell in row] for row in rows]


def test_the_newest_run_comes_first_with_its_sums(logged: Path) -> None:
    """Sums over the sweeps, counted by hand."""
    assert table(client_of(logged).get("/log").text, "Runs") == [
        ["2026-10-02 02:00 UTC", "incomplete", "2026-10-02 02:04 UTC", "13", "651", "650", "1", "0"],
        ["2026-10-01 02:00 UTC", "complete", "2026-10-01 02:04 UTC", "0", "0", "0", "0", "0"],
    ]


def test_failures_come_first_and_skips_apart(logged: Path) -> None:
    """Failed, incomplete, complete, each with its reason and numbers; what was not asked stands by itself."""
    page = client_of(logged).get("/log").text
    asked = table(page, "Sweeps that were asked")
    assert [(row[0], row[2], *row[4:9]) for row in asked] == [
        ("arxiv", "failed", "5", "–", "0", "0", "0"),
        ("openalex", "incomplete", "6", "900 or more", "600", "600", "0"),
        ("crossref", "complete", "2", "51", "51", "50", "1"),
    ]
    assert 'lid <b>"hinge"</b> & spring' in asked[0][1]
    assert "answered 503 five times" in asked[0][1]
    assert [row[:1] + row[2:] for row in table(page, "Sweeps that were not asked")] == [
        ["epo_ops", "skipped"]
    ]
    assert "needs a key" in page


def test_every_answer_is_one_click_away(logged: Path) -> None:
    """The number of answers leads to their list, that to each answer as text; pages go on to the last."""
    client = client_of(logged)
    address = html.fromstring(client.get("/log").text).xpath("//a[contains(@href, '/log/sweep')]/@href")
    assert len(address) == 1
    first = client.get(address[0]).text
    assert [row[0] for row in table(first, "Answers")] == [str(n) for n in range(1, ANSWERS + 1)]
    assert "page=1&q=<i>" in table(first, "Answers")[0][-1]
    assert "/answer/1" in html.fromstring(first).xpath("//tbody//a/@href")
    later = html.fromstring(first).xpath("//a[@rel='next']/@href")
    last = client.get(later[0]).text
    assert [row[0] for row in table(last, "Answers")] == [str(ANSWERS + 1), str(ANSWERS + 2)]
    assert not html.fromstring(last).xpath("//a[@rel='next']")


def test_what_was_not_understood_is_listed_with_its_answer(logged: Path) -> None:
    """Item, place, reason as text, and the way to the answer."""
    page = client_of(logged).get("/log").text
    assert table(page, "Kept, but not understood") == [
        ["2 of crossref", "1", "items[3]: no <u>name</u>", "{}"]
    ]


def test_an_earlier_run_has_an_address(logged: Path) -> None:
    """?run= names it; one that is not known is not found, in words."""
    client = client_of(logged)
    assert "It ended complete" in client.get("/log?run=2026-10-01T02:00:00Z").text
    answer = client.get("/log?run=2020")
    assert (answer.status_code, "no run &#39;2020&#39;" in answer.text) == (404, True)
    missing = client.get("/log/sweep?run=2020&source=arxiv&sweep=x")
    assert missing.status_code == 404


def test_old_runs_are_pages_further(logged: Path) -> None:
    """So many a page, and a way to those before them."""
    with open_store(logged) as con:
        for day in range(2, RUNS + 4):
            at = FIRST + timedelta(days=day)
            con.execute("INSERT INTO run VALUES (?, ?, NULL, NULL)", [f"{at:%Y-%m-%dT%H:%M:%SZ}", at])
    client = client_of(logged)
    page = client.get("/log").text
    rows = table(page, "Runs")
    assert len(rows) == RUNS
    assert rows[0][1] == "not ended"
    assert "It has not ended" in page
    older = html.fromstring(page).xpath("//a[text()='Older runs']/@href")[0]
    assert len(table(client.get(older).text, "Runs")) == 4


def test_torn_lines_are_told_of(logged: Path) -> None:
    """A journal line that a crash cut off is named by its number."""
    (logged / "journal.jsonl").write_bytes(b'{"line": "run sta')
    assert "journal.jsonl: line 1 was cut off" in client_of(logged).get("/log").text


def test_no_run_yet_leads_to_the_plan(empty_folder: Path) -> None:
    """The empty log says what to read first."""
    page = client_of(empty_folder).get("/log").text
    assert "No run has been made yet" in page
    assert 'href="/plan"' in page
