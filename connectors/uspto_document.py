"""A grant or published application in the office's XML of 2005 and after (v4.0 to v4.7) → its facts.

Element names: the office's document types us-patent-grant v4.5, v4.7 and us-patent-application
v4.6; those of before the end of 2012 (citation, parties, applicants) are read beside them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from connectors.uspto_facts import Cited, Claim, Link, Number, Party, TermFacts, UsDocument
from connectors.uspto_markup import readable
from connectors.uspto_numbers import unpacked

ROOTS = {
    "us-patent-grant": "us-bibliographic-data-grant",
    "us-patent-application": "us-bibliographic-data-application",
}
_CANCELLED = re.compile(r"[\d\s.,-]*\(?\s*cancel(?:l)?ed\s*\)?[.;\s]*", re.IGNORECASE)
_HAGUE = "hague-agreement-data/international-registration"
_RELATED = ("us-related-documents", "related-documents")


def read_modern(root: Any) -> UsDocument | str:
    """Return what the document states, or why it is none."""
    data = root.find(ROOTS[root.tag])
    if data is None:
        return "it has no bibliographic data"
    publication = _number(data.find("publication-reference/document-id"))
    if not (publication.number and publication.kind):
        return "it has no whole publication number (number, kind)"
    filing = data.find("application-reference")
    standing, cancelled = _claims(root)
    related = _first(data, *_RELATED)
    return UsDocument(
        publication=publication,
        application=_number(None if filing is None else filing.find("document-id")),
        form=f"{root.tag} {root.get('dtd-version', '')}".strip(),
        right="" if filing is None else filing.get("appl-type", ""),
        language=root.get("lang", "").lower(),
        title=readable(data.find("invention-title")),
        abstract=" ".join(filter(None, (readable(each) for each in root.findall("abstract")))),
        claims=standing,
        cancelled=cancelled,
        claims_stated=_text(data, "number-of-claims"),
        parties=tuple(_parties(data)),
        priorities=tuple(_priority(each) for each in data.iterfind("priority-claims/priority-claim")),
        provisionals=tuple(_numbers(related, "us-provisional-application/document-id")),
        chain=tuple(_chain(related)),
        earlier=tuple(_numbers(related, "related-publication/document-id")),
        international=_number(data.find("pct-or-regional-filing-data/document-id")),
        entry_date=_entry_date(data),
        international_publication=_number(data.find("pct-or-regional-publishing-data/document-id")),
        term=_term(data.find("us-term-of-grant")),
        codes=tuple(dict.fromkeys(_codes(data))),
        classes=tuple(dict.fromkeys(_classes(data))),
        cites=tuple(_cites(data)),
        notes=tuple(_notes(data)),
    )


def read_paragraphs(root: Any) -> list[tuple[str, str]]:
    """Return the description as (paragraph number, text); headings have the number ""."""
    found: list[tuple[str, str]] = []
    description = root.find("description")
    waiting = [] if description is None else list(reversed(list(description)))
    while waiting:
        element = waiting.pop()
        if element.tag in ("p", "heading") or not len(element):
            text = readable(element)
            if text:
                found.append((element.get("num", "") if element.tag == "p" else "", text))
        else:
            waiting += reversed(list(element))
    return found


def _first(data: Any, *paths: str) -> Any:
    return next((found for path in paths if (found := data.find(path)) is not None), None)


def _text(element: Any, path: str) -> str:
    return "" if element is None else readable(element.find(path))


def _number(element: Any) -> Number:
    """Return the number of a document-id or priority-claim; an empty one for None."""
    if element is None:
        return Number()
    names = ("country", "doc-number", "kind", "date", "name")
    country, number, kind, date, name = (_text(element, each) for each in names)
    return Number(country.upper(), number, kind.upper(), date, name)


def _priority(element: Any) -> Number:
    """Return a foreign priority; its kind is where it was filed (national, regional, international)."""
    found = _number(element)
    return Number(found.country, found.number, element.get("kind", ""), found.date)


def _numbers(element: Any, path: str) -> Iterator[Number]:
    for each in () if element is None else element.iterfind(path):
        found = _number(each)
        if found.number:
            yield found


def _claims(root: Any) -> tuple[tuple[Claim, ...], tuple[str, ...]]:
    """Return the claims that stand, and the numbers of those cancelled."""
    standing, cancelled = [], []
    elements = list(root.iterfind("claims/claim"))
    by_id = {each.get("id", ""): _plain_number(each, at) for at, each in enumerate(elements, 1)}
    for at, element in enumerate(elements, 1):
        number, text = _plain_number(element, at), readable(element)
        if not text or _CANCELLED.fullmatch(text):
            cancelled.append(number)
            continue
        ids = [one for ref in element.iter("claim-ref") for one in ref.get("idref", "").split()]
        names = dict.fromkeys(by_id.get(one, "") for one in ids)
        standing.append(Claim(number, text, tuple(names)))
    return tuple(standing), tuple(cancelled)


def _plain_number(element: Any, at: int) -> str:
    """Return 1 for 00001 and 1-18 for 01-18; the place where none is stated."""
    parts = [part.strip().lstrip("0") for part in element.get("num", "").split("-")]
    return "-".join(parts) if all(parts) else str(at)


def _parties(data: Any) -> Iterator[Party]:
    parties = _first(data, "us-parties", "parties")
    if parties is not None:
        for element in parties.iterfind("inventors/inventor"):
            yield from _party(element, "inventor")
        for holder in ("us-applicants/us-applicant", "applicants/applicant"):
            for element in parties.iterfind(holder):
                # Until 2012 inventors stood among the applicants and nowhere else.
                if holder.startswith("applicants") and "inventor" in element.get("app-type", ""):
                    yield from _party(element, "inventor")
                yield from _party(element, "applicant")
    for element in data.iterfind("assignees/assignee"):
        yield from _party(element, "assignee")


def _party(element: Any, role: str) -> Iterator[Party]:
    book = element if element.find("addressbook") is None else element.find("addressbook")
    firm = _text(book, "orgname")
    family, given = _text(book, "last-name"), _text(book, "first-name")
    given = " ".join(filter(None, (given, _text(book, "middle-name"))))
    name = firm or " ".join(filter(None, (given, family, _text(book, "suffix")))) or _text(book, "name")
    if name:
        yield Party(role, name, "" if firm else family, "" if firm else given)


def _chain(related: Any) -> Iterator[Link]:
    """Yield every link to another application that is given as parent and child."""
    for element in () if related is None else related:
        for relation in element.iterfind("relation"):
            parent = relation.find("parent-doc")
            if parent is None:
                continue
            yield Link(
                kind=str(element.tag).removeprefix("us-").replace("-", " "),
                parent=_number(parent.find("document-id")),
                child=_number(relation.find("child-doc/document-id")),
                granted=_number(parent.find("parent-grant-document/document-id")),
                international=_number(parent.find("parent-pct-document/document-id")),
                status=_text(parent, "parent-status"),
            )


def _entry_date(data: Any) -> str:
    element = data.find("pct-or-regional-filing-data")
    return _text(element, "us-371c12-date/date") or _text(element, "us-371c124-date/date")


def _term(element: Any) -> TermFacts:
    if element is None:
        return TermFacts()
    return TermFacts(
        days=_text(element, "us-term-extension"),
        years=_text(element, "length-of-grant"),
        disclaimer=" ".join(readable(each) for each in element.iterfind("disclaimer/text"))
        or ("stated" if element.find("disclaimer") is not None else ""),
        disclaimer_date=_text(element, "disclaimer/date"),
        text=" ".join(filter(None, (_text(element, "text"), _text(element, "lapse-of-patent")))),
    )


def _codes(data: Any) -> Iterator[tuple[str, str]]:
    for scheme, path in (("CPC", "classifications-cpc"), ("IPC", "classifications-ipcr")):
        holder = data.find(path)
        for element in () if holder is None else holder.iter("classification-cpc", "classification-ipcr"):
            parts = [_text(element, each) for each in ("section", "class", "subclass")]
            groups = [_text(element, each) for each in ("main-group", "subgroup")]
            if all(parts):
                yield scheme, "".join(parts) + (f" {'/'.join(groups)}" if all(groups) else "")


def _classes(data: Any) -> Iterator[tuple[str, str]]:
    for element in data.iterfind("classification-national/main-classification"):
        if text := unpacked(element.text or ""):
            yield "US class", text
    for element in data.iterfind("classification-national/further-classification"):
        if text := unpacked(element.text or ""):
            yield "US class", text
    locarno = _text(data, "classification-locarno/main-classification")
    if locarno:
        edition = _text(data, "classification-locarno/edition")
        dashed = f"{locarno[:2]}-{locarno[2:]}" if len(locarno) == 4 else locarno
        yield "Locarno", dashed + (f" (edition {edition})" if edition else "")
    for element in data.iterfind("classification-ipc/main-classification"):
        if text := readable(element):
            yield "IPC as printed", text


def _cites(data: Any) -> Iterator[Cited]:
    cited = _first(data, "us-references-cited", "references-cited")
    for element in () if cited is None else cited:
        by = _text(element, "category")
        document = _number(element.find("patcit/document-id"))
        literature = _text(element, "nplcit/othercit") or _text(element, "nplcit")
        if document.number:
            yield Cited(document, "", by)
        elif text := literature or readable(element):
            yield Cited(Number(), text, by)


def _notes(data: Any) -> Iterator[tuple[str, str]]:
    for name, path in (
        ("publication type", "us-publication-filing-type"),
        ("plant, Latin name", "us-botanic/latin-name"),
        ("plant, variety", "us-botanic/variety"),
        ("Hague registration", f"{_HAGUE}-number"),
        ("Hague registration published", f"{_HAGUE}-publication-date/date"),
        ("continued prosecution application", "us-issued-on-continued-prosecution-application/text"),
    ):  # fmt: skip
        found = data.find(path)
        text = readable(found) or (found[0].tag if found is not None and len(found) else "")
        if text:
            yield name, text
    if data.find("us-sir-flag") is not None:
        yield "kind of right", "statutory invention registration: a publication, never in force"
