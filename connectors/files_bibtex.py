"""BibTeX and biblatex files, read by bibtexparser; what it sets aside as failed comes unread."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from functools import cache
from typing import Any

from connectors.errors import SourceChanged
from connectors.file_dates import month_number, stated_date
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

KINDS = {
    "article": "article", "periodical": "article", "inproceedings": "conference paper",
    "conference": "conference paper", "proceedings": "book", "book": "book", "mvbook": "book",
    "collection": "book", "booklet": "book", "inbook": "chapter", "incollection": "chapter",
    "phdthesis": "thesis", "mastersthesis": "thesis", "thesis": "thesis", "techreport": "report",
    "report": "report", "manual": "report", "online": "web page", "electronic": "web page",
    "www": "web page", "dataset": "dataset", "software": "software", "patent": "patent",
    "standard": "standard",
}  # fmt: skip
TEXTS = {
    "title": ("title",), "abstract": ("abstract",), "language": ("language", "langid"),
    "venue": ("journal", "journaltitle", "booktitle"), "publisher": ("publisher", "school", "institution"),
    "volume": ("volume",), "pages": ("pages",), "version": ("version",),
}  # fmt: skip
ROLES = {"author": "author", "editor": "editor", "holder": "applicant"}
PLAIN_IDENTIFIERS = {"doi": "doi", "url": "url", "pmid": "pmid", "pmcid": "pmcid"}
_ENTRY = re.compile(r"@\s*(?!comment|string|preamble)\w+\s*[{(]", re.IGNORECASE)
_FILED = re.compile(r"\bfiled (\d{4}(?:-\d{2}){0,2})", re.IGNORECASE)
_AND = re.compile(r"\s+and\s+", re.IGNORECASE)


def read_bibtex(name: str, text: str) -> Iterator[Read | Unread]:
    """Yield each entry, in order; broken entries and repeated keys or fields come unread.

    Raises SourceChanged where a file that is not empty has no entry at all.
    """
    blocks = _blocks(text)
    items = [item for block in blocks for item in _items(block)]
    if text.strip() and not items and not _only_remarks(blocks):
        raise SourceChanged(
            SOURCE_NAME, f"{name} has no entry such as @article{{…}}; it is not BibTeX", path=name
        )
    yield from items


def _blocks(text: str) -> list[Any]:
    from bibtexparser.entrypoint import parse_string

    # What it would log we say ourselves, as an unread item.
    logging.getLogger("bibtexparser.splitter").addFilter(_never)
    return list(parse_string(text.replace("\r\n", "\n").replace("\r", "\n")).blocks)


def _never(_record: logging.LogRecord) -> bool:
    return False


def _only_remarks(blocks: list[Any]) -> bool:
    """Say whether the file has parts of BibTeX that are no entries: strings, comments with an @."""
    return any(type(block).__name__ in ("String", "Preamble", "ExplicitComment") for block in blocks)


def _items(block: Any) -> Iterator[Read | Unread]:
    kind, line, raw = type(block).__name__, (block.start_line or 0) + 1, block.raw or ""
    if kind == "Entry":
        yield _entry(block, line, raw)
    elif hasattr(block, "error"):
        yield Unread(line, _reason(block), raw)
    elif kind == "ImplicitComment":
        for found in _ENTRY.finditer(raw):
            start = line + raw.count("\n", 0, found.start())
            yield Unread(start, "an entry the BibTeX library does not take for one", raw[found.start() :])


def _reason(block: Any) -> str:
    """Return in our words why the library set the block aside."""
    if type(block).__name__ == "DuplicateBlockKeyBlock":
        return f"the key {block.key!r} was used by an entry before; give each entry its own key"
    if type(block).__name__ == "DuplicateFieldKeyBlock":
        fields = ", ".join(sorted(block.duplicate_keys))
        return f"the field {fields} stands twice in the entry; keep one"
    return "a brace or quotation mark is not closed, or the entry is cut off"


def _entry(block: Any, line: int, raw: str) -> Read | Unread:
    rest = {field.key.lower(): str(field.value).strip() for field in block.fields}
    draft = Draft(kind=KINDS.get(block.entry_type.lower(), "other"))
    draft.detail("key", block.key)
    if draft.kind == "other":
        draft.detail("entry type", block.entry_type)
    for name, choices in TEXTS.items():
        taken = next((choice for choice in choices if rest.get(choice)), None)
        if taken:
            draft.texts[name] = plain(rest.pop(taken))
    for name, role in ROLES.items():
        draft.people += _people(rest.pop(name, ""), "inventor" if _invents(draft, role) else role)
    _take_identifiers(draft, rest)
    _take_dates(draft, rest)
    for name, value in rest.items():
        draft.detail(name, plain(value))
    record = draft.record()
    if not record.title and not record.identifiers:
        return Unread(line, "has neither a title nor an identifier", raw)
    return Read(line, record)


def _invents(draft: Draft, role: str) -> bool:
    return role == "author" and draft.kind.startswith(("patent", "utility"))


def _take_identifiers(draft: Draft, rest: dict[str, str]) -> None:
    for name, scheme in PLAIN_IDENTIFIERS.items():
        draft.identify(scheme, literal(rest.pop(name, "")))
    for name in ("isbn", "issn"):
        book_number(draft, name, literal(rest.pop(name, "")))
    eprint_type = (rest.get("eprinttype") or rest.get("archiveprefix") or "").lower()
    if eprint_type == "arxiv":
        draft.identify("arxiv", literal(rest.pop("eprint", "")))
    number = literal(rest.pop("number", ""))
    if draft.kind == "patent":
        office = rest.get("location", "").removeprefix("country").upper()
        draft.identify("publication", publication(number, office))
        draft.kind = patent_kind(number) if number else "patent"
    else:
        draft.texts["issue"] = number or plain(rest.pop("issue", ""))


def _take_dates(draft: Draft, rest: dict[str, str]) -> None:
    """Read date, or year and month; the text kept is the file's own."""
    for name, kind in (("date", "published"), ("urldate", "read"), ("eventdate", "event held")):
        text = plain(rest.pop(name, ""))
        if text:
            draft.date(stated_date(kind, text, name), name, text)
    year, month = plain(rest.pop("year", "")), plain(rest.pop("month", ""))
    if year:
        number = month_number(month)
        stated = stated_date(
            "published", f"{year}-{number:02d}" if number and len(year) == 4 else year, "year"
        )
        if stated and month:
            used = "" if number else f"the month {month!r} could not be read"
            stated = type(stated)(
                "published", f"{month} {year}", stated.days, "year, month", stated.note or used
            )
        draft.date(stated, "year", f"{month} {year}".strip())
    elif month:
        draft.detail("month", month)
    for text in _FILED.findall(rest.get("note", "")) if draft.kind.startswith("patent") else ():
        draft.date(stated_date("filed", text, "note"), "note", text)


def _people(text: str, role: str) -> list[Person]:
    """Return the people of `A and B`; a name wholly in braces is an organisation and stays whole."""
    people = []
    for name in _split_outside_braces(text):
        whole = name.startswith("{") and name.endswith("}")
        if name.lower() == "others":
            continue
        people.append(Person(plain(name), role) if whole else person(plain(name), role))
    return [one for one in people if one.name]


def _split_outside_braces(text: str) -> list[str]:
    names, depth, start = [], 0, 0
    for at, char in enumerate(text):
        depth += (char == "{") - (char == "}")
        found = _AND.match(text, at) if depth == 0 and char.isspace() else None
        if found and at >= start:
            names.append(text[start:at].strip())
            start = found.end()
    return [name for name in (*names, text[start:].strip()) if name]


def plain(value: str) -> str:
    """Return the value as people read it: LaTeX escapes and accents as letters, braces gone."""
    if not any(mark in value for mark in ("\\", "{", "}", "~", "$", "--", "``", "''")):
        return " ".join(value.split())
    from bibtexparser.library import Library
    from bibtexparser.model import Entry, Field

    decoded = _decoder().transform(Library([Entry("misc", "k", [Field("v", value)])]))
    text = str(decoded.entries[0]["v"]) if decoded.entries else value
    return " ".join(text.replace("\u00a0", " ").split())


@cache
def _decoder() -> Any:
    from bibtexparser.middlewares import LatexDecodingMiddleware

    return LatexDecodingMiddleware(allow_inplace_modification=False)


def literal(value: str) -> str:
    """Return an identifier as written, its LaTeX wrapping gone: two hyphens stay two hyphens."""
    bare = re.sub(r"^\\(?:url|href|path|nolinkurl)\s*(?=\{)", "", value.strip())
    return re.sub(r"\\([_%&#$~{}^])", r"\1", re.sub(r"(?<!\\)[{}]", "", bare)).strip()
