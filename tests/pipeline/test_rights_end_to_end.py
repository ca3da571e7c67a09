"""From a file wrapper as the US Office's portal sends it to the sentence on where the patent stands."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from connectors import uspto_odp
from connectors.connector import Page
from pipeline.cli import main
from pipeline.in_force import HeldFamily, read_families
from pipeline.law.family import CountryRow
from pipeline.load import load_answers
from pipeline.references import resolve_references
from pipeline.responses import Responses
from pipeline.store import open_store
from queries.expression import Text
from queries.window import ALL_DAYS

NOW = datetime(2026, 11, 25, 2, tzinfo=UTC)
TODAY = NOW.date()
SAMPLE = Path(__file__).resolve().parents[2] / "../shared/sources/samples/uspto_odp/application_17248024.json"
MATTER = """
countries_of_sale = ["US"]
[invention]
title = "Emitter"
summary = "An emitter."
[invention.elements]
A = "an emitter"
[[concept]]
name = "emitter"
terms = ["emitter"]
"""
EXPIRED = "Patent Expired Due to NonPayment of Maintenance Fees Under 37 CFR 1.362"


def held(folder: Path, body: bytes) -> HeldFamily:
    """Return the family of the one file in the answer, by way of journal, parser and resolver."""
    (folder / "matter.toml").write_text(MATTER, encoding="utf-8")
    request = uspto_odp.compile(Text("emitter"), ALL_DAYS).requests[0]
    Responses(folder).keep(Page(request, 200, {}, body, TODAY), "run 1", "emitter", NOW)
    load_answers(folder)
    resolve_references(folder, "no model")
    with open_store(folder, read_only=True) as con:
        references = [row[0] for row in con.execute("SELECT reference_id FROM reference").fetchall()]
    assert len(references) == 1
    return read_families(folder, references)[references[0]]


def wrapper(chain: list[tuple[str, str]] = (), **meta: Any) -> bytes:  # type: ignore[assignment]
    """Return an answer with one invented file, filed 2012-02-14, granted 2014-01-14, seen 2026-05-02."""
    stated = {
        "inventionTitle": "Emitter", "filingDate": "2012-02-14", "applicationTypeCode": "UTL",
        "applicationStatusDescriptionText": "Patented Case", "applicationStatusDate": "2013-12-24",
        "earliestPublicationNumber": "US20130990417A1", "earliestPublicationDate": "2013-08-15",
        "patentNumber": "8990417", "grantDate": "2014-01-14", **meta,
    }  # fmt: skip
    parents = [
        {"claimParentageTypeCode": code, "parentApplicationNumberText": f"1299010{place}",
         "parentApplicationFilingDate": day, "childApplicationNumberText": "13990417"}
        for place, (code, day) in enumerate(chain)
    ]  # fmt: skip
    file = {
        "applicationNumberText": "13990417",
        "lastIngestionDateTime": "2026-05-02T13:00:02",
        "applicationMetaData": {name: value for name, value in stated.items() if value},
        "parentContinuityBag": parents,
        "patentTermAdjustmentData": {"adjustmentTotalQuantity": 41},
    }
    return json.dumps({"count": 1, "patentFileWrapperDataBag": [file]}).encode()


def in_us(folder: Path, body: bytes) -> CountryRow:
    """Return the answer for the US."""
    (row,) = held(folder, body).in_force(("US",), TODAY).rows
    return row


@pytest.mark.parametrize(
    ("chain", "last"),
    [
        ([], date(2032, 3, 26)),  # 35 USC 154(a)(2), (b): 2032-02-14 and 41 days
        ([("PRO", "2011-02-14")], date(2032, 3, 26)),  # 154(a)(3)
        ([("CON", "2010-06-30")], date(2030, 8, 10)),
        ([("DIV", "2010-06-30"), ("CIP", "2008-02-29"), ("PRO", "2007-02-28")], date(2028, 4, 10)),
        ([("NST", "2011-02-15")], date(2031, 3, 28)),  # MPEP 2701
    ],
)
def test_the_term_counts_from_the_chain_the_office_states(
    chain: list[tuple[str, str]], last: date, tmp_path: Path
) -> None:
    """Twenty years from the earliest application that starts the term, and the days added."""
    row = in_us(tmp_path, wrapper(chain))
    assert row.found.last_day_in_force == last
    assert row.found.status == "in_force_likely"
    assert not [text for text in row.found.assumptions if "relied on" in text or "slow grant" in text]


@pytest.mark.parametrize(
    ("meta", "status", "says"),
    [
        ({}, "in_force_likely", "as of 2026-05-02, notes no end"),
        ({"applicationStatusDescriptionText": EXPIRED, "applicationStatusDate": "2022-02-14"}, "lapsed_fee", "ended 2022-01-14"),
        ({"applicationStatusDescriptionText": "Interference -- Initial"}, "unknown_needs_register", "fee due 3.5 years"),
        ({"patentNumber": "", "grantDate": "", "applicationStatusDescriptionText": "Abandoned  --  Failure to Respond"},
         "given_up", "noted on 2013-12-24"),
        ({"patentNumber": "", "grantDate": "", "applicationStatusDescriptionText": "Docketed New Case - Ready"},
         "not_yet_granted", "Waiting at the office on 2026-05-02"),
    ],
)  # fmt: skip
def test_the_state_of_the_file_decides_what_fees_leave_open(
    meta: dict[str, str], status: str, says: str, tmp_path: Path
) -> None:
    """35 USC 41(b): unpaid fees end it after 4, 8 and 12 years; the file tells whether one did."""
    row = in_us(tmp_path, wrapper(**meta))
    assert row.found.status == status and says in row.found.reason


def test_a_file_seen_before_the_last_fee_leaves_that_one_open(tmp_path: Path) -> None:
    """Granted 2014-09-16, twelve years end 2026-09-16; the file seen on 2026-05-02 can't know."""
    row = in_us(tmp_path, wrapper(grantDate="2014-09-16"))
    assert row.found.status == "unknown_needs_register" and "11.5 years" in row.found.reason


@pytest.mark.skipif(not SAMPLE.exists(), reason="no recorded answer beside the checkout")
def test_a_recorded_file_of_a_long_chain_is_expired(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """uspto_odp.md works it out: a chain back to 2004-04-14 and 304 days end on 2025-02-12."""
    row = in_us(tmp_path, SAMPLE.read_bytes())
    assert (row.found.status, row.found.last_day_in_force) == ("expired", date(2025, 2, 12))
    assert main(["rights", str(tmp_path)]) == 0
    assert "Expired in US." in capsys.readouterr().out
