"""One file wrapper of the USPTO Open Data Portal → a record for each document it tells of.

Not read: events, assignments, attorneys, addresses, examiner and docket.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from connectors.days import parse_days
from connectors.json_answer import Node, OddShape
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier
from connectors.uspto_odp_term import term_details

# Symbols are padded to columns: `H01M  50/46`, `H01M2004/027`.
_CPC = re.compile(r"([A-HY]\d\d[A-Z])\s*(\d{1,4})/(\d{2,6})", re.ASCII)
_FILE_NUMBER = re.compile(r"\d{8}|PCT[A-Z]{2}\d{6,10}", re.ASCII)
_YES_NO = {"Y": "yes", "N": "no", "True": "yes", "False": "no"}  # both writings occur
# Links by which a benefit is claimed; the others (reissue, re-examination …) tell of the same case.
_BENEFIT = frozenset({"CON", "CIP", "DIV", "PRO", "NST"})
_OFFICES = {
    "JAPAN": "JP", "CHINA": "CN", "REPUBLIC OF KOREA": "KR", "KOREA, REPUBLIC OF": "KR", "KOREA": "KR",
    "GERMANY": "DE", "FRANCE": "FR", "UNITED KINGDOM": "GB", "EUROPEAN PATENT OFFICE (EPO)": "EP",
    "EUROPEAN PATENT OFFICE": "EP", "TAIWAN": "TW", "ITALY": "IT", "CANADA": "CA", "AUSTRALIA": "AU",
    "INDIA": "IN", "ISRAEL": "IL", "SWEDEN": "SE", "NETHERLANDS": "NL", "SPAIN": "ES", "SWITZERLAND": "CH",
    "AUSTRIA": "AT", "FINLAND": "FI", "DENMARK": "DK", "NORWAY": "NO", "BELGIUM": "BE", "BRAZIL": "BR",
}  # fmt: skip


@dataclass(frozen=True)
class _Document:
    """One publication that a file names: where its number and day stand, and what it is."""

    name: str
    number: str
    day: str
    field: str
    event: str
    kind: str
    text_at: str = ""


def read_file_wrapper(file: Node) -> tuple[Record, ...]:
    """Return a record for each publication of the file, earliest kind first; one without a public
    date for a file that names none.

    What is of the file (status, term, chain) stands with its last document. Raises OddShape,
    naming the place, where the file has no application number.
    """
    number = file.at("applicationNumberText").text()
    if not _FILE_NUMBER.fullmatch(number):
        raise OddShape(
            file.at("applicationNumberText").path, f"is {number[:40]!r}, which is no application number"
        )
    documents = _documents(file)
    last = documents[-1]
    return tuple(_record(file, number, document, document is last) for document in documents)


def _documents(file: Node) -> list[_Document]:
    meta = file.at("applicationMetaData")
    filed = "design" if meta.at("applicationTypeCode").text() == "DES" else ""
    found = []
    if wo := meta.at("pctPublicationNumber").text():
        day = meta.at("pctPublicationDate").text()
        number = wo if wo.upper().startswith("WO") else f"WO {wo}"
        found.append(_Document("pct", number, day, "pctPublicationDate", _PUBLISHED, "patent application"))
    early, early_day = (meta.at(f"earliestPublication{what}").text() for what in ("Number", "Date"))
    patent, granted = meta.at("patentNumber").text(), meta.at("grantDate").text()
    if early or early_day or not (wo or patent or granted):
        found.append(
            _Document("published", early, early_day, "earliestPublicationDate", _PUBLISHED,
                      filed or "patent application", "pgpubDocumentMetaData")
        )  # fmt: skip
    if patent or granted:
        number = patent if patent.upper().startswith("US") or not patent else f"US {patent}"
        found.append(
            _Document("granted", number, granted, "grantDate", "publication of grant", filed or "patent",
                      "grantDocumentMetaData")
        )  # fmt: skip
    return found


_PUBLISHED = "publication of application"


def _record(file: Node, number: str, document: _Document, last: bool) -> Record:
    meta = file.at("applicationMetaData")
    application = number if number.startswith("PCT") else f"US {number}"
    identifiers = [StatedIdentifier("application", application)]
    if document.number:
        identifiers.insert(0, StatedIdentifier("publication", document.number))
    relations, claimed = _earlier(file)
    day = parse_days(document.day)
    dates = [StatedDate(document.event, document.day, day, document.field)] if day else []
    filed = meta.at("filingDate").text()
    if filed_on := parse_days(filed):
        dates.append(StatedDate("filed", filed, filed_on, "filingDate"))
    return Record(
        source="uspto_odp",
        native_id=f"{number} {document.name}",
        kind=document.kind,
        title=meta.at("inventionTitle").plain(),
        language="en",
        people=_people(meta),
        version=_kind_code(document.number),
        identifiers=tuple(identifiers),
        dates=(*dates, *claimed),
        relations=relations,
        codes=_codes(meta),
        details=(*_about(file, document, day is None), *(_file_facts(file) if last else ())),
    )


def _kind_code(number: str) -> str:
    """Return the kind code that ends a publication number; a patent's number comes without one."""
    found = re.search(r"\d([A-Z]\d?)$", number)
    return found[1] if found else ""


def _people(meta: Node) -> tuple[Person, ...]:
    """Return inventors and applicants by the name each is listed under."""
    people = []
    for role, bag in (("inventor", "inventorBag"), ("applicant", "applicantBag")):
        for each in meta.at(bag).each():
            given = " ".join(filter(None, (each.at(part).text() for part in ("firstName", "middleName"))))
            family = each.at("lastName").text()
            name = each.at(f"{role}NameText").text() or f"{given} {family}".strip()
            if name:
                people.append(Person(name, role, family, given if family else ""))
    return tuple(dict.fromkeys(people))


def _codes(meta: Node) -> tuple[tuple[str, str], ...]:
    found = (_CPC.match(each.text()) for each in meta.at("cpcClassificationBag").each())
    return tuple(dict.fromkeys(("CPC", f"{m[1]} {int(m[2])}/{m[3]}") for m in found if m))


# --- earlier filings -------------------------------------------------------------


def _earlier(file: Node) -> tuple[tuple[Relation, ...], tuple[StatedDate, ...]]:
    """Return what the file claims the benefit or priority of, and the days of those filings.

    The bag lists the whole chain: the note says which link each is.
    """
    relations, dates = [], []
    for parent in file.at("parentContinuityBag").each():
        number, code = (
            parent.at(name).text() for name in ("parentApplicationNumberText", "claimParentageTypeCode")
        )
        if not number:
            continue
        text = number if number.startswith("PCT") else f"US {number}"
        kind = "priority" if code in _BENEFIT else "family"
        relations.append(Relation(kind, StatedIdentifier("application", text), _link(parent)))
        day = parent.at("parentApplicationFilingDate").text()
        if kind == "priority" and (days := parse_days(day)):
            dates.append(
                StatedDate("priority", day, days, "parentContinuityBag.parentApplicationFilingDate", text)
            )
    for foreign in file.at("foreignPriorityBag").each():
        text, note = _foreign(foreign)
        if text:
            relations.append(Relation("priority", StatedIdentifier("application", text), note))
        day = foreign.at("filingDate").text()
        if days := parse_days(day):
            dates.append(StatedDate("priority", day, days, "foreignPriorityBag.filingDate", text or note))
    return tuple(dict.fromkeys(relations)), tuple(dict.fromkeys(dates))


def _foreign(foreign: Node) -> tuple[str, str]:
    """Return the foreign number with its office's code, and how it was written; "" where not known."""
    office, number = foreign.at("ipOfficeName").text(), foreign.at("applicationNumberText").text()
    code = _OFFICES.get(office.upper(), "")
    written = f"{office} {number}".strip()
    if code == "CN" and re.fullmatch(r"20\d{11}", number):
        number = f"{number[:12]}.{number[12]}"  # the last digit is a check digit behind a dot
    return (f"{code} {number}" if code and number else "", f"foreign priority, written {written}")


def _link(parent: Node) -> str:
    """Return one link of the chain in words: which case is what of which."""
    child = parent.at("childApplicationNumberText").text()
    what = parent.at("claimParentageTypeCodeDescriptionText").text()
    what = what or parent.at("claimParentageTypeCode").text()
    earlier = parent.at("parentApplicationNumberText").text()
    told = [f"{child} {what} {earlier}".strip()]
    if day := parent.at("parentApplicationFilingDate").text():
        told.append(f"filed {day}")
    if patent := parent.at("parentPatentNumber").text():
        told.append(f"US {patent}")
    told.append(parent.at("parentApplicationStatusDescriptionText").text())
    return ", ".join(filter(None, told))


# --- what else is stated ---------------------------------------------------------


def _about(file: Node, document: _Document, undated: bool) -> list[tuple[str, str]]:
    facts = []
    if undated and not document.number:
        facts.append(("not published", "the file states neither a publication nor a patent"))
    elif undated:
        facts.append(("day of publication", f"not known ({document.day or 'none stated'})"))
    if document.text_at and (address := file.at(document.text_at).at("fileLocationURI").text()):
        facts.append(("full text in XML (needs the key)", address))
    return facts


def _file_facts(file: Node) -> list[tuple[str, str]]:
    """Return status, term and the chain, as of the day the portal took the file in."""
    meta = file.at("applicationMetaData")
    status = meta.at("applicationStatusDescriptionText").text()
    since = meta.at("applicationStatusDate").text()
    first_to_file = str(meta.at("firstInventorToFileIndicator").value)
    facts = [
        ("status of the file", f"{status} (since {since})" if status and since else status),
        ("file as of", file.at("lastIngestionDateTime").text()),
        ("type", meta.at("applicationTypeLabelName").text()),
        ("effective filing date, says the Office", meta.at("effectiveFilingDate").text()),
        ("first inventor to file", _YES_NO.get(first_to_file, "")),
    ]
    facts += term_details(file)
    dates = [each.text() for each in meta.at("publicationDateBag").each()]
    if len(dates) > 1:
        facts.append(("days of all publications", ", ".join(dates)))
    facts += [("earlier case", _link(parent)) for parent in file.at("parentContinuityBag").each()]
    facts += [("later case", _link(child)) for child in file.at("childContinuityBag").each()]
    return [(name, text) for name, text in facts if text]
