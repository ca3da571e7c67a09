"""Grants of 2002 to 2004 (PATDOC, tags of WIPO ST.32) and applications of 2001 to 2004 → their facts.

Facts: the samples named in uspto_bulk.md and ST.32's numbering, which follows the INID codes
(B620 is INID 62, division). What is not known of a tag is kept as printed, never guessed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from connectors.uspto_facts import NATIONAL_PHASE, Cited, Claim, Link, Number, Party, TermFacts, UsDocument
from connectors.uspto_markup import readable
from connectors.uspto_numbers import packed_ipc, unpacked

PATDOC, PUBLICATION = "PATDOC", "patent-application-publication"
# INID 62, 63, 64: which of the two a B630 is, its own tags say in words we have not seen.
_CHAIN = {"B620": "division", "B630": "continuation or continuation in part", "B640": "reissue"}
# How an application of 2001 to 2004 tells its chain. No sample at hand has one: the names are
# those that the Office's own reader of these files (USPTO/PatentPublicData, CC0) looks for.
_CONTINUITY = {
    "continuation-of": "continuation",
    "continuation-in-part-of": "continuation in part",
    "division-of": "division",
    "reissue-of": "reissue",
    "a-371-of-international": NATIONAL_PHASE,
}
_CITED_BY = {"CITED-BY-EXAMINER": "cited by examiner", "CITED-BY-OTHER": "cited by other"}
_RIGHTS = {"S": "design", "P": "plant", "E": "reissue", "H": "sir", "B": "utility", "A": "utility"}


def _text(element: Any, path: str) -> str:
    return "" if element is None else readable(element.find(path))


def read_patdoc(root: Any) -> tuple[UsDocument, list[tuple[str, str]]] | str:
    """Return what a PATDOC grant states and its paragraphs, or why it is none."""
    data = root.find("SDOBI")
    if data is None:
        return "it has no bibliographic data"
    kind = _text(data, "B100/B130").upper()
    document = UsDocument(
        publication=Number("US", _text(data, "B100/B110"), kind, _text(data, "B100/B140")),
        application=Number("US", _text(data, "B200/B210"), "", _text(data, "B200/B220")),
        form=f"PATDOC {root.get('DTD', '')}".strip(),
        right=_RIGHTS.get(kind[:1], ""),
        language="en",
        title=_text(data, "B500/B540"),
        abstract=_text(root, "SDOAB"),
        claims=tuple(_claims(root.iterfind("SDOCL//CLM"), "CLREF", "ID")),
        claims_stated=_text(data, "B500/B570/B577"),
        parties=(*_people(data, "B700/B720/B721", "inventor"), *_people(data, "B700/B730/B731", "assignee")),
        priorities=tuple(_priorities(data)),
        provisionals=tuple(_document(each) for each in data.iterfind("B600/B680US/DOC")),
        chain=tuple(_chain(data)),
        earlier=tuple(_document(each) for each in data.iterfind("B600/B650//DOC")),
        international=_document(data.find("B800/B860/B861/DOC"), "WO"),
        international_publication=_document(data.find("B800/B870/B871/DOC"), "WO"),
        term=TermFacts(text=_text(data, "B400/B472")),
        codes=tuple(_ipc(data, ("B500/B510/B511", "B500/B510/B512"))),
        classes=tuple(_us(data, ("B500/B520/B521", "B500/B520/B522"))),
        cites=tuple(_cites(data)),
        notes=tuple(_unread(data)),
    )
    return document, _paragraphs(root.find("SDODE"), ("PARA", "H"), "")


def _document(element: Any, country: str = "US") -> Number:
    if element is None:
        return Number()
    kind = _text(element, "KIND").upper()
    return Number(
        _text(element, "CTRY").upper() or country, _text(element, "DNUM"), kind, _text(element, "DATE")
    )


def _priorities(data: Any) -> Iterator[Number]:
    """Yield foreign priorities: a B300 is a row of numbers, days and countries."""
    for holder in data.iterfind("B300"):
        columns = [[readable(each) for each in holder.iterfind(tag)] for tag in ("B330", "B310", "B320")]
        for country, number, day in zip(*columns, strict=False):
            yield Number(country.upper(), number, "", day)


def _chain(data: Any) -> Iterator[Link]:
    for tag, kind in _CHAIN.items():
        for link in data.iterfind(f"B600/{tag}//PARENT-US"):
            parent = _document(link.find("PDOC/DOC"))
            if parent.number:
                granted = _document(link.find("PPUB/DOC"))
                yield Link(
                    kind, parent, _document(link.find("CDOC/DOC")), granted, status=_text(link, "PSTA")
                )


def _people(data: Any, path: str, role: str) -> Iterator[Party]:
    for element in data.iterfind(path):
        name = element.find("PARTY-US/NAM")
        firm, family, given = _text(name, "ONM"), _text(name, "SNM"), _text(name, "FNM")
        if whole := firm or " ".join(filter(None, (given, family))):
            yield Party(role, whole, "" if firm else family, "" if firm else given)


def _ipc(data: Any, paths: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    for path in paths:
        for element in data.iterfind(path):
            if symbol := packed_ipc("".join(element.itertext())):
                yield "IPC", symbol


def _us(data: Any, paths: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    for path in paths:
        for element in data.iterfind(path):
            yield "US class", unpacked("".join(element.itertext()).strip())


def _cites(data: Any) -> Iterator[Cited]:
    for element in data.iterfind("B500/B560/*"):
        by = next((words for tag, words in _CITED_BY.items() if element.find(tag) is not None), "")
        if element.tag == "B561":
            yield Cited(_document(element.find("PCIT/DOC")), "", by)
        elif text := readable(element):
            yield Cited(Number(), text, by)


def _unread(data: Any) -> Iterator[tuple[str, str]]:
    """Yield, as printed, the related documents whose tags are not read into the chain."""
    for element in data.iterfind("B600/*"):
        if element.tag not in ("B680US", "B650") and element.find(".//PARENT-US/PDOC/DOC") is None:
            yield f"related document {element.tag} (as printed)", readable(element)


def _claims(elements: Iterator[Any], reference: str, name: str) -> Iterator[Claim]:
    for at, element in enumerate(elements, 1):
        digits = "".join(char for char in element.get(name, "") if char.isdigit()).lstrip("0")
        names = dict.fromkeys(
            "".join(char for char in one if char.isdigit()).lstrip("0")
            for each in element.iter(reference)
            for one in (each.get(name) or each.get("dependent_ref") or each.get("IDREF") or "").split()
        )
        if text := readable(element):
            yield Claim(digits or str(at), text, tuple(filter(None, names)))


def _paragraphs(element: Any, tags: tuple[str, ...], numbered: str) -> list[tuple[str, str]]:
    found = []
    for each in () if element is None else element.iter(*tags):
        number = _text(each, numbered).strip("[].") if numbered else ""
        if text := readable(each):
            found.append((number, text))
    return found


def read_publication(root: Any) -> tuple[UsDocument, list[tuple[str, str]]] | str:
    """Return what an application published 2001 to 2004 states and its paragraphs, or why it is none."""
    data = root.find("subdoc-bibliographic-information")
    if data is None:
        return "it has no bibliographic data"
    named, filed, about = (
        data.find(p) for p in ("document-id", "domestic-filing-data", "technical-information")
    )
    application = _text(filed, "application-number/doc-number")
    document = UsDocument(
        publication=Number(
            "US", _text(named, "doc-number"), _text(named, "kind-code").upper(), _text(named, "document-date")
        ),
        application=Number("US", application, "", _text(filed, "filing-date")),
        form="patent-application-publication, 2001 to 2004",
        right="plant" if _text(named, "kind-code").upper().startswith("P") else "utility",
        language="en",
        title=_text(about, "title-of-invention"),
        abstract=" ".join(readable(each) for each in root.iterfind("subdoc-abstract/paragraph")),
        claims=tuple(_claims(root.iterfind("subdoc-claims/claim"), "dependent-claim-reference", "id")),
        parties=(*_inventors(data), *_owners(data)),
        priorities=tuple(_foreign(data)),
        provisionals=tuple(_provisionals(data)),
        chain=tuple(link for link in _continuity(data) if not _own_phase(link, application)),
        international=next(
            (link.parent for link in _continuity(data) if _own_phase(link, application)), Number()
        ),
        codes=tuple(dict.fromkeys(_ipc(data, ("technical-information/classification-ipc//ipc",)))),
        classes=tuple(_uspc(about)),
        notes=tuple(
            ("related applications (as printed)", readable(each)) for each in data.iterfind("continuity-data")
        ),
    )
    return document, _paragraphs(root.find("subdoc-description"), ("paragraph", "heading"), "number")


def _inventors(data: Any) -> Iterator[Party]:
    for element in data.iterfind("inventors/*"):
        name = element.find("name")
        given = " ".join(filter(None, (_text(name, "given-name"), _text(name, "middle-name"))))
        family = _text(name, "family-name")
        if family:
            yield Party("inventor", f"{given} {family}".strip(), family, given)


def _owners(data: Any) -> Iterator[Party]:
    for element in data.iterfind("assignee"):
        if firm := _text(element, "organization-name"):
            yield Party("assignee", firm)


def _foreign(data: Any) -> Iterator[Number]:
    for element in data.iterfind("foreign-priority-data"):
        number = _text(element, "priority-application-number/doc-number")
        country = _text(element, "country-code").upper()
        if number:
            yield Number(country, number, "", _text(element, "filing-date"))


def _continuity(data: Any) -> Iterator[Link]:
    for tag, kind in _CONTINUITY.items():
        for link in data.iterfind(f"continuity-data//{tag}//parent-child"):
            parent = _named(link.find("parent"))
            if parent.number:
                granted = _named(link.find("parent-patent"))
                yield Link(
                    kind, parent, _named(link.find("child")), granted, status=_text(link, "parent-status")
                )


def _own_phase(link: Link, application: str) -> bool:
    """Tell whether this application itself is the national phase; it may be of one up the chain."""
    return link.kind == NATIONAL_PHASE and link.child.number in ("", application)


def _provisionals(data: Any) -> Iterator[Number]:
    """Yield the provisionals, which stand as parents or by themselves."""
    for element in data.iterfind("continuity-data//non-provisional-of-provisional"):
        parents = list(element.iterfind(".//parent")) or [element]
        yield from (number for each in parents if (number := _named(each)).number)


def _named(element: Any) -> Number:
    """Return the number of the document-id below the element."""
    named = None if element is None else element.find("document-id")
    country = _text(named, "country-code").upper() or "US"
    kind, day = _text(named, "kind-code").upper(), _text(named, "document-date")
    return Number(country, _text(named, "doc-number"), kind, day) if named is not None else Number()


def _uspc(about: Any) -> Iterator[tuple[str, str]]:
    for element in () if about is None else about.iterfind("classification-us//uspc"):
        main, sub = _text(element, "class").lstrip("0"), _text(element, "subclass")
        whole, decimals = sub[:3].lstrip("0") or "0", sub[3:].strip("0")
        yield "US class", f"{main}/{whole}" + (f".{decimals}" if decimals.isdigit() else decimals)
