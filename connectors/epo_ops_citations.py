"""What a patent document cites, as EPO OPS lists it."""

from __future__ import annotations

import re
from typing import Any

from connectors.record import Relation, StatedIdentifier
from connectors.xml import clean_text, find_text, text_of

_EXCHANGE = {"e": "http://www.epo.org/exchange"}
_DOI = re.compile(r"\b10\.\d{4,9}/[^\s\"<>]+", re.ASCII)


def citations(document: Any) -> tuple[tuple[Relation, ...], list[tuple[str, str]]]:
    """Return 'cites' relations, and as details the literature cited without a DOI.

    document: an exchange-document or None. The note holds the category letters as printed
    (they judge the citing case, at its dates), by whom and in which phase.
    """
    relations: dict[Relation, None] = {}
    literature = []
    path = "e:bibliographic-data/e:references-cited/e:citation"
    for citation in [] if document is None else document.findall(path, _EXCHANGE):
        note = _note(citation)
        printed = find_text(citation, "e:nplcit/e:text", _EXCHANGE)
        identifier = _patent(citation) or _doi(printed)
        if identifier:
            relations[Relation("cites", identifier, note)] = None
        elif printed:
            literature.append(("cites (literature)", f"{printed} [{note}]" if note else printed))
        elif text := text_of(citation):
            literature.append(("cites (not read)", text[:500]))
    return tuple(relations), literature


def _patent(citation: Any) -> StatedIdentifier | None:
    """Return the cited publication, in the writing with kind where there is one."""
    ids = citation.findall("e:patcit/e:document-id", _EXCHANGE)
    for each in sorted(ids, key=lambda each: each.get("document-id-type") != "docdb"):
        parts = [find_text(each, f"e:{name}", _EXCHANGE) for name in ("country", "doc-number", "kind")]
        if parts[1]:
            return StatedIdentifier("publication", " ".join(filter(None, parts)))
    return None


def _doi(text: str) -> StatedIdentifier | None:
    match = _DOI.search(text)
    return StatedIdentifier("doi", match[0].rstrip(".,;:)]")) if match else None


def _note(citation: Any) -> str:
    """Return category with the patent claims it is about, phase and by whom, as stated."""
    judged = []
    for element in citation:
        name = str(element.tag).rpartition("}")[2]
        if name == "category":
            judged.append(f"category {text_of(element)}")
        elif name == "rel-claims" and text_of(element):
            about = f"patent claims {text_of(element)}"
            judged[-1:] = [f"{judged[-1]} for {about}"] if judged else [about]
    phase, by = clean_text(citation.get("cited-phase", "")), clean_text(citation.get("cited-by", ""))
    return "; ".join(filter(None, (*judged, phase, f"cited by {by}" if by else "")))
