"""Rights read from the store, and the two commands that show them and the clocks."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.in_force import read_families
from pipeline.store import open_store

RECORD = (
    "INSERT INTO record SELECT ?, ?, 'epo_ops', ?, 1, 0, 'run', '', ?, '', '', '', [], '', '', '', '', '', '', "
    "'', FALSE, [], []"
)
MATTER = """
offices = ["US", "EP"]
countries_of_sale = ["US", "JP"]
[invention]
title = "A hinge"
summary = "A hinge that holds its angle."
[invention.elements]
A = "a hinge"
[[concept]]
name = "hinge"
terms = ["hinge"]
[[date]]
kind = "own disclosure"
day = "2026-02"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a matter whose store holds a US application, its patent, and a Japanese application."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    documents = (
        (
            "a1",
            "patent application",
            "US20180123451A1",
            "US-15-1",
            [("filed", "2017-01-02"), ("priority", "2016-01-04")],
        ),
        (
            "b2",
            "patent",
            "US10123451B2",
            "US-15-1",
            [("filed", "2017-01-02"), ("publication of grant", "2019-05-07")],
        ),
        ("jp", "patent application", "JP2018123451A", "JP-2017-1", [("filed", "2017-01-03")]),
    )
    with open_store(tmp_path) as con:
        con.execute(
            "INSERT INTO response VALUES (1, 'run', 'epo_ops', 's', 'GET http://x/family/publication/1', 200, "
            "'2026-11-20 02:00:00', 'h', 1, 3, 3, 0)"
        )
        for seq, (name, kind, number, application, events) in enumerate(documents):
            con.execute(RECORD, [name, seq, name, kind])
            con.execute("INSERT INTO membership VALUES (?, 'a1', ?, 'same family', 1)", [name, name])
            for scheme, value in (("publication", number), ("application", application)):
                con.execute(
                    "INSERT INTO identifier VALUES (?, ?, ?, ?, ?, '')", [name, scheme, value, value, value]
                )
            for index, (event, day) in enumerate(events):
                con.execute(
                    "INSERT INTO dated_event VALUES (?, ?, ?, ?, ?, '', '', '', FALSE, 1, TRUE)",
                    [name, index, event, day, day],
                )
    return tmp_path


def test_publications_of_one_application_are_one_right(folder: Path) -> None:
    """A1 and B2 share the application: one granted right, with the dates both state."""
    held = read_families(folder, ["a1"])["a1"]
    assert [right.office for right in held.rights] == ["JP", "US"]
    jp, us = held.rights
    assert (us.filed, us.priority, us.granted, us.grant) == (
        date(2017, 1, 2), date(2016, 1, 4), date(2019, 5, 7), "granted",
    )  # fmt: skip
    assert (jp.grant, held.complete_as_of) == ("pending", date(2026, 11, 20))


def test_a_look_up_that_was_cut_short_is_not_the_whole_family(folder: Path) -> None:
    """An incomplete sweep leaves grants and absences open."""
    with open_store(folder) as con:
        con.execute(
            "INSERT INTO search VALUES ('run', 'epo_ops', 's', 'x', NULL, 'incomplete', 'cut', 1, NULL, FALSE, 3, 3, 0, 0)"
        )
    held = read_families(folder, ["a1"])["a1"]
    assert held.complete_as_of is None
    assert held.rights[0].grant == "unknown"


def test_two_statements_of_the_filing_day_count_from_the_later(folder: Path) -> None:
    """Nothing is called expired too soon; a vague day is told."""
    with open_store(folder) as con:
        con.execute(
            "INSERT INTO dated_event VALUES ('jp', 9, 'filed', '2017-01-01', '2017-12-31', '', '', '', FALSE, 1, TRUE)"
        )
    held = read_families(folder, ["a1"])["a1"]
    assert held.rights[0].filed == date(2017, 12, 31)
    assert held.uncertain == ("JP2018123451A",)


def test_clocks_prints_every_day_and_writes_the_calendar(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rule, days and caution are shown; the file holds what still runs; bad dates name matter.toml."""
    calendar = folder / "days.ics"
    assert main(["clocks", str(folder), "--ics", str(calendar)]) == 0
    shown = capsys.readouterr().out
    assert "2027-02-01 US grace" in shown and "35 USC 102(b)(1)" in shown and "often final" in shown
    assert calendar.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    with (folder / "matter.toml").open("a", encoding="utf-8") as file:
        file.write('[[date]]\nkind = "filing"\nday = "2026-03"\noffice = "US"\n')
    assert main(["clocks", str(folder)]) == 2
    assert "matter.toml" in capsys.readouterr().err


def test_rights_lists_the_patents_with_their_families(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence a family, the term of each right, and the cautions once; without countries an error."""
    with open_store(folder) as con:
        con.execute(
            "INSERT INTO reference VALUES ('a1', 'A hinge', 'patent', 'b2', NULL, NULL, NULL, NULL, 'r')"
        )
    assert main(["rights", str(folder)]) == 0
    shown = capsys.readouterr().out
    # 20 years from 2017-01-02 (35 USC 154(a)(2)); the fee due 3.5 years after grant is not known.
    assert "Not known (see the register) in US; pending in JP." in shown
    assert "US10123451B2, US20180123451A1 (term to 2037-01-02)" in shown
    assert shown.count("freedom to operate") == 1
    (folder / "matter.toml").write_text(MATTER.replace('["US", "JP"]', "[]"), encoding="utf-8")
    assert main(["rights", str(folder)]) == 2
    assert "countries_of_sale" in capsys.readouterr().err


def test_verdicts_writes_every_verdict_with_reason_and_caution(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One row a reference and office, read back by the csv module; another ending is refused."""
    with open_store(folder) as con:
        con.execute(
            "INSERT INTO reference VALUES ('a1', '=1+1', 'patent', 'b2', NULL, NULL, NULL, NULL, 'r')"
        )
        con.execute("UPDATE dated_event SET public = TRUE WHERE kind = 'publication of grant'")
    table = folder / "judged.csv"
    assert main(["verdicts", str(folder), str(table)]) == 0
    rows = list(csv.DictReader(table.read_text(encoding="utf-8-sig").splitlines()))
    assert [(row["office"], row["verdict"], row["title"]) for row in rows] == [
        ("US", "counts (provisional)", "'=1+1"), ("EP", "counts (provisional)", "'=1+1"),
    ]  # fmt: skip
    assert all(row["reason"] and row["citation"] and "not legal advice" in row["caution"] for row in rows)
    assert main(["verdicts", str(folder), str(folder / "judged.txt")]) == 2
    assert main(["verdicts", str(folder), str(table), "--tags", "relevant"]) == 2
    assert "nothing was written" in capsys.readouterr().err
