"""Which filing stopped a clock, and what earlier filing takes its point away."""

from __future__ import annotations

from datetime import date

from pipeline.law.clock_rules import ClockRule
from pipeline.law.events import MatterDates, MatterEvent

_FILINGS = ("first filing", "filing", "international filing", "national entry")
# These run from an act at the office and end by another that the matter's dates do not name.
_NEVER_STOPPED = ("grant", "filing", "item cited", "national entry")


def stopped_by(rule: ClockRule, start: MatterEvent, unrolled: date, due: date, dates: MatterDates) -> str:
    """Return the filing that stopped the clock in time, "" where none did or none can."""
    if rule.kind != "deadline" or rule.start in _NEVER_STOPPED or rule.name.startswith("demand"):
        return ""
    for event in dates.of(*_FILINGS):
        if event.design != start.design or event == start or not _ends(rule, event, dates):
            continue
        # A closed day moves the end of grace for a filing at that office only (35 USC 21(b)).
        at_home = event.office == rule.office and event.kind != "international filing"
        last = unrolled if rule.start == "own disclosure" and not at_home else due
        if start.first <= event.first and (event.days.last or date.max) <= last:
            return f"{event.label} {event.days.text()}{_while(rule, event)}"
    return ""


def notes_on(rule: ClockRule, start: MatterEvent, dates: MatterDates) -> tuple[str, ...]:
    """Return what earlier filings mean for the clock, in words; it runs on all the same."""
    if rule.start == "own disclosure":
        before = [
            event
            for event in dates.of("first filing", "filing", "international filing")
            if event.design == start.design and event.priority_valid != "no" and event.first < start.first
        ]
        return tuple(
            f"{event.label} {event.days.text()} came before: this matters for what that filing does not "
            "show, or where it does not count"
            for event in before[:1]
        )
    if rule.start == "earliest priority" and not rule.name.startswith("demand"):
        there = [
            event
            for event in dates.of("first filing", "filing")
            if event.office == rule.office and not event.provisional and not event.design
        ]
        return tuple(f"{event.label} {event.days.text()} is there already" for event in there[:1])
    return ()


def _ends(rule: ClockRule, event: MatterEvent, dates: MatterDates) -> bool:
    """Return whether a filing of this kind, made in time, ends the clock."""
    there = event.office == rule.office
    if rule.start == "earliest priority":
        international = dates.of("international filing")[0]
        after = event.kind == "filing" and event.first >= international.first
        return there and (event.kind == "national entry" or after)
    if event.kind == "international filing":
        return True
    if event.kind == "first filing" and rule.stopped_by == "any":
        return event.priority_valid != "no"
    if event.kind == "first filing":
        # A provisional never stops a clock that asks for the filing itself.
        return there and not event.provisional
    return there and event.kind == "filing"


def _while(rule: ClockRule, event: MatterEvent) -> str:
    """Return the condition on which an earlier filing abroad, or a provisional, counts."""
    itself = event.kind != "first filing" or (event.office == rule.office and not event.provisional)
    return "" if itself or event.priority_valid in ("yes", "restored") else ", if its priority holds"
