"""What the worked terms leave open: bad input, unknowns, families."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.law.facts import BadDates
from pipeline.law.family import family_in_force
from pipeline.law.term import PatentRight, estimate
from pipeline.law.terms import covers, terms

TODAY = date(2026, 11, 25)
US = PatentRight("US", filed=date(2015, 5, 29), granted=date(2017, 8, 15), grant="granted", adjustment_days=0)


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"granted": date(2014, 1, 1)}, "granted before it was filed"),
        ({"priority": date(2016, 1, 1)}, "filed before its priority"),
        ({"benefit": date(2016, 1, 1)}, "filed before the application"),
        ({"granted": date(2027, 1, 1)}, "future"),
        ({"filed": date(15, 5, 29)}, "four digits"),
        ({"adjustment_days": -1}, "0 or more"),
        ({"fees_paid": ("4",)}, "'4'"),
        ({"kind": "utility"}, "'utility'"),
        ({"office": "us"}, "office code"),
        ({"grant": "pending"}, "pending, yet granted"),
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, object], part: str) -> None:
    """The error says what contradicts what."""
    with pytest.raises(BadDates, match=part):
        estimate(replace(US, **change), TODAY)  # type: ignore[arg-type]


def test_a_leap_day_filing_ends_on_28_february() -> None:
    """Twenty years from a 29 February that has no anniversary (2100 is no leap year)."""
    right = replace(US, filed=date(2080, 2, 29), granted=date(2082, 2, 28))
    assert estimate(right, date(2085, 1, 1)).nominal_expiry == date(2100, 2, 28)


def test_unknown_adjustment_keeps_a_patent_from_being_called_expired() -> None:
    """Past 20 years it may live on, but no longer than its grant took (35 USC 154(b))."""
    right = replace(US, filed=date(2003, 1, 10), granted=date(2008, 1, 10), adjustment_days=None)
    paid = replace(right, fees_paid=("3.5", "7.5", "11.5"))
    assert estimate(paid, date(2023, 1, 11)).status == "unknown_needs_register"
    assert estimate(paid, date(2028, 1, 9)).status == "unknown_needs_register"
    assert estimate(paid, date(2028, 1, 11)).status == "expired"
    assert estimate(replace(paid, adjustment_days=0), date(2023, 1, 11)).status == "expired"


def test_the_last_day_still_counts() -> None:
    """The term ends with its last day, not before it; in China that is the day before (Art. 42)."""
    paid = replace(US, filed=date(2005, 3, 1), granted=date(2007, 3, 6), fees_paid=("3.5", "7.5", "11.5"))
    assert estimate(paid, date(2025, 3, 1)).status == "in_force_likely"
    assert estimate(paid, date(2025, 3, 2)).status == "expired"
    chinese = PatentRight("CN", filed=date(2005, 3, 1), granted=date(2007, 3, 6), grant="granted")
    assert estimate(chinese, date(2025, 3, 1)).status == "expired"


def test_a_disclaimer_never_lengthens_a_term() -> None:
    """37 CFR 1.703(g): it cuts; a date past the term changes nothing."""
    assert estimate(replace(US, disclaimed_to=date(2040, 1, 1)), TODAY).estimated_expiry == date(2035, 5, 29)


def test_a_fee_state_of_long_ago_proves_no_lapse() -> None:
    """A list of payments older than the last day to pay leaves it open."""
    right = replace(US, granted=date(2016, 1, 5), fees_paid=("3.5",), fees_as_of=date(2021, 1, 1))
    assert estimate(right, TODAY).status == "unknown_needs_register"
    assert estimate(replace(right, fees_as_of=None), TODAY).status == "lapsed_fee"


@pytest.mark.parametrize(("day", "status"), [("2024-01-05", "in_force_likely"), ("2024-01-06", "lapsed_fee")])
def test_a_patent_in_its_surcharge_half_year_is_in_force(day: str, status: str) -> None:
    """37 CFR 1.362(e), (g): it ends at the end of the anniversary, not before."""
    right = replace(US, granted=date(2016, 1, 5), fees_paid=("3.5",))
    assert estimate(right, date.fromisoformat(day)).status == status


def test_a_reissue_runs_as_its_original() -> None:
    """35 USC 251; without the original's dates the answer is unknown."""
    right = replace(US, kind="reissue", original=(date(2005, 3, 1), date(2007, 3, 1)))
    assert estimate(right, TODAY).nominal_expiry == date(2025, 3, 1)
    assert estimate(replace(right, original=None), TODAY).status == "unknown_needs_register"


def test_no_term_is_guessed() -> None:
    """A kind no row governs, and a filing day not known, give unknown."""
    for right in (PatentRight("JP", "design", date(2015, 1, 1)), PatentRight("US")):
        found = estimate(right, TODAY)
        assert (found.status, found.nominal_expiry) == ("unknown_needs_register", None)


@settings(derandomize=True, max_examples=200)
@given(st.integers(0, 9000), st.integers(0, 3000), st.integers(1, 4000))
def test_what_is_over_stays_over(age: int, pendency: int, later: int) -> None:
    """With the facts unchanged no later day brings an expired patent back."""
    filed = date(2000, 1, 1) + timedelta(days=age)
    right = replace(US, filed=filed, granted=filed + timedelta(days=pendency), adjustment_days=None)
    today = max(TODAY, right.granted or TODAY)
    if estimate(right, today).status == "expired":
        assert estimate(right, today + timedelta(days=later)).status == "expired"


def test_a_family_is_told_country_by_country() -> None:
    """Alive in the US, a European bundle in DE, never in a country the complete family lacks."""
    rights = (
        replace(US, filed=date(2020, 2, 3), granted=date(2024, 2, 6), priority=date(2019, 2, 4)),
        PatentRight("EP", filed=date(2020, 2, 3), granted=date(2023, 9, 6), grant="granted"),
        replace(US, filed=date(2022, 2, 3), granted=None, grant="pending"),
    )
    family = family_in_force(rights, ("US", "DE", "JP"), TODAY, complete_as_of=TODAY)
    assert [row.found.status for row in family.rows] == [
        "in_force_likely",
        "unknown_needs_register",
        "never_there",
    ]
    assert family.sentence == (
        "Protected (probably) in US; not known (see the register) in DE; never filed (by the family data) in JP."
    )
    assert "unitary" in family.rows[1].found.reason
    assert [found.status for _, found in family.rows[0].also] == ["not_yet_granted"]


@pytest.mark.parametrize(
    ("office", "filed", "complete", "status"),
    [
        ("US", date(2019, 2, 4), None, "unknown_needs_register"),  # nobody looked the family up
        ("US", date(2025, 2, 4), TODAY, "unknown_needs_register"),  # a member may still be secret
        ("WO", date(2024, 9, 4), TODAY, "unknown_needs_register"),  # may still enter there
        ("WO", date(2019, 2, 4), TODAY, "never_there"),
    ],
)
def test_never_filed_needs_the_whole_family_and_time(
    office: str, filed: date, complete: date | None, status: str
) -> None:
    """Absence from the data is no proof until every route has run out in public."""
    rights = (PatentRight(office, filed=filed, grant="pending"),)
    (row,) = family_in_force(rights, ("JP",), TODAY, complete).rows
    assert row.found.status == status


@pytest.mark.parametrize(
    ("office", "complete", "today", "status"),
    [
        # 36 months after the earliest date of the family, 60 with an international application.
        ("US", "2022-02-03", "2026-11-25", "unknown_needs_register"),
        ("US", "2022-02-04", "2026-11-25", "never_there"),
        ("WO", "2024-02-03", "2026-11-25", "unknown_needs_register"),
        ("WO", "2024-02-04", "2026-11-25", "never_there"),
        ("WO", "2021-12-04", "2021-12-04", "may still be taken"),
        ("WO", "2021-12-05", "2021-12-05", "could still come to light"),
    ],
)
def test_never_filed_waits_for_its_months(office: str, complete: str, today: str, status: str) -> None:
    """Our own margins, counted from 2019-02-04 to the day the family was looked up."""
    rights = (PatentRight(office, filed=date(2019, 2, 4), grant="pending"),)
    looked, asked = date.fromisoformat(complete), date.fromisoformat(today)
    (row,) = family_in_force(rights, ("JP",), asked, looked).rows
    assert status == row.found.status or status in row.found.reason


def test_a_us_application_may_have_asked_not_to_be_published() -> None:
    """35 USC 122(b)(2)(B): it shows at grant only, so its absence is an assumption, in the US alone."""
    rights = (PatentRight("DE", filed=date(2019, 2, 4), grant="pending"),)
    us, jp = family_in_force(rights, ("US", "JP"), TODAY, TODAY).rows
    assert any("not to publish" in text for text in us.found.assumptions)
    assert not any("not to publish" in text for text in jp.found.assumptions)


def test_a_european_patent_that_is_over_is_over_in_every_state() -> None:
    """EPC Art. 63: no word on validation where the term has ended; where it runs, there is."""
    old = PatentRight("EP", filed=date(2004, 2, 4), granted=date(2010, 1, 6), grant="granted")
    (row,) = family_in_force((old,), ("DE",), TODAY).rows
    assert row.found.status == "expired" and "validation" not in row.found.reason
    (row,) = family_in_force(
        (replace(old, filed=date(2014, 2, 4), granted=date(2020, 1, 8)),), ("DE",), TODAY
    ).rows
    assert "by validation," in row.found.reason


def test_contradicting_dates_of_a_member_are_unknown() -> None:
    """What the sources state wrongly stops no other row."""
    rights = (replace(US, granted=date(2001, 1, 1)),)
    (row,) = family_in_force(rights, ("US",), TODAY).rows
    assert row.found.status == "unknown_needs_register" and "contradict" in row.found.reason


def test_a_state_that_joined_later_is_not_covered() -> None:
    """A European application covers the states of its filing day (HR since 2008)."""
    assert not covers("EP", "HR", date(2007, 12, 31)) and covers("EP", "HR", date(2008, 1, 1))
    assert not covers("EP", "US", None)


@pytest.mark.parametrize(
    ("office", "country"),
    [("EA", "RU"), ("AP", "KE"), ("OA", "SN"), ("GC", "SA"), ("CH", "LI"), ("EP", "MA"), ("EP", "BA")],
)
def test_a_regional_right_is_never_called_never_filed(office: str, country: str) -> None:
    """One office's patent can cover several countries; which, only the registers tell."""
    rights = (PatentRight(office, filed=date(2016, 2, 3), granted=date(2019, 2, 6), grant="granted"),)
    (row,) = family_in_force(rights, (country,), TODAY, complete_as_of=TODAY).rows
    assert row.found.status == "unknown_needs_register" and country in row.found.reason
    (other,) = family_in_force(rights, ("PE",), TODAY, complete_as_of=TODAY).rows
    assert other.found.status == "never_there"


def test_an_international_application_has_no_term() -> None:
    """PCT Art. 11(3): it is as many national applications, and no patent."""
    found = estimate(PatentRight("WO", filed=date(2016, 2, 3), grant="unknown"), TODAY)
    assert (found.status, found.last_day_in_force) == ("not_yet_granted", None)


@pytest.mark.parametrize(
    ("earlier", "known", "status", "assumed"),
    [
        # 20 years from 2005-06-01 are over; whether it is a parent or a priority is not said.
        (date(2005, 6, 1), False, "unknown_needs_register", "2005-06-01"),
        (date(2009, 6, 1), False, "in_force_likely", "2009-06-01"),
        (date(2005, 6, 1), True, "in_force_likely", ""),
        (None, False, "in_force_likely", "no earlier application is relied on"),
        (None, True, "in_force_likely", ""),
    ],
)
def test_an_earlier_us_application_may_start_the_term(
    earlier: date | None, known: bool, status: str, assumed: str
) -> None:
    """35 USC 154(a)(2)-(3): a continuation's parent does, a right of priority does not."""
    right = PatentRight(
        "US", filed=date(2010, 3, 15), granted=date(2013, 5, 21), grant="granted", adjustment_days=0,
        fees_paid=("3.5", "7.5", "11.5"), earlier_us=earlier, chain_known=known,
    )  # fmt: skip
    found = estimate(right, TODAY)
    assert found.status == status
    relied = [text for text in found.assumptions if "relied on" in text or "rely on" in text]
    assert (assumed in relied[0]) if assumed else not relied


@pytest.mark.parametrize(
    ("filed", "priority", "status", "between"),
    [
        # Fourteen months at most from a provisional or foreign filing (37 CFR 1.78(b), 1.55(c)).
        (date(2010, 3, 15), date(2009, 1, 15), "in_force_likely", False),
        (date(2010, 3, 15), date(2009, 1, 4), "in_force_likely", True),
        (date(2010, 3, 15), date(2006, 11, 24), "unknown_needs_register", True),
        (date(2010, 3, 15), date(2006, 11, 25), "in_force_likely", True),
    ],
)
def test_a_priority_too_old_needs_an_application_in_between(
    filed: date, priority: date, status: str, between: bool
) -> None:
    """Data without the chain name the old priority alone; what starts the term is then not known."""
    right = PatentRight(
        "US", filed=filed, priority=priority, granted=date(2013, 5, 21), grant="granted", adjustment_days=0,
        fees_paid=("3.5", "7.5", "11.5"),
    )  # fmt: skip
    found = estimate(right, TODAY)
    assert found.status == status
    assert any("as it must" in text for text in found.assumptions) is between


@pytest.mark.parametrize(
    ("today", "right", "says"),
    [
        ("2026-06-10", {"fees_paid": ("3.5", "7.5")}, "with surcharge, to 2026-06-10"),
        ("2025-12-10", {"fees_paid": ("3.5", "7.5")}, "no fee that could have ended it is known to be missing"),
        ("2016-01-01", {"no_end_seen": date(2015, 9, 1)}, "no fee that could have ended it is known to be missing"),
        ("2026-11-25", {"no_end_seen": date(2026, 10, 1)}, "as of 2026-10-01, notes no end"),
        ("2022-11-25", {"fees_paid": ("3.5",), "fees_as_of": date(2022, 6, 10)}, "If the fee due 7.5 years"),
        ("2022-11-25", {"fees_paid": ("3.5",), "fees_as_of": date(2022, 6, 11)}, "was not paid: it ended 2022-06-10"),
    ],
)  # fmt: skip
def test_the_reason_says_what_of_the_fees_is_known(today: str, right: dict[str, object], says: str) -> None:
    """Granted 2014-06-10: the half years with surcharge end on 10 June (37 CFR 1.362(e))."""
    given = PatentRight(
        "US", filed=date(2011, 2, 1), granted=date(2014, 6, 10), grant="granted", adjustment_days=0, **right
    )  # type: ignore[arg-type]
    assert says in estimate(given, date.fromisoformat(today)).reason


@pytest.mark.parametrize(
    ("noted", "seen", "status", "ended"),
    [
        (date(2022, 7, 11), None, "lapsed_fee", date(2022, 6, 10)),
        (date(2022, 7, 11), date(2022, 1, 3), "lapsed_fee", date(2022, 6, 10)),
        (date(2022, 7, 11), date(2026, 10, 3), "in_force_likely", None),  # brought back since
        (date(2018, 3, 1), None, "lapsed_fee", date(2018, 3, 1)),  # noted before any fee was due
        (None, date(2026, 9, 10), "in_force_likely", None),
        (
            None,
            date(2026, 9, 9),
            "unknown_needs_register",
            None,
        ),  # less than three months after the 12th year
        (None, date(2018, 7, 1), "unknown_needs_register", None),
    ],
)
def test_the_offices_file_tells_of_fees(
    noted: date | None, seen: date | None, status: str, ended: date | None
) -> None:
    """Granted 2014-06-10; fees unpaid end it after 4, 8, 12 years (35 USC 41(b))."""
    right = PatentRight(
        "US", filed=date(2011, 2, 1), granted=date(2014, 6, 10), grant="granted", adjustment_days=0,
        ended_noted=noted, no_end_seen=seen,
    )  # fmt: skip
    found = estimate(right, TODAY)
    assert found.status == status
    assert ended is None or found.last_day_in_force == ended


def test_an_application_given_up_is_no_pending_one_unless_granted_since() -> None:
    """The file's word on an application ends with the patent."""
    right = PatentRight("US", filed=date(2020, 2, 1), given_up=date(2023, 4, 1))
    assert estimate(right, TODAY).status == "given_up"
    granted = replace(right, granted=date(2024, 6, 10), grant="granted", adjustment_days=0)
    assert estimate(granted, TODAY).status == "in_force_likely"


@pytest.mark.parametrize(
    ("right", "says"),
    [
        (PatentRight("EP", "unitary patent", date(2020, 2, 3), granted=date(2024, 1, 17), grant="granted"), "one fate"),
        (PatentRight("EP", "patent", date(2020, 2, 3), granted=date(2024, 1, 17), grant="granted"), "in each state"),
        (PatentRight("JP", "patent", date(2020, 2, 3), granted=date(2024, 1, 17), grant="granted"), "whether the yearly"),
        (PatentRight("US", "patent", date(2020, 2, 3), grant="granted", given_up=date(2023, 1, 2)), "day not known"),
        (PatentRight("US", "patent", date(2022, 11, 24), grant="granted"), "day not known"),
        (PatentRight("US", "patent", date(2022, 11, 25), grant="granted"), "Granted, and its term runs"),
        (PatentRight("US", "plant", date(2020, 2, 3), grant="granted"), "no maintenance fees are due"),
    ],
)  # fmt: skip
def test_what_is_granted_is_told_by_its_kind(right: PatentRight, says: str) -> None:
    """Regulation (EU) 1257/2012 Art. 3; EPC Art. 2(2); a grant without its day is still one."""
    assert says in estimate(right, TODAY).reason


@pytest.mark.parametrize(
    ("change", "assumed"),
    [
        ({"adjustment_days": None}, True),
        ({"adjustment_days": 0}, False),
        ({"adjustment_days": None, "extended_to": date(2037, 1, 1)}, False),
        ({"adjustment_days": None, "filed": date(2000, 5, 28), "granted": date(2007, 1, 1)}, False),
    ],
)
def test_days_for_slow_grant_are_assumed_only_where_they_can_be(
    change: dict[str, object], assumed: bool
) -> None:
    """35 USC 154(b): applications since 2000-05-29."""
    found = estimate(replace(US, **change), date(2018, 1, 1))
    assert any("slow grant" in text for text in found.assumptions) is assumed


def test_every_term_names_its_rule() -> None:
    """Each row has citation and the day it was checked."""
    assert all(row.citation and row.checked for row in terms())
