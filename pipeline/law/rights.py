"""One patent right as far as it is known, the estimate of its state, and facts that cannot be."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from pipeline.law.checks import check_office, check_word
from pipeline.law.facts import BadDates

KINDS = ("patent", "plant", "reissue", "design", "utility model", "unitary patent", "other")
GRANTS = ("granted", "pending", "unknown")
# 35 USC 41(b)(1): due 3.5, 7.5, 11.5 years after grant; unpaid, it ends half a year later.
STAGES = {"3.5": 4, "7.5": 8, "11.5": 12}


@dataclass(frozen=True)
class PatentRight:
    """What is known of one right at one office (EP: the European patent as one).

    filed: there, or internationally for a national phase. benefit: the earliest application
    relied on under 35 USC 120, 121, 365(c). priority: earliest foreign or provisional one; it
    never starts a term. grant: granted, pending, unknown; a granted right may lack its day.
    adjustment_days: as printed, None where not known. extended_to, disclaimed_to: last days.
    disclaimer: the words of one; without disclaimed_to it ends with a patent that is not known.
    fees_paid: stages paid (US), None where not known; fees_as_of: the day that was looked up.
    original: (filed, granted) of the patent reissued. earlier_us: the earliest US application,
    no provisional, that data name as a priority without saying how it is linked; chain_known:
    other data state the whole chain, so that benefit None means none. As the office's file has
    it: no_end_seen: the day it was seen as a patent without any end; ended_noted: the day on
    which its end by an unpaid fee was noted; given_up: the same of an application given up;
    waiting_seen: the day it was seen as a pending application.
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
    earlier_us: date | None = None
    chain_known: bool = False
    no_end_seen: date | None = None
    ended_noted: date | None = None
    given_up: date | None = None
    waiting_seen: date | None = None


@dataclass(frozen=True)
class InForce:
    """The estimate. nominal_expiry: the rule alone; estimated_expiry: adjustment, disclaimer,
    extension and lapse counted in; last_day_in_force: None where nothing is or was granted.

    status: in_force_likely, lapsed_fee, expired, not_yet_granted, unknown_needs_register,
    given_up, never_there. checked: the day the rule was written down; None without one.
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
                      ("granted", right.granted), ("fees_as_of", right.fees_as_of),
                      ("seen in force", right.no_end_seen), ("end noted", right.ended_noted),
                      ("given up", right.given_up), ("seen waiting", right.waiting_seen)):  # fmt: skip
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
