"""RIS: tagged lines that reference lists are commonly exchanged in.

No body keeps the format; readers differ, so the commonest tags are written. A patent's
filing days have no tag and stand in a note.
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.cited_reference import CitedReference, Name, days_text
from pipeline.plain_text import safe

_TYPES = {
    "article": "JOUR", "preprint": "UNPB", "conference paper": "CPAPER", "chapter": "CHAP", "book": "BOOK",
    "thesis": "THES", "report": "RPRT", "standard": "STAND", "dataset": "DATA", "software": "COMP",
    "web page": "ELEC", "picture": "FIGURE",
}  # fmt: skip
Line = tuple[str, str]


def write_ris(references: tuple[CitedReference, ...]) -> bytes:
    """Return UTF-8 text, lines ended by CR LF; a date keeps the parts that are known, no more."""
    lines: list[str] = []
    for one in references:
        values = (_patent if one.is_patent else _publication)(one)
        for tag, value in values:
            # A line break in a value would begin a line of its own, even a record.
            if cleaned := safe(value):
                lines.append(f"{tag}  - {cleaned}")
        lines += ["ER  - ", ""]
    return "".join(line + "\r\n" for line in lines).encode("utf-8")


def _patent(one: CitedReference) -> Iterator[Line]:
    yield "TY", "PAT"
    yield from (("AU", _name(name)) for name in one.inventors)
    yield "TI", one.title
    yield "PB", "; ".join(name.text for name in one.applicants)
    yield "A2", one.office
    yield from _dates(one)
    yield "SN", one.number
    yield "VL", "" if one.number.endswith(one.kind_code) else one.kind_code
    yield "IS", one.application
    yield "M3", one.kind.capitalize()
    yield from _ending(one)


def _publication(one: CitedReference) -> Iterator[Line]:
    yield "TY", _TYPES.get(one.kind, "GEN")
    yield from (("AU", _name(name)) for name in one.authors)
    yield "TI", one.title
    yield "T2", one.container
    yield from (("A2", _name(name)) for name in one.editors)
    yield "PB", one.publisher
    yield from _dates(one)
    yield "VL", one.volume
    yield "IS", one.issue
    yield from _pages(one.pages)
    yield from (("SN", number) for number in (*one.issns, *one.isbns))
    yield "DO", one.doi
    yield "AN", f"arXiv:{one.arxiv}" if one.arxiv else ""
    yield from _ending(one)


def _ending(one: CitedReference) -> Iterator[Line]:
    yield "LA", one.language
    yield "UR", one.url
    if one.read and one.read.exact and one.read.first:
        yield "Y2", f"{one.read.first:%Y/%m/%d}"
    yield "N1", _note(one)


def _dates(one: CitedReference) -> Iterator[Line]:
    """Yield PY where the year is sure, and DA as far as known: 2021/03//."""
    days = one.published
    if days is None or days.first is None or days.last is None or days.first.year != days.last.year:
        return
    yield "PY", f"{days.first.year:04d}"
    if days.exact:
        yield "DA", f"{days.first.year:04d}/{days.first:%m/%d}"
    elif days.first.month == days.last.month:
        yield "DA", f"{days.first.year:04d}/{days.first:%m}//"
    else:
        yield "DA", f"{days.first.year:04d}///"


def _note(one: CitedReference) -> str:
    said = [
        f"{word} {days_text(days)}"
        for word, days in (("Filed", one.filed), ("priority", one.priority))
        if days
    ]
    if one.published and len(days_text(one.published)) > len("2021-03-04"):
        said.append(f"made public {days_text(one.published)}")
    if one.others:
        said.append(f"other versions: {', '.join(one.others)}")
    return "; ".join(said)


def _pages(pages: str) -> Iterator[Line]:
    """Yield first and last page where both are plain; else the whole as the first."""
    first, dash, last = pages.replace("–", "-").partition("-")
    if dash and first.strip().isalnum() and last.strip().isalnum():
        yield "SP", first.strip()
        yield "EP", last.strip()
    else:
        yield "SP", pages


def _name(name: Name) -> str:
    """Return 'Family, Given'. Readers split any name at its comma, so a whole one goes without."""
    if name.family and name.given:
        return f"{name.family}, {name.given}"
    return " ".join(name.text.replace(",", " ").split())
