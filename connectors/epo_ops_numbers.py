"""The numbers and days in an EPO OPS answer: of publication, application and priority."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from connectors.days import Days, parse_days
from connectors.record import Relation, StatedDate, StatedIdentifier
from connectors.xml import clean_text, find_text

# By name of the namespace: the service's prefixes differ from answer to answer.
NAMES = {"o": "http://ops.epo.org", "e": "http://www.epo.org/exchange"}

_NUMBER = re.compile(r"[A-Z0-9](?:[A-Z0-9/,.\-]{0,28}[A-Z0-9])?", re.ASCII)


@dataclass(frozen=True)
class Number:
    """A document's number in one writing. text: `EP 2400812 A1` (docdb) or `EP2400812` (epodoc)."""

    writing: str
    text: str
    date: str = ""


def docdb_number(element: Any) -> str:
    """Return the number as an address takes it, `EP.2400812.A1`; "" where it can't stand in one.

    element: an exchange-document, family-member or publication-reference. Odd characters
    go into brackets.
    """
    country, number, kind = publication(element)[:3]
    if not (
        re.fullmatch(r"[A-Z]{2}", country) and re.fullmatch(r"[A-Z]\d?", kind) and _NUMBER.fullmatch(number)
    ):
        return ""
    if ".." in number or "//" in number:
        return ""
    return f"{country}.{number if number.isalnum() else f'({number})'}.{kind}"


def publication(element: Any) -> tuple[str, str, str, str]:
    """Return (country, number, kind, date) of the publication, "" for what is not stated.

    The element's own attributes name it; its references give the day, in either writing.
    """
    attributes = [clean_text(element.get(name, "")) for name in ("country", "doc-number", "kind")]
    ids = element.findall("e:document-id", NAMES)
    ids += element.findall("e:publication-reference/e:document-id", NAMES)
    ids += element.findall("e:bibliographic-data/e:publication-reference/e:document-id", NAMES)
    docdb = next((each for each in ids if each.get("document-id-type") == "docdb"), None)
    if not all(attributes) and docdb is not None:
        attributes = [find_text(docdb, f"e:{name}", NAMES) for name in ("country", "doc-number", "kind")]
    days = [find_text(each, "e:date", NAMES) for each in ids]
    day = next((text for text in days if parse_days(text)), next(filter(None, days), ""))
    country, number, kind = attributes
    return country.upper(), number.upper(), kind.upper(), day


def _number(document_id: Any) -> Number | None:
    """Return the number of a document-id, None for one without and for 'original' writings.

    An original number names no office and its shape is shared by many.
    """
    writing = document_id.get("document-id-type", "")
    number = find_text(document_id, "e:doc-number", NAMES)
    country, kind = find_text(document_id, "e:country", NAMES), find_text(document_id, "e:kind", NAMES)
    if not writing:
        writing = "docdb" if country else "epodoc"
    if not number or writing not in ("docdb", "epodoc"):
        return None
    text = f"{country} {number} {kind}".strip() if country else number
    return Number(writing, text, find_text(document_id, "e:date", NAMES))


def numbers(parts: list[Any], path: str) -> list[Number]:
    """Return every number at path, below each part and below its bibliographic data."""
    found = []
    for part in parts:
        for start in ("", "e:bibliographic-data/"):
            ids = part.findall(f"{start}{path}/e:document-id", NAMES)
            found += [number for each in ids if (number := _number(each))]
    return found


def priorities(parts: list[Any], applications: list[Number]) -> list[tuple[Relation, str]]:
    """Return (relation, date) for each priority claimed, in each writing it is stated in.

    Where no priority exists the database puts the application itself: no earlier right.
    """
    own = {number.text for number in applications}
    filed = {number.date for number in applications}
    found: dict[str, tuple[Relation, str]] = {}
    for part in parts:
        claims = part.findall("e:priority-claim", NAMES)
        claims += part.findall("e:bibliographic-data/e:priority-claims/e:priority-claim", NAMES)
        for claim in claims:
            numbers = [n for each in claim.findall("e:document-id", NAMES) if (n := _number(each))]
            if own.intersection(number.text for number in numbers):
                continue
            for number in numbers:
                relation = Relation(
                    "priority", StatedIdentifier("application", number.text), _about(claim, number, filed)
                )
                found.setdefault(number.text, (relation, number.date))
    return list(found.values())


def _about(claim: Any, number: Number, filed: set[str]) -> str:
    """Return what the answer says of a priority: where filed, whether it makes the family, how linked."""
    active = {"YES": "active", "NO": "not active"}.get(
        find_text(claim, "e:priority-active-indicator", NAMES), ""
    )
    linked = find_text(claim, "e:priority-linkage-type", NAMES)
    international = re.match(r"WO|[A-Z]{2} \d+ W$", number.text) and number.date in filed - {""}
    same = (
        "the international application whose national phase this is, filed the same day"
        if international
        else ""
    )
    return "; ".join(filter(None, (clean_text(claim.get("kind", "")), active, linked, same)))


def own_claim(parts: list[Any], priorities: list[tuple[Relation, str]]) -> list[tuple[str, str]]:
    """Return the detail that no earlier right is claimed, where the data name the application itself."""
    claims = [part for part in parts if part.find(".//e:priority-claim", NAMES) is not None]
    return (
        [("priority", "none: the only one stated is the application itself")]
        if claims and not priorities
        else []
    )


def stated_dates(
    event: str, day: str, note: str, applications: list[Number], priorities: list[tuple[Relation, str]]
) -> tuple[StatedDate, ...]:
    """Return the days of publication, filing and priority; a text that gives no day gives none."""
    stated = [(event, day, "publication-reference/document-id/date", note)]
    stated += [
        ("filed", number.date, "application-reference/document-id/date", "") for number in applications
    ]
    stated += [
        ("priority", text, "priority-claim/document-id/date", relation.identifier.text)
        for relation, text in priorities
    ]
    found: dict[tuple[str, str], StatedDate] = {}
    for kind, text, field, why in stated:
        days = parse_days(text)
        if days is not None:
            found.setdefault((kind, text), StatedDate(kind, text, days, field, _vague(days, why)))
    return tuple(found.values())


def _vague(days: Days, note: str) -> str:
    return note if days.exact else "; ".join(filter(None, (note, "month or day is not stated")))


def undated(day: str) -> list[tuple[str, str]]:
    """Return the detail for a day of publication that is not known (00000000 or absent)."""
    return [] if parse_days(day) else [("day of publication", f"not known ({day or 'none stated'})")]
