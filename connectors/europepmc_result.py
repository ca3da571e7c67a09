"""One result as Europe PMC states it → a record.

Not read: counts and flags (they move without the document moving), full-text received dates.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from connectors.days import Days, days_of_parts, parse_days
from connectors.json_answer import Node, OddShape
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier

_KINDS_OF_HOLDING = {"PPR": "preprint", "ETH": "thesis", "NBK": "book"}
# The first that is among a result's types names its kind.
_KINDS = (
    ("preprint", "preprint"), ("book", "book"), ("congress", "conference paper"), ("dataset", "dataset"),
    ("technical report", "report"), ("academic dissertation", "thesis"), ("thesis", "thesis"),
)  # fmt: skip
_RETRACTED = "retracted publication"
_MONTHS = {
    name: number
    for number, name in enumerate(
        ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"), start=1
    )
}
_ISSUE = re.compile(r"(\d{4})(?:\s+([A-Za-z]{3})[a-z]*(?:-([A-Za-z]{3})[a-z]*)?(?:\s+(\d{1,2}))?)?")
_DOI = re.compile(r"\bdoi:\s?(10\.\S+?)\.?(?:\s|$)", re.IGNORECASE)
_RELATIONS = {
    "preprint in": "has preprint", "preprint of": "preprint of",
    "erratum in": "corrected by", "erratum for": "corrects",
    "corrected and republished in": "corrected by", "corrected and republished from": "corrects",
    "expression of concern in": "corrected by", "expression of concern for": "corrects",
    "retraction in": "retracted by", "retraction of": "retracts",
    "update in": "version of", "update of": "version of",
}  # fmt: skip
_SCHEMES = {"MED": "pmid", "PMC": "pmcid"}
_LISTED = "the first day in Europe PMC's index; its title, and abstract where given, could be read there"
_WHICH_VERSION = "Europe PMC does not say whether of this version or of the first"
_NO_FINER = "Europe PMC writes a month or year alone as its first day"


def read_result(result: Node) -> Record:
    """Return the record of a result. Raises OddShape, naming the place, where it has no number."""
    number, holding = result.at("id").text(), result.at("source").text()
    if not number or not holding:
        raise OddShape(
            result.at("id" if not number else "source").path,
            "is missing, so the result has no name to keep it under",
        )
    journal, book = result.at("journalInfo"), result.at("bookOrReportDetails")
    types = _types(result)
    dates, unclear = _dates(result)
    relations, told = _relations(result)
    return Record(
        source="europepmc",
        native_id=f"{holding}:{number}",
        kind=_kind(holding, types, book),
        title=result.at("title").plain().removesuffix("."),
        abstract=result.at("abstractText").plain(),
        language=result.at("language").text(),
        people=_people(result),
        venue=_first(
            *(journal.at("journal").at("title"), result.at("journalTitle")),
            *(book.at("comprisingTitle"), book.at("publisher")),
        ),
        publisher=book.at("publisher").text(),
        volume=_first(journal.at("volume"), result.at("journalVolume")),
        issue=_first(journal.at("issue"), result.at("issue")),
        pages=result.at("pageInfo").text(),
        version=_version(result),
        url=f"https://europepmc.org/article/{holding}/{number}",
        retracted=_RETRACTED in types or any(relation.kind == "retracted by" for relation in relations),
        identifiers=_identifiers(result, holding, number),
        dates=dates,
        relations=(*relations, *_holders(result)),
        details=tuple((name, text) for name, text in (*_facts(result, types), *unclear, *told) if text),
    )  # fmt: skip


def _first(*nodes: Node) -> str:
    return next((text for node in nodes if (text := node.text())), "")


def _types(result: Node) -> list[str]:
    """Return the types in lower case: a list in the full answer, one text in the short one."""
    listed = [each.text() for each in result.at("pubTypeList").at("pubType").each()]
    return [text.strip().casefold() for text in listed or result.at("pubType").text().split(";")]


def _kind(holding: str, types: list[str], book: Node) -> str:
    kind = _KINDS_OF_HOLDING.get(holding) or next((kind for name, kind in _KINDS if name in types), "")
    if kind == "book" and book.at("comprisingTitle").text():
        return "chapter"
    # What a patent document is, its kind code says, and that is not stated here.
    return kind or ("other" if holding == "PAT" else "article")


def _version(result: Node) -> str:
    number = result.at("versionNumber").whole()
    return f"v{number}" if number is not None else ""


def _people(result: Node) -> tuple[Person, ...]:
    listed = result.at("authorList").at("author").each()
    named = [_person(author) for author in listed]
    if not listed:
        named = [Person(name.strip()) for name in result.at("authorString").text().rstrip(".").split(", ")]
    return tuple(person for person in named if person.name)


def _person(author: Node) -> Person:
    family, given = author.at("lastName").text(), _first(author.at("firstName"), author.at("initials"))
    whole = " ".join(filter(None, (given, family))) if family else ""
    name = whole or _first(author.at("collectiveName"), author.at("fullName"))
    return Person(name, family=family, given=given)


def _identifiers(result: Node, holding: str, number: str) -> tuple[StatedIdentifier, ...]:
    found = [(scheme, result.at(scheme).text()) for scheme in ("doi", "pmid", "pmcid")]
    if holding == "PAT":
        found.append(("publication", number))
    if scheme := _SCHEMES.get(holding):
        found.append((scheme, number))
    return tuple(StatedIdentifier(scheme, text) for scheme, text in dict.fromkeys(found) if text)


def _holders(result: Node) -> Iterator[Relation]:
    """Yield the journal it is part of."""
    journal = result.at("journalInfo").at("journal")
    stated = [
        journal.at("issn").text(),
        journal.at("essn").text(),
        *result.at("journalIssn").text().split(";"),
    ]
    for issn in dict.fromkeys(text.strip() for text in stated):
        if issn:
            yield Relation("part of", StatedIdentifier("issn", issn))  # fmt: skip


def _dates(result: Node) -> tuple[tuple[StatedDate, ...], list[tuple[str, str]]]:
    """Return the dated events, and in words what is stated but gives no day."""
    dates: list[StatedDate] = []
    unclear: list[tuple[str, str]] = []
    journal = result.at("journalInfo")
    online, printed = result.at("electronicPublicationDate"), journal.at("printPublicationDate")
    issue = _issue_days(journal.at("dateOfPublication").text())

    def add(kind: str, node: Node, days: Days | None, note: str = "") -> None:
        if days is not None:
            dates.append(StatedDate(kind, node.text(), days, node.path.rpartition("].")[2], note))
        elif node.text():
            unclear.append(("unreadable date", f"{node.path.rpartition('].')[2]} {node.text()}"))

    add("published online", online, parse_days(online.text()))
    add("published in print", printed, *_as_exact(printed.text(), issue))
    first = result.at("firstPublicationDate")
    if first.text() not in (online.text(), printed.text()):
        days, note = _as_exact(first.text(), issue)
        later = (result.at("versionNumber").whole() or 1) > 1
        kind = "posted" if result.at("source").text() == "PPR" else "published"
        add(kind, first, days, "; ".join(filter(None, (note, _WHICH_VERSION if later else ""))))
    if not dates and (year := result.at("pubYear")).text():
        add("published", year, parse_days(year.text()))
    add("listed", result.at("firstIndexDate"), parse_days(result.at("firstIndexDate").text()), _LISTED)
    add("updated", result.at("dateOfRevision"), parse_days(result.at("dateOfRevision").text()))
    return tuple(dates), unclear


def _as_exact(text: str, issue: Days | None) -> tuple[Days | None, str]:
    """Return the days a date allows. Only the first of a month may stand for less than a day:
    then it is the issue's days, where those are written and hold it, else the month, or the year."""
    days = parse_days(text) if text else None
    if days is None or days.first is None or not days.exact:
        return days, ""
    if days.first.day != 1:
        return days, ""
    if issue and issue.first and issue.last and issue.first <= days.first <= issue.last:
        return issue, _NO_FINER if issue != days else ""
    if days.first.month == 1:
        return Days.of_year(days.first.year), _NO_FINER
    return Days.of_month(days.first.year, days.first.month), _NO_FINER


def _issue_days(text: str) -> Days | None:
    """Return the days of an issue's date as written (2025, 2025 Jul, 2025 Jul-Aug, 2025 Jul 4), else None.

    A season is the year: which months it means differs from one half of the earth to the other.
    """
    found = _ISSUE.match(text)
    if found is None:
        return None
    year, month, until, day = found.groups()
    start, end = _MONTHS.get((month or "").lower()), _MONTHS.get((until or "").lower())
    if start is None:
        return days_of_parts([int(year)])
    if end is not None:
        last = days_of_parts([int(year) + (end < start), end])
        first = days_of_parts([int(year), start])
        return Days(first.first, last.last) if first and last else None
    return days_of_parts([int(year), start, int(day)] if day else [int(year), start])


def _relations(result: Node) -> tuple[tuple[Relation, ...], list[tuple[str, str]]]:
    """Return corrections, retractions and preprint links, and in words those of other kinds."""
    found, told = [], []
    for each in result.at("commentCorrectionList").at("commentCorrection").each():
        stated, number = each.at("type").text(), each.at("id").text()
        scheme = _SCHEMES.get(each.at("source").text(), "")
        kind, reference = _RELATIONS.get(stated.casefold()), each.at("reference").text()
        note = ", ".join(filter(None, (stated, reference)))
        doi = _DOI.search(reference)
        if kind and scheme and number:
            found.append(Relation(kind, StatedIdentifier(scheme, number), note))
        elif kind and doi:
            found.append(Relation(kind, StatedIdentifier("doi", doi[1]), note))
        else:
            told.append(("related", ", ".join(filter(None, (note, each.at("source").text(), number)))))
    return tuple(dict.fromkeys(found)), told


def _facts(result: Node, types: list[str]) -> Iterator[tuple[str, str]]:
    yield from (("type", text) for text in types)
    yield "licence", result.at("license").text()
    yield "publication status", result.at("publicationStatus").text()
    issue = result.at("journalInfo").at("dateOfPublication").text()
    yield "date of issue", issue
    for each in result.at("keywordList").at("keyword").each():
        yield "keyword", each.text()
