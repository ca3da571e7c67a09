"""What holds for every verdict, whatever the dates: less evidence never makes more certain."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as some

from connectors.days import Days
from pipeline.law.cutoff import (
    Disclosure,
    OurDates,
    PatentFacts,
    Priority,
    PublicEvent,
    Verdict,
    judge,
)

TODAY = date(2026, 11, 25)
DAYS = some.dates(date(2021, 1, 1), date(2026, 6, 30))
KNOWN = ("US", "EP", "WO", "JP", "KR", "CN", "CA", "AU", "IN", "GB", "DE", "BR", "MX")
CHECKED = settings(derandomize=True, deadline=None, max_examples=150)


@some.composite
def facts(draw: some.DrawFn) -> tuple[str, Disclosure, OurDates]:
    """Return an office, a disclosure with one exact event, and dates of ours."""
    filing = draw(DAYS)
    public = max(date(2020, 6, 1), filing + timedelta(days=draw(some.integers(-800, 60))))
    patent = draw(some.none() | some.builds(
        PatentFacts,
        some.sampled_from(("US", "EP", "WO", "JP", "CN", "CA", "IN", "AU")),
        some.integers(1, 900).map(lambda back: Days.of_day(min(public, TODAY) - timedelta(days=back))),
        inventors=some.sampled_from(("same", "different", "unknown")),
        owner=some.sampled_from(("same", "common", "other", "unknown")),
    ))  # fmt: skip
    event = PublicEvent(
        "published",
        Days.of_day(min(public, TODAY)),
        draw(some.sampled_from(("inventor", "third_party", "abuse", "unknown"))),
        "open" if patent else draw(some.sampled_from(("open", "open", "confidential", "unknown"))),
        ground=draw(some.sampled_from(("none", "exhibition", "conference", "unknown"))),
    )
    backs = draw(some.lists(some.integers(0, 400), max_size=2))
    validities = some.sampled_from(("yes", "no", "unknown"))
    priorities = tuple(
        Priority(filing - timedelta(days=back), "GB", "foreign", draw(validities)) for back in backs
    )
    own = draw(some.lists(some.integers(1, 500).map(lambda back: filing - timedelta(days=back)), max_size=1))
    dates = OurDates(
        filing,
        priorities=priorities,
        own_disclosures=tuple(PublicEvent("talk", Days.of_day(one), "inventor") for one in own),
        declared=draw(some.sampled_from((True, False, None))),
    )
    disclosure = Disclosure("article", (event,), patent, draw(some.sampled_from(("yes", "no", "unknown"))))
    return draw(some.sampled_from(KNOWN)), disclosure, dates


def on(disclosure: Disclosure, days: Days) -> Disclosure:
    """Return the disclosure with its event on other days."""
    return replace(disclosure, events=(replace(disclosure.events[0], days=days),))


def verdict_on(case: tuple[str, Disclosure, OurDates], days: Days) -> Verdict:
    """Return the verdict with the event on other days."""
    office, disclosure, dates = case
    return judge(office, on(disclosure, days), dates, TODAY)


@CHECKED
@given(facts(), some.integers(0, 45), some.integers(0, 45))
def test_an_interval_means_all_of_its_days(
    case: tuple[str, Disclosure, OurDates], back: int, on_: int
) -> None:
    """The outcomes possible for an interval are those of its days, no more and no fewer."""
    middle = case[1].events[0].days.first
    assert middle is not None
    first, last = middle - timedelta(days=back), min(middle + timedelta(days=on_), TODAY)
    if case[1].patent:
        last = first = middle  # a moved publication would precede its own filing
    each = set()
    for number in range(first.toordinal(), last.toordinal() + 1):
        each |= set(verdict_on(case, Days.of_day(date.fromordinal(number))).possible)
    assert set(verdict_on(case, Days(first, last)).possible) == each


@CHECKED
@given(facts(), some.integers(0, 500), some.integers(0, 500), some.booleans(), some.booleans())
def test_widening_an_interval_never_makes_it_certain(
    case: tuple[str, Disclosure, OurDates], back: int, on_: int, open_start: bool, open_end: bool
) -> None:
    """Less evidence keeps every outcome that was possible, open ends included."""
    day_ = case[1].events[0].days.first
    assert day_ is not None
    narrow = verdict_on(case, Days.of_day(day_))
    wide = Days(
        None if open_start else day_ - timedelta(days=back),
        None if open_end else day_ + timedelta(days=on_),
    )
    assert set(narrow.possible) <= set(verdict_on(case, wide).possible)


@CHECKED
@given(facts(), some.sampled_from(("disclosed_by", "access", "ground")))
def test_forgetting_a_fact_never_makes_it_certain(case: tuple[str, Disclosure, OurDates], fact: str) -> None:
    """A fact turned unknown keeps every outcome that was possible."""
    office, disclosure, dates = case
    unknown: dict[str, Any] = {fact: "unknown"}
    forgotten = replace(disclosure, events=(replace(disclosure.events[0], **unknown),))
    before, after = (judge(office, one, dates, TODAY) for one in (disclosure, forgotten))
    assert set(before.possible) <= set(after.possible)


@CHECKED
@given(facts(), some.integers(1, 700))
def test_a_later_filing_never_makes_a_counting_reference_come_after(
    case: tuple[str, Disclosure, OurDates], later: int
) -> None:
    """Filing later leaves prior art what it is, and turns no earlier right into a later one."""
    office, disclosure, dates = case
    assert dates.filing
    moved_to = min(dates.filing + timedelta(days=later), TODAY)
    dates = replace(dates, priorities=())
    moved = replace(dates, filing=moved_to)
    before, after = (judge(office, disclosure, one, TODAY) for one in (dates, moved))
    if before.outcome == "prior_art":
        assert after.outcome == "prior_art", (before, after)
    if before.outcome == "earlier_right":
        assert "not_prior_art" not in after.possible, (before, after)


@CHECKED
@given(facts())
def test_the_order_of_events_and_priorities_changes_nothing(case: tuple[str, Disclosure, OurDates]) -> None:
    """A verdict depends on what is stated, not on the order it is stated in."""
    office, disclosure, dates = case
    second = replace(disclosure.events[0], kind="announced", days=Days.of_day(date(2021, 6, 1)))
    two = replace(disclosure, events=(*disclosure.events, second))
    turned = replace(two, events=two.events[::-1])
    mirrored = replace(dates, priorities=dates.priorities[::-1])
    a, b = judge(office, two, dates, TODAY), judge(office, turned, mirrored, TODAY)
    assert (a.outcome, a.counts_for, set(a.possible)) == (b.outcome, b.counts_for, set(b.possible))


@CHECKED
@given(facts())
def test_every_verdict_explains_itself(case: tuple[str, Disclosure, OurDates]) -> None:
    """Each verdict has a reason, a citation, the day of its rule, and evidence when undecided."""
    verdict = judge(*case, TODAY)
    assert verdict.reason.endswith(".") and verdict.citation and verdict.rule_checked
    assert bool(verdict.settle_by) == (verdict.outcome == "undecided" or verdict.counts_for == "depends")
    assert (len(verdict.possible) > 1) == (verdict.outcome == "undecided")
