"""Every worked case of law/worked-terms.csv comes out as it says."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from pipeline.law.term import PatentRight, estimate

WORKED = Path(__file__).resolve().parents[2] / "../shared/law/worked-terms.csv"
ROWS = list(csv.DictReader(WORKED.read_text(encoding="utf-8").splitlines())) if WORKED.exists() else []
KINDS = {
    "utility": "patent",
    "standard": "patent",
    "invention": "patent",
    "patent (national parts)": "patent",
    "unknown national part": "patent",
}
PENDING = {"T16"}  # the row says so in words only


@pytest.mark.skipif(not ROWS, reason="the folder shared/ does not lie beside this checkout")
def test_every_worked_case_is_there() -> None:
    """The table holds the cases we know of."""
    assert len(ROWS) >= 31


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['case_id']} {row['citation']}" for row in ROWS])
def test_worked_term(row: dict[str, str]) -> None:
    """Status, the three days and a citation come out as the row says."""
    found = estimate(_right(row), date.fromisoformat(row["as_of"]))
    assert found.status == row["status_estimate"]
    assert found.nominal_expiry == _day(row["nominal_expiry"])
    assert found.estimated_expiry == _day(row["estimated_expiry"])
    assert found.last_day_in_force == _day(row["last_day_in_force"])
    assert found.reason and found.citation


def _right(row: dict[str, str]) -> PatentRight:
    granted, paid = _day(row["grant_date"]), row["fees_paid"]
    return PatentRight(
        office=row["jurisdiction"],
        kind=KINDS.get(row["right_kind"], row["right_kind"]),
        filed=_day(row["filing_date"]),
        benefit=_day(row["earliest_benefit_date"]) if row["jurisdiction"] == "US" else None,
        priority=_day(row["priority_119_date"]),
        granted=granted,
        grant="granted" if granted else "pending" if row["case_id"] in PENDING else "unknown",
        adjustment_days=int(row["pta_days"]) if row["pta_days"] else None,
        extended_to=_day(row["pte_end"]),
        disclaimed_to=_day(row["terminal_disclaimer_end"]),
        fees_paid=tuple(paid.split(";")) if paid[:1].isdigit() else None,
    )


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None
