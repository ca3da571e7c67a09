"""CSL-JSON 1.0.2 files: an array of items."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from typing import Any

from connectors.days import Days, days_of_parts
from connectors.errors import SourceChanged
from connectors.file_dates import UNKNOWN, stated_date
from connectors.file_record import (
    SOURCE_NAME,
    Draft,
    Read,
    Unread,
    book_number,
    patent_kind,
    publication,
)
from connectors.record import Person, StatedDate

KINDS = {
    "article-journal": "article", "article-magazine": "article", "article-newspaper": "article",
    "review": "article", "review-book": "article", "article": "preprint",
    "paper-conference": "conference paper",
    "speech": "conference paper", "book": "book", "chapter": "chapter", "entry-encyclopedia": "chapter",
    "entry-dictionary": "chapter", "thesis": "thesis", "report": "report", "standard": "standard",
    "dataset": "dataset", "software": "software", "webpage": "web page", "post": "web page",
    "post-weblog": "web page", "figure": "picture", "graphic": "picture", "patent": "patent",
}  # fmt: skip
TEXTS = {
    "title": "title", "abstract": "abstract", "container-title": "venue", "publisher": "publisher",
    "volume": "volume", "issue": "issue", "page": "pages", "version": "version", "language": "language",
}  # fmt: skip
ROLES = {"author": "author", "editor": "editor", "inventor": "inventor"}
IDENTIFIERS = {"DOI": "doi", "URL": "url", "PMID": "pmid", "PMCID": "pmcid"}
# What the specification lets a title hold.
_MARKUP = re.compile(r"</?(?:i|b|sub|sup|span)(?:\s[^<>]*)?>")


def read_csl(name: str, text: str) -> Iterator[Read | Unread]:
    """Yield each item, in order; those that are no objects, or empty, come unread.

    A single item without the array around it is read too. Raises SourceChanged, with the
    line, where the file is not JSON or not a list of items.
    """
    problem = ""
    try:
        items = json.loads(text)
    except json.JSONDecodeError as wrong:
        problem = f"{name} is not whole JSON: {wrong.msg}, line {wrong.lineno}"
    except (RecursionError, ValueError):
        problem = f"{name} is nested too deeply, or holds a number too long, to be CSL-JSON"
    if problem:
        raise SourceChanged(SOURCE_NAME, problem, path=name)
    items = [items] if isinstance(items, dict) and "type" in items else items
    if not isinstance(items, list):
        raise SourceChanged(
            SOURCE_NAME, f"{name} is JSON, but not a list of references (CSL-JSON)", path=name
        )
    for item in items:
        yield _read(item)


def _read(item: Any) -> Read | Unread:
    excerpt = json.dumps(item, ensure_ascii=False)[:500]
    if not isinstance(item, dict):
        return Unread(0, "is not an object with type and title", excerpt)
    record = _draft(item).record()
    if not record.title and not record.identifiers:
        return Unread(0, "has neither a title nor an identifier", excerpt)
    return Read(0, record)


def _draft(item: dict[str, Any]) -> Draft:
    rest = dict(item)
    word = _text(rest.pop("type", ""))
    draft = Draft(kind=KINDS.get(word, "other"))
    if word not in KINDS:
        draft.detail("type", word)
    for name, place in TEXTS.items():
        if name in rest and not isinstance(rest[name], dict | list):
            draft.texts[place] = html.unescape(_MARKUP.sub("", _text(rest.pop(name))))
    for name, role in ROLES.items():
        draft.people += _people(draft, name, rest.pop(name, []), role)
    for name, scheme in IDENTIFIERS.items():
        draft.identify(scheme, _text(rest.pop(name, "")))
    for name in ("ISBN", "ISSN"):
        book_number(draft, name, _text(rest.pop(name, "")))
    _take_number(draft, rest)
    for name, kind in _date_kinds(draft):
        if name in rest:
            _take_date(draft, name, kind, rest.pop(name))
    for name, value in rest.items():
        draft.detail(name, _text(value))
    return draft


def _take_number(draft: Draft, rest: dict[str, Any]) -> None:
    """Read number as a patent's publication number, and what custom says of its application."""
    number = _text(rest.pop("number", ""))
    if draft.kind != "patent":
        draft.detail("number", number)
        return
    office = _text(rest.get("jurisdiction", ""))
    draft.identify("publication", publication(number, office))
    draft.kind = patent_kind(number) if number else "patent"
    draft.people = [
        Person(p.name, "inventor", p.family, p.given) if p.role == "author" else p for p in draft.people
    ]
    if draft.texts.get("publisher"):
        draft.people.append(Person(draft.texts["publisher"], "applicant"))
    custom = rest.get("custom")
    if isinstance(custom, dict):
        draft.identify("application", publication(_text(custom.get("application-number", "")), office))


def _date_kinds(draft: Draft) -> tuple[tuple[str, str], ...]:
    """Return what each date field states; original-date is a patent's priority by our own use."""
    patent = bool({"patent", "patent application", "utility model"} & {draft.kind})
    told = (("issued", "published"), ("accessed", "read"), ("event-date", "event held"))
    if patent:
        return (*told, ("submitted", "filed"), ("original-date", "priority"))
    return (*told, ("submitted", "submitted"))


def _take_date(draft: Draft, name: str, kind: str, value: Any) -> None:
    told = _text(value)
    if not isinstance(value, dict):
        draft.date(stated_date(kind, told, name), name, told)
        return
    days = _days(value.get("date-parts"))
    if days is None:
        text = _text(value.get("raw") or value.get("literal") or "")
        draft.date(stated_date(kind, text, name) if text else None, name, text or told)
        return
    notes = [f"the season {_text(value['season'])} is not used for the date"] if value.get("season") else []
    if value.get("circa"):
        days = UNKNOWN
        notes.append("marked circa; how far off it may be is not said")
    draft.dates.append(StatedDate(kind, told, days, name, "; ".join(notes)))


def _days(parts: Any) -> Days | None:
    """Return the days of one or two lists of year, month, day; None where they are no date."""
    if not isinstance(parts, list) or not 1 <= len(parts) <= 2:
        return None
    ends = [_one(part) for part in parts]
    if any(end is None for end in ends):
        return None
    first, last = ends[0], ends[-1]
    backwards = first and last and first.first and last.last and first.first > last.last
    return None if not first or not last or backwards else Days(first.first, last.last)


def _one(part: Any) -> Days | None:
    if not isinstance(part, list):
        return None
    texts = [_text(number) for number in part if number is not None]
    figures = [int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 5]
    return days_of_parts(figures) if len(figures) == len(texts) else None


def _people(draft: Draft, field: str, value: Any, role: str) -> list[Person]:
    people = []
    for one in value if isinstance(value, list) else [value]:
        if not isinstance(one, dict):
            draft.detail(field, _text(one))
            continue
        family = " ".join(
            filter(None, (_text(one.get("non-dropping-particle", "")), _text(one.get("family", ""))))
        )
        given = " ".join(filter(None, (_text(one.get("given", "")), _text(one.get("dropping-particle", "")))))
        name = _text(one.get("literal", "")) or " ".join(filter(None, (given, family)))
        if name:
            people.append(Person(name, role, family, given))
    return people


def _text(value: Any) -> str:
    """Return a string or number as text, anything else as JSON; null is ""."""
    if isinstance(value, str):
        return value.strip()
    if value is None:
        return ""
    return json.dumps(value, ensure_ascii=False)
