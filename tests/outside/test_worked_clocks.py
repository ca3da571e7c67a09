"""Every worked case of law/worked-clocks.csv comes out as it says."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path

import pytest

from connectors.days import Days
from pipeline.law.clocks import Clock, MatterDates, MatterEvent, clocks
from pipeline.law.periods import add_months, roll

WORKED = Path(__file__).resolve().parents[2] / "../shared/law/worked-clocks.csv"
ROWS = list(csv.DictReader(WORKED.read_text(encoding="utf-8").splitlines())) if WORKED.exists() else []
NEVER_ROLL = {"C33", "C44"}  # a window that opens, a day expected
# Rows whose clock a matter's dates start: the event, and which clock is meant.
FIRST = {"kind": "first filing", "office": "GB"}
RUNS = {
    "C16": ({"kind": "first filing", "office": "US", "provisional": True}, "nonprovisional filing"),
    "C17": ({"kind": "first filing", "office": "US", "provisional": True}, "nonprovisional filing"),
    "C18": ({"kind": "first filing", "office": "US", "provisional": True}, "nonprovisional filing"),
    "C19": ({"kind": "first filing", "office": "US", "provisional": True}, "nonprovisional filing"),
    "C20": ({"kind": "first filing", "office": "US", "provisional": True}, "restoration of the prov"),
    "C21": ({"kind": "own disclosure"}, "grace"),
    "C22": ({"kind": "own disclosure"}, "grace"),
    "C07": (FIRST, "priority year"),
    "C09": (FIRST, "priority year"),
    "C23": (FIRST, "priority year"),
    "C24": ({"kind": "first filing", "office": "GB", "design": True}, "priority half-year"),
    "C25": (FIRST, "entry"),
    "C26": (FIRST, "entry"),
    "C27": (FIRST, "entry"),
    "C28": (FIRST, "entry"),
    "C29": (FIRST, "entry"),
    "C30": (FIRST, "priority year"),
    "C31": (FIRST, "entry"),
    "C32": (FIRST, "restoration"),
    "C33": ({"kind": "grant", "office": "US"}, "first maintenance fee: payment opens"),
    "C34": ({"kind": "grant", "office": "US"}, "first maintenance fee without"),
    "C35": ({"kind": "grant", "office": "US"}, "first maintenance fee with s"),
    "C36": ({"kind": "grant", "office": "US"}, "second maintenance fee without"),
    "C37": ({"kind": "filing", "office": "US"}, "information disclosure"),
    "C39": ({"kind": "filing", "office": "JP"}, "proof"),
    "C40": ({"kind": "own disclosure"}, "grace for the own disclosure, only for: conference"),
    "C42": ({"kind": "own disclosure"}, "grace"),
    "C43": ({"kind": "own disclosure"}, "grace"),
    "C44": ({"kind": "first filing", "office": "US"}, "eighteen-month"),
}
ALSO = {
    "C39": (MatterEvent("own disclosure", Days.of_day(date(2026, 1, 5))),),
    "C31": (MatterEvent("international filing", Days.of_day(date(2025, 6, 16))),),
}


@pytest.mark.skipif(not ROWS, reason="the folder shared/ does not lie beside this checkout")
def test_every_worked_case_is_there() -> None:
    """The table holds the cases we know of."""
    assert len(ROWS) >= 44


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['case_id']} {row['citation']}" for row in ROWS])
def test_worked_day(row: dict[str, str]) -> None:
    """The counted day and the day after roll-over come out as the row says."""
    start, (length, unit) = date.fromisoformat(row["start_date"]), row["period"].split()
    months = int(length) * {"days": 0, "months": 1, "years": 12}[unit]
    counted = add_months(start, months) if months else start + timedelta(days=int(length))
    assert counted == date.fromisoformat(row["unrolled_date"])
    if row["case_id"] not in NEVER_ROLL:
        moved = roll(row["office"], counted)
        assert moved.due == date.fromisoformat(row["due_date"])
        assert bool(moved.because) == bool(row["rolled_because"])


@pytest.mark.parametrize(
    "row",
    [row for row in ROWS if row["case_id"] in RUNS],
    ids=lambda row: f"{row['case_id']} {row['citation']}",
)
def test_worked_clock(row: dict[str, str]) -> None:
    """The matter's own dates start the clock, and it ends on the row's two days."""
    found = _clock(row)
    assert found.unrolled == date.fromisoformat(row["unrolled_date"])
    assert found.due == date.fromisoformat(row["due_date"])
    assert found.rule and found.stops_when and found.after_missed


def _clock(row: dict[str, str]) -> Clock:
    start = date.fromisoformat(row["start_date"])
    facts, name = RUNS[row["case_id"]]
    events = (MatterEvent(days=Days.of_day(start), **facts), *ALSO.get(row["case_id"], ()))  # type: ignore[arg-type]
    if name == "entry" and row["case_id"] not in ALSO:
        events += (MatterEvent("international filing", Days.of_day(start + timedelta(days=300))),)
    dates = MatterDates(events, (row["office"],))
    (found,) = [
        one
        for one in clocks(dates, date(2026, 11, 25))
        if one.name.startswith(name) and one.office == row["office"]
    ]
    return found
