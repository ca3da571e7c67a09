"""Whether an exception takes a disclosure away that was public before the critical date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from pipeline.law.critical import Critical, Situation
from pipeline.law.facts import Finding
from pipeline.law.offices import Grace
from pipeline.law.periods import add_months, roll
from pipeline.law.questions import Question

LONGEST_CLOSURE_DAYS = 10


@dataclass(frozen=True)
class Window:
    """Days from sure_from on are inside; days before maybe_from are not; between, who knows.

    The two differ only at months' ends: from 28 February to 31 August is six months counted
    back from August, and more than six counted on from February.
    """

    maybe_from: date
    sure_from: date


def excused(at: Situation) -> Finding | None:
    """Return the exception that takes the disclosure away, or None where none does.

    An exception holds while its statement is made: verdicts show it as declaration_needed.
    """
    for grace in at.rule.grace:
        if within(grace, at) and fits(grace, at) and declared(grace, at):
            return Finding("excused_by_grace", "none", because(grace, at), grace.citation, grace.statement)
    return None


def too_early(at: Situation) -> str:
    """Return a sentence on the exception the disclosure would have, had it come later; '' for none."""
    whose = "inventor" if at.event.disclosed_by == "inventor" else "abuse"
    for grace in at.rule.grace if at.event.disclosed_by in ("inventor", "abuse") else ():
        fitting = whose in grace.who and grace.months and not grace.grounds and not grace.after_own
        counted, closed_at = counted_day(grace, at.critical)
        if fitting and at.day < window(grace.months, counted, closed_at).maybe_from:
            kind = "the filing itself, " if grace.counts_from == "actual" else ""
            return f" Too early for the exception of {grace.months} months before {kind}{counted}."
    return ""


def because(grace: Grace, at: Situation) -> str:
    """Return the sentence that says why it is excused."""
    whose = {
        "third_party": "repeats what the inventor had disclosed before",
        "abuse": "made against the will",
    }
    counted, _ = counted_day(grace, at.critical)
    span = f"{grace.months} months before {counted}" if grace.months else "with no limit in time"
    rolled = grace.months and at.day < window(grace.months, counted, "").sure_from
    return (
        f"Public {at.event.when}, {whose.get(discloser(at), 'from the inventor')}, "
        f"within the exception ({span})."
        + (
            f" The period ended on a day {at.office} was closed, so the filing must have been made there."
            if rolled
            else ""
        )
    )


def fits(grace: Grace, at: Situation) -> bool:
    """Return whether it is the kind of disclosure the exception is for."""
    if discloser(at) not in grace.who:
        return False
    if at.disclosure.patent and discloser(at) == "inventor" and not grace.gazettes:
        return False
    return (
        occasion(grace, at)
        and (not grace.after_own or repeats_own(at, at.day, "it became public"))
        and condition(grace, at)
    )


def discloser(at: Situation) -> str:
    """Return whose disclosure it is, each possibility where unknown.

    A patent document that names our inventors and nobody else is no third party's
    (MPEP 2153.01(a)), whoever is said to have published it.
    """
    patent = at.disclosure.patent
    ours = patent is not None and patent.inventors == "same"
    if ours and at.event.disclosed_by == "third_party":
        return "inventor"
    question = Question("who disclosed it, and from whom they had it", "a statement who contributed what")
    whose = ("inventor", "abuse") if ours else ("third_party", "inventor", "abuse")
    return at.ask.word(at.event.disclosed_by, question, whose)


def occasion(grace: Grace, at: Situation) -> bool:
    """Return whether it was made on an occasion the exception is for."""
    if not grace.grounds:
        return True
    fact = "unknown" if at.event.ground == "unknown" else "yes" if at.event.ground in grace.grounds else "no"
    places = " or ".join(grace.grounds).replace("_", " ")
    return at.ask.holds(fact, Question(f"whether it was a recognised {places}", f"proof of the {places}"))


def repeats_own(at: Situation, before: date, what: str) -> bool:
    """Return whether the inventor had publicly disclosed the same matter before that day.

    what: what happened on that day, for the question.
    """
    own = [one for one in at.ours.own_disclosures if one.access in ("open", "unknown")]
    if not any((one.days.first or date.min) < before for one in own):
        return False
    sure = any(one.access == "open" and (one.days.last or date.max) < before for one in own)
    question = Question(
        f"whether the inventor's own disclosure came before {what}", "proof of the day of the own disclosure"
    )
    if not at.ask.holds("yes" if sure else "unknown", question):
        return False
    question = Question(
        "whether it shows no more than the inventor had disclosed",
        "a comparison with the own earlier disclosure",
    )
    return at.ask.holds(at.disclosure.repeats_own, question)


def condition(grace: Grace, at: Situation) -> bool:
    """Return whether the exception's further condition is met; no input holds it."""
    if not grace.condition:
        return True
    return at.ask.holds("unknown", Question(grace.condition, f"proof for {grace.citation}"))


def declared(grace: Grace, at: Situation) -> bool:
    """Return whether the statement the exception asks for was made, or can still be made."""
    made = at.ours.declared
    if grace.declaration == "no" or made:
        return True
    if made is None and (at.ours.filing is None or grace.declaration == "expected"):
        return True
    fact = "no" if made is False and grace.declaration == "yes" else "unknown"
    return at.ask.holds(
        fact, Question("whether the exception was declared in due form", f"the file: {grace.statement}")
    )


def within(grace: Grace, at: Situation) -> bool:
    """Return whether the day lies in the exception's window."""
    if grace.events_from and at.day < grace.events_from:
        return False
    if not grace.months:
        return True
    found = window(grace.months, *counted_day(grace, at.critical))
    if found.maybe_from <= at.day < found.sure_from:
        question = Question(
            "how the office counts from a month's end", "a practitioner's count of the months"
        )
        return at.ask.holds("unknown", question)
    return at.day >= found.sure_from


def counted_day(grace: Grace, critical: Critical) -> tuple[date, str]:
    """Return the day the months count back from, and whose closed days move its limit."""
    if grace.counts_from == "actual":
        return critical.actual, ""
    return critical.effective, critical.rule.office if critical.rolls else ""


@lru_cache(maxsize=4096)
def window(months: int, counted: date, closed_at: str) -> Window:
    """Return the days that lie `months` or less before `counted`, that anniversary included.

    closed_at: the office whose closed days carry the last day over to the next open one
    (35 USC 21(b), MPEP 2153.01(a)), '' for none.
    """
    back = add_months(counted, -months)
    first = back - timedelta(days=LONGEST_CLOSURE_DAYS)
    while limit(first, months, closed_at) < counted:
        first += timedelta(days=1)
    return Window(min(back, first), first)


def limit(day: date, months: int, closed_at: str) -> date:
    """Return the last day to file after a disclosure of that day."""
    last = add_months(day, months)
    return roll(closed_at, last).due if closed_at else last


def window_starts(critical: Critical) -> set[date]:
    """Return every day on which the answer of `excused` may change."""
    days: set[date] = set()
    for grace in critical.rule.grace:
        if grace.events_from:
            days.add(grace.events_from)
        if grace.months:
            found = window(grace.months, *counted_day(grace, critical))
            days |= {found.maybe_from, found.sure_from}
    return days
