"""Changing anything: on the disk first, never over a newer decision, nothing typed lost."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest

from pipeline.decisions import Decisions
from pipeline.review.changes import going_back, local_address


def tag(web: Any, last: int, **fields: Any) -> Any:
    """Tag the first reference from a page that knew of decision `last`."""
    return web.post("/reference/aaaaaaaaaaaa/tag", **({"tag": "relevant", "last": str(last)} | fields))


def test_a_stale_page_never_goes_over_a_newer_judgement(web: Any) -> None:
    """The second of two pages opened together is told of the first one's decision and asked."""
    tag(web, 0, note="first", back="/?kind=article")
    answer = tag(web, 0, tag="not relevant", note="typed <long>", category="A", element=["B"])
    assert answer.status_code == 409
    assert "first" in answer.text and "ida" in answer.text
    assert "typed &lt;long&gt;</textarea>" in answer.text
    assert len(web.decisions()) == 1
    fields: dict[str, Any] = {}
    for name, value in re.findall(r'<input type="hidden" name="([a-z]+)" value="([^"]*)"', answer.text):
        fields.setdefault(name, []).append(value)
    assert fields["last"] == ["1"] and fields["tag"] == ["not relevant"] and fields["element"] == ["B"]
    again = web.post("/reference/aaaaaaaaaaaa/tag", **fields, note="typed <long>")
    assert again.status_code == 200
    assert web.decisions()[-1].facts == {
        "tag": "not relevant", "note": "typed <long>", "elements": ["B"], "category": "A",
    }  # fmt: skip


def test_a_decision_on_another_reference_is_no_conflict(web: Any) -> None:
    """Only decisions on the same records count as newer."""
    web.post("/reference/bbbbbbbbbbbb/tag", tag="relevant", last="0")
    assert tag(web, 0).status_code == 200


def test_the_same_change_sent_twice_is_written_once(web: Any) -> None:
    """A second click is no conflict and no second decision."""
    for _ in range(2):
        assert tag(web, 0, note="once").status_code == 200
    assert len(web.decisions()) == 1


def test_undo_takes_back_and_only_once(web: Any) -> None:
    """The tag no longer stands, the file keeps both lines, and a second undo is told so."""
    tag(web, 0)
    assert web.post("/undo", number="1", last="1").status_code == 200
    assert [one.kind for one in web.decisions()] == ["tag", "undo"]
    assert Decisions(web.folder).standing() == []
    again = web.post("/undo", number="1", last="2")
    assert again.status_code == 404
    assert "does not stand any more" in again.text


@pytest.mark.parametrize(
    ("address", "fields", "status", "says"),
    [
        ("/reference/aaaaaaaaaaaa/tag", {"tag": "great"}, 400, "tag"),
        ("/reference/aaaaaaaaaaaa/tag", {"tag": "relevant", "category": "Q"}, 400, "category"),
        ("/reference/aaaaaaaaaaaa/tag", {"tag": "relevant", "element": "Z"}, 404, "no element &#39;Z&#39;"),
        ("/reference/aaaaaaaaaaaa/tag", {"tag": "relevant", "owner": "me"}, 400, "owner"),
        ("/reference/zzzzzzzzzzzz/tag", {"tag": "relevant"}, 404, "no reference goes by"),
        ("/record/aaaaaaaaaaaa/ruling", {"same": "true", "other": ""}, 404, "name the other one"),
        ("/record/aaaaaaaaaaaa/ruling", {"same": "true", "other": "aaaaaaaaaaaa"}, 404, "name another"),
        ("/record/aaaaaaaaaaaa/ruling", {"same": "true", "other": "nothing"}, 404, "no reference goes by"),
        ("/record/zzzzzzzzzzzz/ruling", {"same": "false", "other": "aaaaaaaaaaaa"}, 404, "no record"),
        ("/record/aaaaaaaaaaaa/date", {"day": "2019", "why": " "}, 404, "say what shows the date"),
        ("/record/aaaaaaaaaaaa/date", {"day": "2999", "why": "flyer"}, 404, "lies in the future"),
        ("/record/aaaaaaaaaaaa/date", {"day": "soon", "why": "flyer"}, 404, "is no day"),
        ("/undo", {"number": "7"}, 404, "does not stand"),
        ("/undo", {}, 400, "number"),
    ],
)
def test_what_can_t_be_is_refused_and_nothing_is_written(
    web: Any, address: str, fields: dict[str, str], status: int, says: str
) -> None:
    """The error says what is wrong; the decisions file stays as it was."""
    answer = web.post(address, **fields)
    assert answer.status_code == status
    assert says in answer.text
    assert web.decisions() == []


def test_what_was_typed_comes_back_with_the_error(web: Any) -> None:
    """The reason for a date that can't be stands in its field again, ready to be sent."""
    answer = web.post("/record/aaaaaaaaaaaa/date", day="2999", why="a long <reason>")
    assert "a long &lt;reason&gt;</textarea>" in answer.text


@pytest.mark.parametrize("headers", [{}, {"origin": "http://evil.example"}, {"sec-fetch-site": "cross-site"}])
def test_a_change_from_elsewhere_is_refused(web: Any, headers: dict[str, str]) -> None:
    """A form on another site, or a program that names no origin, changes nothing."""
    answer = web.client.post("/reference/aaaaaaaaaaaa/tag", data={"tag": "relevant"}, headers=headers)
    assert answer.status_code == 403
    assert web.decisions() == []


def test_changes_are_posts_only(web: Any) -> None:
    """A link can't judge."""
    assert web.client.get("/undo").status_code in (404, 405)
    assert web.client.get("/reference/aaaaaaaaaaaa/tag").status_code in (404, 405)


@pytest.mark.parametrize(
    ("back", "goes"),
    [
        ("/?kind=article#r-a", "/?kind=article&done=3#r-a"),
        ("/?done=1&waits=1", "/?done=3"),
        ("/reference/a", "/reference/a?done=3"),
        ("//evil.example/x", "/?done=3"),
        ("http://evil.example/", "/?done=3"),
        ("/\\evil.example", "/?done=3"),
        ("javascript:alert(1)", "/?done=3"),
        ("/x\r\nSet-Cookie: a=b", "/?done=3"),
        ("", "/?done=3"),
    ],
)
def test_the_way_back_stays_here(back: str, goes: str) -> None:
    """Only addresses of our own are gone back to."""
    assert going_back(back, 3, False) == goes
    assert local_address(back) in (back, "/")


HOLD = """
import sys, duckdb
con = duckdb.connect(sys.argv[1])
print("held", flush=True)
sys.stdin.readline()
"""


@pytest.fixture
def held(web: Any) -> Iterator[Any]:
    """Let another program hold the store of the web."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(web.folder / "antedate.duckdb")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as holder:
        assert holder.stdout and holder.stdout.readline() == "held\n"
        yield holder
        holder.kill()


def test_while_the_store_is_locked_the_list_is_there_and_tags_are_kept(
    web: Any, request: pytest.FixtureRequest
) -> None:
    """A list read before is shown as of then; a tag is on the disk and on the page at once."""
    web.get("/")
    request.getfixturevalue("held")
    answer = tag(web, 0, note="kept", back="/?as_of=0")
    assert answer.status_code == 200
    assert "kept" in answer.text
    assert web.decisions()[0].facts["note"] == "kept"


def test_a_locked_store_never_read_is_said_and_nothing_typed_is_lost(web: Any, held: Any) -> None:
    """A plain page names the program that holds it; a form sent meanwhile comes back as typed."""
    page = web.client.get("/")
    assert page.status_code == 503
    assert f"process {held.pid}" in page.text
    answer = tag(web, 0, note="typed long")
    assert answer.status_code == 503
    assert "typed long</textarea>" in answer.text and "Try again" in answer.text
    assert web.decisions() == []


def test_a_ruling_while_a_run_is_going_on_is_kept_for_later(web: Any) -> None:
    """The decision is on the disk; the page says that it shows after the next run."""
    from pipeline.run_lock import run_lock

    web.get("/")
    with run_lock(web.folder):
        answer = web.post("/record/bbbbbbbbbbb2/ruling", same="false", other="bbbbbbbbbbbb", last="0")
    assert "the next run at the latest" in answer.text
    assert web.decisions()[0].facts == {"same": False}
