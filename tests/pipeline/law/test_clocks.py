"""Which clocks a matter's dates start, what stops them, and what is refused."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.days import Days, parse_days
from pipeline.law.clock_rules import clock_rules, rule_of
from pipeline.law.clocks import Clock, MatterDates, MatterEvent, clocks, not_held
from pipeline.law.closed_days import closed
from pipeline.law.facts import BadDates

TODAY = date(2026, 11, 25)
OFFICES = ("US", "EP", "JP", "CN", "CA")


def event(kind: str, text: str, office: str = "", **facts: object) -> MatterEvent:
    """Return an event on the days a text allows."""
    days = parse_days(text)
    assert days
    return MatterEvent(kind, days, office, **facts)  # type: ignore[arg-type]


def run(*events: MatterEvent, offices: tuple[str, ...] = OFFICES, today: date = TODAY) -> tuple[Clock, ...]:
    """Return the clocks of these events."""
    return clocks(MatterDates(events, offices), today)


def one(found: tuple[Clock, ...], office: str, name: str) -> Clock:
    """Return the only clock of that office whose name begins so."""
    (clock,) = [clock for clock in found if clock.office == office and clock.name.startswith(name)]
    return clock


def test_an_uncertain_disclosure_counts_from_its_earliest_day() -> None:
    """A month alone starts the year of grace on its first day, and the note says so."""
    clock = one(run(event("own disclosure", "2026-02")), "US", "grace")
    assert clock.due == date(2027, 2, 1)
    assert "earliest day" in clock.note


def test_a_provisional_stops_the_grace_of_the_us_but_not_of_japan() -> None:
    """35 USC 102(b)(1) counts from the effective date; JP Art. 30 from the filing there."""
    found = run(
        event("own disclosure", "2026-02-10"), event("first filing", "2026-03-16", "US", provisional=True)
    )
    assert "2026-03-16" in one(found, "US", "grace").stopped_by
    assert one(found, "JP", "grace").stopped_by == ""


def test_a_filing_too_late_or_without_priority_stops_nothing() -> None:
    """After the last day, or with a priority that does not hold, the clock is not stopped."""
    late = run(event("own disclosure", "2024-02-10"), event("first filing", "2026-03-16", "GB"))
    invalid = run(
        event("own disclosure", "2026-02-10"), event("first filing", "2026-03-16", "GB", priority_valid="no")
    )
    assert one(late, "US", "grace").stopped_by == "" and one(late, "US", "grace").past
    assert one(invalid, "US", "grace").stopped_by == ""


def test_a_filing_before_the_disclosure_is_not_what_stops_its_grace() -> None:
    """An earlier filing need not cover what was disclosed after it."""
    found = run(event("first filing", "2026-01-15", "GB"), event("own disclosure", "2026-02-10"))
    assert one(found, "US", "grace").stopped_by == ""


def test_the_international_filing_stops_the_priority_year_and_starts_the_phases() -> None:
    """National phases count from the priority, not from the international filing."""
    found = run(event("first filing", "2026-01-15", "GB"), event("international filing", "2026-11-20"))
    assert one(found, "JP", "priority year").stopped_by
    assert one(found, "US", "entry").unrolled == date(2028, 7, 15)
    assert one(found, "EP", "entry").unrolled == date(2028, 8, 15)


def test_without_priority_the_phases_count_from_the_international_filing() -> None:
    """PCT Art. 2(xi)(c)."""
    assert one(run(event("international filing", "2026-11-20")), "CA", "entry").unrolled == date(2029, 5, 20)


def test_designs_have_six_months_and_no_international_route() -> None:
    """Paris Art. 4C(1)."""
    found = run(event("first filing", "2026-08-31", "GB", design=True))
    assert one(found, "US", "priority half-year").unrolled == date(2027, 2, 28)
    assert not [clock for clock in found if clock.office == "WO"]


def test_european_fees_fall_on_the_months_end_and_only_the_next_are_listed() -> None:
    """EPC Rule 51(1): the third year's fee is due the last day of the month of filing."""
    found = [c for c in run(event("filing", "2024-12-05", "EP")) if c.name.startswith("renewal")]
    assert [clock.unrolled for clock in found] == [date(2026, 12, 31), date(2027, 6, 30)]
    assert not [c for c in run(event("filing", "2024-12-05", "EP"), event("grant", "2026-10-07", "EP"))
                if c.name.startswith("renewal")]  # fmt: skip


@pytest.mark.parametrize(
    ("given_event", "part"),
    [
        (event("filing", "2026-03", "US"), "full day"),
        (event("filing", "2027-03-01", "US"), "future"),
        (MatterEvent("filing", Days.of_day(date(26, 3, 1)), "US"), "four digits"),
        (MatterEvent("own disclosure", Days(None, date(2026, 1, 1))), "earliest day"),
        (event("planned filing", "2026-03-01", "US"), "not known"),
        (event("filing", "2026-03-01", "usa"), "office code"),
    ],
)
def test_what_cannot_be_counted_is_refused(given_event: MatterEvent, part: str) -> None:
    """The error names the event and how to mend it."""
    with pytest.raises(BadDates, match=part):
        run(given_event)


def test_a_filing_before_its_priority_and_a_grant_before_its_filing_are_refused() -> None:
    """The two contradictions the dates themselves show."""
    with pytest.raises(BadDates, match="precedes the first filing"):
        run(event("first filing", "2026-03-01", "GB"), event("filing", "2025-03-01", "US"))
    with pytest.raises(BadDates, match="precedes its filing"):
        run(event("filing", "2025-03-01", "US"), event("grant", "2024-03-01", "US"))


def test_what_is_not_held_is_said() -> None:
    """An office without a rule is named, never left out in silence."""
    dates = MatterDates(
        (event("own disclosure", "2026-02-10"), event("international filing", "2026-11-20")), ("PE",)
    )
    assert len(not_held(dates)) == 2 and all(text.startswith("PE") for text in not_held(dates))


def test_every_rule_has_its_citation_and_a_wrong_row_is_refused() -> None:
    """A row says its rule, where it was read, and exactly one length."""
    assert all(rule.citation and rule.stops and rule.missed for rule in clock_rules())
    with pytest.raises(ValueError, match="months or days"):
        rule_of({"office": "US", "name": "x", "start": "filing"})


@settings(derandomize=True, max_examples=150)
@given(st.dates(date(2005, 1, 1), TODAY), st.permutations(OFFICES))
def test_clocks_come_soonest_first_and_never_before_the_counted_day(day: date, offices: list[str]) -> None:
    """Order of input changes nothing; safe day <= counted day <= last day; both open."""
    events = (
        MatterEvent("own disclosure", Days.of_day(day)),
        MatterEvent("first filing", Days.of_day(day), "US"),
    )
    found = run(*events, offices=tuple(offices))
    assert found == run(*reversed(events))
    assert [clock.due for clock in found] == sorted(clock.due for clock in found)
    for clock in found:
        assert clock.safe_day <= clock.unrolled <= clock.due
        assert clock.past == (clock.due < TODAY)
        assert clock.kind != "deadline" or not closed(clock.office, clock.safe_day)
        assert bool(clock.because) == (clock.due != clock.unrolled)
