"""`antedate capture` as its user types it: what leaves is said first, lists are read, all the work is done."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.cli import main

MATTER = """
contact = "ann@firm.example"
[invention]
title = "Self-flushing emitter"
summary = "A drip emitter that flushes itself when the sun warms the line."
[invention.elements]
A = "a drip emitter"
[[concept]]
name = "emitter"
terms = ["drip emitter"]
[capture]
hosts = ["{host}"]
"""
PAGE = (
    b"<html lang='en'><head><title>The Flusher</title><meta name='citation_date' content='2009/05/02'></head><body>"
    b"<main><p>"
    + b"A drip emitter flushes its seat when the sun warms the spring. " * 9
    + b"</p></main></body></html>"
)


@pytest.fixture
def matter(scripted_server: Any, tmp_path: Path) -> tuple[Path, Any]:
    """Give a matter that names the test's own server, and the server."""
    pages = {"/robots.txt": {}, "/flusher": {"body": PAGE, "headers": {"Content-Type": "text/html"}}}
    server = scripted_server(route=lambda seen: pages.get(seen.path, {"status": 404}))
    folder = tmp_path / "m"
    folder.mkdir()
    text = MATTER.replace("{host}", server.url.removeprefix("http://"))
    (folder / "matter.toml").write_text(text, encoding="utf-8")
    return folder, server


def test_the_plan_says_what_would_leave_and_sends_nothing(
    matter: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every address word for word, robots.txt, the pictures, the archive and how to keep it out, and who asks."""
    folder, server = matter
    urls = ["https://shop.example/a?b=1", "http://other.example:8080/c"]
    assert main(["capture", str(folder), *urls, "--plan"]) == 0
    said = capsys.readouterr().out
    for line in ("GET https://shop.example/robots.txt", "GET https://shop.example/a?b=1",
                 "GET http://other.example:8080/c", "up to 8 pictures", "https://web.archive.org",
                 "--no-archive", "ann@firm.example", "nothing was sent"):  # fmt: skip
        assert line in said
    assert main(["capture", str(folder), urls[0], "--plan", "--no-archive", "--pictures", "0"]) == 0
    said = capsys.readouterr().out
    assert "archive: nothing" in said and "no pictures" in said
    assert server.seen == [] and not (folder / "journal.jsonl").exists()


def test_a_list_is_read_line_by_line_and_a_bad_line_named(
    matter: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Notes and empty lines are passed over; the line that is no address is named and nothing is fetched."""
    folder, server = matter
    good = tmp_path / "good.txt"
    good.write_text("\ufeff# pages\nhttps://shop.example/a\n\n  https://shop.example/b  \n", encoding="utf-8")
    assert main(["capture", str(folder), "--list", str(good), "--plan"]) == 0
    said = capsys.readouterr().out
    assert "GET https://shop.example/a\n" in said and "GET https://shop.example/b\n" in said
    bad = tmp_path / "bad.txt"
    bad.write_text("https://shop.example/a\nfile:///etc/passwd\n", encoding="utf-8")
    assert main(["capture", str(folder), "--list", str(bad)]) == 2
    assert "bad.txt, line 2" in (said := capsys.readouterr().err) and "Nothing was fetched" in said
    assert main(["capture", str(folder), "--list", str(tmp_path / "none.txt")]) == 2
    assert main(["capture", str(folder)]) == 2
    assert "no address given" in capsys.readouterr().err
    assert server.seen == []


def test_a_captured_page_stands_in_the_ranking(matter: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """One command: fetched, kept, read, ranked by words and meaning, shown with its own word as no proof."""
    folder, server = matter
    assert main(["capture", str(folder), f"{server.url}/flusher", f"{server.url}/gone"]) == 3
    said = capsys.readouterr().out
    for part in ("kept whole in evidence/", "published 2009-05-02", "no proof", "no such page", "place 1",
                 "told to nobody", "incomplete"):  # fmt: skip
        assert part in said
    assert main(["hits", str(folder)]) == 0
    said = capsys.readouterr().out
    assert (
        "The Flusher" in said and "close to: A" in said and "at the latest, says web: captured here" in said
    )
    assert main(["show", str(folder), f"{server.url}/flusher"]) == 0
    said = capsys.readouterr().out
    assert "claimed published" in said and "citation_date" in said and "evidence: evidence/" in said
    assert main(["status", str(folder)]) == 0
    assert "web_archive" in capsys.readouterr().out
