"""The days that come next for a matter: what runs, since when, until when, by which rule.

A period is added once, whole, to the original day; only deadlines roll over closed days, and
a later period counts from the unrolled day. An uncertain start counts from its earliest day.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from connectors.days import Days
from pipeline.law.clock_rules import CHECKED, ClockRule, clock_rules, national_phase
from pipeline.law.closed_days import closed, holidays_note
from pipeline.law.events import EVENTS, MatterDates, MatterEvent, check_dates
from pipeline.law.offices import Grace, Rule, rules_of
from pipeline.law.periods import add_months, roll
from pipeline.law.renewals import renewal_rules
from pipeline.law.stops import notes_on, stopped_by

__all__ = ["EVENTS", "Clock", "MatterDates", "MatterEvent", "clocks", "not_held"]


@dataclass(frozen=True)
class Clock:
    """One clock. kind: deadline, opens (a window) or expected (no act is due).

    unrolled: by counting alone. due: the last day, moved past closed days where the rule
    allows. safe_day: the last open day not after the unrolled one. because: why it moved.
    stopped_by: the filing that ended it, "" while it runs. note: cautions of this clock.
    """

    name: str
    office: str
    kind: str
    start_event: str
    start: Days
    period: str
    unrolled: date
    due: date
    safe_day: date
    because: tuple[str, ...]
    rule: str
    source: str
    checked: date
    stops_when: str
    after_missed: str
    stopped_by: str
    past: bool
    note: str


def clocks(dates: MatterDates, today: date) -> tuple[Clock, ...]:
    """Return every clock that runs or ran, soonest first.

    Ties: by office, name, start. past: the last day lies behind today. Raises BadDates for
    days that cannot be.
    """
    check_dates(dates, today)
    found = [
        _clock(rule, event, dates, today)
        for rules in (_grace_rules, _listed_rules, _phase_rules, renewal_events)
        for rule, event in rules(dates)
    ]
    once = dict.fromkeys(one for one in found if not _far_renewal(one, today))
    return tuple(sorted(once, key=lambda one: (one.due, one.office, one.name, one.start_event)))


def not_held(dates: MatterDates) -> tuple[str, ...]:
    """Return, for each office of the matter, what no rule is held for, in a sentence."""
    said = []
    for office in dates.offices:
        if dates.of("own disclosure") and not rules_of(office):
            said.append(f"{office}: no rule on grace is held; ask there before you count on any.")
        if dates.of("international filing") and office != "WO" and national_phase(office) is None:
            said.append(
                f"{office}: the time limit of its national phase is not held; look in the WIPO table."
            )
        if office == "EP" and dates.of("international filing"):
            said.append(
                "EP: the renewal fees of an international filing are not counted: the first falls due with "
                "entry or later (Rule 159(1)(g)); ask the Office."
            )
    return tuple(said)


def _far_renewal(clock: Clock, today: date) -> bool:
    """Of the yearly fees only those are listed that can still be paid and fall due within a year."""
    near = add_months(today, 12)
    return clock.name.startswith("renewal fee") and not (today <= clock.due and clock.unrolled <= near)


def _clock(rule: ClockRule, event: MatterEvent, dates: MatterDates, today: date) -> Clock:
    start = event.first
    unrolled = start + timedelta(days=rule.days) if rule.days else add_months(start, rule.months)
    if rule.month_end:
        unrolled = _month_end(unrolled)
    moved = roll(rule.office, unrolled) if rule.rolls else None
    due = moved.due if moved else unrolled
    uncertain = "" if event.days.exact else "the start is not known to the day; counted from its earliest day"
    holidays = holidays_note(rule.office) if rule.kind == "deadline" else ""
    notes = (rule.note, *notes_on(rule, event, dates), uncertain, holidays)
    return Clock(
        rule.name, rule.office, rule.kind, event.label, event.days, rule.period, unrolled, due,
        _open_before(rule.office, unrolled) if rule.kind == "deadline" else unrolled,
        moved.because if moved else (), rule.citation, rule.source, CHECKED, rule.stops, rule.missed,
        stopped_by(rule, event, unrolled, due, dates), today > due, "; ".join(filter(None, notes)),
    )  # fmt: skip


def _month_end(day: date) -> date:
    return add_months(day.replace(day=1), 1) - timedelta(days=1)


def _open_before(office: str, day: date) -> date:
    while closed(office, day):
        day -= timedelta(days=1)
    return day


def _grace_rules(dates: MatterDates) -> Iterator[tuple[ClockRule, MatterEvent]]:
    for event in dates.of("own disclosure"):
        for office in dates.offices:
            right = "design" if event.design else "patent"
            for rule in rules_of(office):
                for grace in rule.grace:
                    if _excuses(rule, grace, right, event):
                        yield _grace_rule(rule, grace, event), event


def _excuses(rule: Rule, grace: Grace, right: str, event: MatterEvent) -> bool:
    """Return whether the exception can serve the disclosure, without more.

    The law that governs is that of the filing, which can be made to the very end.
    """
    whose = ("abuse" if event.abuse else "inventor") in grace.who
    if not whose or not grace.months or grace.after_own:
        return False
    occasion = not grace.grounds or event.ground == "unknown" or event.ground in grace.grounds
    soon_enough = grace.events_from is None or event.first >= grace.events_from
    return occasion and soon_enough and rule.holds_for(right, add_months(event.first, grace.months))


def _grace_rule(rule: Rule, grace: Grace, event: MatterEvent) -> ClockRule:
    whose = "disclosure against the inventors' will" if event.abuse else "own disclosure"
    only = f", only for: {' or '.join(grace.grounds).replace('_', ' ')}" if grace.grounds else ""
    stops = {
        "actual": "the filing there, or an international filing that names it; a priority does not stop it",
        "effective": "the first filing whose date counts there, also one abroad whose priority is claimed",
    }[grace.counts_from]
    statement = f"needs: {grace.statement}" if grace.declaration != "no" and grace.statement else ""
    return ClockRule(
        f"grace for the {whose}{only}", rule.office, "own disclosure", stops,
        "the disclosure counts against the filing; nothing restores it", grace.citation, rule.source,
        months=grace.months, note=statement, rolls=rule.rolls,
        stopped_by="any" if grace.counts_from == "effective" else "there",
    )  # fmt: skip


def _listed_rules(dates: MatterDates) -> Iterator[tuple[ClockRule, MatterEvent]]:
    own = [event for event in dates.of("own disclosure") if not event.abuse]
    shown = [event for event in own if event.ground in ("exhibition", "unknown")]
    met = {"": True, "own disclosure": bool(own), "exhibition": bool(shown)}
    for rule in clock_rules():
        if not met[rule.also]:
            continue
        for event in _starts(rule, dates):
            for office in _offices(rule, event, dates):
                yield _at(rule, office), event


def _starts(rule: ClockRule, dates: MatterDates) -> list[MatterEvent]:
    """Return the events that start the rule's clock."""
    first = [event for event in dates.of("first filing") if event.priority_valid != "no"]
    if rule.start == "earliest priority":
        return _priority(dates)
    if rule.start == "earliest filing":
        filings = dates.of("first filing", "filing", "international filing")
        return filings[:1] if any(not event.provisional for event in filings) else []
    if rule.start == "any US filing":
        return [event for event in dates.of("first filing", "filing") if event.office == "US"][:1]
    return {
        "first filing": [event for event in first if not event.design],
        "provisional": [event for event in first if event.provisional and event.office in ("", "US")],
        "design filing": [event for event in first if event.design],
        "filing": _filings_at(rule.office, dates),
        "home filing": [event for event in first if event.office == rule.office and not event.design],
        "national entry": [event for event in dates.of("national entry") if event.office == rule.office],
        "item cited": dates.of("item cited"),
        "grant": [e for e in dates.of("grant") if e.office == rule.office and not e.design],
    }[rule.start]


def _offices(rule: ClockRule, event: MatterEvent, dates: MatterDates) -> list[str]:
    """Return the offices at which the clock runs for that start."""
    if rule.start == "earliest filing":
        return [event.office or "WO"]
    if rule.office == "elsewhere":
        # The PCT takes no designs; a US provisional has a clock of its own at home.
        wanted = dict.fromkeys((*dates.offices, *(() if event.design else ("WO",))))
        home = event.provisional and event.office != "US"
        return [office for office in wanted if office != event.office or home]
    if rule.start == "first filing" and rule.office == event.office:
        return []
    return [rule.office] if rule.office in (*dates.offices, "WO", event.office) else []


def _at(rule: ClockRule, office: str) -> ClockRule:
    return replace(rule, office=office)


def _priority(dates: MatterDates) -> list[MatterEvent]:
    """Return the earliest priority of the international filing; itself where none is claimed."""
    international = dates.of("international filing")[:1]
    if not international:
        return []
    # Two months of restoration past the year, and a few days for closed offices.
    oldest = add_months(international[0].first, -14) - timedelta(days=10)
    claimed = [
        event
        for event in dates.of("first filing")
        if event.priority_valid != "no"
        and not event.design
        and oldest <= event.first <= international[0].first
    ]
    return (claimed or international)[:1]


def _phase_rules(dates: MatterDates) -> Iterator[tuple[ClockRule, MatterEvent]]:
    for event in _priority(dates):
        for office in dates.offices:
            if rule := national_phase(office):
                yield rule, event


def renewal_events(dates: MatterDates) -> Iterator[tuple[ClockRule, MatterEvent]]:
    """Yield the European renewal fees; after grant they go to the states and are none of ours."""
    granted = any(event.office == "EP" for event in dates.of("grant"))
    for event in _filings_at("EP", dates):
        # A European phase of an international filing pays on another calendar (Rule 159(1)(g)).
        if not granted and not dates.of("international filing"):
            for rule in renewal_rules():
                yield rule, event


def _filings_at(office: str, dates: MatterDates) -> list[MatterEvent]:
    found = dates.of("filing", "first filing")
    return [event for event in found if event.office == office and not event.provisional]
