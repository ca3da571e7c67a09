"""From which day on nothing published counts any more: one answer per claim and office."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from connectors.days import Days
from pipeline.law.facts import Disclosure, OurDates, Priority, PublicEvent
from pipeline.law.offices import Rule, rule_for
from pipeline.law.periods import add_months
from pipeline.law.questions import Asker, Question

CLOSED_DAYS_AT_MOST = timedelta(days=10)
RESTORATION_MONTHS = 2  # PCT Rule 26bis.3, PLT Art. 13(2)


@dataclass(frozen=True)
class Critical:
    """The days a disclosure is held against, in one state of affairs.

    effective: the critical date. public_before: what was public before this day counts;
    later than effective only before filing, when all that is public today counts.
    actual: filing at the office itself, its divisional parents included. us_filing: the
    day the pre-AIA bar counts from. rolls: the effective date is a filing at this office,
    so that its closed days matter. remarks: what the user should know of
    the dates, in sentences.
    """

    rule: Rule
    effective: date
    public_before: date
    actual: date
    us_filing: date
    rolls: bool
    remarks: str = ""


@dataclass(frozen=True)
class Situation:
    """One event of a disclosure on one assumed day, with everything the rules may ask."""

    office: str
    disclosure: Disclosure
    ours: OurDates
    event: PublicEvent
    critical: Critical
    day: date
    ask: Asker

    @property
    def rule(self) -> Rule:
        """The rule that governs."""
        return self.critical.rule


def critical_dates(office: str, ours: OurDates, today: date, ask: Asker) -> Critical | None:
    """Return the days to hold a disclosure against, or None where no rule for them is held.

    The claim takes the earliest priority that is in time and valid for it, else the filing
    (35 USC 100(i)(1); EPC Art. 88, 89). Not filed: as if filed on the day planned, at the
    earliest today; what is public today then counts, since no filing is made yet.
    """
    filing = ours.filing or max(ours.planned or today, today)
    held = kept_priorities(office, ours, filing, ask)
    effective = held[0].day if held else filing
    rule = rule_for(office, ours.right, ours.law, {"filing": filing, "effective": effective})
    if rule is None:
        return None
    open_until = effective if ours.filing or held else max(effective, today + timedelta(days=1))
    return Critical(
        rule,
        effective,
        open_until,
        earliest(filing, held, lambda kept: kept.kind == "continuation" and kept.office == office),
        earliest(
            filing, held, lambda kept: kept.kind in ("continuation", "provisional") and kept.office == "US"
        ),
        rule.rolls and (held[0].office == office if held else not ours.filed_abroad),
        remarks_on(office, ours, filing),
    )


def earliest(filing: date, held: tuple[Priority, ...], counts: Callable[[Priority], bool]) -> date:
    """Return the earliest of the filing and the priorities that count."""
    return min([filing, *(kept.day for kept in held if counts(kept))])


def kept_priorities(office: str, ours: OurDates, filing: date, ask: Asker) -> tuple[Priority, ...]:
    """Return the priorities the claim is entitled to, earliest first.

    After the earliest only those are looked at whose own benefit can move the bar or the
    actual filing; whether others are valid changes nothing.
    """
    held: list[Priority] = []
    for priority in sorted(ours.priorities, key=lambda one: (one.day, one.office, one.kind)):
        if held and priority.kind not in ("continuation", "provisional"):
            continue
        timely = in_time(office, ours, priority, filing)
        if timely and is_valid(priority, ask) and is_recognised(office, ours, priority, filing, ask):
            held.append(priority)
    return tuple(held)


def is_recognised(office: str, ours: OurDates, priority: Priority, filing: date, ask: Asker) -> bool:
    """Return whether a restoration granted for the international filing has effect at this office.

    Each designated office decides for itself (PCT Rule 49ter); asked where the year had passed.
    """
    if priority.valid != "restored" or not ours.filed_abroad or office == "WO":
        return True
    if in_time(office, ours, replace(priority, valid="yes"), filing):
        return True
    day = priority.day.isoformat()
    question = Question(
        f"whether {office} recognises the restored priority of {day}",
        f"the register of {office}: the effect of a restoration differs by office (PCT Rule 49ter)",
    )
    return ask.holds("unknown", question)


def is_valid(priority: Priority, ask: Asker) -> bool:
    """Return whether the priority discloses the claim, in due form; asked where unknown."""
    fact = "yes" if priority.valid == "restored" else priority.valid
    day = priority.day.isoformat()
    name = f"whether the {priority.kind} priority of {day} ({priority.office}) holds for this claim"
    evidence = f"a comparison of the claim with the application of {day} ({priority.office})"
    return ask.holds(fact, Question(name, evidence))


def in_time(office: str, ours: OurDates, priority: Priority, filing: date) -> bool:
    """Return whether the filing came within the priority period.

    Paris Convention Art. 4C: 12 months, for designs 6 (35 USC 172, which also shuts out
    provisionals). A few days more are left to closed days, which the user's 'valid' vouches
    for. A continuation has no period: its parent must be pending, which 'valid' says too.
    """
    if priority.kind == "continuation":
        return True
    if ours.right == "design" and priority.kind == "provisional":
        return False
    months = 6 if ours.right == "design" else 12
    rule = rule_for(office, ours.right, ours.law, {"filing": filing, "effective": filing})
    late = rule.late_priority_months if rule else 0
    months += max(late, RESTORATION_MONTHS if priority.valid == "restored" else 0)
    return filing <= add_months(priority.day, months) + CLOSED_DAYS_AT_MOST


def remarks_on(office: str, ours: OurDates, filing: date) -> str:
    """Return sentences naming the priorities out of time and a plan that has passed, or ''."""
    late = [one.day.isoformat() for one in ours.priorities if not in_time(office, ours, one, filing)]
    text = f" The priority of {', '.join(late)} is out of time for this filing." if late else ""
    if ours.filing is None and ours.planned and ours.planned < filing:
        text += f" The planned day {ours.planned} has passed, so it is judged as of {filing}."
    return text


def choose_day(days: Days, thresholds: set[date], question: Question, ask: Asker) -> date:
    """Return the day, or one day of every band that the thresholds cut the interval into.

    A threshold starts a new band. An open end reaches as far as a calendar does.
    """
    first, last = days.first or date.min, days.last or date.max
    bands = sorted({first, *(day for day in thresholds if first < day <= last)})
    chosen = ask.choose(question, tuple(bands))
    assert isinstance(chosen, date)  # noqa: S101 - choose returns one of the answers given
    return chosen
