"""Each office's verdict on a disclosure against our dates: does it count, for what, and why.

The rules stand in offices.toml; access, grace, earlier_rights and pre_aia read them, one
question a file. Facts left open are followed both ways (questions.py): a verdict is
certain only where every state of affairs the evidence allows leads to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from connectors.days import Days
from pipeline.law import pre_aia
from pipeline.law.access import not_public
from pipeline.law.checks import check_facts
from pipeline.law.critical import Critical, Situation, choose_day, critical_dates
from pipeline.law.earlier_rights import earlier_right
from pipeline.law.facts import (
    BadDates,
    Disclosure,
    Finding,
    OurDates,
    PatentFacts,
    Priority,
    PublicEvent,
    Verdict,
)
from pipeline.law.grace import excused, too_early, window_starts
from pipeline.law.offices import rules, rules_of
from pipeline.law.questions import Asker, Explored, Question, explore

__all__ = [
    "OFFICES",
    "BadDates",
    "Disclosure",
    "OurDates",
    "PatentFacts",
    "Priority",
    "PublicEvent",
    "Verdict",
    "judge",
]

OFFICES = tuple(dict.fromkeys(rule.office for rule in rules()))

# The worse for the applicant, the higher: of several events the worst decides.
SEVERITY = {"not_prior_art": 0, "excused_by_grace": 1, "earlier_right": 2, "prior_art": 3, "no_rule": 4}
IN_WORDS = {
    "not_prior_art": "no prior art",
    "excused_by_grace": "excused by grace",
    "earlier_right": "an earlier filing published later",
    "prior_art": "prior art",
}
NO_CITATION = "none"


@dataclass(frozen=True)
class Found:
    """What one state of affairs leads to, and the dates it was held against."""

    finding: Finding
    critical: Critical | None

    @property
    def outcome(self) -> tuple[str, str]:
        """What tells two findings apart."""
        return self.finding.outcome, self.finding.counts_for


def judge(office: str, disclosure: Disclosure, ours: OurDates, today: date) -> Verdict:
    """Return the office's verdict on the disclosure for a claim with our dates.

    today: the day of asking. Not filed yet: judged as if filed on ours.planned, or today,
    and marked provisional. An office without a rule here gets 'no_rule', never a guess.
    Raises BadDates for facts that cannot be: reversed, in the future, filed before their
    priority, published before they were filed, or words this program does not know.
    """
    check_facts(office, disclosure, ours, today)
    provisional = ours.filing is None
    if office not in OFFICES:
        return no_rule(office, provisional, f"No rule is held for {office}.")
    found = [judge_event(office, disclosure, ours, event, today) for event in disclosure.events]
    possible = combine(found)
    if possible[0].finding.outcome == "no_rule":
        return no_rule(office, provisional, possible[0].finding.reason)
    verdict = verdict_of(office, possible, [one for one in found if len(set(outcomes(one))) > 1])
    presumed = presumption(office, disclosure, ours, today, verdict)
    return replace(verdict, provisional=provisional, presumption=presumed)


def judge_event(
    office: str, disclosure: Disclosure, ours: OurDates, event: PublicEvent, today: date
) -> Explored[Found]:
    """Return everything the event can lead to, over all that is open."""

    def rule(ask: Asker) -> Found:
        critical = critical_dates(office, ours, today, ask)
        if critical is None:
            reason = f"No rule of {office} is held for a {ours.right} with these dates."
            return Found(Finding("no_rule", "depends", reason, NO_CITATION), None)
        zone = ("", "") if event.zone_known else (", its time zone not stated", ", and in which time zone")
        question = Question(
            f"the day it became public ({event.when}{zone[0]})", f"proof of the day it became public{zone[1]}"
        )
        day = choose_day(possible_days(event, today), edges(ours, critical), question, ask)
        finding = judge_day(Situation(office, disclosure, ours, event, critical, day, ask))
        return Found(replace(finding, reason=finding.reason + critical.remarks), critical)

    return explore(rule, lambda found: found.outcome)


def possible_days(event: PublicEvent, today: date) -> Days:
    """Return the days it may have been, wherever it was: a day more on each side without its zone.

    Guidelines G-IV 7.5.6: close to the date the zone may be crucial. Not beyond today.
    """
    first, last = event.days.first, event.days.last
    if event.zone_known or not event.days.exact or first is None or last is None:
        return event.days
    return Days(first - timedelta(days=1), max(last, min(last + timedelta(days=1), today)))


def edges(ours: OurDates, critical: Critical) -> set[date]:
    """Return every day on which the verdict on a public day may change."""
    days = {critical.public_before, critical.effective, critical.actual} | window_starts(critical)
    if critical.rule.law == "pre-AIA":
        days |= pre_aia.thresholds(critical, ours.invented)
    for own in ours.own_disclosures:
        days |= {end + timedelta(days=1) for end in (own.days.first, own.days.last) if end and end < date.max}
    return days


def judge_day(at: Situation) -> Finding:
    """Return what the event leads to on one day, in one state of affairs."""
    if at.rule.law == "pre-AIA":
        return pre_aia.judge_pre_aia(at)
    if at.day >= at.critical.public_before:
        return earlier_right(at)
    if closed := not_public(at):
        return closed
    exception = excused(at)
    if exception is None:
        reason = f"Public {at.event.when}, before {at.critical.effective}."
        if at.critical.public_before > at.critical.effective:
            reason = f"Public {at.event.when}, and no filing was made before."
        reason += too_early(at)
        return Finding("prior_art", "novelty+obviousness", reason, at.rule.cite_public)
    if at.disclosure.patent and at.rule.earlier_when_excused:
        secret = earlier_right(at)
        if secret.outcome == "earlier_right":
            return secret
    return exception


def outcomes(explored: Explored[Found]) -> list[tuple[str, str]]:
    """Return the outcome of every state of affairs."""
    return [one.outcome for one in explored.results]


def combine(events: list[Explored[Found]]) -> list[Found]:
    """Return what the events can lead to together, worst first: the worst of them decides.

    An outcome stands only where no other event is sure to lead to something worse.
    """

    def severity(one: Found) -> int:
        return SEVERITY[one.finding.outcome]

    floor = max(min(severity(one) for one in explored.results) for explored in events)
    left = [one for explored in events for one in explored.results if severity(one) >= floor]
    return sorted(left, key=severity, reverse=True)


def verdict_of(office: str, possible: list[Found], open_events: list[Explored[Found]]) -> Verdict:
    """Return the verdict for the outcomes that are possible; one outcome is certain."""
    findings = [one.finding for one in possible]
    kinds = tuple(dict.fromkeys(finding.outcome for finding in findings))
    counts = {finding.counts_for for finding in findings}
    dates = {one.critical.effective for one in possible if one.critical}
    used = [one.critical.rule for one in possible if one.critical]
    sure = len(kinds) == 1
    questions = tuple(dict.fromkeys(question for one in open_events for question in one.questions))
    undecided = not sure or len(counts) > 1
    return Verdict(
        office,
        kinds[0] if sure else "undecided",
        counts.pop() if len(counts) == 1 else "depends",
        findings[0].reason if sure else open_reason(kinds, questions),
        "; ".join(dict.fromkeys(one.citation for one in (findings[:1] if sure else findings))),
        tuple(dict.fromkeys(one.evidence for one in questions)) if undecided else (),
        kinds,
        declaration_needed=next((one.statement for one in findings if one.outcome == "excused_by_grace"), ""),
        critical_date=dates.pop() if len(dates) == 1 else None,
        rule_checked=min(rule.checked for rule in used),
        rule_source=used[0].source,
    )


def open_reason(kinds: tuple[str, ...], questions: tuple[Question, ...]) -> str:
    """Return the sentence that says what is possible and what it turns on."""
    may_be = " or ".join(IN_WORDS[kind] for kind in kinds)
    return f"It may be {may_be}; that turns on {'; '.join(one.name for one in questions)}."


def presumption(office: str, disclosure: Disclosure, ours: OurDates, today: date, verdict: Verdict) -> str:
    """Return the outcome the office would start from for a date without its day, or its hour.

    China takes the last day of a month or year that stands alone (Guidelines II-3, 2.1.2.1);
    Japan and Korea its end, and the end of a day whose hour is not known.
    """
    presumes = {rule.presumes for rule in rules_of(office)}
    if presumes == {""}:
        return ""
    hour = any(event.days.exact and event.days.first == verdict.critical_date for event in disclosure.events)
    if "last_day_and_hour" in presumes and hour and verdict.outcome != "undecided":
        return verdict.outcome
    events = tuple(at_last_day(event) for event in disclosure.events)
    if verdict.outcome != "undecided" or events == disclosure.events:
        return ""
    presumed = replace(disclosure, events=events)
    found = [judge_event(office, presumed, ours, event, today) for event in events]
    kinds = {one.finding.outcome for one in combine(found)}
    return kinds.pop() if len(kinds) == 1 else ""


def at_last_day(event: PublicEvent) -> PublicEvent:
    """Return the event on the last day of its month or year, where it states no more than that."""
    last = event.days.last
    if last is None or event.days not in (Days.of_year(last.year), Days.of_month(last.year, last.month)):
        return event
    return replace(event, days=Days.of_day(last))


def no_rule(office: str, provisional: bool, reason: str) -> Verdict:
    """Return that nothing can be said for this office."""
    return Verdict(
        office, "no_rule", "depends", reason, NO_CITATION, (), ("no_rule",), provisional=provisional
    )
