"""Real records through the real de-duplication, for tests: the store's tables without a store."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import pyarrow as pa

from connectors.connector import Parsed
from connectors.days import Days
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier
from pipeline.identifiers import normalise
from pipeline.normalise import ReadPage, normalise_pages, record_id
from pipeline.resolve import Shelf, group, links

NO_VECTORS = pa.table(
    {"record_id": pa.array([], pa.string()), "vector": pa.array([], pa.list_(pa.float32(), 384))}
)
NO_RULINGS = pa.table({"record_a": pa.array([], pa.string()), "record_b": pa.array([], pa.string()),
                       "same": pa.array([], pa.bool_())})  # fmt: skip


def key(record: Record) -> str:
    """Return the id the store gives the record."""
    return record_id(record.source, record.native_id)


def as_tables(records: Sequence[Record]) -> tuple[pa.Table, pa.Table, pa.Table]:
    """Return records, identifiers and relations as the store hands them on: in order of arrival,
    invalid numbers left out, years of the public events that are stated (of any, where none is)."""
    pages = [
        ReadPage(seq, "run", record.source, "all", "file", Parsed(1, (record,)))
        for seq, record in enumerate(records, 1)
    ]
    made = normalise_pages(pages)
    table = made["record"].append_column("seq", pa.array(range(1, made["record"].num_rows + 1), pa.int64()))
    years = _years(made["dated_event"].to_pylist())
    for place, name in enumerate(("year_from", "year_to")):
        column = [years.get(key, (None, None))[place] for key in table["record_id"].to_pylist()]
        table = table.append_column(name, pa.array(column, pa.int32()))
    valid = pa.compute.equal(made["identifier"]["problem"], "")
    return table, made["identifier"].filter(valid), made["relation"]


def _years(events: list[dict[str, Any]]) -> dict[str, tuple[int | None, int | None]]:
    told: dict[str, list[dict[str, Any]]] = {}
    for event in sorted(events, key=lambda event: not event["public"]):
        mine = told.setdefault(event["record_id"], [])
        if not mine or mine[0]["public"] == event["public"]:
            mine.append(event)
    found = {}
    for record, mine in told.items():
        first, last = ([row[name] for row in mine if row[name]] for name in ("day_from", "day_to"))
        found[record] = (min(first).year if first else None, min(last).year if last else None)
    return found


def memberships(records: Sequence[Record], cuts: Iterable[int] = ()) -> dict[str, dict[str, str]]:
    """Return own name -> its membership, arrived in this order, in nights that end at the cuts.

    reference_id and version_id are own names too, and so is the other record in the reason.
    """
    tables = as_tables(records)
    ids = [key(record) for record in records]
    found, start = [], 0
    for cut in sorted({*cuts, len(ids)}):
        met = [table.filter(pa.compute.is_in(table["record_id"], pa.array(ids[:cut]))) for table in tables]
        found.append(links(ids[start:cut], *met, NO_VECTORS, NO_RULINGS))
        start = cut
    rows = group(pa.concat_tables(found), Shelf(*tables), NO_RULINGS).to_pylist()
    names = {key(record): record.native_id for record in records}
    told = {}
    for row in rows:
        reason = row["reason"]
        for record, name in names.items():
            reason = reason.replace(f"; with {record}", f"; with {name}")
        told[names[row["record_id"]]] = {
            "reference": names[row["reference_id"]],
            "version": names[row["version_id"]],
            "reason": reason,
        }
    return told


def sets_of(told: dict[str, dict[str, str]], what: str = "reference") -> set[frozenset[str]]:
    """Return the sets of own names that come together."""
    sets: dict[str, set[str]] = {}
    for name, member in told.items():
        sets.setdefault(member[what], set()).add(name)
    return {frozenset(each) for each in sets.values()}


def document(
    name: str,
    number: str,
    day: str,
    application: str = "",
    priorities: Iterable[str] = (),
    relations: Iterable[Relation] = (),
    family: str = "",
    **more: str,
) -> Record:
    """Return a patent document as a source states it; all bear one title and the same people.

    name: source:own name. Every number must be one its office gives.
    """
    stated = [("publication", number), ("application", application), ("family", family)]
    identifiers = tuple(StatedIdentifier(scheme, text) for scheme, text in stated if text)
    claims = [Relation("priority", StatedIdentifier("application", text)) for text in priorities]
    for each in (*identifiers, *(claim.identifier for claim in claims)):
        assert not normalise(each.scheme, each.text).problem, each
    when = date.fromisoformat(day) if day else None
    dates = (StatedDate("publication of application", day, Days(when, when), "date"),) if when else ()
    return Record(
        name.partition(":")[0], name, more.get("kind", "patent application"),
        more.get("title", "Self-flushing emitters driven by shape-memory springs"),
        people=(Person("Ada Quill", "inventor"), Person("Bo Marsh", "inventor"), Person("Holloway Drip Inc.", "applicant")),
        version=number.rsplit(" ", 1)[-1] if number else "",
        identifiers=identifiers, dates=dates, relations=(*claims, *relations),
    )  # fmt: skip
