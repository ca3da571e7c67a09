"""XML from outside, read so that it can neither fetch, expand nor exhaust anything."""

from __future__ import annotations

import re
from typing import Any

from lxml import etree

from connectors.errors import SourceChanged

# What may stand before the root: blanks, the declaration, instructions, comments. Possessive,
# so that a hostile prolog costs one pass.
_PROLOG = re.compile(rb"(?:\xef\xbb\xbf)?(?:\s++|<\?.*?\?>|<!--.*?-->)*+", re.DOTALL)
_HTML = re.compile(rb"<(?:!doctype\s+html|html|head|body)\b", re.IGNORECASE)
# XML 1.0, production 2: control characters that no document may hold, raw or as a reference.
_FORBIDDEN = re.compile(
    rb"[\x00-\x08\x0b\x0c\x0e-\x1f]|&#(?:0*(?:[0-8]|1[124-9]|2[0-9]|3[01])|x0*(?:[0-8bcef]|1[0-9a-f]));",
    re.IGNORECASE,
)


def parse_xml(source: str, body: bytes) -> Any:
    """Return the root element of a UTF-8 document, comments and instructions left out.

    Control characters that XML forbids are dropped, so that one of them does not cost the
    page. Raises SourceChanged for an empty or torn body, an HTML page, another encoding,
    any document type declaration (with it every entity), and absurd nesting or length.
    """
    _refuse_wrong_kind(source, body)
    try:
        return etree.fromstring(body, _parser())
    except etree.XMLSyntaxError as problem:
        cleaned = _FORBIDDEN.sub(b"", body)
        first = str(problem)
    if cleaned != body:
        try:
            return etree.fromstring(cleaned, _parser())
        except etree.XMLSyntaxError as problem:
            first = str(problem)
    raise SourceChanged(source, f"the answer is not whole XML: {first[:200]}", path="/")


def _parser() -> Any:
    """Return a parser that loads nothing and expands nothing.

    The encoding is fixed, not read from the document: what was searched for a document
    type declaration is then what is parsed.
    """
    return etree.XMLParser(
        encoding="utf-8",
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        recover=False,
        remove_comments=True,
        remove_pis=True,
    )


def _refuse_wrong_kind(source: str, body: bytes) -> None:
    """Raise SourceChanged for what must not reach the parser."""
    if not body.strip():
        raise SourceChanged(source, "the answer is empty where XML was expected", path="/")
    if body[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\x00" in body[:4]:
        raise SourceChanged(source, "the answer is not UTF-8", path="/")
    prolog = _PROLOG.match(body)
    rest = body[prolog.end() if prolog else 0 :][:200]
    if _HTML.match(rest):
        raise SourceChanged(source, "the answer is an HTML page where XML was expected", path="/")
    if rest[:9].upper() == b"<!DOCTYPE":
        raise SourceChanged(
            source,
            "the answer declares a document type, which is refused unread (it can hold entities)",
            path="/",
        )


def clean_text(text: str) -> str:
    """Return the text on one line: blanks collapsed, control and direction characters removed."""
    return _UNSHOWN.sub("", " ".join(text.split()))


# Control characters (Unicode's Cc), and the bidirectional embeddings, overrides, isolates and
# marks, which can make a text read as something else than it is.
_UNSHOWN = re.compile("[\x00-\x1f\x7f-\x9f\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]")


def text_of(element: Any) -> str:
    """Return all text inside the element, cleaned; "" for None."""
    return "" if element is None else clean_text("".join(element.itertext()))


def find_text(element: Any, path: str, names: dict[str, str]) -> str:
    """Return the cleaned text of the first element at path, "" where there is none."""
    return text_of(element.find(path, names))


def excerpt(element: Any) -> str:
    """Return at most 500 characters of the element as received, for the quarantine."""
    return str(etree.tostring(element, encoding="unicode", with_tail=False))[:500]
