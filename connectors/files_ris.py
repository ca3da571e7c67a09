"""RIS files: the library reads each record, and a count of our own holds it to completeness.

rispy gives an empty list, without an error, for a record without its ER line, and skips
what stands between records; so records are cut apart here and handed over one by one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from connectors.errors import SourceChanged
from connectors.file_dates import stated_date
from connectors.file_record import (
    SOURCE_NAME,
    Draft,
    Read,
    Unread,
    book_number,
    patent_kind,
    person,
    publication,
)
from connectors.record import Person

_TAG = re.compile(r"[A-Z][A-Z0-9]  -(?: |$)")
_NARROW_TAG = re.compile(r"(?m)^([A-Z][A-Z0-9]) ?-(?= |$)")
_NUMBERING = re.compile(r"\s*\d*\.?\s*")  # '3.' before a record, or a blank line
_FILED = re.compile(r"\bfiled (\d{4}(?:-\d{2}){0,2})", re.IGNORECASE)
_PRIORITY = re.compile(r"\bpriority (\d{4}(?:-\d{2}){0,2})", re.IGNORECASE)

KINDS = {
    "JOUR": "article", "EJOUR": "article", "MGZN": "article", "NEWS": "article", "INPR": "article",
    "CONF": "conference paper", "CPAPER": "conference paper", "BOOK": "book", "EBOOK": "book",
    "EDBOOK": "book", "CHAP": "chapter", "ECHAP": "chapter", "THES": "thesis", "RPRT": "report",
    "GOVDOC": "report", "ELEC": "web page", "WEB": "web page", "BLOG": "web page", "ICOMM": "web page",
    "STAND": "standard", "COMP": "software", "DATA": "dataset", "AGGR": "dataset", "FIGURE": "picture",
    "ART": "picture", "PAT": "patent",
}  # fmt: skip
TEXTS = {
    "title": ("TI", "T1", "CT", "BT"), "abstract": ("AB", "N2"), "venue": ("JF", "JO", "T2", "JA", "J2"),
    "publisher": ("PB",), "volume": ("VL",), "issue": ("IS",), "language": ("LA",),
}  # fmt: skip
DATES = (("DA", "published"), ("PY", "published"), ("Y1", "published"), ("Y2", "read"))
PATENT_ONLY_ELSEWHERE = ("volume", "issue")  # VL and IS mean kind and application number in PAT


@dataclass
class _Block:
    """The lines of one record. begun, ended: by TY, by ER. before: stray text ahead of it."""

    line: int
    lines: list[str] = field(default_factory=list)
    begun: bool = True
    ended: bool = False
    before: str = ""


def read_ris(name: str, text: str) -> Iterator[Read | Unread]:
    """Yield each record of a RIS file, in order; those without TY or ER line come unread.

    Raises SourceChanged where the file has no TY line at all.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not re.search(r"(?m)^TY  -", text):
        text = _NARROW_TAG.sub(r"\1  -", text)  # some writers put one space, or none
    if text.strip() and not re.search(r"(?m)^TY  -", text):
        raise SourceChanged(
            SOURCE_NAME, f"{name} has no line that begins with 'TY  - '; it is not RIS", path=name
        )
    for block in _blocks(text):
        yield _read(block)


def _blocks(text: str) -> Iterator[_Block]:
    block: _Block | None = None
    stray: list[str] = []
    for number, line in enumerate(text.split("\n"), start=1):
        tag = line[:2] if _TAG.match(line) else ""
        if block is not None and tag == "TY":
            yield block
            block = None
        if block is None:
            if not tag:
                stray += [] if _NUMBERING.fullmatch(line) else [line.strip()]
                continue
            block = _Block(number, begun=tag == "TY", before=" ".join(stray))
            stray = []
        block.lines.append(line)
        if tag == "ER":
            block.ended = True
            yield block
            block = None
    if block is not None:
        yield block
    if stray:
        yield _Block(number, stray, begun=False)


def _read(block: _Block) -> Read | Unread:
    excerpt = "\n".join(block.lines)
    if not block.begun:
        return Unread(block.line, "stands outside any record: no TY line opens it", excerpt)
    if not block.ended:
        return Unread(
            block.line, "has no closing line 'ER  - '; it may be cut off. Add the line to read it", excerpt
        )
    tags = _tags(excerpt)
    if tags is None:
        return Unread(block.line, "could not be read as one RIS record", excerpt)
    draft = _draft(tags)
    draft.detail("text before the record", block.before)
    record = draft.record()
    if not record.title and not record.identifiers:
        return Unread(block.line, "has neither a title nor an identifier", excerpt)
    return Read(block.line, record)


def _tags(text: str) -> dict[str, list[str]] | None:
    """Return every tag with all its values, as the library reads them, unknown tags included."""
    import rispy
    from rispy.config import TAG_KEY_MAPPING

    same = {tag: tag for tag in TAG_KEY_MAPPING}
    found: list[dict[str, Any]] = rispy.loads(
        text, mapping=same, list_tags=list(same), delimiter_tags_mapping={}
    )
    if len(found) != 1:
        return None
    unknown = found[0].pop("UK", {})
    tags = {tag: [values] if isinstance(values, str) else list(values) for tag, values in found[0].items()}
    for tag, values in unknown.items():
        tags.setdefault(tag or "text without a tag", []).extend(values)
    return {tag: [v for v in values if v.strip()] for tag, values in tags.items()}


def _draft(tags: dict[str, list[str]]) -> Draft:
    """Move what has a place in a record there; every other tag becomes a detail."""
    rest = {tag: list(values) for tag, values in tags.items()}
    word = " ".join(rest.pop("TY", [])).strip().upper()
    draft = Draft(kind=KINDS.get(word, "other"))
    if word not in KINDS:
        draft.detail("TY", word)
    patent = draft.kind == "patent"
    for name, choices in TEXTS.items():
        if not (patent and name in PATENT_ONLY_ELSEWHERE):
            _take_text(draft, name, choices, rest)
    _take_pages(draft, rest)
    (_take_patent if patent else _take_article)(draft, rest)
    role = "inventor" if patent else "author"
    draft.people[0:0] = [person(name, role) for tag in ("AU", "A1") for name in rest.pop(tag, [])]
    for tag, scheme in (("DO", "doi"), ("UR", "url")):
        for text in rest.pop(tag, []):
            draft.identify(scheme, text)
    for tag, kind in DATES:
        for text in rest.pop(tag, []):
            draft.date(stated_date(kind, text, tag), tag, text)
    draft.details += [(tag, text) for tag, values in rest.items() for text in values]
    return draft


def _take_text(draft: Draft, name: str, choices: tuple[str, ...], rest: dict[str, list[str]]) -> None:
    """Give the draft the first tag that is there; lines that go on are joined."""
    for tag in choices:
        if rest.get(tag):
            draft.texts[name] = " ".join(rest.pop(tag))
            return


def _take_pages(draft: Draft, rest: dict[str, list[str]]) -> None:
    first, last = " ".join(rest.pop("SP", [])), " ".join(rest.pop("EP", []))
    draft.texts["pages"] = f"{first}-{last}" if first and last else first or last


def _take_article(draft: Draft, rest: dict[str, list[str]]) -> None:
    draft.people += [person(name, "editor") for tag in ("A2", "ED") for name in rest.pop(tag, [])]
    for text in rest.pop("SN", []):
        book_number(draft, "SN", text)


def _take_patent(draft: Draft, rest: dict[str, list[str]]) -> None:
    """Read the tags that mean something else in a patent: SN number, IS application, PB applicant."""
    office = " ".join(rest.pop("A2", []))
    draft.detail("office", office)
    code = " ".join(rest.pop("VL", []))
    for text in rest.pop("SN", []):
        draft.identify("publication", publication(text, office, code))
    draft.texts["version"] = code
    for text in rest.pop("IS", []):
        draft.identify("application", publication(text, office))
    applicant = draft.texts.get("publisher", "")
    draft.people += [Person(applicant, "applicant")] if applicant else []
    draft.kind = next((patent_kind(i.text) for i in draft.identifiers if i.scheme == "publication"), "patent")
    for note in rest.get("N1", []):
        for kind, pattern in (("filed", _FILED), ("priority", _PRIORITY)):
            for text in pattern.findall(note):
                draft.date(stated_date(kind, text, "N1"), "N1", text)
