"""What a file wrapper says of the term, by the names all sources use."""

from __future__ import annotations

from typing import Any

import pytest

from connectors.json_answer import Node
from connectors.uspto_odp_term import term_details


def file(status: str = "Patented Case", patent: str = "12990417", **more: Any) -> Node:
    """Return an invented file."""
    meta = {
        "filingDate": "2023-02-14", "patentNumber": patent, "applicationStatusDescriptionText": status,
        "applicationStatusDate": "2025-03-05",
    }  # fmt: skip
    return Node(
        {
            "applicationNumberText": "18990417",
            "lastIngestionDateTime": "2026-05-02T13:00:02",
            "applicationMetaData": meta,
            **more,
        },
        "file",
    )


def parent(code: str, day: str) -> dict[str, str]:
    """Return one link of the chain."""
    return {"claimParentageTypeCode": code, "parentApplicationFilingDate": day}


@pytest.mark.parametrize(
    ("chain", "first"),
    [
        ([parent("CON", "2021-06-30"), parent("CIP", "2019-01-02")], "2019-01-02"),
        ([parent("DIV", "2021-06-30"), parent("PRO", "2020-06-30")], "2021-06-30"),  # 35 USC 154(a)(3)
        ([parent("NST", "2021-08-14")], "2021-08-14"),  # MPEP 2701: the international filing date
        ([parent("PRO", "2022-02-14")], ""),
        ([parent("NST", "2023-02-14")], ""),  # its own day
        ([parent("REI", "2015-06-30")], ""),
        ([parent("CON", "2021")], ""),
        ([], ""),
    ],
)
def test_the_term_starts_with_the_earliest_of_the_chain(chain: list[dict[str, str]], first: str) -> None:
    """35 USC 154(a)(2): 120, 121, 365(c) and the national stage; never a provisional."""
    found = dict(term_details(file(parentContinuityBag=chain)))
    assert found.get("term: earliest application relied on, filed", "") == first


@pytest.mark.parametrize(
    ("status", "patent", "says"),
    [
        ("Patented Case", "12990417", {"term: a patent without any end noted, seen": "2026-05-02"}),
        ("Patent Expired Due to NonPayment of Maintenance Fees Under 37 CFR 1.362", "12990417",
         {"term: ended by an unpaid fee, noted": "2025-03-05"}),
        ("Abandoned  --  Failure to Respond to an Office Action", "", {"term: given up before grant, noted": "2025-03-05"}),
        ("Docketed New Case - Ready for Examination", "", {"term: waiting at the office, seen": "2026-05-02"}),
        ("Provisional Application Expired", "", {}),
        ("Interference -- Initial", "12990417", {}),
        ("", "", {}),
    ],
)  # fmt: skip
def test_the_state_of_the_file_is_told_with_its_day(status: str, patent: str, says: dict[str, str]) -> None:
    """Texts as the portal's list of status codes has them; others say nothing."""
    assert dict(term_details(file(status, patent))) == says


@pytest.mark.parametrize(("stated", "days"), [(304, "304"), (0, "0"), (12.5, ""), (-3, ""), (None, "")])
def test_only_whole_days_are_added(stated: float | None, days: str) -> None:
    """35 USC 154(b); nought is a statement, absence is none."""
    found = dict(term_details(file("", patentTermAdjustmentData={"adjustmentTotalQuantity": stated})))
    assert found.get("term: days added for slow grant", "") == days
