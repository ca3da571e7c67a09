"""How a US document hangs together with others: priorities, the chain of applications, citations, term."""

from __future__ import annotations

import re
from collections.abc import Iterator

from connectors.days import parse_days
from connectors.patent_term import (
    BENEFIT_FILED,
    DAYS_ADDED,
    DISCLAIMED_TO,
    DISCLAIMER,
    ORIGINAL_FILED,
    ORIGINAL_GRANTED,
    YEARS_FROM_GRANT,
)
from connectors.record import Relation, StatedDate, StatedIdentifier
from connectors.uspto_facts import NATIONAL_PHASE, Link, Number, UsDocument
from connectors.uspto_numbers import application_text, publication_text

# 35 USC 120, 121, 365(c): the child has the benefit of the parent's day, and its term counts from it.
BENEFIT = frozenset(
    {
        "continuation",
        "continuation in part",
        "continuation or continuation in part",
        "division",
        "continuing reissue",
        "divisional reissue",
        NATIONAL_PHASE,
    }
)
_DOI = re.compile(r"\b10\.\d{4,9}/[^\s\"<>]+", re.ASCII)

Details = list[tuple[str, str]]


def links(document: UsDocument) -> tuple[list[Relation], list[StatedDate]]:
    """Return relations to other applications and publications, and days of filing and priority.

    A priority is every application whose day this one may use: foreign ones, provisionals, and
    each of the chain above it. None of these days is public.
    """
    relations: dict[Relation, None] = {}
    days = [*_day("filed", document.application, "application-reference/document-id/date", "")]
    own = application_text(document.application)
    for number, field, about in _priorities(document):
        text = application_text(number)
        if text and text != own:
            relations[Relation("priority", StatedIdentifier("application", text), about)] = None
            days += _day("priority", number, field, f"{text}: {about}")
    stated = [
        ("same application", each, "an earlier publication of this application") for each in document.earlier
    ]
    stated.append(
        ("family", document.international_publication, "the international application's publication")
    )
    for link in document.chain:
        if link.kind not in BENEFIT:
            about = f"the original, of which this is the {link.kind}"
            stated.append(("family", link.granted, about))
            if (text := application_text(link.parent)) and text != own:
                relations[Relation("family", StatedIdentifier("application", text), about)] = None
    for kind, number, about in stated:
        if text := publication_text(number):
            note = f"{about}, {number.date}" if number.date else about
            relations[Relation(kind, StatedIdentifier("publication", text), note)] = None
    return list(relations), list(dict.fromkeys(days))


def _priorities(document: UsDocument) -> Iterator[tuple[Number, str, str]]:
    """Yield (number, field, what it is) of every application whose day may be used."""
    for number in document.priorities:
        yield number, "priority-claims/priority-claim/date", f"{number.kind} priority".strip()
    for number in document.provisionals:
        field = "us-related-documents/us-provisional-application/document-id/date"
        yield number, field, "provisional application"
    if document.international.number:
        field = "pct-or-regional-filing-data/document-id/date"
        yield document.international, field, "the international application whose national phase this is"
    for link in document.chain:
        if link.kind in BENEFIT:
            field = f"us-related-documents/{link.kind.replace(' ', '-')}/relation/parent-doc/document-id/date"
            yield link.parent, field, f"{application_text(link.child) or 'this'} is its {link.kind}"


def _day(kind: str, number: Number, field: str, note: str) -> Iterator[StatedDate]:
    days = parse_days(number.date)
    if days is not None:
        vague = "" if days.exact else "month or day is not stated"
        yield StatedDate(kind, number.date, days, field, "; ".join(filter(None, (note, vague))))


def chain_in_words(document: UsDocument) -> Details:
    """Return the chain of applications, a line for each link, child first."""
    return [("chain of applications", _in_words(link)) for link in document.chain]


def _in_words(link: Link) -> str:
    child, parent = application_text(link.child) or "this application", application_text(link.parent)
    words = f"{child}: {link.kind} of {parent or 'an application not named'}"
    for name, number, text in (
        ("filed", link.parent, ""),
        ("granted as", link.granted, publication_text(link.granted)),
        ("international application", link.international, application_text(link.international)),
    ):
        days = parse_days(number.date)
        said = " ".join(filter(None, (text, days.text() if days else "")))
        words += f", {name} {said}" if said else ""
    return words + (f", {link.status.lower()}" if link.status else "")


def term_details(document: UsDocument) -> Details:
    """Return what bears on the term, under the names of connectors/patent_term.py.

    A day is given only where it is stated whole; words that are no number stay words.
    """
    term = document.term
    found = [
        (DAYS_ADDED if term.days.isdigit() else "term: extension as printed", term.days),
        (YEARS_FROM_GRANT if term.years.isdigit() else "term: length as printed", term.years),
        (DISCLAIMER, term.disclaimer),
        (DISCLAIMED_TO, _whole_day(term.disclaimer_date)),
        ("term: as printed", term.text),
        (BENEFIT_FILED, min(_relied_on(document), default="")),
    ]
    for link in document.chain:
        if link.kind == "reissue":
            found += [
                (ORIGINAL_FILED, _whole_day(link.parent.date)),
                (ORIGINAL_GRANTED, _whole_day(link.granted.date)),
            ]
    return [(name, text) for name, text in found if text]


def _relied_on(document: UsDocument) -> Iterator[str]:
    """Yield the days of the applications from which the term may count, before this one's own."""
    parents = [link.parent for link in document.chain if link.kind in BENEFIT]
    own = _whole_day(document.application.date)
    for number in (*parents, document.international):
        day = _whole_day(number.date)
        if day and (not own or day < own):
            yield day


def _whole_day(text: str) -> str:
    days = parse_days(text)
    return days.text() if days and days.exact else ""


def cites(document: UsDocument) -> tuple[list[Relation], Details]:
    """Return 'cites' relations, and as details the literature cited without a DOI.

    The note says by whom; US citations carry no letters of relevance (WIPO ST.14).
    """
    relations: dict[Relation, None] = {}
    details = []
    for each in document.cites:
        text = publication_text(each.document)
        doi = _DOI.search(each.text)
        if text:
            relations[Relation("cites", StatedIdentifier("publication", text), each.by)] = None
        elif doi:
            relations[Relation("cites", StatedIdentifier("doi", doi[0].rstrip(".,;:)]")), each.by)] = None
        else:
            name = "cites (literature)" if each.text else "cites (not read)"
            said = each.text or " ".join(filter(None, (each.document.country, each.document.number)))
            details.append((name, f"{said} [{each.by}]" if each.by else said))
    return list(relations), details
