"""From the store to the law: which version's verdict stands, and who disclosed."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from pipeline.errors import BadMatter
from pipeline.judging import Judging
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


def one_record(folder: Path, *events: tuple[str, str, bool], dates: str = "") -> Judging:
    """Return the judging of a matter with one patent application and these (kind, day, public) events."""
    (folder / "matter.toml").write_text(MATTER + dates, encoding="utf-8")
    with open_store(folder) as con:
        con.execute(RECORD, ["aa", 1, "aa"])
        con.execute("INSERT INTO membership VALUES ('aa', 'aa', 'aa', 'r', 1)")
        con.execute("INSERT INTO identifier VALUES ('aa', 'publication', 'EP3955999A1', 'k', 't', '')")
        for number, (kind, day, public) in enumerate(events):
            con.execute(
                "INSERT INTO dated_event VALUES ('aa', ?, ?, ?, ?, 't', 'f', '', ?, 1, TRUE)",
                [number, kind, day, day, public],
            )
    return Judging(load_matter(folder), date(2026, 11, 25))


@pytest.mark.parametrize(
    ("events", "says"),
    [
        # A year of the Thai calendar (2026 + 543): in ours it lies ahead.
        ([("publication of application", "2569-03-04", True)], "in the future"),
        (
            [("filed", "2020-05-01", False), ("publication of application", "2019-05-01", True)],
            "before it was filed",
        ),
    ],
)
def test_dates_that_cannot_be_true_leave_it_undecided(
    events: list[tuple[str, str, bool]], says: str, tmp_path: Path
) -> None:
    """What sources state and cannot be is no ground for a verdict; the reason says what is wrong."""
    for one in one_record(tmp_path, *events).judge(tmp_path, ["aa"])["aa"]:
        assert one.verdict.outcome == "undecided" and says in one.verdict.reason and one.verdict.settle_by


@pytest.mark.parametrize(
    ("dates", "says"),
    [
        ('[[date]]\nkind = "filing"\nday = "2027-01-04"\noffice = "US"\n', "planned filing"),
        (
            '[[date]]\nkind = "filing"\nday = "2026-01-05"\noffice = "US"\n'
            '[[date]]\nkind = "first filing"\nday = "2026-02-01"\noffice = "GB"\n',
            "precedes the priority",
        ),
        ('[[date]]\nkind = "filing"\nday = "2026"\noffice = "US"\n', "full day"),
    ],
)
def test_our_own_dates_that_cannot_be_are_refused_by_name(dates: str, says: str, tmp_path: Path) -> None:
    """Nothing is judged on them; the error names matter.toml and how to mend it."""
    judging = one_record(tmp_path, ("publication of application", "2019-05-01", True), dates=dates)
    with pytest.raises(BadMatter, match=says) as refused:
        judging.judge(tmp_path, ["aa"])
    assert "matter.toml" in str(refused.value)
