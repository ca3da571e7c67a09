"""What a document of the office's bulk files states, word for word, whatever its format.

The corpus keeps these facts as JSON; what they mean (kinds, days, relations) is read from
them later, so that a better reading needs no file loaded anew.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache
from typing import Any, get_args, get_origin, get_type_hints

# The kind of a link from an application to the international one behind it (35 USC 371).
NATIONAL_PHASE = "national phase"


@dataclass(frozen=True)
class Number:
    """A document's number as written. name: of its first inventor or owner, where stated."""

    country: str = ""
    number: str = ""
    kind: str = ""
    date: str = ""
    name: str = ""


@dataclass(frozen=True)
class Claim:
    """A claim that stands. number: as printed, without zeros. names: the claims its markup refers to."""

    number: str
    text: str
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Link:
    """One link of the chain of applications: child is a kind ('continuation') of parent.

    granted, international: the parent's patent and its international application.
    """

    kind: str
    parent: Number
    child: Number = Number()
    granted: Number = Number()
    international: Number = Number()
    status: str = ""


@dataclass(frozen=True)
class Cited:
    """A citation: a patent document, or text. by: the office's words ('cited by examiner')."""

    document: Number = Number()
    text: str = ""
    by: str = ""


@dataclass(frozen=True)
class Party:
    """A person or firm. role: inventor, applicant, assignee."""

    role: str
    name: str
    family: str = ""
    given: str = ""


@dataclass(frozen=True)
class TermFacts:
    """What the grant states of its term. days: added to it. years: from grant (designs).

    disclaimer: its words. disclaimer_date, text: as stated.
    """

    days: str = ""
    years: str = ""
    disclaimer: str = ""
    disclaimer_date: str = ""
    text: str = ""


@dataclass(frozen=True)
class UsDocument:
    """One publication. form: document type and version. right: utility, design, plant, reissue, sir.

    earlier: this application's earlier publications. cancelled: claim numbers without text.
    classes: (system, symbol) beside CPC and IPC. related: other links, as (kind, text).
    """

    publication: Number
    application: Number = Number()
    form: str = ""
    right: str = ""
    language: str = ""
    title: str = ""
    abstract: str = ""
    claims: tuple[Claim, ...] = ()
    cancelled: tuple[str, ...] = ()
    claims_stated: str = ""
    parties: tuple[Party, ...] = ()
    priorities: tuple[Number, ...] = ()
    provisionals: tuple[Number, ...] = ()
    chain: tuple[Link, ...] = ()
    earlier: tuple[Number, ...] = ()
    international: Number = Number()
    entry_date: str = ""
    international_publication: Number = Number()
    term: TermFacts = TermFacts()
    codes: tuple[tuple[str, str], ...] = ()
    classes: tuple[tuple[str, str], ...] = ()
    cites: tuple[Cited, ...] = ()
    notes: tuple[tuple[str, str], ...] = ()


def facts_json(document: UsDocument) -> str:
    """Return the document as one line of JSON; what is empty is left out."""
    return json.dumps(_data(document), ensure_ascii=False, separators=(",", ":"))


def facts_from(data: Any) -> UsDocument:
    """Return the document that facts_json wrote, once parsed. Raises ValueError for anything else."""
    made: UsDocument = _built(UsDocument, data)
    return made


def _data(value: Any) -> Any:
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        return [_data(each) for each in value]
    return {f.name: _data(part) for f in fields(value) if (part := getattr(value, f.name)) != f.default}


@lru_cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _built(kind: Any, data: Any) -> Any:
    if kind is str and isinstance(data, str):
        return data
    if get_origin(kind) is tuple and isinstance(data, list):
        inner = get_args(kind)
        if inner[-1] is Ellipsis:
            return tuple(_built(inner[0], each) for each in data)
        return tuple(_built(one, each) for one, each in zip(inner, data, strict=True))
    if is_dataclass(kind) and isinstance(data, dict) and isinstance(kind, type):
        hints = _hints(kind)
        if unknown := data.keys() - hints.keys():
            raise ValueError(f"{kind.__name__} has no {', '.join(sorted(unknown))}")
        try:
            return kind(**{name: _built(hints[name], value) for name, value in data.items()})
        except TypeError as missing:
            raise ValueError(str(missing)) from missing
    raise ValueError(f"not a {getattr(kind, '__name__', kind)}: {str(data)[:80]}")
