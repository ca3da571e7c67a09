"""One document of the office's bulk files → its tree, and the text in it as people read it.

The office's document types lie beside no file and are never loaded: the declaration is taken
out unread, and of the entities only those that name a character are known. None is expanded.
"""

from __future__ import annotations

import re
from html.entities import html5
from typing import Any

from connectors.errors import SourceChanged
from connectors.xml import clean_text, parse_xml

_DECLARATION = re.compile(r"\s*<\?xml\s[^>]*?\?>", re.ASCII)
_ENCODING = re.compile(rb"""<\?xml\s[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
# Possessive, so that a hostile declaration costs one pass.
_DOCTYPE = re.compile(
    r"""<!DOCTYPE(?:[^\[>"']|"[^"]*"|'[^']*')*+(?:\[(?:[^\]"']|"[^"]*"|'[^']*')*+\]\s*+)?>"""
)
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
_ENTITY = re.compile(r"&([A-Za-z][A-Za-z0-9._-]{0,40});")
_XML_OWN = frozenset({"amp", "lt", "gt", "quot", "apos"})
# ISO 8879 "Greek Letters", which the files of 2001 to 2004 use and HTML does not know.
_GREEK = dict(
    zip(
        [
            "a",
            "b",
            "g",
            "d",
            "e",
            "z",
            "ee",
            "th",
            "i",
            "k",
            "l",
            "m",
            "n",
            "x",
            "o",
            "p",
            "r",
            "s",
            "sf",
            "t",
            "u",
            "ph",
            "kh",
            "ps",
            "oh",
        ],
        "αβγδεζηθικλμνξοπρσςτυφχψω",
        strict=True,
    )
)
_ENCODINGS = {
    "utf-8": "utf-8", "utf8": "utf-8", "us-ascii": "utf-8", "ascii": "utf-8",
    "iso-8859-1": "latin-1", "latin-1": "latin-1", "windows-1252": "cp1252",
}  # fmt: skip

_RAISED = str.maketrans("0123456789+-−=()n", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁻⁼⁽⁾ⁿ")
_RAISED_SIGNS = frozenset("0123456789+-−=()n")
_SUPER = frozenset({"sup", "SP", "superscript"})
# Elements that part words; every other tag is taken out as if it were not there.
_BLOCK = frozenset(
    {"p", "heading", "claim-text", "li", "ul", "ol", "dl", "dt", "dd", "row", "entry", "table", "tables",
     "maths", "chemistry", "br", "img", "tbody", "thead", "tgroup", "title", "mtr", "mtd"}
    | {"PARA", "CLMSTEP", "H", "BTEXT", "CLM", "F", "CHEM-US", "MATH-US", "TABLE-US", "ROW", "ENTRY"}
    | {"paragraph", "section", "list-item"}
)  # fmt: skip


def read_root(source: str, body: bytes) -> Any:
    """Return the root of a document, its declarations left out, named characters resolved.

    A name that is no known character stays as it is written (&name;). Raises SourceChanged
    for an encoding other than stated, a document type that does not end, and torn XML.
    """
    text = _decoded(source, body)
    text = text[1:] if text.startswith("\ufeff") else text
    declared = _DECLARATION.match(text)
    text = text[declared.end() :] if declared else text
    start = _past_comments(text)
    if text.startswith("<!DOCTYPE", start):
        kind = _DOCTYPE.match(text, start)
        if kind is None:
            raise SourceChanged(source, "its document type declaration does not end", path="/")
        text = text[kind.end() :]
    return parse_xml(source, _ENTITY.sub(_character, text).encode())


def _past_comments(text: str) -> int:
    at = 0
    while True:
        while at < len(text) and text[at].isspace():
            at += 1
        comment = _COMMENT.match(text, at)
        if comment is None:
            return at
        at = comment.end()


def _decoded(source: str, body: bytes) -> str:
    declared = _ENCODING.search(body, 0, 200)
    named = declared[1].decode().lower() if declared else "utf-8"
    if named not in _ENCODINGS:
        raise SourceChanged(source, f"it is written in {named}, which is not read; expected UTF-8", path="/")
    try:
        return body.decode(_ENCODINGS[named])
    except UnicodeDecodeError as problem:
        at = problem.start
    raise SourceChanged(source, f"its encoding is not {named.upper()} as stated (byte {at})", path="/")


def _character(found: re.Match[str]) -> str:
    name = found[1]
    if name in _XML_OWN:
        return found[0]
    known = html5.get(f"{name};") or _greek(name)
    if known is None:
        return f"&amp;{name};"
    return known.replace("&", "&amp;").replace("<", "&lt;")


def _greek(name: str) -> str | None:
    """Return the letter of &agr; or &Agr; (&THgr; for the capital of &thgr;)."""
    if not name.endswith("gr"):
        return None
    letter = _GREEK.get(name[:-2].lower())
    return letter.upper() if letter and name[0].isupper() else letter


def readable(element: Any) -> str:
    """Return all text of the element on one line; "" for None.

    H<sub>2</sub>O is H2O, 10<sup>-6</sup> is 10⁻⁶; raised letters stand behind a circumflex.
    """
    if element is None:
        return ""
    if not len(element) and element.tag not in _SUPER:
        return clean_text(element.text or "")
    out: list[str] = []
    _collect(element, out)
    return clean_text("".join(out))


def _collect(element: Any, out: list[str]) -> None:
    name = element.tag
    if name in _SUPER:
        out.append(_raised("".join(element.itertext())))
        return
    parts = name in _BLOCK
    if parts:
        out.append(" ")
    if element.text:
        out.append(element.text)
    for child in element:
        _collect(child, out)
        if child.tail:
            out.append(child.tail)
    if parts:
        out.append(" ")


def _raised(text: str) -> str:
    bare = text.strip()
    if not bare:
        return text
    if _RAISED_SIGNS.issuperset(bare):
        return bare.translate(_RAISED) + (" " if text[-1].isspace() else "")
    return f"^{bare} " if text[-1].isspace() else f"^{bare}"
