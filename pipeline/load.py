"""Raw answers → the store's tables, each answer once, in the order received."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files as files_of
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from connectors import files
from connectors.connector import Page, Parsed, Quarantined
from connectors.errors import SourceError
from connectors.record import Record
from connectors.registry import READERS
from pipeline.decisions import Decision, Decisions
from pipeline.normalise import ReadPage, normalise_pages, record_id
from pipeline.plan import request_line
from pipeline.responses import Responses
from pipeline.store import open_store
from queries.expression import Expression
from queries.expression_json import expression_from

# Answers a transaction: small enough that the review page is never shut out for long.
BATCH = 100


@dataclass(frozen=True)
class Loaded:
    """What a load added: answers read, records new or changed."""

    answers: int
    records: int


def load_answers(folder: Path, told: Callable[[int], None] = lambda _: None) -> Loaded:
    """Bring the tables up to the journal; return what was added.

    Cost grows with the answers not loaded yet. An answer that can't be parsed is kept,
    with its reason, as one quarantined item.
    """
    responses = Responses(folder)
    with open_store(folder) as con:
        after = _number(con, "SELECT coalesce(max(seq), 0) FROM response")
    asked = _expressions(responses)
    answers = responses.answers(after)
    answer_count = record_count = 0
    for batch in _batches(_read(responses, number, line, asked) for number, line in answers):
        with open_store(folder) as con:
            record_count += _write_batch(con, batch)
        answer_count += len(batch)
        told(answer_count)
    load_search_log(folder, responses)
    return Loaded(answer_count, record_count)


@dataclass(frozen=True)
class _Answer:
    number: int
    line: dict[str, Any]
    page: ReadPage
    request: str


def _batches(answers: Iterable[_Answer]) -> Iterator[list[_Answer]]:
    """Yield the answers in batches of BATCH at most, none with a record in two wordings.

    So what a source says no longer is kept as said once, however many answers are waiting.
    """
    batch: list[_Answer] = []
    held: dict[str, Record] = {}
    for answer in answers:
        stated = {record_id(answer.page.source, one.native_id): one for one in answer.page.parsed.records}
        if len(batch) == BATCH or any(held.get(key, one) != one for key, one in stated.items()):
            yield batch
            batch, held = [], {}
        batch.append(answer)
        held |= stated
    if batch:
        yield batch


def _expressions(responses: Responses) -> dict[tuple[str, str, str], tuple[Expression, bool]]:
    """Return (run, source, sweep) -> what was asked and whether the answers are checked here."""
    return {
        (line["run"], line["source"], line["sweep"]): (expression_from(line["tree"]), line["checked_here"])
        for _, line in responses.journal.lines()
        if line["line"] == "sweep asked" and "tree" in line
    }


def _read(responses: Responses, number: int, line: dict[str, Any], asked: Any) -> _Answer:
    page = responses.page(line)
    expression, checked_here = asked.get((line["run"], line["source"], line["sweep"]), (None, False))
    read = ReadPage(
        number, line["run"], line["source"], line["sweep"], page.request.step, parse_page(page),
        expression, checked_here,
    )  # fmt: skip
    base_url = READERS[line["source"]].SOURCE.base_url if line["source"] in READERS else ""
    return _Answer(number, line, read, request_line(base_url, page.request))


def parse_page(page: Page) -> Parsed:
    """Return what the page holds. A page that can't be read is one quarantined item."""
    try:
        if page.request.step == "file":
            return files.read_file(page.request.path, page.body)
        reader = READERS[page.request.source]
        error = reader.judge(page)
        if error is None:
            return reader.parse(page)
    except SourceError as failed:
        error = failed
    excerpt = page.body[:500].decode("utf-8", "replace")
    return Parsed(1, (), (Quarantined(0, error.path, str(error), excerpt),))


def _write_batch(con: duckdb.DuckDBPyConnection, answers: list[_Answer]) -> int:
    tables = normalise_pages(answer.page for answer in answers)
    tables |= {"response": _response_rows(answers), "quarantine": _quarantine_rows(answers)}
    for name, table in tables.items():
        con.register(f"new_{name}", table)
    con.execute(files_of("pipeline").joinpath("load.sql").read_text(encoding="utf-8"))
    return _number(con, "SELECT count(*) FROM changed")


def _response_rows(answers: list[_Answer]) -> pa.Table:
    rows = [
        {
            "seq": answer.number,
            "run_id": answer.line["run"],
            "source": answer.line["source"],
            "sweep": answer.line["sweep"],
            "request": answer.request,
            "status": answer.line["status"],
            "received_at": _utc(answer.line["at"]),
            "body_sha256": answer.line["sha256"],
            "size_bytes": answer.line["size"],
            "items": answer.page.parsed.items,
            "records": len(answer.page.parsed.records),
            "quarantined": len(answer.page.parsed.quarantined),
        }
        for answer in answers
    ]
    return pa.Table.from_pylist(rows)


_QUARANTINE = pa.schema(
    [
        ("response_seq", pa.int64()),
        ("item", pa.int64()),
        *[(n, pa.string()) for n in ("path", "reason", "excerpt")],
    ]
)


def _quarantine_rows(answers: list[_Answer]) -> pa.Table:
    rows = [
        {
            "response_seq": answer.number,
            "item": place,
            "path": bad.path,
            "reason": bad.reason,
            "excerpt": bad.excerpt,
        }
        for answer in answers
        for place, bad in enumerate(answer.page.parsed.quarantined)
    ]
    return pa.Table.from_pylist(rows, _QUARANTINE)


def load_search_log(folder: Path, responses: Responses) -> None:
    """Make run, search, number_sweep and watermark what the journal says, and read the decisions."""
    runs: dict[str, dict[str, Any]] = {}
    searches: dict[tuple[str, str, str], dict[str, Any]] = {}
    completed: dict[tuple[str, str], dict[str, Any]] = {}
    numbers: dict[tuple[str, str], dict[str, Any]] = {}
    for _, line in responses.journal.lines():
        if line["line"] == "run started":
            runs[line["run"]] = {"run_id": line["run"], "started_at": _utc(line["at"])}
        elif line["line"] == "run ended":
            runs[line["run"]] |= {"ended_at": _utc(line["at"]), "outcome": line["outcome"]}
        elif line["line"] == "sweep asked" and "kind" in line:
            row = {"source": line["source"], "sweep": line["sweep"], "kind": line["kind"]}
            numbers[(line["source"], line["sweep"])] = row | {"record_id": line["origin"]}
        elif line["line"] == "sweep ended":
            source, expression, at = line["source"], line["expression"], _utc(line["at"])
            facts = {name: value for name, value in line.items() if name not in ("line", "run", "at")}
            searches[(line["run"], source, line["sweep"])] = {"run_id": line["run"], "asked_at": at, **facts}
            if line["outcome"] == "complete":
                row = {"source": source, "expression": expression, "completed_at": at}
                completed[(source, expression)] = row
    with open_store(folder) as con:
        _replace(con, "run", list(runs.values()))
        _replace(con, "search", list(searches.values()))
        _replace(con, "number_sweep", list(numbers.values()))
        _replace(con, "watermark", list(completed.values()))
        _replace(con, "decision", [_decision_row(decision) for decision in Decisions(folder).all()])


def _decision_row(decision: Decision) -> dict[str, Any]:
    return {
        "decision": decision.number,
        "made_at": decision.made_at.astimezone(UTC).replace(tzinfo=None),
        "made_by": decision.made_by,
        "kind": decision.kind,
        "record_id": decision.records[0] if decision.records else "",
        "facts": json.dumps(decision.facts),
    }


def _replace(con: duckdb.DuckDBPyConnection, table: str, rows: list[dict[str, Any]]) -> None:
    columns = [column[0] for column in con.execute(f"DESCRIBE {table}").fetchall()]
    con.execute(f"DELETE FROM {table}")  # noqa: S608
    if rows:
        whole = pa.Table.from_pylist([{name: row.get(name) for name in columns} for row in rows])
        con.register("whole", whole)
        con.execute(f"INSERT INTO {table} BY NAME SELECT * FROM whole")  # noqa: S608
        con.unregister("whole")


def _utc(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC).replace(tzinfo=None)


def _number(con: duckdb.DuckDBPyConnection, query: str) -> int:
    return int(con.execute(query).fetchall()[0][0])
