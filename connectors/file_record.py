"""From what a handed-in file states to a record, whatever the file's format."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from typing import Any

from connectors.record import Person, Record, StatedDate, StatedIdentifier

SOURCE_NAME = "files"
_DOI = re.compile(r"10\.\d{4,9}/\S+")
_PUBLICATION = re.compile(r"[A-Z]{2}[\s\d/,.\-]*\d[\s\d/,.\-]*(?:[A-Z]\d?)?", re.IGNORECASE)
_KIND_CODE = re.compile(r"[A-Z]\d?")
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")


@dataclass(frozen=True)
class Read:
    """An item that was read. line: where it begins in the file, from 1; 0 where lines mean nothing.

    record.native_id is not set yet.
    """

    line: int
    record: Record


@dataclass(frozen=True)
class Unread:
    """An item that could not be read, and why. excerpt: its beginning."""

    line: int
    reason: str
    excerpt: str


@dataclass
class Draft:
    """A record being put together by a format's reader."""

    kind: str = "other"
    texts: dict[str, Any] = field(default_factory=dict)  # title, abstract, venue, … as Record names them
    people: list[Person] = field(default_factory=list)
    identifiers: list[StatedIdentifier] = field(default_factory=list)
    dates: list[StatedDate] = field(default_factory=list)
    details: list[tuple[str, str]] = field(default_factory=list)

    def identify(self, scheme: str, text: str) -> None:
        """Add an identifier, once; "" adds none."""
        stated = StatedIdentifier(scheme, text.strip())
        if stated.text and stated not in self.identifiers:
            self.identifiers.append(stated)

    def date(self, stated: StatedDate | None, field_name: str, text: str) -> None:
        """Add a dated event; where its text is no date, keep the text as a detail."""
        if stated is not None:
            self.dates.append(stated)
        else:
            self.detail(f"{field_name} (not a date)", text)

    def detail(self, name: str, text: str) -> None:
        """Keep a fact that has no place of its own; "" keeps none."""
        if text.strip():
            self.details.append((name, text.strip()))

    def record(self) -> Record:
        """Return the record, without characters that no store can hold."""
        published, told_twice = _narrowest(self.dates)
        url = next((i.text for i in self.identifiers if i.scheme == "url"), "")
        made = Record(
            source=SOURCE_NAME,
            native_id="",
            kind=self.kind,
            people=tuple(self.people),
            identifiers=tuple(self.identifiers),
            dates=tuple(published),
            details=(*self.details, *told_twice),
            url=url,
            **{**self.texts, "title": " ".join(self.texts.get("title", "").split())},
        )
        return _storable(made)


def publication(number: str, office: str = "", kind_code: str = "") -> str:
    """Return a patent publication number as text with office and kind, where they are stated.

    office, kind_code: added where the number as written lacks them.
    """
    text = number.strip()
    if not text:
        return ""
    if not text[:2].isalpha() and len(office) == 2:
        text = f"{office} {text}"
    if kind_code and _KIND_CODE.fullmatch(kind_code) and not re.search(r"[A-Z]\d?$", text):
        text = f"{text} {kind_code}"
    return text


def looks_like_publication(text: str) -> bool:
    """Say whether the text has the form of a patent publication number: office, number, kind."""
    return bool(_PUBLICATION.fullmatch(text.strip())) and sum(char.isdigit() for char in text) >= 5


def patent_kind(number: str) -> str:
    """Return the kind of document that a publication number's kind code tells (WIPO ST.16)."""
    code = re.search(r"([A-Z])(\d?)$", number.strip())
    if code and code[1] == "U":
        return "utility model"
    return "patent application" if code and code[1] == "A" and code[2] else "patent"


def person(name: str, role: str = "author") -> Person:
    """Return the person of `Family, Given`; a name without a comma stays whole."""
    family, comma, given = (part.strip() for part in name.partition(","))
    if comma and family and given:
        return Person(f"{given} {family}", role, family, given)
    return Person(name.strip().strip(",").strip(), role)


def book_number(draft: Draft, field_name: str, text: str) -> None:
    """Add an ISSN (8 signs) or ISBN (10 or 13) to the draft; anything else as a detail."""
    signs = re.sub(r"[\s\-]", "", text)
    if re.fullmatch(r"\d{7}[\dXx]", signs):
        draft.identify("issn", text)
    elif re.fullmatch(r"\d{9}[\dXx]|\d{13}", signs):
        draft.identify("isbn", text)
    else:
        draft.detail(field_name, text)


def with_native_ids(records: Iterable[Record]) -> list[Record]:
    """Return the records, each with a native id that the same document has in any file.

    The DOI, else the publication number, else a hash of title, earliest year and authors. One
    met again in the same file gets #2, #3: both are kept.
    """
    met: dict[str, int] = {}
    named = []
    for record in records:
        identity = _identity(record)
        met[identity] = met.get(identity, 0) + 1
        suffix = f"#{met[identity]}" if met[identity] > 1 else ""
        named.append(replace(record, native_id=identity + suffix))
    return named


def _identity(record: Record) -> str:
    for stated in record.identifiers:
        doi = _DOI.search(stated.text) if stated.scheme == "doi" else None
        if doi:
            return f"doi:{doi[0].lower()}"
    for stated in record.identifiers:
        number = re.sub(r"[\W_]", "", stated.text).upper()
        if stated.scheme == "publication" and number:
            return f"publication:{number}"
    names = "|".join(_plain(p.family or p.name) for p in record.people)
    years = {str(date.days.first.year) for date in record.dates if date.kind != "read" and date.days.first}
    numbers = "|".join(sorted(f"{i.scheme}:{i.text}" for i in record.identifiers)) if not record.title else ""
    told = "\n".join((_plain(record.title), min(years, default=""), names, numbers))
    return "sha256:" + hashlib.sha256(told.encode()).hexdigest()[:24]


def _plain(text: str) -> str:
    """Return the text's letters and digits alone, case aside, so that punctuation changes nothing."""
    return "".join(c for c in unicodedata.normalize("NFKC", text).casefold() if c.isalnum())


def _narrowest(dates: list[StatedDate]) -> tuple[list[StatedDate], list[tuple[str, str]]]:
    """Return the dates without those that say less of the same event, and those as details.

    A file that gives a year and, in another field, the day in it states one event.
    """
    kept: list[StatedDate] = []
    less: list[StatedDate] = []
    for place, date in enumerate(dates):
        others = [other for at, other in enumerate(dates) if at != place and other.kind == date.kind]
        says_less = any(_inside(o, date) and (o.days != date.days or dates.index(o) < place) for o in others)
        (less if says_less else kept).append(date)
    return kept, [(f"{date.field} (says less)", date.text) for date in less]


def _inside(narrow: StatedDate, wide: StatedDate) -> bool:
    n, w = narrow.days, wide.days
    if n.first is None or n.last is None:
        return False
    return (w.first is None or w.first <= n.first) and (w.last is None or n.last <= w.last)


def _storable(record: Record) -> Record:
    """Replace NUL and halves of surrogate pairs, which no UTF-8 text can hold, by U+FFFD."""
    changed = {f.name: _mended(getattr(record, f.name)) for f in fields(record)}
    return Record(**changed)


def _mended(value: Any) -> Any:
    if isinstance(value, str):
        return _UNSTORABLE.sub("\ufffd", value)
    if isinstance(value, tuple):
        return tuple(_mended(part) for part in value)
    if isinstance(value, Person | StatedIdentifier):
        return type(value)(*(_mended(getattr(value, f.name)) for f in fields(value)))
    if isinstance(value, StatedDate):
        return replace(value, text=_mended(value.text), note=_mended(value.note))
    return value
