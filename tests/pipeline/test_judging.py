"""From the store to the law: which version's verdict stands, and who disclosed."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from pipeline.judging import Judging, compare_people
from pipeline.matter import load_matter
from pipeline.store import open_store

MATTER = """
offices = ["US", "EP"]
[invention]
title = "Emitter"
summary = "An emitter."
[invention.elements]
A = "an emitter"
[[concept]]
name = "emitter"
terms = ["emitter"]
"""
RECORD = """INSERT INTO record VALUES (?, ?, 'files', ?, 1, 0, 'run', 'c', 'article', 'T', '', '', [], '', '', '',
    '', '', '', '', FALSE, [], [])"""
EVENT = "INSERT INTO dated_event VALUES (?, 1, 'published', ?, ?, 't', 'f', '', TRUE, 1, TRUE)"


@pytest.mark.parametrize("days", [("2019-09-12", "2019-03-25"), ("2019-03-25", "2019-09-12")])
def test_the_reason_names_the_earliest_of_equal_versions(days: tuple[str, str], tmp_path: Path) -> None:
    """Both versions count; the one public first stands, whichever was met first."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    with open_store(tmp_path) as con:
        for number, (key, day) in enumerate(zip(("aa", "bb"), days, strict=True), 1):
            con.execute(RECORD, [key, number, key])
            con.execute(EVENT, [key, day, day])
            con.execute("INSERT INTO membership VALUES (?, 'aa', ?, 'r', 1)", [key, key])
    judged = Judging(load_matter(tmp_path), date(2026, 11, 25)).judge(tmp_path, ["aa"])["aa"]
    assert [one.office for one in judged] == ["US", "EP"]
    for one in judged:
        assert one.verdict.outcome == "prior_art"
        assert "2019-03-25" in one.verdict.reason


@pytest.mark.parametrize(
    ("named", "inventors", "who"),
    [
        (("Ida Moravec",), ("Moravec, Ida",), "inventor"),
        (("Ida Moravec", "B. Okafor"), ("Ida Moravec",), "unknown"),  # In re Katz; MPEP 2155.01
        (("B. Okafor",), ("Ida Moravec",), "third_party"),
        (("Jan Moravec",), ("Ida Moravec",), "unknown"),
        ((), ("Ida Moravec",), "unknown"),
        (("Ida Moravec",), (), "unknown"),
    ],
)
def test_who_disclosed_as_far_as_names_tell(
    named: tuple[str, ...], inventors: tuple[str, ...], who: str
) -> None:
    """Only full agreement is the inventor, only full difference a third party."""
    assert compare_people(named, inventors) == who
