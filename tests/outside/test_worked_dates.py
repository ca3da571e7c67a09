"""Every worked case of law/worked-dates.csv comes out as it says."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from connectors.days import Days
from pipeline.law.cutoff import Disclosure, OurDates, PatentFacts, Priority, PublicEvent, judge

WORKED = Path(__file__).resolve().parents[2] / "../shared/law/worked-dates.csv"
ROWS = list(csv.DictReader(WORKED.read_text(encoding="utf-8").splitlines())) if WORKED.exists() else []
TODAY = date(2026, 11, 25)

OFFICE_OF_KIND = {
    "US application publication": "US",
    "international application publication (in Japanese), US designated": "WO",
    "international application publication, EP designated": "WO",
    "EP application publication": "EP",
    "EP application": "EP",
    "JP application": "JP",
    "CN application": "CN",
    "CA application": "CA",
    "IN application": "IN",
    "patent gazette": "JP",
    "foreign patent": "GB",
    "utility model": "DE",
    "patent application": "DE",
}
OWNERS = {"same": ("same", "same"), "other": ("different", "other"), "common_owner": ("different", "common")}

# What the rows say in their words and not in their dates.
EVENT_FACTS: dict[str, dict[str, Any]] = {
    "D19": {"form": "sale", "access": "details_secret"},
    "D20": {"form": "sale"},
    "D25": {"access": "confidential"},
    "D28": {"form": "sale", "place": "US"},
    "D31": {"access": "unfindable"},
    "N07": {"ground": "conference"},
    "I02": {"ground": "learned_society"},
}
PATENT_FACTS: dict[str, dict[str, Any]] = {
    "D13": {"designates": ("US",)},
    "D16": {"ownership_stated": True},
    "D17": {"ownership_stated": True},
    "E07": {"designates": ("EP",), "entered": (("EP", "no"),)},
    "E08": {"designates": ("EP",)},
    "I03": {"claims_matter": "yes"},
}
REPEATS_OWN = {"D08": "yes", "D09": "no", "D10": "yes", "D39": "yes"}
OWN_DISCLOSURE = {
    "D08": date(2022, 8, 1),
    "D09": date(2022, 8, 1),
    "D10": date(2022, 8, 1),
    "D39": date(2019, 12, 1),
}
# "Looks at the 102(b) bar only": an invention proven before the reference sets 102(a) aside.
INVENTED = {"D26": date(1998, 1, 1)}


def day(text: str) -> date | None:
    """Return the day a cell holds."""
    return date.fromisoformat(text) if text else None


def days(text: str) -> Days | None:
    """Return the cell's day as an interval."""
    return Days.of_day(date.fromisoformat(text)) if text else None


def disclosure_of(row: dict[str, str]) -> Disclosure:
    """Return the reference a row describes."""
    case = row["case_id"]
    event = PublicEvent(
        row["public_event"],
        Days(day(row["event_earliest"]), day(row["event_latest"])),
        row["disclosed_by"],
        **EVENT_FACTS.get(case, {}),
    )
    patent = None
    if row["reference_kind"] in OFFICE_OF_KIND:
        inventors, owner = OWNERS.get(row["ref_owner"], ("unknown", "unknown"))
        patent = PatentFacts(
            OFFICE_OF_KIND[row["reference_kind"]],
            days(row["ref_effective_filing"]),
            days(row["ref_published"]),
            inventors,
            owner,
            **PATENT_FACTS.get(case, {}),
        )
    return Disclosure(row["reference_kind"], (event,), patent, REPEATS_OWN.get(case, "unknown"))


def ours_of(row: dict[str, str]) -> OurDates:
    """Return our dates as a row gives them."""
    case, prior = row["case_id"], day(row["priority_date"])
    own = OWN_DISCLOSURE.get(case)
    return OurDates(
        filing=day(row["filing_date"]),
        priorities=(Priority(prior, "GB", "foreign", row["priority_valid"]),) if prior else (),
        own_disclosures=(PublicEvent("own talk", Days.of_day(own), "inventor"),) if own else (),
        declared={"yes": True, "no": False}.get(row["declared"]),
        right="design" if "design" in row["law"] else "patent",
        law=row["law"].removesuffix(" design") if row["office"] == "US" else "",
        invented=INVENTED.get(case),
    )


@pytest.mark.skipif(not ROWS, reason="no folder `shared` beside the checkout: worked cases not there")
def test_all_ninety_cases_are_here() -> None:
    """The file holds the cases this test was written for, each with an id of its own."""
    assert len({row["case_id"] for row in ROWS}) == len(ROWS) == 90


@pytest.mark.skipif(not ROWS, reason="no folder `shared` beside the checkout: worked cases not there")
@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['case_id']} {row['citation']}")
def test_a_worked_case_comes_out_as_published(row: dict[str, str]) -> None:
    """Outcome, what it counts for, and the office's presumption are the case's own."""
    verdict = judge(row["office"], disclosure_of(row), ours_of(row), TODAY)
    got = (verdict.outcome, verdict.counts_for, verdict.presumption)
    assert got == (row["outcome"], row["counts_for"], row["office_presumption"]), verdict
    assert verdict.reason and verdict.citation
    assert bool(verdict.settle_by) == (verdict.outcome == "undecided")
