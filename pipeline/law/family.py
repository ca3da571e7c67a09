"""A patent family country by country: where it probably protects, and where it never was."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from pipeline.law.checks import check_office
from pipeline.law.facts import BadDates
from pipeline.law.periods import add_months
from pipeline.law.rights import InForce, PatentRight
from pipeline.law.term import estimate
from pipeline.law.terms import covers, unitary_from

WORDS = {
    "in_force_likely": "protected (probably)",
    "unknown_needs_register": "not known (see the register)",
    "not_yet_granted": "pending",
    "lapsed_fee": "lapsed (probably)",
    "given_up": "given up before grant (by the office's file)",
    "expired": "expired",
    "never_there": "never filed (by the family data)",
}
# The worst for a seller first: of several rights in one country that one stands.
_WORST = tuple(WORDS)
# Months from the earliest date until a member filed elsewhere must have been published: the
# priority year (or 31 months for the PCT), restoration, eighteen months of secrecy, delay in
# the data. Our own cautious choice: no rule sets it.
_SHOWN_AFTER, _SHOWN_AFTER_PCT = 36, 60
_LATEST_ENTRY = 34


@dataclass(frozen=True)
class CountryRow:
    """The answer for one country. right: the right it rests on, None where none is known.

    also: the family's other rights there, each with its own answer.
    """

    country: str
    right: PatentRight | None
    found: InForce
    also: tuple[tuple[PatentRight, InForce], ...] = ()


@dataclass(frozen=True)
class Family:
    """One row a country, in the order asked, and the whole in a sentence."""

    rows: tuple[CountryRow, ...]
    sentence: str


def family_in_force(
    rights: Iterable[PatentRight], countries: Iterable[str], today: date, complete_as_of: date | None = None
) -> Family:
    """Return where the family is probably in force.

    rights: one an application; office EP is the European patent as one, WO an international
    application. complete_as_of: the day the whole family was looked up, None where it was
    not; without it nothing is ever called never filed. Dates that contradict each other
    give 'unknown' with the reason.
    """
    members = tuple(rights)
    rows = []
    for country in dict.fromkeys(countries):
        check_office(country, "countries")
        there = [
            (right, _estimate(right, country, today))
            for right in members
            if covers(right.office, country, right.filed)
        ]
        if there:
            worst, *also = sorted(there, key=lambda one: _WORST.index(one[1].status))
            rows.append(CountryRow(country, *worst, tuple(also)))
        else:
            rows.append(CountryRow(country, None, _absent(members, country, today, complete_as_of)))
    return Family(tuple(rows), _sentence(rows))


def _estimate(right: PatentRight, country: str, today: date) -> InForce:
    try:
        found = estimate(right, today)
    except BadDates as contradiction:
        reason = f"The dates stated contradict each other: {contradiction}"
        return InForce("unknown_needs_register", None, None, None, reason)
    if right.office == country or found.status in ("expired", "lapsed_fee", "given_up"):
        return found
    return replace(found, reason=f"{_how_it_covers(right, country, found.status)} {found.reason}")


def _how_it_covers(right: PatentRight, country: str, status: str) -> str:
    if right.office != "EP":
        return f"A right at {right.office}; whether it has effect in {country} only the registers tell."
    if status == "not_yet_granted":
        return f"European application; in {country} only after grant, and validation or unitary effect there."
    since = unitary_from(country)
    unitary = since is not None and right.granted is not None and right.granted >= since
    how = "by validation or by unitary effect" if unitary else "by validation"
    return f"European patent; in force in {country} only {how}, which only the registers tell."


def _absent(members: tuple[PatentRight, ...], country: str, today: date, complete: date | None) -> InForce:
    """Return the answer where no member for the country is known."""
    confirm = (f"whether a member of the family was filed in {country}",)
    days = [day for right in members for day in (right.priority, right.benefit, right.filed) if day]
    pct = any(right.office == "WO" for right in members)
    if not days:
        return _not_known(f"No member for {country} is known, and no date of the family.", confirm)
    if pct and today <= add_months(min(days), _LATEST_ENTRY):
        reason = f"No member for {country} is known; the international application may still be taken there."
        return _not_known(reason, confirm)
    if complete is None:
        return _not_known(
            f"No member for {country} is known, but the whole family was not looked up.", confirm
        )
    shown = add_months(min(days), _SHOWN_AFTER_PCT if pct else _SHOWN_AFTER)
    if complete < shown:
        reason = f"No member for {country} by {complete}; one could still come to light until {shown}."
        return _not_known(reason, confirm)
    reason = f"No member for {country} in the family as looked up on {complete}."
    assumed = ["the family data are complete"]
    if country == "US":
        assumed.append(
            "none was filed with a request not to publish (35 USC 122(b)(2)(B)): it shows at grant only"
        )
    return InForce("never_there", None, None, None, reason, tuple(assumed), confirm)


def _not_known(reason: str, confirm: tuple[str, ...]) -> InForce:
    return InForce("unknown_needs_register", None, None, None, reason, (), confirm)


def _sentence(rows: list[CountryRow]) -> str:
    """Return such as 'Protected (probably) in US and DE; never filed (by the family data) in JP.'"""
    parts = []
    for status, words in WORDS.items():
        where = [row.country for row in rows if row.found.status == status]
        if where:
            parts.append(f"{words} in {' and '.join(filter(None, (', '.join(where[:-1]), where[-1])))}")
    text = "; ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""
