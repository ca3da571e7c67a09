"""What the maintenance fees of a US patent, paid or not, make of it while its term runs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from pipeline.law.periods import add_months
from pipeline.law.rights import STAGES, InForce, PatentRight
from pipeline.law.terms import Term

_FIRST_FEES = date(1980, 12, 12)  # MPEP 2504: applications filed before bear none
# Months the office may take to note an end. Our own cautious choice: no rule sets it.
_NOTED_WITHIN = 3


def by_fees(found: InForce, right: PatentRight, term: Term, today: date) -> InForce:
    """Return the estimate for a granted right whose term still runs."""
    ends = _fee_ends(right, term, found.estimated_expiry or today)
    if ended := _ended(right, ends, today):
        return _lapsed(found, *ended)
    if right.granted is None and _may_be_due(right, term, today):
        return _open(found, "Granted on a day not known: its fees cannot be dated.")
    for stage, day in ends:
        if today > day and not _settled(right, stage, day):
            return _open(
                found,
                f"If the fee due {stage} years after grant was not paid, it ended {day}; "
                f"else it runs to {found.last_day_in_force}.",
            )
    reason = f"Granted, and its term runs to {found.last_day_in_force}; {_fees_so_far(right, ends, today)}"
    return replace(found, status="in_force_likely", reason=reason)


def _fees_so_far(right: PatentRight, ends: list[tuple[str, date]], today: date) -> str:
    if not ends:
        return "no maintenance fees are due."
    for stage, day in ends:
        if add_months(day, -6) < today <= day and not _settled(right, stage, day):
            return f"the fee due {stage} years after grant can still be paid, with surcharge, to {day}."
    seen = right.no_end_seen
    if seen and any(today > day and stage not in (right.fees_paid or ()) for stage, day in ends):
        return f"the office's file, as of {seen}, notes no end by an unpaid fee."
    return "no fee that could have ended it is known to be missing."


def _settled(right: PatentRight, stage: str, day: date) -> bool:
    """Return whether the fee was paid, or the office's file noted no end long enough after the day."""
    if stage in (right.fees_paid or ()):
        return True
    return right.no_end_seen is not None and add_months(day, _NOTED_WITHIN) <= right.no_end_seen


def _ended(right: PatentRight, ends: list[tuple[str, date]], today: date) -> tuple[str, date] | None:
    """Return (why, day) of an end by an unpaid fee, None where none is known."""
    noted = right.ended_noted
    if noted and not (right.no_end_seen and right.no_end_seen > noted):
        days = [day for _, day in ends if day <= noted]
        return f"The office noted on {noted} that it ended by an unpaid fee", max(days, default=noted)
    for stage, day in ends:
        asked = right.fees_as_of is None or right.fees_as_of > day
        unpaid = right.fees_paid is not None and stage not in right.fees_paid
        if today > day and unpaid and asked and not _settled(right, stage, day):
            return f"The fee due {stage} years after grant was not paid", day
    return None


def _lapsed(found: InForce, why: str, day: date) -> InForce:
    reason = (
        f"{why}: it ended {day}. It can come back on petition (unintentional delay), with rights for "
        "those who began meanwhile."
    )
    cited = "35 USC 41(b)(2), (c); 37 CFR 1.362(g), 1.378; MPEP 2506, 2590"
    return replace(
        found, status="lapsed_fee", estimated_expiry=day, last_day_in_force=day, reason=reason, citation=cited
    )


def _open(found: InForce, reason: str) -> InForce:
    return replace(found, status="unknown_needs_register", reason=reason)


def _bears_fees(right: PatentRight, term: Term) -> bool:
    old = right.filed is not None and right.filed < _FIRST_FEES
    return term.fees == "stages" and right.kind in ("patent", "reissue") and not old


def _may_be_due(right: PatentRight, term: Term, today: date) -> bool:
    """Return whether an unpaid fee may have ended a right whose day of grant is not known."""
    first = min(STAGES.values())
    return _bears_fees(right, term) and (not right.filed or add_months(right.filed, 12 * first) < today)


def _fee_ends(right: PatentRight, term: Term, expiry: date) -> list[tuple[str, date]]:
    """Return (stage, day it ends if unpaid) before the expiry; () where no such fees are due."""
    if right.granted is None or not _bears_fees(right, term):
        return []
    ends = [(stage, add_months(right.granted, 12 * years)) for stage, years in STAGES.items()]
    return [(stage, day) for stage, day in ends if day < expiry]
