"""Reference, answer, help and error pages: what they show, and that a template shows no more than its dataclass holds."""

from __future__ import annotations

import gzip
import re
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from jinja2 import Environment, nodes

from pipeline import store
from pipeline.review import (
    answer_page,
    door,
    help_page,
    hits_page,
    log_page,
    pictures_page,
    plan_page,
    reference_page,
)
from pipeline.review.changes import AgainPage
from pipeline.review.site import NAV, environment
from pipeline.store import open_store

HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>\u202egnp.exe\u2066\x00\x1b[31m&amp;"
PAGES = {
    "hits.html": hits_page.HitsPage,
    "no_hits.html": hits_page.HitsPage,
    "reference.html": reference_page.ReferencePage,
    "answer.html": answer_page.AnswerPage,
    "help.html": help_page.HelpPage,
    "error.html": door.ErrorPage,
    "first.html": door.FirstPage,
    "again.html": AgainPage,
    "picture.html": pictures_page.PicturePage,
    "log.html": log_page.LogPage,
    "sweep.html": log_page.SweepPage,
    "plan.html": plan_page.PlanPage,
}


def test_a_reference_is_shown_whole(web: Any) -> None:
    """Verdict with reason and rule, closeness with passage, dates with who says so, why one, raw answer."""
    page = web.get("/reference/bbbbbbbbbbbb")
    text = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    for fact in (
        "Hinge with a spring", "2020 (year only)", "US counts", "35 USC 102", "before 2026-03-16",
        "a friction hinge", "Version 1: article", "Version 2: article", "same DOI", "cutoff US",
        "openalex: issued = as said", "Nothing yet.", "Estimates from the data", "1. A lid.",
    ):  # fmt: skip
        assert fact in text, fact
    assert "<mark>The hinge holds.<sup> A</sup></mark>" in page
    assert 'href="/answer/2"' in page


def test_the_store_is_opened_once_for_a_reference(web: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """An opening costs some milliseconds; a patent's page (the longest) asks all of its in one go."""
    with open_store(web.folder) as con:
        con.execute("INSERT INTO identifier VALUES ('cccccccccccc', 'publication', 'EP1A1', 'EP-1', '', '')")
    web.get("/reference/cccccccccccc")
    opened: list[Path] = []
    connect = store._connect

    def noting(path: Path, *rest: Any) -> Any:
        opened.append(path)
        return connect(path, *rest)

    monkeypatch.setattr(store, "_connect", noting)
    assert "In force" in web.get("/reference/cccccccccccc")
    assert len(opened) == 1


def test_another_name_leads_to_the_reference(web: Any) -> None:
    """A record, a place and a DOI each lead to the page of the reference."""
    for name in ("bbbbbbbbbbb2", "%232"):
        assert str(web.client.get(f"/reference/{name}").url).endswith("/reference/bbbbbbbbbbbb")
    assert web.client.get("/reference/nobody").status_code == 404


def test_what_if_filed_on_another_day(web: Any) -> None:
    """The verdict is worked out for the day asked about; a past day and a wrong word are refused."""
    assert "Judged as if filed on 2027-02-01" in web.get("/reference/cccccccccccc?if_filed_on=2027-02-01")
    assert web.client.get("/reference/cccccccccccc?if_filed_on=2020-01-01").status_code == 404
    assert web.client.get("/reference/cccccccccccc?if_filed_on=soon").status_code == 404


def test_history_shows_undone_decisions_too(web: Any) -> None:
    """Every decision stays on the page, the one taken back marked so."""
    web.post("/reference/aaaaaaaaaaaa/tag", tag="relevant", note="why not", last="0")
    web.post("/undo", number="1", last="1")
    page = web.get("/reference/aaaaaaaaaaaa")
    assert "why not" in page and "<b>taken back</b>" in page
    assert "took back decision 1" in page


def test_a_date_by_hand_stands_on_the_page(web: Any) -> None:
    """The date entered, its reason and its decision are among the dated events and on the time line."""
    web.post("/record/eeeeeeeeeeee/date", day="2018-03", why="the flyer", evidence="flyer.pdf", last="0")
    page = web.get("/reference/eeeeeeeeeeee")
    for fact in ("2018-03", "the flyer", "flyer.pdf", "entered by hand"):
        assert fact in page, fact


def test_an_answer_is_shown_as_text_and_saved_byte_for_byte(web: Any) -> None:
    """The body is escaped on the page; saved, it is a download that no browser renders."""
    body = b"<html><script>alert(1)</script></html>"
    put_answer(web.folder, body)
    page = web.get("/answer/3")
    assert "&lt;script&gt;" in page and "<script>alert" not in page
    saved = web.client.get("/answer/3/body")
    assert saved.content == body
    assert saved.headers["content-type"] == "application/octet-stream"
    assert saved.headers["content-disposition"].startswith("attachment;")
    assert "sandbox" in saved.headers["content-security-policy"]
    assert web.client.get("/answer/99").status_code == 404
    assert web.client.get("/answer/x").status_code == 400


def test_an_evidence_file_is_saved_and_nothing_else_of_the_folder(web: Any) -> None:
    """A captured page leaves as a download; no other file of the matter can be asked for."""
    kept = web.folder / "evidence" / "2026-11-24" / "020000-00ff.warc.gz"
    kept.parent.mkdir(parents=True)
    kept.write_bytes(b"<script>alert(1)</script>")
    saved = web.client.get("/evidence/2026-11-24/020000-00ff.warc.gz")
    assert (saved.content, saved.headers["content-type"]) == (kept.read_bytes(), "application/octet-stream")
    assert saved.headers["content-disposition"].startswith("attachment;")
    for other in ("2026-11-24/..%2F..%2Fmatter.toml", "..%2F/matter.toml", "2026-11-24/020000-00fe.warc.gz",
                  "2026-11-24%2F../x.warc.gz"):  # fmt: skip
        assert web.client.get(f"/evidence/{other}").status_code == 404, other


def put_answer(folder: Path, body: bytes) -> None:
    """Keep a body as answer 3."""
    import hashlib

    sha256 = hashlib.sha256(body).hexdigest()
    path = folder / "responses" / sha256[:2] / f"{sha256}.gz"
    path.parent.mkdir(parents=True)
    path.write_bytes(gzip.compress(body))
    with open_store(folder) as con:
        con.execute(
            "INSERT INTO response VALUES (3, 'r', 'cross\"ref', 's', 'GET', 200, '2026-11-24', ?, 3, 1, 1, 0)",
            [sha256],
        )


@pytest.mark.parametrize(
    ("body", "shown"),
    [
        (b'{"a":[1,"\xc3\xa9"]}', '{\n  "a": [\n    1,\n    "é"\n  ]\n}'),
        (b"<a><b>1</b></a>", "<a>\n  <b>1</b>\n</a>\n"),
        (b"TY  - JOUR\nER  -", "TY  - JOUR\nER  -"),
        (b"\xff\xfe", "\ufffd\ufffd"),
        (b'<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/passwd">]><a>&x;</a>', None),
    ],
)
def test_a_body_is_laid_out_and_no_entity_read(body: bytes, shown: str | None) -> None:
    """JSON and XML get a line a value, all else comes as it is; nothing outside the body is read."""
    text = answer_page.readable(body)
    assert "root:" not in text
    assert shown is None or text == shown


def test_help_lists_every_key(web: Any) -> None:
    """Each key that the script knows stands on the help page."""
    script = (Path(hits_page.__file__).parent / "static" / "review.js").read_text(encoding="utf-8")
    keys = set(re.findall(r'^    "?([a-z?])"?: \(\)', script, re.MULTILINE))
    templates = Path(hits_page.__file__).parent / "templates"
    for template in templates.glob("*.html"):
        keys |= set(re.findall(r'data-key="(.)"', template.read_text(encoding="utf-8")))
    shown = set(re.findall(r"<kbd>(.)</kbd>", web.get("/help")))
    assert keys and keys == shown


def test_every_page_of_the_menu_is_there(web: Any) -> None:
    """No dead link in the menu, and an unknown address gets a page, not a trace."""
    for path, _ in NAV:
        assert web.client.get(path).status_code == 200, path
    answer = web.client.get("/nowhere")
    assert answer.status_code == 404 and "There is no such page here" in answer.text
    assert "content-security-policy" in answer.headers


def test_a_broken_matter_file_is_said_in_the_command_lines_words(web: Any) -> None:
    """The page names file and line as the command does."""
    (web.folder / "matter.toml").write_text("[invention", encoding="utf-8")
    answer = web.client.get("/")
    assert answer.status_code == 500
    assert "matter.toml" in answer.text and "Traceback" not in answer.text


def test_hostile_text_is_shown_as_text(web: Any) -> None:
    """Markup, direction marks and control characters from anywhere stay text on every page."""
    with open_store(web.folder) as con:
        con.execute("UPDATE reference SET title = ? WHERE reference_id = 'aaaaaaaaaaaa'", [HOSTILE])
        con.execute(
            "UPDATE record SET title = $1, abstract = $1 || ' ' || repeat('x', 10000), venue = $1, native_id = $1, "
            "url = 'javascript:alert(3)', people = [{name: $1, role: 'author', family: '', given: ''}], "
            "details = [{name: $1, text: $1}], claims = [$1] WHERE record_id = 'aaaaaaaaaaaa'",
            [HOSTILE],
        )
        con.execute("UPDATE dated_event SET text = $1, field = $1, note = $1", [HOSTILE])
        con.execute("UPDATE passage SET text = ?", [HOSTILE])
        con.execute("UPDATE identifier SET value = ?", [HOSTILE])
        con.execute("UPDATE topic SET terms = ?", [HOSTILE])
        con.execute("UPDATE response SET request = ?", [HOSTILE])
        con.execute("INSERT INTO relation VALUES ('aaaaaaaaaaaa', 'cites', 'doi', $1, $1, $1, $1)", [HOSTILE])
    web.post("/reference/aaaaaaaaaaaa/tag", tag="relevant", note=HOSTILE, last="0")
    answers = [
        web.client.get(address)
        for address in (
            "/?tag=all", "/reference/aaaaaaaaaaaa", "/?tag=all&text=" + "%3Cscript%3E", "/?topic=%3Cb%3E",
            "/reference/aaaaaaaaaaaa?from=javascript:alert(1)", "/?kind=%22%3E%3Cscript%3Ealert(9)",
            "/nowhere/%3Cscript%3E", "/?tag=%3Cscript%3E",
        )
    ]  # fmt: skip
    answers.append(
        web.post("/reference/aaaaaaaaaaaa/tag", tag="undecided", note=HOSTILE, last="0", back="javascript:x")
    )
    for answer in answers:
        page = answer.text
        assert not re.search(r"<script(?! src=\"/static/)", page), answer.url
        assert "<img" not in page and "onerror=alert(2)>" not in page
        assert "javascript:" not in page
        for char in "\u202e\u2066\x00\x1b":
            assert char not in page
    assert answers[1].status_code == 200


def test_no_template_has_an_inline_script_or_style() -> None:
    """The content policy would refuse them: scripts and styles are files of ours."""
    for template in (Path(hits_page.__file__).parent / "templates").glob("*.html"):
        text = template.read_text(encoding="utf-8")
        assert not re.search(r"\sstyle=|<style|\son[a-z]+=|https?://", text), template.name


@pytest.mark.parametrize("template", PAGES)
def test_a_template_shows_what_its_dataclass_holds(template: str) -> None:
    """Every page.x of the template is a field, and together the templates use every field."""
    held = {each.name for each in fields(PAGES[template])}
    assert used_of_page(template) <= held


def test_no_field_of_a_page_is_unused() -> None:
    """A field that no template shows is dead."""
    for made in set(PAGES.values()):
        used = set().union(*(used_of_page(template) for template, its in PAGES.items() if its is made))
        used |= (
            used_of_page("parts.html") if {"tags", "last"} <= {each.name for each in fields(made)} else set()
        )
        assert {each.name for each in fields(made)} <= used, made.__name__


def used_of_page(template: str) -> set[str]:
    """Return the attributes of `page` that the template reads."""
    made: Environment = environment()
    assert made.loader
    tree = made.parse(made.loader.get_source(made, template)[0])
    return {
        one.attr
        for one in tree.find_all(nodes.Getattr)
        if isinstance(one.node, nodes.Name) and one.node.name == "page"
    }


@pytest.mark.parametrize("made", sorted(set(PAGES.values()), key=lambda made: made.__name__))
def test_page_dataclasses_hold_plain_frozen_values(made: Any) -> None:
    """A page is drawn from values that can't change while it is drawn."""
    assert is_dataclass(made) and made.__dataclass_params__.frozen
    for hint in get_type_hints(made).values():
        assert list not in (hint, *get_args(hint)) and dict not in (hint, *get_args(hint))


def test_how_the_chase_brought_a_reference_is_told(web: Any) -> None:
    """The page says along whose citations it came, and leads there."""
    with open_store(web.folder) as con:
        con.execute("INSERT INTO number_sweep VALUES ('openalex', 'citing x', 'citing', 'aaaaaaaaaaaa')")
        con.execute(
            "INSERT INTO found VALUES ('bbbbbbbbbbbb', 'openalex', 'citing x', '2026-11-24T02:00:00Z', 'look-up', TRUE)"
        )
    page = web.get("/reference/bbbbbbbbbbbb")
    assert 'Chased: citing <a href="/reference/aaaaaaaaaaaa"><bdi>Friction hinge for a lid</bdi></a>' in page
    assert "Chased" not in web.get("/reference/aaaaaaaaaaaa")
