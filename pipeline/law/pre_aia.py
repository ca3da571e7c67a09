"""The United States law for claims all effectively filed before 2013-03-16.

Two tests stand side by side: the bar (102(b): anyone's disclosure more than a year before
the US filing) and novelty (102(a), (e): others' acts before our invention). Our effective
filing stands for the day of invention where an earlier one is not proven.
"""

from __future__ import annotations

from datetime import date

from connectors.days import Days
from pipeline.law.access import not_public
from pipeline.law.critical import Critical, Situation, choose_day
from pipeline.law.earlier_rights import has_effect, owner, same_inventors
from pipeline.law.facts import Finding, PatentFacts
from pipeline.law.grace import Window, discloser, window
from pipeline.law.questions import Question

BAR = "pre-AIA 35 USC 102(b); MPEP 2133"
NOVELTY = "pre-AIA 35 USC 102(a); MPEP 2132; 37 CFR 1.131"
EARLIER = "pre-AIA 35 USC 102(e), 103(c); MPEP 2136"


def thresholds(critical: Critical, invented: date | None) -> set[date]:
    """Return every day on which the answer of `judge_pre_aia` may change."""
    year = bar_window(critical)
    days = {critical.effective, critical.us_filing, year.maybe_from, year.sure_from}
    return days | ({invented} if invented else set())


def bar_window(critical: Critical) -> Window:
    """Return the year before the US filing."""
    return window(12, critical.us_filing, "US")


def judge_pre_aia(at: Situation) -> Finding:
    """Return what the event leads to under the bar, then novelty, then 102(e)."""
    if at.day < at.critical.public_before and (closed := not_public(at)):
        return closed
    if before_bar(at):
        when = f"more than a year before the US filing of {at.critical.us_filing}"
        reason = f"Public {at.event.when}, {when}."
        return Finding("prior_art", "novelty+obviousness", reason, BAR)
    if at.day < at.critical.effective and discloser(at) == "third_party" and before_invention(at, at.day):
        reason = f"Public {at.event.when}, by others, before the invention."
        return Finding("prior_art", "novelty+obviousness", reason, NOVELTY)
    return earlier_filed(at)


def before_bar(at: Situation) -> bool:
    """Return whether the day lies more than a year before the US filing."""
    year = bar_window(at.critical)
    if year.maybe_from <= at.day < year.sure_from:
        question = Question(
            "how the year is counted from a month's end", "a practitioner's count of the year"
        )
        return at.ask.holds("unknown", question)
    return at.day < year.sure_from


def before_invention(at: Situation, day: date) -> bool:
    """Return whether the day precedes our invention, asked where no invention day is proven."""
    fact = "unknown" if at.ours.invented is None else "yes" if day < at.ours.invented else "no"
    question = Question(
        "whether the invention was made before it", "proof of the day of invention (37 CFR 1.131)"
    )
    return at.ask.holds(fact, question)


def earlier_filed(at: Situation) -> Finding:
    """Return 102(e), or that nothing speaks against us.

    Its foreign priority does not help the document: its US filing counts.
    """
    patent = at.disclosure.patent
    late = f"Public {at.event.when}, not more than a year before the US filing of {at.critical.us_filing}"
    nothing = Finding("not_prior_art", "none", f"{late}, and not by others before the invention.", BAR)
    needs = dict(at.rule.earlier).get(patent.office) if patent else None
    if patent is None or needs is None:
        return nothing
    filed = us_filing_day(at, patent)
    if filed >= at.critical.effective or not has_effect(at, patent, needs, filed):
        return nothing
    if same_inventors(at, patent, filed) or not before_invention(at, filed):
        return nothing
    counts = "novelty+obviousness" if owner(at, patent) == "other" else "novelty"
    reason = f"Filed in the US before {at.critical.effective} by another, published {at.event.when}."
    return Finding("earlier_right", counts, reason, EARLIER)


def us_filing_day(at: Situation, patent: PatentFacts) -> date:
    """Return the document's own US filing day, one per band where open."""
    edges = {at.critical.effective} | ({at.ours.invented} if at.ours.invented else set())
    question = Question(
        "the day the document was filed in the US", "its US filing data, benefit chain included"
    )
    return choose_day(patent.filed_there or Days(None, at.day), edges, question, at.ask)
