"""Records as sources state them → rows of the store's tables. No page, item or text is lost."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import pyarrow as pa

from connectors.connector import Parsed
from connectors.record import PUBLIC_EVENTS, Record, Relation
from pipeline.identifiers import normalise
from queries.expression import Document, Expression, judge_within

_TEXT, _INT, _DAY, _YES = pa.string(), pa.int64(), pa.date32(), pa.bool_()
_PERSON = pa.list_(pa.struct([(name, _TEXT) for name in ("name", "role", "family", "given")]))
_DETAIL = pa.list_(pa.struct([("name", _TEXT), ("text", _TEXT)]))

TABLES: Mapping[str, pa.Schema] = {
    "record": pa.schema(
        [
            *[(name, _TEXT) for name in ("record_id", "source", "native_id")],
            ("response_seq", _INT),
            ("item", _INT),
            ("first_run", _TEXT),
            *[(name, _TEXT) for name in ("content", "kind", "title", "abstract", "language")],
            ("people", _PERSON),
            *[(name, _TEXT) for name in ("venue", "publisher", "volume", "issue", "pages", "version", "url")],
            ("retracted", _YES),
            ("claims", pa.list_(_TEXT)),
            ("details", _DETAIL),
        ]
    ),
    "identifier": pa.schema(
        [(name, _TEXT) for name in ("record_id", "scheme", "value", "match_key", "text", "problem")]
    ),
    "dated_event": pa.schema(
        [
            ("record_id", _TEXT),
            ("kind", _TEXT),
            ("day_from", _DAY),
            ("day_to", _DAY),
            *[(name, _TEXT) for name in ("text", "field", "note")],
            ("public", _YES),
            ("response_seq", _INT),
        ]
    ),
    "relation": pa.schema(
        [(name, _TEXT) for name in ("record_id", "kind", "scheme", "value", "match_key", "text", "note")]
    ),
    "class_code": pa.schema([(name, _TEXT) for name in ("record_id", "scheme", "symbol")]),
    "found": pa.schema(
        [*[(name, _TEXT) for name in ("record_id", "source", "sweep", "run_id", "within")], ("inside", _YES)]
    ),
}


@dataclass(frozen=True)
class ReadPage:
    """A parsed answer and where it stands.

    expression: what the sweep asked; None for handed-in files. checked_here: the source
    only ranks, so that the expression is held against each record here.
    """

    seq: int
    run_id: str
    source: str
    sweep: str
    step: str
    parsed: Parsed
    expression: Expression | None = None
    checked_here: bool = False


def record_id(source: str, native_id: str) -> str:
    """Return the record's id: 12 letters and digits, the same on every machine and night.

    60 bits: among 10 million records the odds of two sharing one are about 1 in 20,000.
    """
    digest = hashlib.sha256(f"{source}\n{native_id}".encode()).digest()
    return base64.b32encode(digest)[:12].decode().lower()


def normalise_pages(pages: Iterable[ReadPage]) -> dict[str, pa.Table]:
    """Return the rows of TABLES for every record on the pages.

    A record met twice in the same words stands where it was met first, its events where
    they were stated last, as if the pages came one by one; in other words on one page, its
    last statement stands. The order of the rows is that of first arrival. Cost grows with
    the records.
    """
    latest: dict[str, tuple[ReadPage, int, Record, ReadPage]] = {}
    texts: dict[str, Record] = {}
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for page in pages:
        for item, record in enumerate(page.parsed.records):
            key = record_id(page.source, record.native_id)
            first = latest.get(key)
            if first and first[2] == record:
                latest[key] = (*first[:3], page)
            else:
                latest[key] = (page, item, record, page)
            texts[key] = _with_text_of(record, texts.get(key))
            row = _found_row(key, page, record)
            known = found.setdefault((key, page.sweep), row)
            if row["inside"] and not known["inside"]:
                found[(key, page.sweep)] = row
    rows: dict[str, list[dict[str, Any]]] = {name: [] for name in TABLES}
    rows["found"] = list(found.values())
    for key, (page, item, record, last) in latest.items():
        rows["record"].append(_record_row(key, page, item, record, texts[key]))
        _add_rows(rows, key, record, last.seq)
    return {name: pa.Table.from_pylist(rows[name], schema) for name, schema in TABLES.items()}


def _with_text_of(record: Record, earlier: Record | None) -> Record:
    """Return the record with the texts it does not state taken from the earlier statement.

    A look-up of a family states numbers and days, and often no abstract: that takes none away.
    """
    if earlier is None:
        return record
    kept = {name: getattr(record, name) or getattr(earlier, name) for name in ("title", "abstract", "claims")}
    return replace(record, **kept)


def _add_rows(rows: dict[str, list[dict[str, Any]]], key: str, record: Record, stated_in: int) -> None:
    rows["identifier"] += [
        {"record_id": key, **asdict(normalise(stated.scheme, stated.text))}
        for stated in dict.fromkeys(record.identifiers)
    ]
    rows["relation"] += [_relation_row(key, relation) for relation in dict.fromkeys(record.relations)]
    rows["class_code"] += [
        {"record_id": key, "scheme": scheme, "symbol": symbol}
        for scheme, symbol in dict.fromkeys(record.codes)
    ]
    rows["dated_event"] += [
        {
            "record_id": key,
            "kind": stated.kind,
            "day_from": stated.days.first,
            "day_to": stated.days.last,
            "text": stated.text,
            "field": stated.field,
            "note": stated.note,
            "public": PUBLIC_EVENTS[stated.kind],
            "response_seq": stated_in,
        }
        for stated in dict.fromkeys(record.dates)
    ]


def _record_row(key: str, page: ReadPage, item: int, record: Record, texts: Record) -> dict[str, Any]:
    plain = ("native_id", "kind", "language", "venue", "publisher", "volume",
             "issue", "pages", "version", "url", "retracted")  # fmt: skip
    return {
        "record_id": key,
        "source": page.source,
        "response_seq": page.seq,
        "item": item,
        "first_run": page.run_id,
        "content": hashlib.sha256(repr(record).encode()).hexdigest(),
        **{name: getattr(record, name) for name in plain},
        "title": texts.title,
        "abstract": texts.abstract,
        "people": [asdict(person) for person in record.people],
        "claims": list(texts.claims),
        "details": [{"name": name, "text": text} for name, text in record.details],
    }


def _relation_row(key: str, relation: Relation) -> dict[str, Any]:
    to = normalise(relation.identifier.scheme, relation.identifier.text)
    return {
        "record_id": key,
        "kind": relation.kind,
        "scheme": to.scheme,
        "value": to.value,
        "match_key": to.match_key,
        "text": to.text,
        "note": relation.note,
    }


def _found_row(key: str, page: ReadPage, record: Record) -> dict[str, Any]:
    within = "look-up"
    if page.step in ("file", "capture"):  # the user pointed at it
        within = "yes"
    elif page.step == "search" and page.expression:
        document = Document(record.title, record.abstract, record.codes, record.claims)
        within = judge_within(page.expression, document)
    return {
        "record_id": key,
        "source": page.source,
        "sweep": page.sweep,
        "run_id": page.run_id,
        "within": within,
        "inside": within != "no" or not page.checked_here,
    }
