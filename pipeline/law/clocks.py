"""The days that come next for a matter: what runs, since when, until when, by which rule.

A period is added once, whole, to the original day; only deadlines roll over closed days, and
a later period counts from the unrolled day. An uncertain start counts from its earliest day.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from connectors.days import Days
from pipeline.law.checks import check_office, check_word
from pipeline.law.clock_rules import CHECKED, ClockRule, clock_rules, national_phase
from pipeline.law.closed_days import closed, holidays_note
from pipeline.law.facts import BadDates
from pipeline.law.offices import Grace, Rule, rules_of
from pipeline.law.periods import add_months, roll
from pipeline.law.renewals import renewal_rules
from pipeline.law.term import check_day

EVENTS = ("own disclosure", "first filing", "filing", "international filing", "grant")


@dataclass(frozen=True)
class MatterEvent:
    """One dated event of the matter. note: words of the user's that tell it from others.

    priority_valid: yes, no, unknown, restored; a first filing with 'no' gives no priority.
    """

    kind: str
    days: Days
    office: str = ""
    note: str = ""
    provisional: bool = False
    design: bool = False
    priority_valid: str = "yes"

    @property
    def label(self) -> str:
        """Return what it is in words."""
        parts = ("design" * self.design, "provisional" * self.provisional, self.kind)
        at = f" at {self.office}" if self.office else ""
        return " ".join(filter(None, parts)) + at + (f" ({self.note})" if self.note else "")

    @property
    def first(self) -> date:
        """Return the earliest day it may have been; check_dates has seen to it that there is one."""
        return self.days.first or date.min


@dataclass(frozen=True)
class MatterDates:
    """All that starts or stops a clock, and the offices to count for (WO: the PCT)."""

    events: tuple[MatterEvent, ...]
    offices: tuple[str, ...]

    def of(self, *kinds: str) -> list[MatterEvent]:
        """Return the events of these kinds, earliest first."""
        return sorted((e for e in self.events if e.kind in kinds), key=lambda e: (e.first, e.office, e.note))


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
    return tuple(said)


def _far_renewal(clock: Clock, today: date) -> bool:
    """Of the yearly fees only those are listed that can still be paid and fall due within a year."""
    near = add_months(today, 12)
    return clock.name.startswith("renewal fee") and not (today <= clock.due and clock.unrolled <= near)


def _clock(rule: ClockRule, event: MatterEvent, dates: MatterDates, today: date) -> Clock:
    start = event.first
    unrolled = start + timedelta(days=rule.days) if rule.days else add_months(start, rule.months)
    if rule.office == "EP" and rule.start == "filing":
        unrolled = _month_end(unrolled)
    moved = roll(rule.office, unrolled) if rule.rolls else None
    due = moved.due if moved else unrolled
    uncertain = "" if event.days.exact else "the start is not known to the day; counted from its earliest day"
    notes = (rule.note, uncertain, holidays_note(rule.office) if rule.kind == "deadline" else "")
    return Clock(
        rule.name, rule.office, rule.kind, event.label, event.days, rule.period, unrolled, due,
        _open_before(rule.office, unrolled) if rule.kind == "deadline" else unrolled,
        moved.because if moved else (), rule.citation, rule.source, CHECKED, rule.stops, rule.missed,
        _stopper(rule, start, due, dates), today > due, "; ".join(filter(None, notes)),
    )  # fmt: skip


def _month_end(day: date) -> date:
    return add_months(day.replace(day=1), 1) - timedelta(days=1)


def _open_before(office: str, day: date) -> date:
    while closed(office, day):
        day -= timedelta(days=1)
    return day


def _stopper(rule: ClockRule, start: date, due: date, dates: MatterDates) -> str:
    """Return the filing that stopped the clock in time, "" where none did or none can."""
    if rule.kind != "deadline" or rule.start in ("grant", "filing") or rule.name.startswith("demand"):
        return ""
    abroad = dates.of("first filing", "filing", "international filing")
    for event in abroad:
        there = event.kind == "filing" and event.office == rule.office
        there = there or (event.kind == "first filing" and event.office == rule.office)
        if rule.start != "earliest priority":
            there = there or event.kind == "international filing"
        if rule.stopped_by == "any" and event.kind == "first filing":
            there = event.priority_valid != "no"
        last = event.days.last or date.max
        if there and start <= event.first and last <= due and not _is_start(rule, event):
            return f"{event.label} {event.days.text()}"
    return ""


def _is_start(rule: ClockRule, event: MatterEvent) -> bool:
    """A provisional never stops a clock that asks for the filing itself."""
    return rule.stopped_by == "there" and event.provisional


def _grace_rules(dates: MatterDates) -> Iterator[tuple[ClockRule, MatterEvent]]:
    for event in dates.of("own disclosure"):
        for office in dates.offices:
            right = "design" if event.design else "patent"
            for rule in rules_of(office):
                for grace in rule.grace:
                    if _excuses(rule, grace, right, event.first):
                        yield _grace_rule(rule, grace), event


def _excuses(rule: Rule, grace: Grace, right: str, disclosed: date) -> bool:
    """Return whether the exception can serve an own disclosure of that day, without more.

    The law that governs is that of the filing, which can be made to the very end.
    """
    own = "inventor" in grace.who and grace.months > 0 and not grace.after_own
    soon_enough = grace.events_from is None or disclosed >= grace.events_from
    return own and soon_enough and rule.holds_for(right, add_months(disclosed, grace.months))


def _grace_rule(rule: Rule, grace: Grace) -> ClockRule:
    only = f", only for: {' or '.join(grace.grounds).replace('_', ' ')}" if grace.grounds else ""
    stops = {
        "actual": "the filing there, or an international filing that names it; a priority does not stop it",
        "effective": "the first filing whose date counts there, also one abroad whose priority is claimed",
    }[grace.counts_from]
    statement = f"needs: {grace.statement}" if grace.declaration != "no" and grace.statement else ""
    return ClockRule(
        f"grace for the own disclosure{only}", rule.office, "own disclosure", stops,
        "the own disclosure counts against the filing; nothing restores it", grace.citation, rule.source,
        months=grace.months, note=statement, rolls=rule.rolls,
        stopped_by="any" if grace.counts_from == "effective" else "there",
    )  # fmt: skip


def _listed_rules(dates: MatterDates) -> Iterator[tuple[ClockRule, MatterEvent]]:
    own = bool(dates.of("own disclosure"))
    for rule in clock_rules():
        if rule.also and not own:
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


def check_dates(dates: MatterDates, today: date) -> None:
    """Raise BadDates for a date of the matter that cannot be, saying where and how to mend it."""
    for office in dates.offices:
        check_office(office, "offices")
    for event in dates.events:
        check_word("kind of date", event.kind, EVENTS)
        if event.days.first is None:
            raise BadDates(f"{event.label}: no earliest day is known, so nothing can be counted; give one")
        if event.kind != "own disclosure" and not event.days.exact:
            raise BadDates(f"{event.label}: {event.days.text()} is no full day; offices count by the day")
        if event.office:
            check_office(event.office, event.label)
        check_day(event.label, event.days.first, today)
    _check_order(dates)


def _check_order(dates: MatterDates) -> None:
    first = {event.office: event for event in dates.of("first filing")}
    for grant in dates.of("grant"):
        filed = [e for e in dates.of("filing", "first filing") if e.office == grant.office]
        if filed and grant.first < filed[0].first:
            raise BadDates(f"{grant.label}: {grant.first} precedes its filing of {filed[0].first}; mend one")
    for filing in dates.of("filing", "international filing"):
        earlier = [event for event in first.values() if not event.design and event.priority_valid != "no"]
        if earlier and all(filing.first < event.first for event in earlier) and not filing.design:
            raise BadDates(
                f"{filing.label}: {filing.first} precedes the first filing of "
                f"{min(event.first for event in earlier)}; the earliest is the first filing"
            )
