"""The time line: since when, how close, and which side of each cutoff, with the days left as vague as they are."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from connectors.days import Days
from pipeline.critical_days import Cutoff, cutoffs
from pipeline.decisions import Decisions
from pipeline.matter import load_matter
from pipeline.pictures.cutoff_lines import Line, before, cutoff_lines
from pipeline.pictures.picture import Look
from pipeline.pictures.timeline import Field, read_timeline, timeline_picture
from pipeline.store import open_store

TODAY = date(2026, 11, 25)
ONE = Line(("US",), (date(2020, 6, 1),), False)
EITHER = Line(("EP",), (date(2019, 1, 1), date(2020, 6, 1)), True)


def read(folder: Path) -> Field:
    """Return the field as the page reads it."""
    with open_store(folder, read_only=True) as con:
        return read_timeline(con, Decisions(folder).standing(), cutoffs(load_matter(folder), TODAY))


@pytest.mark.parametrize(
    ("public", "line", "said"),
    [
        (Days.of_day(date(2020, 5, 31)), ONE, "yes"),
        (Days.of_day(date(2020, 6, 1)), ONE, "no"),  # on the day itself is not before it
        (Days.of_year(2020), ONE, "perhaps"),
        (Days.of_year(2019), ONE, "yes"),
        (Days.of_year(2021), ONE, "no"),
        (Days(None, date(2020, 5, 31)), ONE, "yes"),
        (Days(None, date(2020, 6, 1)), ONE, "perhaps"),
        (Days(date(2020, 6, 1), None), ONE, "no"),
        (Days(date(2020, 5, 31), None), ONE, "perhaps"),
        (None, ONE, "unknown"),
        (Days.of_day(date(2018, 12, 31)), EITHER, "yes"),
        (Days.of_day(date(2019, 6, 1)), EITHER, "perhaps"),
        (Days.of_day(date(2020, 6, 1)), EITHER, "no"),
    ],
)
def test_which_side_of_a_line(public: Days | None, line: Line, said: str) -> None:
    """Yes only where every day allowed is before every day the line may be; no where none is."""
    assert before(public, line) == said


def test_offices_of_one_day_share_a_line_in_order_of_days() -> None:
    """A line is a set of days; an office without a rule has none."""
    late, early = date(2021, 6, 1), date(2020, 6, 1)
    made = cutoff_lines(
        (
            Cutoff("JP", "", (late,), False),
            Cutoff("US", "A", (early,), False),
            Cutoff("XX", "", (), False),
            Cutoff("EP", "", (late,), False),
        )
    )
    assert made == (Line(("US (A)",), (early,), False), Line(("JP", "EP"), (late,), False))


def test_the_cutoff_table_counts_every_reference_once(field_folder: Path) -> None:
    """Counted by hand: US 2020-06-01 and EP 2021-06-01 against the six references."""
    table = timeline_picture(read(field_folder)).tables[0]
    assert [row.cells for row in table.rows] == [
        ("US", "2020-06-01", "2", "1", "2", "1"),  # r1 r4 / r2 / r5 r6 / r3
        ("EP", "2021-06-01", "3", "1", "1", "1"),  # r1 r2 r4 / r5 / r6 / r3
    ]


def test_the_reference_table_says_what_the_marks_say(field_folder: Path) -> None:
    """Place, date with its certainty, closeness and judgement; the undated one is there too."""
    table = timeline_picture(read(field_folder)).tables[1]
    assert [(row.links[1], *row.cells[2:]) for row in table.rows] == [
        ("/reference/r1", "2019-03-04 (day stated)", "0.90", "relevant"),
        ("/reference/r2", "2020 (year only)", "0.70", "not judged"),
        ("/reference/r3", "no public date stated", "0.50", "not judged"),
        ("/reference/r4", "by 2018-06-30 at the latest", "0.40", "not judged"),
        ("/reference/r5", "between 2021-01-01 and ?", "0.30", "not judged"),
    ]


def test_marks_stand_on_the_last_day_and_bars_span_the_rest(field_folder: Path) -> None:
    """A mark is a provable day: none where the last day is open; a bar for every vague date."""
    picture = timeline_picture(read(field_folder))
    assert picture.draw is not None
    layers = picture.draw(Look())["layer"]
    values = [
        (layer["mark"]["type"], "strokeDash" in layer["mark"], value)
        for layer in layers
        for value in layer["data"]["values"]
        if "Title" in value
    ]
    ms = 86_400_000
    days = lambda at: date.fromordinal(date(1970, 1, 1).toordinal() + at // ms).isoformat()  # noqa: E731
    marks = {value["Title"][:2]: days(value["at"]) for kind, _, value in values if kind == "point"}
    bars = {value["Title"][:2]: dashed for kind, dashed, value in values if kind == "rule"}
    assert marks == {"#1": "2019-03-04", "#2": "2020-12-31", "#4": "2018-06-30"}
    assert bars == {"#2": False, "#4": True, "#5": True}
    lines = [days(value["day"]) for value in layers[0]["data"]["values"]]
    assert lines == ["2021-06-01", "2020-06-01"]


def test_what_is_left_out_is_said(field_folder: Path) -> None:
    """The sentences count what is drawn, what has no date and what is vague."""
    (said,) = timeline_picture(read(field_folder)).says
    assert "4 of 6 references are drawn" in said
    assert "table only: 1" in said
    assert "Not known to the day: 3" in said


def test_no_run_yet_is_said(empty_folder: Path) -> None:
    """Nothing to draw: words, no tables, no drawing."""
    picture = timeline_picture(read(empty_folder))
    assert picture.draw is None
    assert picture.tables == ()
    assert "No run has brought anything yet" in picture.says[0]
