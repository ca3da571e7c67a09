"""The plan page sends nothing and shows what the command line prints, word for word."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from lxml import html
from starlette.testclient import TestClient

from pipeline.commands.plan import plan
from pipeline.review.app import create_app
from pipeline.review.site import Settings

MATTER = """
contact = "ada@example.org"
[invention]
title = "Emitter"
summary = "A secret summary"
[invention.elements]
A = "a secret element"
[[concept]]
name = "emitter"
terms = ["drip <b>emitter", "dripper"]
[[concept]]
name = "spring"
terms = ["spring & coil"]
"""


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    """Give a browser at a matter that was never run."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    app = create_app(Settings(tmp_path, 8123, lambda: datetime.now(UTC), 0.1))
    return TestClient(app, base_url="http://127.0.0.1:8123")


def test_page_and_command_say_the_same(
    client: TestClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every request the command prints stands on the page, in order, and no other."""
    assert plan(Namespace(matter=tmp_path, again=True)) == 0
    printed = capsys.readouterr().out
    requests = [line.strip() for line in printed.splitlines() if line.startswith(("    GET ", "    POST "))]
    tree = html.fromstring(client.get("/plan?again=true").text)
    assert [
        " ".join(node.text_content().split()) for node in tree.xpath("//ul[@class='requests']//code")
    ] == [" ".join(line.split()) for line in requests]
    assert len(requests) >= 4
    words = " ".join(tree.text_content().split())
    assert f"{len(requests)} first requests in all" in words
    for heading in tree.xpath("//section[@class='source']/h2"):
        assert heading.text_content() in printed


def test_the_invention_is_not_on_the_plan(client: TestClient) -> None:
    """Terms go out; summary and elements do not, and the page says so."""
    page = client.get("/plan").text
    assert "a secret" not in page.lower()
    assert "drip &lt;b&gt;emitter" in page
    assert "stay on this machine" in page


def test_a_key_is_named_never_shown(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """With its keys set, a source is planned, and the page names the variables only."""
    without = client.get("/plan").text
    assert "needs a key: set EPO_OPS_KEY and EPO_OPS_SECRET" in without
    monkeypatch.setenv("EPO_OPS_KEY", "k-4711")
    monkeypatch.setenv("EPO_OPS_SECRET", "s-0815")
    page = client.get("/plan").text
    assert "your key from EPO_OPS_KEY and EPO_OPS_SECRET" in page
    assert "4711" not in page
    assert "0815" not in page


def test_a_matter_that_does_not_read_is_told_as_on_the_command_line(
    client: TestClient, tmp_path: Path
) -> None:
    """The error names file and line; the page has no traceback."""
    (tmp_path / "matter.toml").write_text(MATTER + "\n[concept.x]\n", encoding="utf-8")
    answer = client.get("/plan")
    assert answer.status_code == 500
    assert "matter.toml" in answer.text
    assert "Traceback" not in answer.text
