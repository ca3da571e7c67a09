"""The matter's own events that start and stop clocks, and those that cannot be."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from connectors.days import Days
from pipeline.law.checks import check_office, check_word
from pipeline.law.facts import BadDates
from pipeline.law.rights import check_day

EVENTS = (
    "own disclosure", "first filing", "filing", "international filing", "national entry", "grant",
    "item cited",
)  # fmt: skip
# What starts a clock though its day is vague: counted from its earliest day.
_MAY_BE_VAGUE = ("own disclosure", "item cited")


@dataclass(frozen=True)
class MatterEvent:
    """One dated event of the matter. note: words of the user's that tell it from others.

    priority_valid: yes, no, unknown, restored; a first filing with 'no' gives no priority.
    abuse: a disclosure against the inventors' will. ground: its occasion, as in facts.GROUNDS.
    """

    kind: str
    days: Days
    office: str = ""
    note: str = ""
    provisional: bool = False
    design: bool = False
    priority_valid: str = "yes"
    abuse: bool = False
    ground: str = "unknown"

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


def check_dates(dates: MatterDates, today: date) -> None:
    """Raise BadDates for a date of the matter that cannot be, saying where and how to mend it."""
    for office in dates.offices:
        check_office(office, "offices")
    for event in dates.events:
        check_word("kind of date", event.kind, EVENTS)
        if event.days.first is None:
            raise BadDates(f"{event.label}: no earliest day is known, so nothing can be counted; give one")
        if event.kind not in _MAY_BE_VAGUE and not event.days.exact:
            raise BadDates(f"{event.label}: {event.days.text()} is no full day; offices count by the day")
        if event.office:
            check_office(event.office, event.label)
        check_day(event.label, event.days.first, today)
    _check_order(dates)


def _check_order(dates: MatterDates) -> None:
    first = {event.office: event for event in dates.of("first filing")}
    for entry in dates.of("national entry"):
        international = dates.of("international filing")
        if not international or entry.first < international[0].first:
            raise BadDates(f"{entry.label}: no international filing of that day or before is named; add it")
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
