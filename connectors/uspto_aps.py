"""Grants of 1976 to 2001 as the office's tagged text ("green book") → their facts.

Lines are a tag of up to four letters and a value; blanks at the start continue the value.
A tag alone opens a section (PATN, INVT, CLAS, UREF, ABST, CLMS …). Facts: uspto_bulk.md and
the sample beside it; related applications (RLAP) stay as printed, since their codes are not known here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import pairwise

from connectors.uspto_facts import Cited, Claim, Number, Party, UsDocument
from connectors.uspto_numbers import packed_ipc, unpacked
from connectors.uspto_split import MOST_BYTES, Piece
from connectors.xml import clean_text

_START = re.compile(rb"(?:\A|\n)PATN[ \t]*\r?\n")
_LINE = re.compile(r"([A-Z][A-Z0-9]{2,3})(?:\s+(.*))?")
_SECTIONS = frozenset(
    {"PATN", "INVT", "ASSG", "PRIR", "REIS", "RLAP", "CLAS", "UREF", "FREF", "OREF", "LREP", "PCTA"}
    | {"ABST", "GOVT", "PARN", "BSUM", "DRWD", "DETD", "CLMS", "DCLM"}
)
_PACKED = frozenset({"ICL", "OCL", "XCL"})  # blanks are places in them
_DESCRIPTION = ("GOVT", "PARN", "BSUM", "DRWD", "DETD")
_TEXT_TAGS = re.compile(r"PA[RLC0-9]|STM|TBL|EQU|FNT")
# Paper of before 2001 bears no kind; data sets give these (uspto_bulk.md, public-date traps).
_KINDS = {"D": "S", "PP": "P", "RE": "E", "H": "H"}
_RIGHTS = {"1": "utility", "2": "reissue", "4": "design", "6": "plant", "7": "sir"}

Section = tuple[str, list[tuple[str, str]]]


def looks_tagged(start: bytes) -> bool:
    """Say whether a stream that begins so is tagged text."""
    return _START.search(start) is not None and not start.lstrip().startswith(b"<")


def tagged_pieces(read: Callable[[int], bytes]) -> Iterator[Piece]:
    """Yield each document of the stream; what stands before the first (a file header) is left out."""
    buffer, offset = bytearray(), 0
    while chunk := read(1 << 20):
        buffer += chunk
        starts = [found.start() for found in _START.finditer(buffer)]
        for start, end in pairwise(starts):
            yield Piece(offset + start, end - start, bytes(buffer[start:end]))
        if starts:
            offset += starts[-1]
            del buffer[: starts[-1]]
        if len(buffer) > MOST_BYTES:
            yield Piece(
                offset, len(buffer), b"", f"the document is too long to be read ({len(buffer):,} bytes)"
            )
            offset += len(buffer)
            buffer.clear()
    if _START.match(buffer):
        yield Piece(offset, len(buffer), bytes(buffer))


def read_tagged(body: bytes) -> tuple[UsDocument, list[tuple[str, str]]] | str:
    """Return what the document states and its paragraphs, or why it is none."""
    try:
        text = body.decode("ascii")
    except UnicodeDecodeError:
        text = body.decode("latin-1")
    sections = _sections(text)
    head = dict(reversed(next((rows for name, rows in sections if name == "PATN"), [])))
    number = head.get("WKU", "").replace(" ", "")
    if not re.fullmatch(r"(?:[A-Z]{1,2})?\d{6,9}", number) or len(number) != 9:
        return f"it has no whole publication number: {number[:40]!r}"
    claims = tuple(_claims(sections))
    return UsDocument(
        publication=Number(
            "US", number[:-1], _kind(number), head.get("ISD", "")
        ),  # the last is a check digit
        application=_application(head),
        form="grant, tagged text of 1976 to 2001",
        right=_RIGHTS.get(head.get("APT", ""), ""),
        language="en",
        title=head.get("TTL", ""),
        abstract=" ".join(text for _, text in _texts(sections, ("ABST",))),
        claims=claims,
        claims_stated=head.get("NCL", ""),
        parties=tuple(_parties(sections)),
        priorities=tuple(_numbers(sections, "PRIR", "APN", "APD")),
        codes=tuple(_codes(sections)),
        classes=tuple(_classes(sections)),
        cites=tuple(_cites(sections)),
        notes=tuple(_notes(sections)),
    ), _texts(sections, _DESCRIPTION)


def _sections(text: str) -> list[Section]:
    found: list[Section] = []
    for line in text.splitlines():
        tagged = _LINE.fullmatch(line.rstrip())
        if tagged and tagged[1] in _SECTIONS and not tagged[2]:
            found.append((tagged[1], []))
        elif tagged and found and not line[0].isspace():
            value = line[5:].rstrip() if tagged[1] in _PACKED else clean_text(tagged[2] or "")
            found[-1][1].append((tagged[1], value))
        elif found and found[-1][1] and line.strip():
            tag, value = found[-1][1][-1]
            found[-1][1][-1] = (tag, clean_text(f"{value} {line}"))
    return found


def _kind(number: str) -> str:
    prefix = re.match(r"[A-Z]*", number)
    return _KINDS.get(prefix[0] if prefix else "", "A")


def _application(head: dict[str, str]) -> Number:
    """Return series and serial number; the seventh digit of APN checks the other six."""
    series, serial = head.get("SRC", ""), head.get("APN", "")
    if not (series.isdigit() and re.fullmatch(r"\d{7}", serial)):
        return Number("US", serial, "", head.get("APD", "")) if serial else Number()
    return Number("US", f"{int(series):02d}{serial[:6]}", "", head.get("APD", ""))


def _rows(sections: list[Section], name: str) -> Iterator[dict[str, str]]:
    for section, rows in sections:
        if section == name:
            yield dict(reversed(rows))


def _texts(sections: list[Section], names: tuple[str, ...]) -> list[tuple[str, str]]:
    return [
        ("", text)
        for section, rows in sections
        if section in names
        for tag, text in rows
        if _TEXT_TAGS.fullmatch(tag) and text
    ]


def _claims(sections: list[Section]) -> Iterator[Claim]:
    number = ""
    parts: list[str] = []
    for tag, text in [row for section, rows in sections if section in ("CLMS", "DCLM") for row in rows]:
        if tag == "NUM":
            if parts:
                yield Claim(number or "1", " ".join(parts))
            number, parts = text.rstrip("."), []
        elif _TEXT_TAGS.fullmatch(tag) and tag != "STM":
            parts.append(text)
    if parts:
        yield Claim(number or "1", " ".join(parts))


def _parties(sections: list[Section]) -> Iterator[Party]:
    for section, role in (("INVT", "inventor"), ("ASSG", "assignee")):
        for row in _rows(sections, section):
            family, _, given = (part.strip() for part in row.get("NAM", "").partition(";"))
            if family:
                yield Party(role, f"{given} {family}".strip(), family if given else "", given)


def _country(text: str) -> str:
    """Return the office of `DEX`; the files put an X behind two-letter codes."""
    return text[:2] if re.fullmatch(r"[A-Z]{2}X?", text) else ""


def _numbers(sections: list[Section], name: str, number: str, day: str) -> Iterator[Number]:
    for row in _rows(sections, name):
        if row.get(number):
            yield Number(_country(row.get("CNT", "")), row[number], "", row.get(day, ""))


def _codes(sections: list[Section]) -> Iterator[tuple[str, str]]:
    for section, rows in sections:
        for tag, text in rows:
            if section == "CLAS" and tag == "ICL" and (symbol := packed_ipc(text)):
                yield "IPC", symbol


def _classes(sections: list[Section]) -> Iterator[tuple[str, str]]:
    for section, rows in sections:
        for tag, text in rows:
            if section == "CLAS" and tag in ("OCL", "XCL") and text:
                yield "US class", unpacked(text)


def _cites(sections: list[Section]) -> Iterator[Cited]:
    for row in _rows(sections, "UREF"):
        if row.get("PNO"):
            yield Cited(Number("US", row["PNO"], "", row.get("ISD", ""), row.get("NAM", "")))
    for number in _numbers(sections, "FREF", "PNO", "ISD"):
        yield Cited(number) if number.country else Cited(text=f"foreign document {number.number}")
    for _, text in _texts(sections, ("OREF",)):
        yield Cited(text=text)


def _notes(sections: list[Section]) -> Iterator[tuple[str, str]]:
    yield "kind code", "as data sets give it; paper of before 2001 bears none"
    for section, rows in sections:
        if section in ("RLAP", "REIS", "PCTA"):
            name = {"RLAP": "related application", "REIS": "reissue of", "PCTA": "international application"}[
                section
            ]
            yield f"{name} (as printed, codes not read)", "; ".join(f"{tag} {text}" for tag, text in rows)
