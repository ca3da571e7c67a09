"""Verdicts: the distinctions the statutes draw, and what stands beside them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from connectors.days import Days, parse_days
from pipeline.law.cutoff import (
    OFFICES,
    Disclosure,
    OurDates,
    PatentFacts,
    Priority,
    PublicEvent,
    judge,
)

TODAY = date(2026, 11, 25)


def day(text: str) -> date:
    """Return the day written YYYY-MM-DD."""
    return date.fromisoformat(text)


def vague(text: str) -> Days:
    """Return the interval a date text allows; 'a..b' gives both ends, '?' an open one."""
    if ".." in text:
        first, last = ((None if end == "?" else day(end)) for end in text.split(".."))
        return Days(first, last)
    days = parse_days(text)
    assert days is not None
    return days


def shown(public: str, by: str = "third_party", **facts: Any) -> Disclosure:
    """Return an article made public then, with further facts of the event."""
    return Disclosure("article", (PublicEvent("published", vague(public), by, **facts),))


def document(office: str, public: str, filed: str, by: str = "third_party", **facts: Any) -> Disclosure:
    """Return a patent document of an office, filed and published then."""
    patent = PatentFacts(office, vague(filed), vague(public), **facts)
    return Disclosure("patent application", (PublicEvent("published", vague(public), by),), patent)


def ours(filing: str = "", priority: str = "", valid: str = "yes", **facts: Any) -> OurDates:
    """Return our dates: filed then, with at most one foreign priority."""
    priorities = (Priority(day(priority), "GB", "foreign", valid),) if priority else ()
    return OurDates(day(filing) if filing else None, priorities=priorities, **facts)


OTHER = {"inventors": "different", "owner": "other"}
SAME = {"inventors": "same", "owner": "same"}
COMMON = {"inventors": "different", "owner": "common"}

FILED = ours("2024-05-14")
LATER = ("2024-09-12", "2023-03-01")  # published after that filing, filed before it
HUSHED = {"form": "sale", "access": "details_secret"}
COUNTS, NOT = ("prior_art", "novelty+obviousness"), ("not_prior_art", "none")
EXCUSED, OPEN, NO_RULE = ("excused_by_grace", "none"), ("undecided", "depends"), ("no_rule", "depends")
EARLIER_BOTH, EARLIER_NOVELTY = ("earlier_right", "novelty+obviousness"), ("earlier_right", "novelty")

TRUTH = [
    ("35 USC 102(a)(1): the day before",
     "US", shown("2024-05-13"), FILED, COUNTS),
    ("35 USC 102(a)(1): the same day is not before",
     "US", shown("2024-05-14"), FILED, NOT),
    ("35 USC 102(b)(1)(A): the anniversary is inside",
     "US", shown("2023-05-14", "inventor"), FILED, EXCUSED),
    ("35 USC 102(b)(1)(A): a year and a day",
     "US", shown("2023-05-11", "inventor"), FILED, COUNTS),
    ("35 USC 21(b), MPEP 2153.01(a): the year ends on a Saturday, filed on Monday",
     "US", shown("2023-05-11", "inventor"), ours("2024-05-13"), EXCUSED),
    ("35 USC 102(b)(1)(A): the year runs from a foreign priority",
     "US", shown("2023-01-02", "inventor"), ours("2024-12-20", "2023-12-29"), EXCUSED),
    ("37 CFR 1.130, MPEP 2155.01: who disclosed it is open",
     "US", shown("2024-01-02", "unknown"), FILED, OPEN),
    ("35 USC 102(a)(2), 103: filed earlier, published later",
     "US", document("US", *LATER, **OTHER), FILED, EARLIER_BOTH),
    ("35 USC 102(a)(2): the same inventors",
     "US", document("US", *LATER, **SAME), FILED, NOT),
    ("35 USC 102(b)(2)(C): one owner, stated",
     "US", document("US", *LATER, ownership_stated=True, **COMMON), FILED, NOT),
    ("35 USC 102(b)(2)(C): one owner, not stated",
     "US", document("US", *LATER, ownership_stated=False, **COMMON), FILED, EARLIER_BOTH),
    ("35 USC 102(b)(1), (b)(2): publication excused, filing not",
     "US", document("US", "2024-03-07", "2022-09-01", by="inventor", **OTHER), FILED, EXCUSED),
    ("35 USC 102(d): a foreign application has no secret effect",
     "US", document("EP", *LATER, **OTHER), FILED, NOT),
    ("35 USC 374: an international application designates the US",
     "US", document("WO", *LATER, **OTHER), FILED, EARLIER_BOTH),
    ("Helsinn v. Teva: a sale with secret details",
     "US", shown("2022-05-13", "inventor", **HUSHED), FILED, COUNTS),
    ("35 USC 172: design priority after seven months",
     "US", shown("2024-02-01"), ours("2024-08-01", "2024-01-01", right="design"), COUNTS),
    ("EPC Art. 54(2): no grace for one's own article",
     "EP", shown("2024-05-01", "inventor"), FILED, COUNTS),
    ("EPC Art. 54(2): a sale with secret details",
     "EP", shown("2022-05-13", "inventor", **HUSHED), FILED, NOT),
    ("EPC Art. 54(3), 56: novelty only",
     "EP", document("EP", *LATER, **SAME), FILED, EARLIER_NOVELTY),
    ("EPC Art. 54(3): published on the filing day itself",
     "EP", document("EP", "2024-05-14", "2023-03-01", **OTHER), FILED, EARLIER_NOVELTY),
    ("Guidelines G-IV 5.4: filed the same day",
     "EP", document("EP", "2024-09-12", "2024-05-14", **OTHER), FILED, NOT),
    ("EPC Rule 165: fee and translation not known",
     "EP", document("WO", *LATER, **OTHER), FILED, OPEN),
    ("EPC Art. 139(2): a US application at the EPO",
     "EP", document("US", *LATER, **OTHER), FILED, NOT),
    ("G 3/98: abuse, six months from the actual filing",
     "EP", shown("2023-11-14", "abuse"), ours("2024-05-14", "2023-12-01"), EXCUSED),
    ("G 3/98: the priority does not start the six months",
     "EP", shown("2023-11-13", "abuse"), ours("2024-05-14", "2023-12-01"), COUNTS),
    ("EPC Art. 55(1)(b): exhibition, declared",
     "EP", shown("2024-01-05", "inventor", ground="exhibition"), ours("2024-05-14", declared=True), EXCUSED),
    ("EPC Art. 55(2): exhibition, not declared",
     "EP", shown("2024-01-05", "inventor", ground="exhibition"), ours("2024-05-14", declared=False), COUNTS),
    ("EPC Art. 89, F-VI 2.1: priority not yet compared",
     "EP", shown("2024-01-05"), ours("2024-05-14", "2023-12-01", "unknown"), OPEN),
    ("F-VI 2.1: older than any priority, so it is not compared",
     "EP", shown("2023-11-30"), ours("2024-05-14", "2023-12-01", "unknown"), COUNTS),
    ("JP Art. 30(2): the year runs from the Japanese filing",
     "JP", shown("2023-05-13", "inventor"), ours("2024-05-14", "2023-12-01", declared=True), COUNTS),
    ("JP Art. 30(3): declaration not known",
     "JP", shown("2024-01-05", "inventor"), FILED, OPEN),
    ("JP Art. 30(2): six months for filings before 2018-06-09",
     "JP", shown("2017-11-30", "inventor"), ours("2018-06-08", declared=True), COUNTS),
    ("JP Art. 29-2: one owner behind two applicants",
     "JP", document("JP", *LATER, **COMMON), FILED, OPEN),
    ("KR Art. 30: own gazette",
     "KR", document("KR", "2024-03-07", "2022-09-01", by="inventor", **SAME), ours("2024-05-14", declared=True), COUNTS),
    ("CN r. 12: six months from the priority",
     "CN", shown("2023-06-01", "inventor", ground="conference"), ours("2024-05-14", "2023-12-01", declared=True), EXCUSED),
    ("CN Art. 24: other grounds only",
     "CN", shown("2023-06-01", "inventor"), ours("2023-07-14"), COUNTS),
    ("CA s. 28.2(1)(c): the same applicant",
     "CA", document("CA", *LATER, **SAME), FILED, NOT),
    ("CA s. 28.3(a): from the Canadian filing",
     "CA", shown("2023-05-13", "inventor"), ours("2024-05-14", "2023-12-01"), COUNTS),
    ("AU s. 24: own earlier filing may be excused",
     "AU", document("AU", *LATER, **SAME), FILED, OPEN),
    ("IN s. 13(1)(b): not claimed there",
     "IN", document("IN", *LATER, claims_matter="no", **OTHER), FILED, NOT),
    ("IN s. 29: published against the will; promptness is open",
     "IN", shown("2020-05-13", "abuse"), FILED, OPEN),
    ("UK s. 2(3): an EP application naming the UK",
     "GB", document("EP", *LATER, **OTHER), FILED, EARLIER_NOVELTY),
    ("DE s. 3(2): fee for the EP designation not known",
     "DE", document("EP", *LATER, **OTHER), FILED, OPEN),
    ("DE UM s. 3(1): six months from the priority",
     "DE", shown("2023-06-01", "inventor"), ours("2024-05-14", "2023-12-01", right="utility model"), EXCUSED),
    ("DE UM s. 3(1): use abroad",
     "DE", shown("2020-06-01", form="use", place="FR"), ours("2024-05-14", right="utility model"), NOT),
    ("PCT Rule 64.1: written disclosure only",
     "WO", shown("2020-06-01", form="oral"), FILED, NOT),
    ("PCT Rule 64.1(b)(iii): within 14 months",
     "WO", shown("2024-01-05"), ours("2025-01-30", "2023-12-01"), NOT),
    ("PCT Rule 64.1(b): after 14 months",
     "WO", shown("2024-01-05"), ours("2025-02-28", "2023-12-01"), COUNTS),
    ("35 USC 102(a)(1): an interval that ends the day before", "US",
     shown("2024-04-01..2024-05-13"), FILED, COUNTS),
    ("35 USC 102(a)(1): an interval that ends on the day", "US",
     shown("2024-04-01..2024-05-14"), FILED, OPEN),
    ("35 USC 21(b): a filing abroad is no action at the USPTO", "US",
     shown("2023-05-11", "inventor"), ours("2025-05-02", "2024-05-13"), COUNTS),
    ("35 USC 102(b)(2)(B): published after the own talk, filed before it", "US",
     replace(document("US", "2024-03-07", "2022-09-01", **OTHER), repeats_own="yes"),
     replace(FILED, own_disclosures=(PublicEvent("talk", vague("2024-01-04"), "inventor"),)), EARLIER_BOTH),
    ("PCT Art. 4: the US is not designated", "US",
     document("WO", *LATER, designates=("JP",), **OTHER), FILED, NOT),
    ("PCT Rule 4.9: every state named from 2004 on", "US",
     document("WO", "2005-07-07", "2004-01-01", **OTHER), ours("2005-05-14", law="AIA"), EARLIER_BOTH),
    ("PCT Rule 4.9: not before", "US",
     document("WO", "2005-07-07", "2003-12-31", **OTHER), ours("2005-05-14", law="AIA"), OPEN),
    ("MPEP 2153.01(a): names our inventors and nobody else", "US",
     document("US", "2024-03-07", "2022-09-01", by="unknown", **SAME), FILED, EXCUSED),
    ("EPC Art. 55(1)(a): our inventors alone named, by whose will is open", "EP",
     document("EP", "2024-03-07", "2022-09-01", by="unknown", **SAME), FILED, OPEN),
    ("AU s. 7: another's earlier filing", "AU", document("AU", *LATER, **OTHER), FILED, EARLIER_NOVELTY),
    ("AU s. 24: only what became public from 2002-04-01 on", "AU",
     shown("2002-03-31", "inventor"), ours("2002-12-02"), COUNTS),
    ("JP Art. 30, 2018 text: not what was public before 2017-12-09", "JP",
     shown("2017-12-08", "inventor"), ours("2018-06-11", declared=True), COUNTS),
    ("JP Art. 30, 2018 text: public from then on", "JP",
     shown("2017-12-09", "inventor"), ours("2018-06-11", declared=True), EXCUSED),
    ("no rule held",
     "ZA", shown("2020-06-01"), FILED, NO_RULE),
    ("no rule held for those years",
     "KR", shown("2000-06-01"), ours("2004-05-14"), NO_RULE),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "office", "disclosure", "dates", "outcome"), TRUTH, ids=[f"{row[1]} {row[0]}" for row in TRUTH]
)
def test_the_law_draws_this_line(
    rule: str, office: str, disclosure: Disclosure, dates: OurDates, outcome: tuple[str, str]
) -> None:
    """Each rule cited decides the case that lies just on one side of it."""
    verdict = judge(office, disclosure, dates, TODAY)
    assert (verdict.outcome, verdict.counts_for) == outcome, (rule, verdict)


PRE_AIA = [
    ("102(a): by others, invention day open", "third_party", None, "2010-01-05", "undecided"),
    ("102(a): by others, before the invention", "third_party", "2010-02-01", "2010-01-05", "prior_art"),
    ("102(a): by others, after the invention", "third_party", "2010-01-05", "2010-01-05", "not_prior_art"),
    ("102(a) is about others", "inventor", None, "2010-01-05", "not_prior_art"),
    ("102(b): anyone, more than a year", "inventor", "2001-01-01", "2009-05-13", "prior_art"),
    ("102(b): the anniversary", "inventor", None, "2009-05-14", "not_prior_art"),
]


@pytest.mark.parametrize(("rule", "by", "invented", "public", "outcome"), PRE_AIA)
def test_old_us_law_asks_for_the_invention(
    rule: str, by: str, invented: str | None, public: str, outcome: str
) -> None:
    """Claims effectively filed before 2013-03-16 meet a bar of a year and others' earlier acts."""
    dates = ours("2010-05-14", invented=day(invented) if invented else None)
    assert judge("US", shown(public, by), dates, TODAY).outcome == outcome, rule


def test_old_us_law_does_not_let_a_foreign_priority_move_the_bar() -> None:
    """Pre-AIA 102(b) counts from the US filing (MPEP 2133), a US provisional moves it."""
    foreign = ours("2010-05-14", "2009-06-01")
    us = replace(foreign, priorities=(Priority(day("2009-06-01"), "US", "provisional", "yes"),))
    assert judge("US", shown("2009-05-13", "inventor"), foreign, TODAY).outcome == "prior_art"
    assert judge("US", shown("2009-05-13", "inventor"), us, TODAY).outcome == "not_prior_art"


@pytest.mark.parametrize(
    ("owner", "counts_for"), [("other", "novelty+obviousness"), ("common", "novelty"), ("unknown", "depends")]
)
def test_old_us_law_takes_a_common_owners_document_for_novelty_only(owner: str, counts_for: str) -> None:
    """Pre-AIA 103(c): a common owner's 102(e) document does not count for obviousness."""
    facts: dict[str, Any] = {"inventors": "different", "owner": owner, "filed_there": vague("2009-03-01")}
    theirs = document("US", "2010-09-12", "2009-03-01", **facts)
    verdict = judge("US", theirs, ours("2010-05-14", invented=day("2010-05-01")), TODAY)
    assert (verdict.outcome, verdict.counts_for) == ("earlier_right", counts_for)


@pytest.mark.parametrize(("law", "outcome"), [("", "excused_by_grace"), ("pre-AIA", "not_prior_art")])
def test_a_us_law_named_by_hand_leaves_other_offices_alone(law: str, outcome: str) -> None:
    """Which US law governs can hang on another claim; it decides at the US office only."""
    dates = replace(FILED, law=law)
    assert judge("US", shown("2023-09-01", "inventor"), dates, TODAY).outcome == outcome
    assert judge("EP", shown("2023-09-01", "inventor"), dates, TODAY).outcome == "prior_art"


# Not filed yet.


@pytest.mark.parametrize("office", OFFICES)
@pytest.mark.parametrize("public", ["2026-11-25", "2026-11-24", "2019", "2012-02-29"])
@pytest.mark.parametrize("planned", ["", "2026-11-25", "2027-02-28"])
def test_what_is_public_today_is_never_called_harmless_before_filing(
    office: str, public: str, planned: str
) -> None:
    """Without a filing every public thing counts already, or is excused for a while."""
    dates = OurDates(planned=day(planned) if planned else None)
    verdict = judge(office, shown(public), dates, TODAY)
    assert verdict.provisional
    assert "not_prior_art" not in verdict.possible


def test_the_last_day_of_grace_is_excused_today_and_lost_tomorrow() -> None:
    """'What if we file on …' moves the grace year with the day asked about."""
    own = shown("2025-11-25", "inventor")
    assert judge("US", own, OurDates(), TODAY).outcome == "excused_by_grace"
    # 2025-11-25 + 1 year is a Wednesday, so that nothing rolls over.
    later = judge("US", own, OurDates(planned=date(2026, 11, 26)), TODAY)
    assert (later.outcome, later.provisional, later.critical_date) == ("prior_art", True, date(2026, 11, 26))


def test_a_declaration_that_can_still_be_made_is_named_and_not_held_against_us() -> None:
    """Before filing the Japanese exception stands on a statement still to be made."""
    verdict = judge("JP", shown("2026-06-01", "inventor"), OurDates(), TODAY)
    assert verdict.outcome == "excused_by_grace"
    assert "30 days" in verdict.declaration_needed


def test_a_running_priority_protects_before_the_later_filing() -> None:
    """Within twelve months of a valid priority the later filing is judged by that priority."""
    dates = OurDates(priorities=(Priority(day("2026-03-02"), "US", "provisional", "yes"),))
    verdict = judge("EP", shown("2026-03-02"), dates, TODAY)
    assert (verdict.outcome, verdict.provisional) == ("not_prior_art", True)
    lapsed = OurDates(priorities=(Priority(day("2025-03-03"), "US", "provisional", "yes"),))
    verdict = judge("EP", shown("2026-03-02"), lapsed, TODAY)
    assert verdict.outcome == "prior_art"
    assert "out of time" in verdict.reason


def test_a_divisional_counts_grace_from_its_parent() -> None:
    """EPC Art. 76: a divisional is deemed filed with its parent, for the six months too."""
    parent = (Priority(day("2024-05-14"), "EP", "continuation", "yes"),)
    divisional = OurDates(day("2026-01-05"), priorities=parent)
    assert judge("EP", shown("2024-01-02", "abuse"), divisional, TODAY).outcome == "excused_by_grace"
    assert judge("EP", shown("2024-01-02", "abuse"), ours("2026-01-05"), TODAY).outcome == "prior_art"


def test_a_plan_that_has_passed_is_judged_as_of_today_and_said() -> None:
    """A stale planned day protects nothing: what came after it counts."""
    verdict = judge("EP", shown("2026-11-02"), OurDates(planned=date(2026, 11, 1)), TODAY)
    assert (verdict.outcome, verdict.critical_date) == ("prior_art", TODAY)
    assert "2026-11-01 has passed" in verdict.reason


# What stands beside the outcome.


def test_undecided_names_what_is_possible_and_what_would_settle_it() -> None:
    """A year-only date in the filing year leaves two outcomes, worst first, and asks for the day."""
    verdict = judge("US", shown("2024"), ours("2024-05-14"), TODAY)
    assert verdict.possible == ("prior_art", "not_prior_art")
    assert verdict.settle_by == ("proof of the day it became public",)
    assert "the day it became public (2024)" in verdict.reason


def test_only_questions_that_matter_are_asked() -> None:
    """An old third-party article is certain, whatever is open about priority and discloser."""
    verdict = judge(
        "EP", shown("2019", "unknown", access="open"), ours("2024-05-14", "2023-12-01", "unknown"), TODAY
    )
    assert (verdict.outcome, verdict.settle_by) == ("prior_art", ())


@pytest.mark.parametrize(
    ("office", "public", "presumption"),
    [
        ("CN", "2024-05", "not_prior_art"),
        ("CN", "2024-05-14", ""),
        ("CN", "2024-05-01..2024-05-20", ""),
        ("JP", "2024", "not_prior_art"),
        ("JP", "2024-05-14", "not_prior_art"),
        ("JP", "2024-05-13", ""),
        ("KR", "2024-05", "not_prior_art"),
        ("US", "2024-05", ""),
        ("EP", "2024", ""),
    ],
)
def test_a_presumption_stands_beside_the_verdict(office: str, public: str, presumption: str) -> None:
    """CNIPA II-3 2.1.2.1 and JPO III-2-3 3.1.1 take the end of the period; others take nothing."""
    verdict = judge(office, shown(public), ours("2024-05-14"), TODAY)
    assert verdict.presumption == presumption
    assert verdict.outcome != "not_prior_art" or public == "2024-05-14"


@pytest.mark.parametrize(
    ("office", "public", "says", "silent"),
    [
        ("EP", "2021-05-06", "the same day is not before", "lists it as P"),  # Guidelines B-X 9.2.4
        ("EP", "2021-12-01", "not before 2021-05-06.", "same day"),
        ("WO", "2021-12-01", "lists it as P", "same day"),  # P02; PCT Rule 33.1
        ("WO", "2022-05-05", "not before 2021-05-06.", "lists it as P"),
        ("WO", "2021-12-01..?", "not before 2021-12-01", "lists it as P"),
    ],
)
def test_a_document_after_the_date_is_told_how(office: str, public: str, says: str, silent: str) -> None:
    """Priority of 2021-05-06, filed on 2022-05-05."""
    reason = judge(office, shown(public), ours("2022-05-05", "2021-05-06"), TODAY).reason
    assert says in reason and silent not in reason


@pytest.mark.parametrize(
    ("office", "filing", "priority", "says"),
    [
        ("JP", "2026-11-20", "2025-12-01", "12 months before the filing itself, 2026-11-20"),  # J03
        ("US", "2026-11-20", "", "12 months before 2026-11-20"),  # D04
        ("BR", "2026-11-20", "", "12 months before 2026-11-20"),
        ("EP", "2026-11-20", "", ""),  # no exception for an own paper
        ("US", "2026-06-10", "", ""),  # within it
    ],
)
def test_an_own_disclosure_too_early_is_told_by_how_much(
    office: str, filing: str, priority: str, says: str
) -> None:
    """Own paper of 2025-06-10: the reason names the day the exception counts back from."""
    reason = judge(office, shown("2025-06-10", "inventor"), ours(filing, priority), TODAY).reason
    assert ("Too early" in reason) is bool(says) and says in reason


@pytest.mark.parametrize(
    ("office", "declared", "outcome"),
    [
        ("JP", False, "prior_art"),  # J02
        ("KR", False, "undecided"),  # may be supplied later for a fee (jurisdictions.csv)
        ("KR", None, "undecided"),
        ("KR", True, "excused_by_grace"),
        ("MX", None, "excused_by_grace"),
        ("MX", False, "undecided"),
    ],
)
def test_a_statement_not_made_is_weighed_as_the_office_does(
    office: str, declared: bool | None, outcome: str
) -> None:
    """Own paper of 2026-03-10, filed on 2026-11-20."""
    found = judge(office, shown("2026-03-10", "inventor"), ours("2026-11-20", declared=declared), TODAY)
    assert found.outcome == outcome


@pytest.mark.parametrize(
    ("public", "outcome"),
    [
        ("2021-02-27", "prior_art"),
        ("2021-02-28", "undecided"),  # E17; EPC Guidelines G-IV 7.5.6
        ("2021-03-01", "undecided"),
        ("2021-03-02", "not_prior_art"),
    ],
)
def test_a_web_day_without_its_zone_is_open_by_a_day(public: str, outcome: str) -> None:
    """Filed on 2021-03-01: the same moment is another day elsewhere."""
    found = judge("EP", shown(public, zone_known=False), ours("2021-03-01"), TODAY)
    assert found.outcome == outcome
    assert outcome != "undecided" or "time zone" in found.settle_by[0]


def test_what_is_on_the_web_today_counts_today_in_every_zone() -> None:
    """No filing is made yet: tomorrow elsewhere is no excuse."""
    found = judge("EP", shown(TODAY.isoformat(), zone_known=False), ours(), TODAY)
    assert found.outcome == "prior_art"


def test_a_second_disclosure_outside_the_exception_decides() -> None:
    """Of several events the worst counts: an excused talk does not help an article."""
    talk = PublicEvent("talk", vague("2023-12-01"), "inventor", ground="conference")
    article = PublicEvent("published", vague("2023-12-20"), "inventor")
    dates = ours("2024-05-14", declared=True)
    assert judge("CN", Disclosure("paper", (talk,)), dates, TODAY).outcome == "excused_by_grace"
    assert judge("CN", Disclosure("paper", (talk, article)), dates, TODAY).outcome == "prior_art"


@pytest.mark.parametrize(
    ("own", "repeats", "outcome"),
    [
        ("2024-01-04", "yes", "excused_by_grace"),
        ("2024-01-04", "no", "prior_art"),
        ("2024-01-04", "unknown", "undecided"),
        ("2024-01-05", "yes", "prior_art"),
        ("2024-01", "yes", "undecided"),
        ("2024-01-01..2024-01-05", "yes", "undecided"),
    ],
)
def test_an_own_earlier_disclosure_shields_against_the_same_matter_only(
    own: str, repeats: str, outcome: str
) -> None:
    """35 USC 102(b)(1)(B): disclosed before by the inventor, and the same (MPEP 717.01(b)(2))."""
    dates = ours("2024-05-14", own_disclosures=(PublicEvent("talk", vague(own), "inventor"),))
    assert judge("US", replace(shown("2024-01-05"), repeats_own=repeats), dates, TODAY).outcome == outcome


def test_a_month_that_is_shorter_leaves_the_count_open() -> None:
    """Six months before 31 August may end on 28 February or not: not ours to decide."""
    dates = ours("2023-08-31")
    assert judge("EP", shown("2023-02-28", "abuse"), dates, TODAY).outcome == "undecided"
    assert judge("EP", shown("2023-03-01", "abuse"), dates, TODAY).outcome == "excused_by_grace"
    assert judge("EP", shown("2023-02-27", "abuse"), dates, TODAY).outcome == "prior_art"


@pytest.mark.parametrize(
    ("filing", "public", "outcome"),
    [
        ("2024-02-29", "2023-02-28", "undecided"),
        ("2024-02-29", "2023-03-01", "excused_by_grace"),
        ("2025-02-28", "2024-02-28", "excused_by_grace"),
        ("2025-02-28", "2024-02-27", "prior_art"),
    ],
)
def test_leap_days_are_counted_with_care(filing: str, public: str, outcome: str) -> None:
    """A year back from 29 February is 28 February; a year on from there is a day short."""
    assert judge("US", shown(public, "inventor"), ours(filing), TODAY).outcome == outcome
