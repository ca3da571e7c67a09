"""Answers → tables: the same rows whether answers are loaded one by one or together."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

from connectors.connector import Page, Request
from connectors.files import SOURCE
from pipeline.load import load_answers
from pipeline.responses import Responses
from pipeline.store import open_store

NOW = datetime(2026, 11, 25, 2, tzinfo=UTC)
STATED = "TY  - JOUR\nTI  - {title}\nDO  - 10.5555/load.1\nPY  - {year}\nER  - \n"
SAID = (("A dripper", 2019), ("A dripper", 2019), ("A dripper, mended", 2018), ("A dripper", 2019))


def keep(folder: Path, number: int) -> None:
    """Keep one file in which the same work stands, in the words of that place in SAID."""
    title, year = SAID[number]
    request = Request(SOURCE.name, f"{number}.ris", step="file")
    page = Page(request, 200, {}, STATED.format(title=title, year=year).encode(), date(2026, 11, 25))
    Responses(folder).keep(page, f"run {number}", f"{number}.ris", NOW)


def tables(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return the rows of every table that an answer fills."""
    with open_store(folder, read_only=True) as con:
        return {
            name: con.execute(f"SELECT * FROM {name} ORDER BY ALL").fetchall()
            for name in ("record", "identifier", "dated_event", "found", "response", "unresolved")
        }


def test_answers_loaded_together_make_the_rows_of_answers_loaded_one_by_one(tmp_path: Path) -> None:
    """A statement repeated, changed and changed back leaves the same rows, dates said once among them."""
    for folder in (tmp_path / "together", tmp_path / "apart"):
        folder.mkdir()
    for number in range(len(SAID)):
        keep(tmp_path / "together", number)
        keep(tmp_path / "apart", number)
        load_answers(tmp_path / "apart")
    load_answers(tmp_path / "together")
    together = tables(tmp_path / "together")
    assert together == tables(tmp_path / "apart")
    assert [row[1] for row in together["record"]] == [1]
    assert len(together["dated_event"]) == 2


def test_an_abstract_not_stated_again_is_kept(tmp_path: Path) -> None:
    """A later statement without abstract takes none away, loaded apart or together."""
    bodies = ("TY  - JOUR\nTI  - A dripper\nAB  - It flushes itself.\nDO  - 10.5555/load.2\nER  - \n",
              "TY  - JOUR\nTI  - A dripper\nDO  - 10.5555/load.2\nPY  - 2020\nER  - \n")  # fmt: skip
    for folder in (tmp_path / "together", tmp_path / "apart"):
        folder.mkdir()
        for number, body in enumerate(bodies):
            request = Request(SOURCE.name, f"{number}.ris", step="file")
            page = Page(request, 200, {}, body.encode(), date(2026, 11, 25))
            Responses(folder).keep(page, f"run {number}", f"{number}.ris", NOW)
            if folder.name == "apart":
                load_answers(folder)
    load_answers(tmp_path / "together")
    for folder in (tmp_path / "together", tmp_path / "apart"):
        with open_store(folder, read_only=True) as con:
            assert con.execute("SELECT abstract FROM record").fetchall() == [("It flushes itself.",)]
    assert tables(tmp_path / "together") == tables(tmp_path / "apart")


def test_what_comes_to_lie_outside_is_marked_to_be_resolved(tmp_path: Path) -> None:
    """A sweep that asks something else lists the same work, and its expression holds for it no longer."""
    work = {
        "DOI": "10.5555/load.3",
        "type": "journal-article",
        "title": ["A dripper"],
        "abstract": "It drips.",
    }
    body = json.dumps(
        {"status": "ok", "message-type": "work-list", "message": {"total-results": 1, "items": [work]}}
    ).encode()
    marked = []
    for run, word in (("one", "dripper"), ("two", "dripper"), ("three", "pump")):
        asked = {"line": "sweep asked", "run": run, "source": "crossref", "sweep": "all"}
        Responses(tmp_path).journal.append(asked | {"tree": ["text", word], "checked_here": True})
        page = Page(
            Request("crossref", "/works", step="search"),
            200,
            {"content-type": "application/json"},
            body,
            date(2026, 11, 25),
        )
        Responses(tmp_path).keep(page, run, "all", NOW)
        load_answers(tmp_path)
        with open_store(tmp_path) as con:
            rows = "SELECT title, inside FROM unresolved JOIN record USING (record_id) JOIN found USING (record_id)"
            marked.append(con.execute(rows).fetchall())
            con.execute("DELETE FROM unresolved")
    assert marked == [[("A dripper", True)], [], [("A dripper", False)]]
