"""Facts that cannot be, refused before any rule is asked."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from difflib import get_close_matches

from pipeline.law.facts import (
    ACCESS,
    ANSWERS,
    DISCLOSERS,
    FORMS,
    GROUNDS,
    INVENTORS,
    OWNERS,
    PRIORITY_KINDS,
    RIGHTS,
    VALIDITY,
    BadDates,
    Disclosure,
    OurDates,
    PatentFacts,
    PublicEvent,
)

LAWS = ("", "AIA", "pre-AIA")
TWO_LETTERS = re.compile(r"[A-Z]{2}")


def check_facts(office: str, disclosure: Disclosure, ours: OurDates, today: date) -> None:
    """Raise BadDates for the first thing that cannot be judged, saying where and how to mend it."""
    check_office(office, "the office to judge for")
    for where, word, known in words(disclosure, ours):
        check_word(where, word, known)
    check_ours(ours, today)
    if not disclosure.events:
        raise BadDates(
            f"{disclosure.kind}: no public event is given; give one with open days where no day is known"
        )
    for event in disclosure.events:
        check_event(event, f"{disclosure.kind}, {event.kind}", today)
    if disclosure.patent:
        check_patent(disclosure.patent, disclosure.kind, today)


def words(disclosure: Disclosure, ours: OurDates) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Yield every fact that is one of a few words: where it stands, the word, those known."""
    yield "our right", ours.right, RIGHTS
    yield "our law", ours.law, LAWS
    yield "repeats_own", disclosure.repeats_own, ANSWERS
    for event in disclosure.events + ours.own_disclosures:
        yield f"{event.kind}, disclosed_by", event.disclosed_by, DISCLOSERS
        yield f"{event.kind}, access", event.access, ACCESS
        yield f"{event.kind}, form", event.form, FORMS
        yield f"{event.kind}, ground", event.ground, GROUNDS
    for priority in ours.priorities:
        yield f"priority of {priority.day}, kind", priority.kind, PRIORITY_KINDS
        yield f"priority of {priority.day}, valid", priority.valid, VALIDITY
    if patent := disclosure.patent:
        yield "patent, inventors", patent.inventors, INVENTORS
        yield "patent, owner", patent.owner, OWNERS
        yield "patent, claims_matter", patent.claims_matter, ANSWERS
        for office, answer in patent.entered:
            yield f"patent, entered {office}", answer, ANSWERS


def check_word(where: str, word: str, known: tuple[str, ...]) -> None:
    """Raise BadDates where the word is not known, with those that are and the nearest."""
    if word not in known:
        near = get_close_matches(word, known, 1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise BadDates(f"{where}: {word!r} is not known; use one of {', '.join(map(repr, known))}{hint}")


def check_office(office: str, where: str) -> None:
    """Raise BadDates where this is no two-letter office code (WIPO ST.3)."""
    if not TWO_LETTERS.fullmatch(office):
        hint = (
            f"; did you mean {office.strip().upper()!r}?"
            if TWO_LETTERS.fullmatch(office.strip().upper())
            else ""
        )
        raise BadDates(f"{where}: {office!r} is no office code; write two capitals as in WIPO ST.3{hint}")


def check_ours(ours: OurDates, today: date) -> None:
    """Raise BadDates where our own dates contradict each other or today."""
    if ours.filing and ours.filing > today:
        raise BadDates(
            f"our filing: {ours.filing} lies in the future (today is {today}); "
            "write it as the planned filing until it is made"
        )
    for priority in ours.priorities:
        check_office(priority.office, f"priority of {priority.day}")
        if priority.day > today:
            raise BadDates(
                f"priority of {priority.day}: it lies in the future (today is {today}); mend the date"
            )
        if ours.filing and ours.filing < priority.day:
            raise BadDates(
                f"our filing of {ours.filing}: it precedes the priority of {priority.day} it relies on; "
                "mend one of the two, or take the priority away"
            )
    if ours.invented and ours.filing and ours.invented > ours.filing:
        raise BadDates(f"invented: {ours.invented} follows the filing of {ours.filing}; mend one of the two")
    for own in ours.own_disclosures:
        check_event(own, f"own disclosure, {own.kind}", today)


def check_event(event: PublicEvent, where: str, today: date) -> None:
    """Raise BadDates where the event lies wholly ahead, or its facts contradict each other."""
    if event.days.first and event.days.first > today:
        raise BadDates(f"{where}: {event.days.text()} lies in the future (today is {today}); mend the date")
    if event.access == "details_secret" and event.form != "sale":
        raise BadDates(f"{where}: details_secret is for a sale; use 'confidential', or form 'sale'")
    if event.place:
        check_office(event.place, f"{where}, place")


def check_patent(patent: PatentFacts, where: str, today: date) -> None:
    """Raise BadDates where the patent document's own dates contradict each other or today."""
    for office in (patent.office, *patent.designates, *(name for name, _ in patent.entered)):
        check_office(office, where)
    for name, days in (("filing", patent.effective_filing), ("publication", patent.published)):
        if days and days.first and days.first > today:
            raise BadDates(
                f"{where}: its {name} {days.text()} lies in the future (today is {today}); mend the date"
            )
    filed, published = patent.effective_filing, patent.published
    if filed and published and filed.first and published.last and published.last < filed.first:
        raise BadDates(
            f"{where}: published {published.text()} before it was filed ({filed.text()}); "
            "one of the two was read from the wrong field"
        )
