"""Whether a patent document published too late still counts, because it was filed earlier."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from connectors.days import Days
from pipeline.law.critical import Situation, choose_day
from pipeline.law.facts import Finding, PatentFacts
from pipeline.law.grace import discloser, repeats_own
from pipeline.law.questions import Question

# From these days on an application names every state by itself (PCT Rule 4.9; EPC Art. 79).
NAMES_ALL_FROM = {"WO": date(2004, 1, 1), "EP": date(2007, 12, 13)}


def earlier_right(at: Situation) -> Finding:
    """Return earlier_right, or why a document not public before the critical date counts for nothing.

    Filed strictly before the critical date (the same day hits neither), by an application
    with effect at this office, and none of the office's exceptions takes it away.
    """
    patent, rule = at.disclosure.patent, at.rule
    if patent is None:
        return too_late(at)
    needs = dict(rule.earlier).get(patent.office, dict(rule.earlier).get("*"))
    if needs is None:
        return nothing(at, f"an application at {patent.office} has no effect before its publication there")
    filed = filing_day(at, patent)
    if filed >= at.critical.public_before:
        return nothing(at, f"it was not filed before {at.critical.effective} either")
    if not has_effect(at, patent, needs, filed):
        return nothing(at, f"its application has no effect at {at.office}")
    if rule.earlier_counts == "none":
        return nothing(at, "as an earlier filing published later it is mentioned only")
    if rule.earlier_claimed_only and not claims_it(at, patent):
        return nothing(at, "the earlier application does not claim the matter")
    return spared(at, patent, filed) or found(at)


def found(at: Situation) -> Finding:
    """Return the earlier right."""
    return Finding(
        "earlier_right",
        at.rule.earlier_counts,
        f"Filed before {at.critical.effective}, published later ({at.event.when}).",
        at.rule.cite_earlier,
    )


def too_late(at: Situation) -> Finding:
    """Return that it became public on or after the critical date."""
    same = " (the same day is not before)" if at.event.days == Days.of_day(at.critical.effective) else ""
    listed = ""
    if at.office == "WO" and (at.event.days.last or date.max) < at.critical.actual:
        listed = " The search report lists it as P, since the search looks up to the filing (Rule 33.1)."
    reason = f"Public {at.event.when}, not before {at.critical.effective}{same}.{listed}"
    return Finding("not_prior_art", "none", reason, at.rule.cite_public)


def nothing(at: Situation, why: str) -> Finding:
    """Return that it became public too late and has no earlier effect."""
    late = too_late(at)
    return replace(late, reason=f"{late.reason.rstrip('.')}, and {why}.", citation=at.rule.cite_earlier)


def filing_day(at: Situation, patent: PatentFacts) -> date:
    """Return the day the document's matter was effectively filed, one per band where open."""
    days = patent.effective_filing or Days(None, at.day)
    question = Question(
        "the day it was effectively filed",
        "its chain of priority and benefit, and whether the earlier application shows the matter",
    )
    edges = {at.critical.public_before}
    for own in at.ours.own_disclosures:
        edges |= {
            end + timedelta(days=1) for end in (own.days.first, own.days.last) if end and end < date.max
        }
    return choose_day(days, edges, question, at.ask)


def has_effect(at: Situation, patent: PatentFacts, needs: str, filed: date) -> bool:
    """Return whether the document's application reaches this office."""
    if patent.office == at.office or needs == "nothing":
        return True
    if patent.designates and at.office not in patent.designates:
        return False
    if needs == "designated":
        names_all = filed >= NAMES_ALL_FROM.get(patent.office, date.max)
        fact = "yes" if patent.designates or names_all else "unknown"
        return at.ask.holds(fact, Question(f"whether it designates {at.office}", "its front page"))
    fact = dict(patent.entered).get(at.office, "unknown")
    name = f"whether its application took effect at {at.office} (fee, translation, entry)"
    return at.ask.holds(fact, Question(name, f"the register of {at.office}, once the time for entry is over"))


def claims_it(at: Situation, patent: PatentFacts) -> bool:
    """Return whether the earlier application claims the matter."""
    return at.ask.holds(
        patent.claims_matter,
        Question("whether the earlier application claims the same", "a comparison of the two sets of claims"),
    )


def spared(at: Situation, patent: PatentFacts, filed: date) -> Finding | None:
    """Return why the earlier filing is not held against us after all, or None."""
    for spare in at.rule.earlier_spares:
        if SPARES[spare](at, patent, filed):
            outcome = "excused_by_grace" if spare == "own_grace" else "not_prior_art"
            dates = f"Filed before {at.critical.effective}, published {at.event.when}"
            return Finding(outcome, "none", f"{dates}, but {BECAUSE[spare]}.", at.rule.cite_spares)
    return None


def same_inventors(at: Situation, patent: PatentFacts, _: date) -> bool:
    """Return whether the document names exactly our inventors."""
    question = Question("whether it names the same inventors", "the inventors of both, from the registers")
    return at.ask.word(patent.inventors, question, ("different", "same")) == "same"


def owner(at: Situation, patent: PatentFacts) -> str:
    """Return whose the document was, each possibility where unknown."""
    question = Question("whose application it was", "the applicants and owners of both on our filing day")
    return at.ask.word(patent.owner, question, ("other", "common", "same"))


def same_applicant(at: Situation, patent: PatentFacts, _: date) -> bool:
    """Return whether the applicants are the same; one owner behind two applicants is asked."""
    whose = owner(at, patent)
    fact = {"same": "yes", "other": "no"}.get(whose, "unknown")
    return at.ask.holds(
        fact, Question("whether the applicants count as the same", "the applicants on our filing day")
    )


def common_owner_stated(at: Situation, patent: PatentFacts, _: date) -> bool:
    """Return whether one owner held both, and said so on the file."""
    if owner(at, patent) == "other":
        return False
    return at.ask.holds(
        patent.ownership_stated,
        Question("whether common ownership is stated on the file", "the statement of common ownership"),
    )


def from_inventor(at: Situation, _: PatentFacts, __: date) -> bool:
    """Return whether its matter came from our inventor."""
    return discloser(at) in ("inventor", "abuse")


def own_disclosure_first(at: Situation, _: PatentFacts, filed: date) -> bool:
    """Return whether our inventor had disclosed the same before it was filed (no time limit)."""
    return repeats_own(at, filed, "it was filed")


def own_grace(at: Situation, patent: PatentFacts, _: date) -> bool:
    """Return whether the grace period takes our own earlier filing away; only asked where ours."""
    if owner(at, patent) != "same":
        return False
    return at.ask.holds(
        "unknown",
        Question(
            "whether the grace period covers the own earlier filing", "a practitioner's answer for the office"
        ),
    )


SPARES = {
    "same_inventors": same_inventors,
    "same_applicant": same_applicant,
    "common_owner_stated": common_owner_stated,
    "from_inventor": from_inventor,
    "own_disclosure_first": own_disclosure_first,
    "own_grace": own_grace,
}
BECAUSE = {
    "same_inventors": "it names the same inventors (double patenting remains possible)",
    "same_applicant": "it is the same applicant's (a second patent for the same may be refused)",
    "common_owner_stated": "both had one owner not later than our filing, and that is stated",
    "from_inventor": "its matter came from our inventor",
    "own_disclosure_first": "our inventor had disclosed the same before it was filed; "
    "that own disclosure is to be judged by itself",
    "own_grace": "the grace period covers it",
}
