"""CSL-JSON 1.0.2, in its own vocabulary.

Where the schema has no field: the priority day stands in `original-date`, the application
number in `custom`, the kind code at the end of `number`.
"""

from __future__ import annotations

import json
from datetime import date
from typing import Any

from connectors.days import Days
from pipeline.cited_reference import CitedReference, Name, days_text
from pipeline.plain_text import safe

_TYPES = {
    "article": "article-journal", "preprint": "article", "conference paper": "paper-conference",
    "chapter": "chapter", "book": "book", "thesis": "thesis", "report": "report", "standard": "standard",
    "dataset": "dataset", "software": "software", "web page": "webpage", "picture": "graphic",
}  # fmt: skip


def write_csl(references: tuple[CitedReference, ...]) -> bytes:
    """Return a UTF-8 array of items; dates keep the parts that are known, ids are unique."""
    met: set[str] = set()
    items = []
    for one in references:
        key = one.number or one.doi or one.reference_id
        key = f"{key} ({one.reference_id})" if key in met else key
        met.add(key)
        item = {"id": key, **(_patent if one.is_patent else _publication)(one)}
        items.append({name: value for name, value in item.items() if value})
    return (json.dumps(items, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def _patent(one: CitedReference) -> dict[str, Any]:
    whole = one.number if one.number.endswith(one.kind_code) else one.number + one.kind_code
    return {
        "type": "patent",
        "title": one.title,
        "number": whole,
        "authority": one.office,
        "jurisdiction": one.office,
        "author": _names(one.inventors),
        "publisher": "; ".join(name.text for name in one.applicants),
        "genre": one.kind.capitalize(),
        "submitted": _date(one.filed),
        "original-date": _date(one.priority),
        "custom": {"application-number": one.application} if one.application else None,
        **_rest(one),
    }


def _publication(one: CitedReference) -> dict[str, Any]:
    return {
        "type": _TYPES.get(one.kind, "document"),
        "title": one.title,
        "author": _names(one.authors),
        "editor": _names(one.editors),
        "container-title": one.container,
        "publisher": one.publisher,
        "volume": one.volume,
        "issue": one.issue,
        "page": one.pages,
        "number": f"arXiv:{one.arxiv}" if one.arxiv else "",
        "DOI": one.doi,
        "ISSN": ", ".join(one.issns),
        "ISBN": " ".join(one.isbns),
        **_rest(one),
    }


def _rest(one: CitedReference) -> dict[str, Any]:
    return {
        "issued": _date(one.published),
        "accessed": _date(one.read),
        "URL": one.url,
        "language": one.language,
        "note": f"Other versions: {', '.join(one.others)}" if one.others else "",
    }


def _names(names: tuple[Name, ...]) -> list[dict[str, str]]:
    return [
        {"family": n.family, "given": n.given} if n.family and n.given else {"literal": safe(n.text)}
        for n in names
    ]


def _date(days: Days | None) -> dict[str, Any] | None:
    """Return [[y]], [[y, m]], [[y, m, d]], two of them for a range, or words for an open one."""
    if days is None:
        return None
    if days.first is None or days.last is None:
        return {"literal": days_text(days)}
    if days.text().count("..") == 0:
        return {"date-parts": [[int(part) for part in days.text().split("-")]]}
    return {"date-parts": [_parts(days.first), _parts(days.last)]}


def _parts(day: date) -> list[int]:
    return [day.year, day.month, day.day]
