"""What is judged once for many is what would be judged for each."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.days import Days
from pipeline.law.alike import AlikeJudge, thresholds
from pipeline.law.cutoff import OFFICES, judge
from pipeline.law.facts import (
    DISCLOSERS,
    GROUNDS,
    INVENTORS,
    OWNERS,
    VALIDITY,
    BadDates,
    Disclosure,
    OurDates,
    PatentFacts,
    Priority,
    PublicEvent,
)

TODAY = date(2026, 11, 25)
ASKED = OurDates(date(2026, 1, 15), priorities=(Priority(date(2025, 2, 3), "GB", "foreign", "unknown"),))


def about(*near: date) -> st.SearchStrategy[date]:
    """Return days, most of them within two days of where an answer may change."""
    close = st.tuples(st.sampled_from(near), st.integers(-2, 2)).map(lambda at: at[0] + timedelta(days=at[1]))
    return close | st.dates(date(1995, 1, 1), date(2026, 12, 31))


NEAR = tuple(sorted(day for office in OFFICES for day in thresholds(office, ASKED, TODAY)))
DAY = about(*NEAR)
DAYS = st.one_of(
    DAY.map(Days.of_day),
    DAY.map(lambda day: Days.of_month(day.year, day.month)),
    DAY.map(lambda day: Days.of_year(day.year)),
    st.tuples(DAY, DAY).map(lambda ends: Days(min(ends), max(ends))),
    DAY.map(lambda day: Days(None, day)),
    DAY.map(lambda day: Days(day, None)),
    st.just(Days(None, None)),
)
PATENTS = st.builds(
    PatentFacts,
    st.sampled_from(["US", "EP", "WO", "JP"]),
    st.none() | DAYS,
    inventors=st.sampled_from(INVENTORS),
    owner=st.sampled_from(OWNERS),
)
DISCLOSURES = st.builds(
    lambda days, by, ground, zone, patent: Disclosure(
        "d", (PublicEvent("e", days, by, ground=ground, zone_known=zone),), patent
    ),
    DAYS,
    st.sampled_from(DISCLOSERS),
    st.sampled_from(GROUNDS),
    st.booleans(),
    st.none() | PATENTS,
)
OWN = st.lists(DAYS.map(lambda days: PublicEvent("own", days, "inventor")), max_size=1).map(tuple)
OURS = st.builds(
    lambda filing, valid, own: OurDates(
        filing, priorities=(Priority(date(2025, 2, 3), "GB", "foreign", valid),), own_disclosures=own
    ),
    st.sampled_from([None, date(2026, 1, 15)]),
    st.sampled_from(VALIDITY),
    OWN,
)


@settings(max_examples=150)
@given(st.sampled_from(OFFICES), OURS, st.lists(DISCLOSURES, min_size=1, max_size=12))
def test_the_verdict_of_a_pattern_is_the_verdict_of_each(
    office: str, ours: OurDates, found: list[Disclosure]
) -> None:
    """Every field is the same, words for the day included, and so is every refusal."""
    together = AlikeJudge([(office, ours)], TODAY)
    for disclosure in found:
        try:
            (verdict,) = together.verdicts(disclosure)
        except BadDates as refused:
            with pytest.raises(BadDates) as alone:
                judge(office, disclosure, ours, TODAY)
            assert str(alone.value) == str(refused)
        else:
            assert verdict == judge(office, disclosure, ours, TODAY)


@pytest.mark.parametrize("office", OFFICES)
def test_every_day_round_a_threshold_is_told_apart(office: str) -> None:
    """Days in a row, judged together, get what each gets alone."""
    days = sorted({day + timedelta(days=n) for day in thresholds(office, ASKED, TODAY) for n in (-1, 0, 1)})
    found = [
        Disclosure("d", (PublicEvent("e", Days.of_day(day), by),)) for day in days for by in DISCLOSERS
        if day <= TODAY
    ]  # fmt: skip
    together = AlikeJudge([(office, ASKED)], TODAY)
    for disclosure in found:
        assert together.verdicts(disclosure) == (judge(office, disclosure, ASKED, TODAY),)


def test_several_events_are_judged_by_themselves() -> None:
    """The worst of them decides, which no band of one tells."""
    late, early = (PublicEvent("e", Days.of_day(date(year, 1, 5)), "third_party") for year in (2026, 2020))
    both = Disclosure("d", (late, early))
    assert AlikeJudge([("EP", ASKED)], TODAY).verdicts(both) == (judge("EP", both, ASKED, TODAY),)
