"""One document of an EPO OPS answer → what it states."""

from __future__ import annotations

import re
from typing import Any

from connectors.days import parse_days
from connectors.epo_ops_citations import citations
from connectors.epo_ops_numbers import (
    NAMES,
    numbers,
    own_claim,
    priorities,
    publication,
    stated_dates,
    undated,
)
from connectors.patent_kinds import correction, kind_of
from connectors.record import Person, Record, StatedIdentifier
from connectors.xml import clean_text, find_text, text_of

_PLACEHOLDER = re.compile(r"not (?:found|available through OPS)", re.IGNORECASE)
_IPC = re.compile(r"([A-HY]\d\d[A-Z])\s*(\d{1,4})\s*/\s*(\d{2,6})(?!\d)", re.ASCII)
_LANGUAGES = ("en", "fr", "de")  # the office's own, in the order in which a title is taken


def read_document(source: str, document: Any) -> Record | str:
    """Return the record of an exchange-document, or why it is none."""
    return _record(source, document, None)


def read_member(source: str, member: Any) -> Record | str:
    """Return the record of a family member, its document's facts included where they came along."""
    return _record(source, member.find("e:exchange-document", NAMES), member)


def read_reference(source: str, reference: Any) -> Record | str:
    """Return the record of a bare number in a list: no title, no text."""
    return _record(source, None, reference)


def _record(source: str, document: Any, entry: Any) -> Record | str:
    """Return what document and entry state together; either may be None, not both."""
    parts = [part for part in (document, entry) if part is not None]
    country, number, kind, _ = publication(parts[0])
    days = [publication(part)[3] for part in parts]
    stated_day = next((text for text in days if parse_days(text)), days[0])
    if not (country and number and kind):
        return "it has no whole publication number (country, number, kind)"
    if document is not None and (why := _placeholder(document)):
        return why
    family = next((text for part in parts if (text := part.get("family-id", "").strip())), "")
    applications = numbers(parts, "e:application-reference")
    claimed = priorities(parts, applications)
    title, titles = _texts(document, "e:bibliographic-data/e:invention-title", "title")
    abstract, abstracts = _texts(document, "e:abstract", "abstract")
    codes, unread = _codes(document)
    cites, literature = citations(document)
    meaning = kind_of(country, kind, number, parse_days(stated_day))
    writings = dict.fromkeys(each.text for each in applications)
    identifiers = [StatedIdentifier("publication", f"{country} {number} {kind}")]
    identifiers += [StatedIdentifier("application", text) for text in writings]
    identifiers += [StatedIdentifier("family", family)] if family else []
    cautions = [meaning.note, correction(country, kind)]
    people, stated_names = _people(document)
    details = [*undated(stated_day), *[("kind of document", note) for note in cautions if note]]
    return Record(
        source=source,
        native_id=f"{country}.{number}.{kind}",
        kind=meaning.record,
        title=title[1],
        abstract=abstract[1],
        language=title[0] if title[0] != "ol" else "",
        people=people,
        version=kind,
        identifiers=tuple(identifiers),
        dates=stated_dates(
            meaning.event, stated_day, "; ".join(filter(None, cautions)), applications, claimed
        ),
        relations=(*(relation for relation, _ in claimed), *cites),
        codes=codes,
        details=(
            *details,
            *titles,
            *abstracts,
            *stated_names,
            *unread,
            *literature,
            *own_claim(parts, claimed),
        ),
    )


# --- texts, people, classes ------------------------------------------------------


def _placeholder(document: Any) -> str:
    """Return why a document is only a place kept free, else ""."""
    status = clean_text(document.get("status", ""))
    if status.lower() == "not found":
        return 'the service marks it as "not found"'
    title = find_text(document, "e:bibliographic-data/e:invention-title", NAMES)
    for text in (title, find_text(document, "e:abstract", NAMES), text_of(document)):
        if len(text) < 200 and _PLACEHOLDER.search(text):
            return f"the service has no data for it: {text}"
    return ""


def _texts(document: Any, path: str, name: str) -> tuple[tuple[str, str], list[tuple[str, str]]]:
    """Return the (language, text) to show, English first, and the others as details."""
    elements = [] if document is None else document.findall(path, NAMES)
    texts: dict[tuple[str, str], None] = {}
    for element in elements:
        paragraphs = [text_of(each) for each in element.findall("e:p", NAMES)] or [text_of(element)]
        if text := " ".join(filter(None, paragraphs)):
            texts[clean_text(element.get("lang", "")).lower(), text] = None
    ordered = sorted(texts, key=lambda each: _LANGUAGES.index(each[0]) if each[0] in _LANGUAGES else 9)
    if not ordered:
        return ("", ""), []
    return ordered[0], [
        (f"{name} ({language or 'language not stated'})", text) for language, text in ordered[1:]
    ]


def _people(document: Any) -> tuple[tuple[Person, ...], list[tuple[str, str]]]:
    """Return applicants and inventors, and as details their names with the country stated.

    The two writings do not match one to one: epodoc is taken, the printed one where it is absent.
    """
    people: list[Person] = []
    details = []
    for role in ("applicant", "inventor"):
        path = f"e:bibliographic-data/e:parties/e:{role}s/e:{role}"
        elements = [] if document is None else document.findall(path, NAMES)
        epodoc = [each for each in elements if each.get("data-format") == "epodoc"]
        stated = [find_text(each, f"e:{role}-name/e:name", NAMES).strip(", ") for each in epodoc or elements]
        names = list(dict.fromkeys(filter(None, stated)))
        bare = [re.sub(r"\s*\[[A-Z]{2}\]$", "", name) for name in names]
        people += [Person(name, role) for name in dict.fromkeys(bare) if name]
        if bare != names:
            details.append((f"{role}s with country", "; ".join(names)))
    return tuple(people), details


def _codes(document: Any) -> tuple[tuple[tuple[str, str], ...], list[tuple[str, str]]]:
    """Return (scheme, symbol) once each in normal writing, and as details what is in another system."""
    if document is None:
        return (), []
    data = "e:bibliographic-data"
    stated = [
        ("IPC", text_of(each)) for each in document.iterfind(f"{data}/e:classifications-ipcr//e:text", NAMES)
    ]
    stated += [
        ("IPC", text_of(each)) for each in document.iterfind(f"{data}/e:classification-ipc/e:text", NAMES)
    ]
    for element in document.iterfind(f"{data}/e:patent-classifications/e:patent-classification", NAMES):
        stated.append(_cpc(element))
    for element in document.iterfind(f"{data}//e:combination-set//e:classification-symbol", NAMES):
        stated.append(("CPC", text_of(element)))
    codes: dict[tuple[str, str], None] = {}
    unread: dict[tuple[str, str], None] = {}
    for scheme, text in stated:
        match = _IPC.match(text)
        if scheme in ("IPC", "CPC") and match:
            codes[scheme, f"{match[1]} {int(match[2])}/{match[3]}"] = None
        elif text:
            unread[f"class ({scheme or 'system not stated'})", text] = None
    return tuple(codes), list(unread)


def _cpc(element: Any) -> tuple[str, str]:
    """Return (scheme, symbol) of a patent-classification, in whole or in five parts."""
    scheme = element.find("e:classification-scheme", NAMES)
    name = "" if scheme is None else clean_text(scheme.get("scheme", ""))
    symbol = find_text(element, "e:classification-symbol", NAMES)
    if not symbol:
        parts = [find_text(element, f"e:{part}", NAMES) for part in ("section", "class", "subclass")]
        groups = [find_text(element, f"e:{part}", NAMES) for part in ("main-group", "subgroup")]
        symbol = f"{''.join(parts)} {'/'.join(groups)}"
    return "CPC" if name.startswith("CPC") else name, symbol
