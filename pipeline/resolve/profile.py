"""What the comparison of records looks at, read once from the tables."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from pipeline.resolve import titles

# More people than this are compared by the first ones: a 3,000-author paper costs no more.
MOST_PEOPLE = 40

PATENT_KINDS = frozenset({"patent", "patent application", "utility model", "design"})
_CLASS = dict.fromkeys(PATENT_KINDS, "patent") | {
    "article": "published", "conference paper": "published", "report": "report", "thesis": "thesis",
    "preprint": "preprint", "other": "", "web page": "web page",
}  # fmt: skip
_GENERATION = frozenset(("jr", "sr", "ii", "iii", "iv", "phd", "md"))
_ARXIV_DOI = re.compile(r"10\.48550/arxiv\.(.+)", re.IGNORECASE)
_ARXIV_VERSION = re.compile(r"v(\d{1,3})$")
_DOI_VERSION = re.compile(r"(?:[/._-]?v|\.version)(\d{1,3})$", re.IGNORECASE)
_LONG_NUMBER = re.compile(r"(?<![^\W_])(\d{7,})$")
_KIND_CODE = re.compile(r"(?<=\d)([A-Z]\d?)$")


@dataclass(frozen=True)
class Profile:
    """One record as compared. Sets hold match keys; years are bounds, None unknown.

    kind_class: patent, published, preprint, report, thesis or the record's own kind where it
    goes with nothing else; "" where the source does not say. priorities: applications that
    the record's family is known by; a first filing is its own priority.
    publications: match key -> kind code ("" where not stated).
    relations: (kind, scheme, match key).
    """

    record_id: str
    seq: int
    source: str
    kind_class: str
    title: str
    weak: bool
    notice: str
    numbers: frozenset[str]
    people: tuple[str, ...]
    year_from: int | None
    year_to: int | None
    venue: str
    volume: str
    first_page: str
    version: str
    language: str
    ids: Mapping[str, frozenset[str]]
    publications: Mapping[str, str]
    priorities: frozenset[str]
    relations: frozenset[tuple[str, str, str]]


def surname(family: str, name: str) -> str:
    """Return the plain family name: as stated, else the part before a comma, else the last word."""
    if family:
        return titles.plain(family)
    before, comma, _ = name.partition(",")
    if comma and before.strip():
        return titles.plain(before)
    parts = [part for part in titles.plain(name).split() if part not in _GENERATION]
    long = [part for part in parts if len(part) > 1]
    return long[-1] if long else (parts[-1] if parts else "")


def doi_parts(doi: str) -> tuple[str, str]:
    """Return a DOI's base and its version ("" where none is written: …/v2, ….v3)."""
    found = _DOI_VERSION.search(doi)
    return (doi[: found.start()], found.group(1)) if found else (doi, "")


def long_number(doi: str) -> str:
    """Return the number of more than six digits that ends a DOI, or ""."""
    found = _LONG_NUMBER.search(doi)
    return found.group(1) if found else ""


def place_key(profile: Profile) -> str:
    """Return volume, first page and year as one key, or "" where one is unknown."""
    known = profile.volume and profile.first_page and profile.year_from
    return f"{profile.volume} {profile.first_page} {profile.year_from}" if known else ""


def kind_code(value: str) -> str:
    """Return the kind code that ends a normalised publication number, or ""."""
    found = _KIND_CODE.search(value)
    return found.group(1) if found else ""


class Shelf:
    """The tables, by record. Profiles are made when asked for and kept."""

    def __init__(self, records: pa.Table, identifiers: pa.Table, relations: pa.Table) -> None:
        """Index the tables; records ordered by seq."""
        wanted = ["record_id", "seq", "source", "kind", "title", "people", "venue", "volume", "pages",
                  "version", "language", "year_from", "year_to"]  # fmt: skip
        table = records.select(wanted).sort_by([("seq", "ascending"), ("record_id", "ascending")])
        self.ids: list[str] = table["record_id"].to_pylist()
        self.place = {record_id: i for i, record_id in enumerate(self.ids)}
        self.titles = [titles.core(title or "") for title in table["title"].to_pylist()]
        self._table = table.combine_chunks()
        self._columns = {n: table[n].to_pylist() for n in wanted if n not in ("title", "people", "record_id")}
        self._people = self._table["people"]
        self.identifiers = _by_record(identifiers, ["scheme", "value", "match_key"])
        self.relations: dict[str, list[tuple[str, str, str]]] = _by_record(
            relations, ["kind", "scheme", "match_key"]
        )
        self._profiles: dict[str, Profile] = {}

    def __getitem__(self, record_id: str) -> Profile:
        """Return the record's profile."""
        profile = self._profiles.get(record_id)
        if profile is None:
            profile = self._profiles[record_id] = self._read(record_id)
        return profile

    def _read(self, record_id: str) -> Profile:
        row = self.place[record_id]
        column = {name: values[row] for name, values in self._columns.items()}
        stated = self.identifiers.get(record_id, ())
        relations = frozenset(self.relations.get(record_id, ()))
        ids, version = _keys(stated, column["version"] or "", column["source"])
        title = self.titles[row]
        return Profile(
            record_id=record_id,
            seq=column["seq"],
            source=column["source"],
            kind_class=_CLASS.get(column["kind"], column["kind"]),
            title=title,
            weak=titles.is_weak(title),
            notice=titles.notice(title),
            numbers=titles.numbers(title),
            people=_surnames(self._people[row].as_py()),
            year_from=column["year_from"],
            year_to=column["year_to"],
            venue=titles.plain(column["venue"] or ""),
            volume=titles.plain(column["volume"] or ""),
            first_page=_first_page(column["pages"] or ""),
            version=version,
            language=(column["language"] or "")[:2].casefold(),
            ids=ids,
            publications={key: kind_code(value) for scheme, value, key in stated if scheme == "publication"},
            priorities=_priorities(relations, ids.get("application", frozenset())),
            relations=relations,
        )


def _by_record(table: pa.Table, columns: list[str]) -> dict[str, list[Any]]:
    rows: dict[str, list[Any]] = {}
    values = zip(*(table[name].to_pylist() for name in columns), strict=True)
    for record_id, row in zip(table["record_id"].to_pylist(), values, strict=True):
        rows.setdefault(record_id, []).append(row)
    return rows


def _keys(
    stated: Iterable[tuple[str, ...]], version: str, source: str
) -> tuple[dict[str, frozenset[str]], str]:
    """Return match keys by scheme, and the version an arXiv number or the source gives.

    The DOI that arXiv registers for a paper is that paper's arXiv number; a family number
    is the source's own, so the source is part of its key.
    """
    found: dict[str, set[str]] = {}
    for scheme, value, match_key in stated:
        if not match_key:
            continue
        arxiv_doi = _ARXIV_DOI.fullmatch(match_key) if scheme == "doi" else None
        if arxiv_doi:
            scheme, match_key = "arxiv", _ARXIV_VERSION.sub("", arxiv_doi.group(1).casefold())
        elif scheme == "family":
            match_key = f"{source} {match_key}"
        if scheme == "arxiv" and not version and (numbered := _ARXIV_VERSION.search(value)):
            version = "v" + numbered.group(1)
        found.setdefault(scheme, set()).add(match_key)
    return {scheme: frozenset(keys) for scheme, keys in found.items()}, version.casefold()


def _priorities(relations: Iterable[tuple[str, str, str]], own: frozenset[str]) -> frozenset[str]:
    stated = frozenset(key for kind, scheme, key in relations if kind == "priority" and key and scheme)
    return stated or own


def _surnames(people: list[dict[str, str]] | None) -> tuple[str, ...]:
    named = [p for p in people or () if p and p.get("role") not in ("applicant", "editor")] or list(
        people or ()
    )
    found = dict.fromkeys(surname(p.get("family") or "", p.get("name") or "") for p in named[:MOST_PEOPLE])
    return tuple(name for name in found if name)


def _first_page(pages: str) -> str:
    found = re.match(r"\W*(\w{1,12})", pages)
    return found.group(1).casefold() if found else ""
