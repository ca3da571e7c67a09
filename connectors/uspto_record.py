"""What a US document states → records: its kind, days, numbers, relations and term.

A document gives a record of its own, and one for each earlier publication of the same
application that it names with a day: what it discloses may have been public from then on.
"""

from __future__ import annotations

from connectors.days import Days, parse_days
from connectors.patent_kinds import correction, kind_of
from connectors.record import Person, Record, StatedDate, StatedIdentifier
from connectors.uspto_claims import standing
from connectors.uspto_facts import Number, UsDocument
from connectors.uspto_links import chain_in_words, cites, links, term_details
from connectors.uspto_numbers import application_text, plain_number, publication_text


def why_unreadable(document: UsDocument) -> str:
    """Return why the document can be no record (its number or its day of publication), else ""."""
    if not (plain_number(document.publication.number) and document.publication.kind):
        return f"it has no whole publication number: {' '.join(_parts(document.publication))[:80]!r}"
    if parse_days(document.publication.date) is None:
        return f"its day of publication can't be read: {document.publication.date[:40]!r}"
    return ""


def _parts(number: Number) -> tuple[str, str, str]:
    return number.country, number.number, number.kind


def native_id(document: UsDocument) -> str:
    """Return the name under which a readable document is known: US.10000000.B2."""
    return f"US.{plain_number(document.publication.number)}.{document.publication.kind}"


def read_records(source: str, document: UsDocument) -> list[Record]:
    """Return the document's record and those of its earlier publications, itself first.

    The document is readable (why_unreadable gives "").
    """
    own = _record(source, document)
    return [own, *(_earlier(own, each) for each in earlier_publications(document))]


def earlier_publications(document: UsDocument) -> tuple[tuple[Number, Days, str], ...]:
    """Return (number, day, field) of the application's earlier publications, each once.

    A national phase's international publication is among them. One that is not certainly
    before this document, or whose number or day can't be read, stays a relation only.
    """
    day = parse_days(document.publication.date)
    stated = [
        (each, "us-related-documents/related-publication/document-id/date") for each in document.earlier
    ]
    stated.append((document.international_publication, "pct-or-regional-publishing-data/document-id/date"))
    found: dict[str, tuple[Number, Days, str]] = {}
    for number, field in stated:
        text, first = publication_text(number), parse_days(number.date)
        if text and first and first.last and day and day.first and first.last < day.first:
            found.setdefault(text, (number, first, field))
    return tuple(found.values())


def _record(source: str, document: UsDocument) -> Record:
    kind, number = document.publication.kind, plain_number(document.publication.number)
    day = parse_days(document.publication.date) or Days(None, None)
    meaning = kind_of("US", kind, number, day)
    cautions = "; ".join(filter(None, (meaning.note, correction("US", kind))))
    field = "publication-reference/document-id/date"
    published = StatedDate(meaning.event, document.publication.date, day, field, cautions)
    relations, days = links(document)
    cited, literature = cites(document)
    return Record(
        source=source,
        native_id=native_id(document),
        kind=meaning.record,
        title=document.title,
        abstract=document.abstract,
        language=document.language,
        people=_people(document),
        version=kind,
        identifiers=(StatedIdentifier("publication", f"US {number} {kind}"), *_application(document)),
        dates=(published, *days),
        relations=(*relations, *cited),
        codes=document.codes,
        claims=tuple(claim.text for claim in document.claims),
        details=(
            *_details(document, cautions),
            *term_details(document),
            *chain_in_words(document),
            *literature,
        ),
    )


def _people(document: UsDocument) -> tuple[Person, ...]:
    people = [Person(each.name, each.role, each.family, each.given) for each in document.parties]
    return tuple(dict.fromkeys(each for each in people if each.role != "assignee"))


def _application(document: UsDocument) -> tuple[StatedIdentifier, ...]:
    text = application_text(document.application)
    return (StatedIdentifier("application", text),) if text else ()


def _earlier(own: Record, stated: tuple[Number, Days, str]) -> Record:
    """Return the bare record of an earlier publication: number and day, no text.

    The US ones share this document's application number; an international one is of the
    application behind it, so that it is held by the priorities and the relation alone.
    """
    number, day, field = stated
    text, told_by = publication_text(number), own.identifiers[0].text
    identifiers = [StatedIdentifier("publication", text)]
    if number.country == "US":
        identifiers += [each for each in own.identifiers if each.scheme == "application"]
    note = f"an earlier publication of the application, as {told_by} states"
    return Record(
        source=own.source,
        native_id=f"{text}, stated by {own.native_id}",
        kind="patent application",
        title="",
        version=text.rsplit(" ", 1)[1] if text.count(" ") == 2 else "",
        identifiers=tuple(identifiers),
        dates=(StatedDate("publication of application", number.date, day, field, note),),
        details=(("stated by", told_by),),
    )


def _details(document: UsDocument, cautions: str) -> list[tuple[str, str]]:
    stands = standing(document.claims)
    found = [
        ("kind of document", cautions),
        ("format", document.form),
        ("kind of right", document.right),
        ("assignee", "; ".join(each.name for each in document.parties if each.role == "assignee")),
        ("independent claims", ", ".join(stands.independent)),
        ("claims that name another but may stand alone", ", ".join(stands.doubtful)),
        ("claims cancelled", ", ".join(document.cancelled)),
        ("claims", _miscounted(document)),
        ("national phase entered", document.entry_date),
        *((f"class ({system})", symbol) for system, symbol in document.classes),
        *document.notes,
    ]
    return [(name, text) for name, text in found if text]


def _miscounted(document: UsDocument) -> str:
    """Return a caution where the file states another number of claims than were read."""
    stated, read = document.claims_stated, len(document.claims) + len(document.cancelled)
    if not stated.isdigit() or int(stated) == read:
        return ""
    return f"the document states {stated}, {read} were read"
