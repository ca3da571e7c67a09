"""Facts that cannot be are refused, with where they stand and how to mend them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from connectors.days import Days
from pipeline.law.cutoff import (
    BadDates,
    Disclosure,
    OurDates,
    PatentFacts,
    Priority,
    PublicEvent,
    judge,
)

TODAY = date(2026, 11, 25)
FILED = OurDates(date(2024, 5, 14))


def shown(year: int, by: str = "third_party", **facts: Any) -> Disclosure:
    """Return an article of that year."""
    return Disclosure("article", (PublicEvent("published", Days.of_year(year), by, **facts),))


def document(office: str, **facts: Any) -> Disclosure:
    """Return a patent document published on 2020-01-02."""
    published = Days.of_day(date(2020, 1, 2))
    patent = PatentFacts(office, published=published, **facts)
    return Disclosure("patent application", (PublicEvent("published", published),), patent)


def first_filed(day: date, **facts: Any) -> OurDates:
    """Return our filing with a priority of that day."""
    return replace(FILED, priorities=(Priority(day, "GB", **facts),))


AFTER = Days.of_day(date(2020, 1, 3))
BAD = [
    ("EPO", shown(2020), FILED, "two capitals"),
    ("us", shown(2020), FILED, "did you mean 'US'"),
    ("US", shown(2020), OurDates(date(2026, 11, 26)), "planned filing"),
    ("US", shown(2027), FILED, "future"),
    ("US", shown(2020), first_filed(date(2024, 5, 15)), "precedes the priority"),
    ("US", shown(2020), OurDates(priorities=(Priority(date(2026, 12, 1), "US"),)), "future"),
    ("US", shown(2020), first_filed(date(2024, 5, 1), valid="maybe"), "not known"),
    ("US", document("US", effective_filing=AFTER), FILED, "before it was filed"),
    ("US", document("US", owner="commen"), FILED, "did you mean 'common'"),
    ("US", document("US", entered=(("EP", "perhaps"),)), FILED, "entered EP"),
    ("US", document("EPO"), FILED, "two capitals"),
    ("US", shown(2020, "inventer"), FILED, "did you mean 'inventor'"),
    ("US", shown(2020, access="details_secret"), FILED, "form 'sale'"),
    ("US", shown(2020, form="use", place="Japan"), FILED, "two capitals"),
    ("US", Disclosure("article", ()), FILED, "no public event"),
    ("US", shown(2020), replace(FILED, invented=date(2024, 6, 1)), "follows the filing"),
    ("US", shown(2020), OurDates(own_disclosures=shown(2027).events), "future"),
    ("US", shown(2020), replace(FILED, right="trademark"), "not known"),
    ("US", shown(2020), replace(FILED, law="FITF"), "not known"),
]


@pytest.mark.parametrize(("office", "disclosure", "dates", "says"), BAD)
def test_facts_that_cannot_be_are_refused(
    office: str, disclosure: Disclosure, dates: OurDates, says: str
) -> None:
    """The error says what is wrong, where, and how to mend it."""
    with pytest.raises(BadDates, match=says) as refused:
        judge(office, disclosure, dates, TODAY)
    assert ": " in str(refused.value)


def test_a_reversed_interval_is_refused_where_it_is_made() -> None:
    """No interval can run backwards, so no verdict ever meets one."""
    with pytest.raises(ValueError, match="backwards"):
        Days(date(2024, 5, 2), date(2024, 5, 1))
