"""Which clocks a matter's dates start, what stops them, and what is refused."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.days import Days, parse_days
from pipeline.law.clock_rules import clock_rules
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


@pytest.mark.parametrize(
    ("filings", "stopped"),
    [
        # 35 USC 21(b) speaks of acts at the USPTO: 2026-02-28 is a Saturday, rolled to Monday.
        ([event("filing", "2026-03-02", "US")], True),
        ([event("first filing", "2026-03-02", "US", provisional=True, priority_valid="yes")], True),
        ([event("first filing", "2026-03-02", "GB")], False),
        ([event("international filing", "2026-03-02", "IB")], False),
        ([event("international filing", "2026-02-27", "IB")], True),
        ([event("first filing", "2026-02-27", "GB")], True),
        # A filing of a design protects no patent claim.
        ([event("first filing", "2026-02-27", "GB", design=True)], False),
        ([event("filing", "2026-02-27", "US", design=True)], False),
    ],
)
def test_a_closed_day_helps_only_a_filing_at_that_office(filings: list[MatterEvent], stopped: bool) -> None:
    """The US year of grace for a disclosure of 2025-02-28; MPEP 2153.01(a)."""
    found = run(event("own disclosure", "2025-02-28"), *filings)
    assert bool(one(found, "US", "grace").stopped_by) is stopped


def test_a_priority_not_compared_stops_the_year_of_grace_on_a_condition() -> None:
    """35 USC 100(i): the earlier day counts for what the earlier application shows."""
    own = event("own disclosure", "2026-02-10")
    for state, said in (("unknown", True), ("yes", False)):
        found = run(own, event("first filing", "2026-03-16", "GB", priority_valid=state))
        assert one(found, "US", "grace").stopped_by.endswith("if its priority holds") is said


def test_an_earlier_filing_is_named_where_grace_may_not_be_needed() -> None:
    """What was shown after a filing is no prior art to it (35 USC 102(a)(1)); the clock runs for the rest."""
    found = run(event("first filing", "2026-01-15", "GB"), event("own disclosure", "2026-02-10"))
    assert "2026-01-15 came before" in one(found, "JP", "grace").note
    late = run(event("first filing", "2026-03-15", "GB"), event("own disclosure", "2026-02-10"))
    assert "came before" not in one(late, "JP", "grace").note


def test_only_what_enters_ends_the_time_for_the_national_phase() -> None:
    """A first filing there does not take the international application in; PCT Art. 22(1)."""
    both = (event("first filing", "2025-01-15", "JP"), event("international filing", "2026-01-12"))
    phase = one(run(*both), "JP", "entry")
    assert not phase.stopped_by and "first filing at JP 2025-01-15 is there already" in phase.note
    assert one(run(*both, event("national entry", "2026-10-01", "JP")), "JP", "entry").stopped_by
    assert one(run(*both, event("filing", "2026-10-01", "JP")), "JP", "entry").stopped_by
    assert not one(run(*both, event("national entry", "2026-10-01", "US")), "JP", "entry").stopped_by
    with pytest.raises(BadDates, match="no international filing"):
        run(event("national entry", "2026-10-01", "JP"))


@pytest.mark.parametrize(
    ("filings", "stopped", "noted"),
    [
        # An application of its own beside the international one does not take that one in.
        ([event("filing", "2025-06-02", "JP")], False, True),
        ([event("first filing", "2025-01-15", "GB")], False, False),
        ([event("first filing", "2025-01-15", "JP", provisional=True)], False, False),
        ([event("first filing", "2025-01-15", "JP", design=True)], False, False),
        ([event("filing", "2026-01-12", "JP")], True, True),
        ([event("filing", "2026-10-01", "US")], False, False),
    ],
)
def test_other_filings_beside_an_international_one(
    filings: list[MatterEvent], stopped: bool, noted: bool
) -> None:
    """The Japanese phase of an international filing of 2026-01-12."""
    phase = one(run(event("international filing", "2026-01-12"), *filings), "JP", "entry")
    assert (bool(phase.stopped_by), "is there already" in phase.note) == (stopped, noted)


@pytest.mark.parametrize(
    ("filing", "condition"),
    [
        (event("first filing", "2026-02-10", "US", provisional=True, priority_valid="unknown"), True),
        (event("first filing", "2026-02-10", "US", provisional=True, priority_valid="restored"), False),
        (event("first filing", "2026-02-10", "US", priority_valid="unknown"), False),  # the filing itself
        (event("filing", "2026-02-10", "US"), False),
    ],
)
def test_a_filing_of_the_same_day_stops_the_year_of_grace(filing: MatterEvent, condition: bool) -> None:
    """Disclosed and filed on one day: a disclosure of that day is not before it (35 USC 102(a))."""
    stopped = one(run(event("own disclosure", "2026-02-10"), filing), "US", "grace").stopped_by
    assert stopped and stopped.endswith("if its priority holds") is condition


def test_the_filing_of_one_right_does_not_stop_the_priority_of_another() -> None:
    """Paris Art. 4C(1): a patent filed in Japan saves no design there."""
    found = run(event("first filing", "2026-08-31", "GB", design=True), event("filing", "2026-09-30", "JP"))
    assert not one(found, "JP", "priority half-year").stopped_by
    found = run(
        event("first filing", "2026-08-31", "GB", design=True),
        event("filing", "2026-09-30", "JP", design=True),
    )
    assert one(found, "JP", "priority half-year").stopped_by


def test_a_disclosure_against_the_inventors_will_has_clocks_of_its_own() -> None:
    """C41, EPC Art. 55(1)(a): six months to the European filing itself, where an own paper has none."""
    abuse = run(event("own disclosure", "2026-09-10", abuse=True))
    clock = one(abuse, "EP", "grace for the disclosure against")
    assert (clock.unrolled, clock.name.count("exhibition")) == (date(2027, 3, 10), 0)
    plain = run(event("own disclosure", "2026-09-10", ground="none"))
    assert not [c for c in plain if c.office in ("EP", "CN") and c.name.startswith("grace")]
    shown = run(event("own disclosure", "2026-09-10", ground="exhibition"))
    assert one(shown, "EP", "grace").unrolled == date(2027, 3, 10)


@pytest.mark.parametrize(
    ("ground", "abuse", "runs"),
    [("exhibition", False, True), ("unknown", False, True), ("none", False, False), ("unknown", True, False)],
)
def test_the_certificate_of_an_exhibition_is_due_four_months_after_filing(
    ground: str, abuse: bool, runs: bool
) -> None:
    """EPC Rule 25; from a filing at the EPO on 2026-10-31 to the last day of February."""
    found = run(
        event("own disclosure", "2026-09-10", ground=ground, abuse=abuse), event("filing", "2026-10-31", "EP")
    )
    due = [clock.unrolled for clock in found if clock.name.startswith("certificate")]
    assert due == ([date(2027, 2, 28)] if runs else [])


def test_an_item_cited_abroad_starts_the_statement_windows() -> None:
    """37 CFR 1.97(e): three months; 1.704(d): thirty days; from the earliest day it may have been."""
    found = run(event("item cited", "2026-10-31", "EP", note="EP4955302A1"))
    assert one(found, "US", "disclosure statement of an item").unrolled == date(2027, 1, 31)
    assert one(found, "US", "disclosure statement of the item").unrolled == date(2026, 11, 30)
    assert not run(event("item cited", "2026-10-31"), offices=("EP",))


@pytest.mark.parametrize("office", ["JP", "CN", "EP"])
def test_an_own_first_filing_can_be_relied_on_at_its_own_office(office: str) -> None:
    """JP Art. 41; CN Art. 29; EPC Art. 87(1): twelve months, patents only."""
    clock = one(run(event("first filing", "2026-01-31", office)), office, "priority of the own")
    assert clock.unrolled == date(2027, 1, 31) and not clock.stopped_by
    later = run(event("first filing", "2026-01-31", office), event("filing", "2026-11-20", office))
    assert one(later, office, "priority of the own").stopped_by
    assert not [c for c in run(event("first filing", "2026-01-31", office, design=True))
                if c.name.startswith("priority of the own")]  # fmt: skip


def test_entry_into_the_us_phase_opens_three_months_of_free_statements() -> None:
    """37 CFR 1.97(b)(2)."""
    found = run(event("international filing", "2025-01-15"), event("national entry", "2026-10-01", "US"))
    assert one(found, "US", "information disclosure").unrolled == date(2027, 1, 1)


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
    european = not_held(MatterDates((event("international filing", "2026-11-20"),), ("EP",)))
    assert len(european) == 1 and "renewal fees" in european[0]


def test_every_rule_has_its_citation() -> None:
    """A row says its rule, what stops the clock and what remains."""
    assert all(rule.citation and rule.stops and rule.missed for rule in clock_rules())


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
