"""What one file wrapper states that bears on the term: the chain, days added, the state of the file."""

from __future__ import annotations

from connectors.days import parse_days
from connectors.json_answer import Node
from connectors.patent_term import BENEFIT_FILED, DAYS_ADDED, ENDED_BY_FEE, GIVEN_UP, NO_END_KNOWN, PENDING

# 35 USC 120, 121, 365(c) and 371: the term counts from the parent's day. A provisional's never does.
_STARTS_THE_TERM = frozenset({"CON", "CIP", "DIV", "NST"})
_GIVEN_UP = ("abandoned", "expressly abandoned")


def term_details(file: Node) -> list[tuple[str, str]]:
    """Return the facts under the names of connectors/patent_term.py; what is not stated is left out.

    The bag of parents lists the whole chain, so its earliest day is that of the whole chain.
    """
    parents = [
        day
        for parent in file.at("parentContinuityBag").each()
        if parent.at("claimParentageTypeCode").text() in _STARTS_THE_TERM
        if (day := _day(parent.at("parentApplicationFilingDate")))
    ]
    own = _day(file.at("applicationMetaData").at("filingDate"))
    first = min(parents, default="")
    days = file.at("patentTermAdjustmentData").at("adjustmentTotalQuantity").number()
    facts = [
        (DAYS_ADDED, f"{days:.0f}" if days is not None and days >= 0 and days == int(days) else ""),
        (BENEFIT_FILED, first if first and (not own or first < own) else ""),
        _state(file),
    ]
    return [(name, text) for name, text in facts if text]


def _state(file: Node) -> tuple[str, str]:
    """Return the state of the file under its name, with the day since when, or on which, it was so.

    150 stays 'Patented Case' past the end of the term, so it tells of fees alone.
    """
    meta = file.at("applicationMetaData")
    status = meta.at("applicationStatusDescriptionText").text().casefold()
    since, seen = _day(meta.at("applicationStatusDate")), _day(file.at("lastIngestionDateTime"))
    patented = bool(meta.at("patentNumber").text() or meta.at("grantDate").text())
    if patented:
        if status.startswith("patent expired due to nonpayment of maintenance fees"):
            return ENDED_BY_FEE, since
        return NO_END_KNOWN, seen if status == "patented case" else ""
    if status.startswith(_GIVEN_UP):
        return GIVEN_UP, since
    waiting = status and not file.at("applicationNumberText").text().startswith("PCT")
    return PENDING, seen if waiting and "expired" not in status and "terminated" not in status else ""


def _day(node: Node) -> str:
    """Return the day as YYYY-MM-DD, "" where none is stated whole."""
    days = parse_days(node.text()[:10])
    return days.text() if days and days.exact else ""
