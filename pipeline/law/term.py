"""Whether a patent is probably in force: its term, its fees, and what only the register knows.

Order of the questions: the latest day the term can run to, then whether it was granted at
all, then the fees. Ends of terms are never moved for closed days: a term is no deadline.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass, replace
from datetime import date, timedelta

from pipeline.law.checks import check_office, check_word
from pipeline.law.facts import BadDates
from pipeline.law.periods import add_months
from pipeline.law.terms import Term, term_for

KINDS = ("patent", "plant", "reissue", "design", "utility model", "unitary patent", "other")
GRANTS = ("granted", "pending", "unknown")
# 35 USC 41(b)(1): due 3.5, 7.5, 11.5 years after grant; unpaid, it ends half a year later.
STAGES = {"3.5": 4, "7.5": 8, "11.5": 12}
_FIRST_FEES = date(1980, 12, 12)  # MPEP 2504: applications filed before bear none
_TWENTY_YEARS_BEGAN = date(1995, 6, 8)  # 35 USC 154(c)(1)


@dataclass(frozen=True)
class PatentRight:
    """What is known of one right at one office (EP: the European patent as one).

    filed: there, or internationally for a national phase. benefit: the earliest application
    relied on under 35 USC 120, 121, 365(c). priority: earliest foreign or provisional one; it
    never starts a term. grant: granted, pending, unknown; a granted right may lack its day.
    adjustment_days: as printed, None where not known. extended_to, disclaimed_to: last days.
    disclaimer: the words of one; without disclaimed_to it ends with a patent that is not known.
    fees_paid: stages paid (US), None where not known; fees_as_of: the day that was looked up.
    original: (filed, granted) of the patent reissued.
    """

    office: str
    kind: str = "patent"
    filed: date | None = None
    benefit: date | None = None
    priority: date | None = None
    granted: date | None = None
    grant: str = "unknown"
    adjustment_days: int | None = None
    extended_to: date | None = None
    disclaimed_to: date | None = None
    disclaimer: str = ""
    fees_paid: tuple[str, ...] | None = None
    fees_as_of: date | None = None
    original: tuple[date, date] | None = None
    number: str = ""


@dataclass(frozen=True)
class InForce:
    """The estimate. nominal_expiry: the rule alone; estimated_expiry: adjustment, disclaimer,
    extension and lapse counted in; last_day_in_force: None where nothing is or was granted.

    status: in_force_likely, lapsed_fee, expired, not_yet_granted, unknown_needs_register,
    never_there. checked: the day the rule was written down; None without one.
    """

    status: str
    nominal_expiry: date | None
    estimated_expiry: date | None
    last_day_in_force: date | None
    reason: str
    assumptions: tuple[str, ...] = ()
    register_must_confirm: tuple[str, ...] = ()
    citation: str = ""
    source: str = ""
    checked: date | None = None


def estimate(right: PatentRight, today: date) -> InForce:
    """Return whether the right is probably in force today, with the reason and the assumptions.

    Raises BadDates where the dates contradict each other or today.
    """
    check_right(right, today)
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
        reason = "No grant is known: an application is no patent, and its claims may still change."
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
    return _by_stages(found, right, term, today)


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


def _lapse(right: PatentRight, term: Term, found: InForce, today: date) -> InForce | None:
    """Return the estimate for a patent whose fee was not paid, while its term still runs."""
    for stage, day in _fee_ends(right, term, found.estimated_expiry or today):
        known = right.fees_as_of is None or right.fees_as_of > day
        if today > day and right.fees_paid is not None and stage not in right.fees_paid and known:
            reason = (
                f"The fee due {stage} years after grant was not paid: it ended {day}. It can come back on "
                "petition (unintentional delay), with rights for those who began meanwhile."
            )
            cited = "35 USC 41(b)(2), (c); 37 CFR 1.362(g), 1.378; MPEP 2506, 2590"
            return replace(
                found, status="lapsed_fee", estimated_expiry=day, last_day_in_force=day, reason=reason,
                citation=cited,
            )  # fmt: skip
    return None


def _by_stages(found: InForce, right: PatentRight, term: Term, today: date) -> InForce:
    if lapse := _lapse(right, term, found, today):
        return lapse
    last = found.last_day_in_force
    ends = _fee_ends(right, term, found.estimated_expiry or today)
    if ends and right.granted is None:
        return replace(
            found,
            status="unknown_needs_register",
            reason="Granted on a day not known: its fees cannot be dated.",
        )
    paid = right.fees_paid or ()
    for stage, day in ends:
        if today > day and stage not in paid:
            reason = (
                f"If the fee due {stage} years after grant was not paid, it ended {day}; "
                f"else it runs to {last}."
            )
            return replace(found, status="unknown_needs_register", reason=reason)
    late = next(((s, d) for s, d in ends if s not in paid and add_months(d, -6) < today <= d), None)
    reason = f"Granted, and its term runs to {last}; " + (
        f"the fee due {late[0]} years after grant can still be paid, with surcharge, to {late[1]}."
        if late
        else "no fee that could have ended it is known to be missing."
        if ends
        else "no maintenance fees are due."
    )
    return replace(found, status="in_force_likely", reason=reason)


def _fee_ends(right: PatentRight, term: Term, expiry: date) -> list[tuple[str, date]]:
    """Return (stage, day it ends if unpaid) before the expiry; () where no such fees are due."""
    bears = term.fees == "stages" and right.kind in ("patent", "reissue")
    if not bears or right.granted is None or (right.filed and right.filed < _FIRST_FEES):
        return []
    ends = [(stage, add_months(right.granted, 12 * years)) for stage, years in STAGES.items()]
    return [(stage, day) for stage, day in ends if day < expiry]


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
    if term.counts == "earliest_benefit" and not right.benefit:
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


def check_right(right: PatentRight, today: date) -> None:
    """Raise BadDates for what cannot be, saying where and how to mend it."""
    where = right.number or f"{right.kind} at {right.office}"
    check_office(right.office, where)
    check_word(f"{where}, kind", right.kind, KINDS)
    check_word(f"{where}, grant", right.grant, GRANTS)
    for stage in right.fees_paid or ():
        check_word(f"{where}, fees_paid", stage, tuple(STAGES))
    if (right.adjustment_days or 0) < 0:
        raise BadDates(f"{where}: {right.adjustment_days} days of adjustment; it is 0 or more")
    for name, day in (("filed", right.filed), ("benefit", right.benefit), ("priority", right.priority),
                      ("granted", right.granted), ("fees_as_of", right.fees_as_of)):  # fmt: skip
        check_day(f"{where}, {name}", day, today)
    for earlier, later, name in ((right.benefit, right.filed, "filed before the application it relies on"),
                                 (right.priority, right.filed, "filed before its priority"),
                                 (right.filed, right.granted, "granted before it was filed")):  # fmt: skip
        if earlier and later and later < earlier:
            raise BadDates(f"{where}: {name} ({later}, {earlier}); one of the two was read wrongly, mend it")
    if right.grant == "pending" and right.granted:
        raise BadDates(f"{where}: pending, yet granted {right.granted}; take one of the two away")


def check_day(where: str, day: date | None, today: date) -> None:
    """Raise BadDates for a day that lies ahead or was written with a two-digit year."""
    if day is None:
        return
    if day.year < 1790:  # the first patent law with a register of its own
        raise BadDates(f"{where}: {day} has the year {day.year}; write the year with four digits")
    if day > today:
        raise BadDates(f"{where}: {day} lies in the future (today is {today}); mend the date")
