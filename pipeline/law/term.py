"""Whether a patent is probably in force: its term, its fees, and what only the register knows.

Order of the questions: the latest day the term can run to, then whether it was granted at
all, then the fees. Ends of terms are never moved for closed days: a term is no deadline.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass, replace
from datetime import date, timedelta

from pipeline.law.fees import by_fees
from pipeline.law.periods import add_months
from pipeline.law.rights import InForce, PatentRight, check_right
from pipeline.law.terms import Term, term_for

__all__ = ["InForce", "PatentRight", "estimate"]

_CLOSED_DAYS = timedelta(days=10)  # a few more where the office was closed
_TWENTY_YEARS_BEGAN = date(1995, 6, 8)  # 35 USC 154(c)(1)


def estimate(right: PatentRight, today: date) -> InForce:
    """Return whether the right is probably in force today, with the reason and the assumptions.

    Raises BadDates where the dates contradict each other or today.
    """
    check_right(right, today)
    if right.office == "WO":
        return _no_patent("not_yet_granted", "An international application gives no patent by itself.")
    granted = right.grant == "granted" or right.granted is not None
    if right.given_up and not granted:
        reason = (
            f"Given up before grant, as the office noted on {right.given_up}; it can come back on petition."
        )
        return _no_patent("given_up", reason)
    filed = right.original[0] if right.original else right.filed
    if filed is None:
        return _unknown("Its filing day is not known, so no term can be counted.")
    term = term_for(right.office, right.kind, filed)
    if term is None:
        return _unknown(f"No rule is held for the term of a {right.kind} at {right.office}.")
    if right.kind == "reissue" and not right.original:
        return _unknown("A reissue runs for what was left of the original patent, whose dates are not known.")
    counted = replace(right, filed=filed, granted=right.original[1] if right.original else right.granted)
    nominal = _nominal(counted, term)
    if nominal is None:
        return _without_grant(counted, term)
    return _judge(counted, term, nominal, today)


def _judge(right: PatentRight, term: Term, nominal: date, today: date) -> InForce:
    expiry = _adjusted(right, term, nominal)
    last = expiry - timedelta(days=1) if term.ends == "day_before" else expiry
    found = InForce(
        "", nominal, expiry, last, "", _assumptions(right, term), _to_confirm(right, term),
        term.citation, term.source, term.checked,
    )  # fmt: skip
    if today > last:
        return _past(found, right, term, today)
    if right.grant == "pending":
        seen = f"Waiting at the office on {right.waiting_seen}. " if right.waiting_seen else ""
        reason = f"{seen}No grant is known: an application is no patent, and its claims may still change."
        return replace(found, status="not_yet_granted", last_day_in_force=None, reason=reason)
    if right.grant == "unknown" and right.granted is None:
        reason = (
            f"Whether it was granted or given up is not known; if granted, it runs to {last} at the latest."
        )
        return replace(found, status="unknown_needs_register", reason=reason)
    if term.fees == "yearly":
        return replace(found, status="unknown_needs_register", reason=_yearly(right, last))
    if _ends_with_another(right) and today >= nominal:
        reason = (
            "A terminal disclaimer ends it with another patent; whether that one still runs is not known. "
            f"Its own term runs to {last}."
        )
        return replace(found, status="unknown_needs_register", reason=reason)
    earlier = _may_start_it(right, term)
    if earlier and (ended := _end_from(earlier.day, right, term)) and ended < today:
        reason = f"If it relies on {earlier.what}, its term may have ended {ended}; else it runs to {last}."
        return replace(found, status="unknown_needs_register", reason=reason)
    return by_fees(found, right, term, today)


@dataclass(frozen=True)
class _Earlier:
    """An application that may start the term. day: its filing, or the earliest it may be."""

    day: date
    what: str


def _may_start_it(right: PatentRight, term: Term) -> _Earlier | None:
    """Return the earlier application that may start the term, None where none can or all are known.

    Data that name a priority do not say whether it is one that starts the term (35 USC 120) or a
    right of priority, which does not (119). A priority older than a year and two months (37 CFR
    1.78(b)) needs an application in between, which such data leave out.
    """
    if term.counts != "earliest_benefit" or right.benefit or right.chain_known:
        return None
    if right.earlier_us and right.filed and right.earlier_us < right.filed:
        return _Earlier(right.earlier_us, f"the US application of {right.earlier_us}")
    if right.priority and right.filed and right.filed > add_months(right.priority, 14) + _CLOSED_DAYS:
        between = f"an application between its priority of {right.priority} and its filing, as it must"
        return _Earlier(right.priority, between)
    return None


def _end_from(day: date, right: PatentRight, term: Term) -> date | None:
    """Return the end of the term if an application of that day starts it."""
    nominal = _nominal(replace(right, benefit=day), term)
    return _adjusted(right, term, nominal) if nominal else None


def _past(found: InForce, right: PatentRight, term: Term, today: date) -> InForce:
    """The last day counted is behind us; days for slow grant that we do not know may add to it."""
    open_adjustment = _adjustable(right, term) and right.adjustment_days is None and not right.extended_to
    latest = found.last_day_in_force
    if open_adjustment and latest and right.filed and not right.disclaimed_to:
        # All delay counted lies between filing and grant, so no adjustment exceeds that span.
        if right.granted is None:
            reason = f"Its term ended {latest} unless days were added for slow grant, which are not known."
            return replace(found, status="unknown_needs_register", reason=reason)
        latest += right.granted - right.filed
    if today <= (latest or today):
        reason = (
            f"Its term ended {found.last_day_in_force} unless days were added for slow grant; "
            f"they could carry it to {latest} at most."
        )
        return replace(found, status="unknown_needs_register", reason=reason)
    return replace(
        found, status="expired", reason=f"Its term ended {found.last_day_in_force}, fees paid or not."
    )


def _nominal(right: PatentRight, term: Term) -> date | None:
    """Return the end by the rule alone, None where it counts from a grant that is not known."""
    if right.filed is None or (term.counts == "grant" and right.granted is None):
        return None
    start = right.filed
    if term.counts == "grant" and right.granted:
        start = right.granted
    elif term.counts == "earliest_benefit" and right.benefit:
        start = min(start, right.benefit)
    end = add_months(start, 12 * term.years)
    if term.grant_years:
        if right.granted is None:
            return None
        from_grant = add_months(right.granted, 12 * term.grant_years)
        # 35 USC 154(c)(1) gave the 20 years only to patents still in force when they began.
        old = right.office == "US" and from_grant < _TWENTY_YEARS_BEGAN
        end = from_grant if old else max(end, from_grant)
    if term.ends == "month_end":
        end = end.replace(day=calendar.monthrange(end.year, end.month)[1])
    return end


def _adjusted(right: PatentRight, term: Term, nominal: date) -> date:
    """Return the end with days for slow grant, disclaimer and extension counted in, in that order."""
    end = nominal
    if right.adjustment_days and _adjustable(right, term):
        end += timedelta(days=right.adjustment_days)
    if right.disclaimed_to:
        end = min(end, right.disclaimed_to)
    if right.extended_to:
        extended = right.extended_to + timedelta(days=term.ends == "day_before")
        end = max(end, extended)
    return end


def _adjustable(right: PatentRight, term: Term) -> bool:
    return bool(term.adjustable_from and right.filed and right.filed >= term.adjustable_from)


def _without_grant(right: PatentRight, term: Term) -> InForce:
    status = "not_yet_granted" if right.grant == "pending" else "unknown_needs_register"
    reason = "Its term counts from the grant, which is not known."
    confirm = ("whether and when it was granted",)
    return InForce(status, None, None, None, reason, (), confirm, term.citation, term.source, term.checked)


def _unknown(reason: str) -> InForce:
    return InForce("unknown_needs_register", None, None, None, reason, (), ("its dates, fees and state",))


def _no_patent(status: str, reason: str) -> InForce:
    return InForce(status, None, None, None, reason, (), ("what became of it",))


def _yearly(right: PatentRight, last: date) -> str:
    if right.kind == "unitary patent":
        how = "Granted with unitary effect: one yearly fee, one fate"
    elif right.office == "EP":
        how = "Granted as a bundle: in each state its own validation and yearly fees decide"
    else:
        how = "Granted; whether the yearly fees are paid is not known"
    return f"{how}. Its term runs to {last} at most."


def _assumptions(right: PatentRight, term: Term) -> tuple[str, ...]:
    made = []
    if earlier := _may_start_it(right, term):
        made.append(f"it does not rely on {earlier.what} (its term would end sooner)")
    elif term.counts == "earliest_benefit" and not right.benefit and not right.chain_known:
        made.append("no earlier application is relied on (a continuation or division ends sooner)")
    if _adjustable(right, term) and right.adjustment_days is None and not right.extended_to:
        made.append("no days are added for slow grant")
    if _ends_with_another(right):
        made.append("the patent with which a terminal disclaimer ends it runs as long")
    elif term.office == "US" and right.kind in ("patent", "reissue") and not right.disclaimed_to:
        made.append("no terminal disclaimer")
    if term.extras and not right.extended_to:
        made.append(f"without {term.extras}")
    return tuple(made)


def _ends_with_another(right: PatentRight) -> bool:
    """Say whether a disclaimer ends the term on a day that is not stated (37 CFR 1.321(c), (d))."""
    return bool(right.disclaimer) and right.disclaimed_to is None


def _to_confirm(right: PatentRight, term: Term) -> tuple[str, ...]:
    asked = ["revocation, surrender, limitation"]
    if _ends_with_another(right):
        asked.insert(0, "with which patent it ends (terminal disclaimer)")
    if right.grant != "granted" and right.granted is None:
        asked.insert(0, "whether it was granted")
    if term.fees != "none" and right.kind != "plant":
        asked.insert(0, "fees paid and through which day")
    if term.adjustable_from or term.extras:
        asked.append("days added, extensions and certificates")
    if right.office == "EP":
        asked.append("opposition, validation or unitary effect, state by state")
    return tuple(asked)
