"""The office's tab-separated full-text tables → documents, joined by number inside DuckDB.

Tables are known by their columns, not by their names: one of patents (g_patent) or of published
applications (pg_published_application) has the numbers, days and titles; abstracts, claims,
filings, classes, terms and descriptions are joined to it as far as they are handed in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from importlib.resources import files as files_of
from pathlib import Path
from typing import Any

from connectors.uspto_facts import Claim, Number, TermFacts, UsDocument
from connectors.uspto_record import why_unreadable
from pipeline.corpus.handed import TABLES, Handed, Stream, streams
from pipeline.errors import BadFile

LONGEST_LINE = 64_000_000
_A_BATCH = 200
# The first whose columns are all there is what the table is.
_KINDS: dict[str, set[str]] = {
    "patents": {"patent_id", "patent_date", "patent_title", "wipo_kind"},
    "publications": {"pgpub_id", "published_date", "application_title", "wipo_kind"},
    "filings": {"patent_id", "application_id", "filing_date"},
    "claims": {"claim_sequence", "claim_text"},
    "classes": {"cpc_group"},
    "terms": {"patent_id", "term_extension"},
    "abstracts": {"patent_abstract"},
    "abstracts of applications": {"application_abstract"},
    "summaries": {"summary_text"},
    "drawings": {"draw_desc_text"},
    "descriptions": {"description_text"},
}
_TEXTS = ("claims", "summaries", "drawings", "descriptions")
# Columns wanted of each kind; a column that a year's table lacks is empty.
_COLUMNS: dict[str, tuple[str, ...]] = {
    "patents": ("patent_id", "patent_date", "patent_title", "wipo_kind", "patent_type", "num_claims",
                "withdrawn", "patent_abstract"),
    "publications": ("pgpub_id", "published_date", "application_title", "wipo_kind",
                     "patent_application_type", "application_id", "filing_date"),
    "filings": ("patent_id", "application_id", "filing_date"),
    "claims": ("key", "claim_sequence", "claim_text", "dependent", "claim_number"),
    "classes": ("key", "cpc_group", "cpc_sequence"),
    "terms": ("patent_id", "term_extension", "term_grant", "term_disclaimer", "disclaimer_date"),
    "abstracts": ("patent_id", "patent_abstract"),
    "abstracts of applications": ("pgpub_id", "application_abstract"),
    "summaries": ("key", "summary_text"),
    "drawings": ("key", "draw_desc_text", "draw_desc_sequence"),
    "descriptions": ("key", "description_text"),
}  # fmt: skip
_NAMES = {
    "id": "patent_id", "pgpub_id": "patent_id", "key": "patent_id", "published_date": "patent_date",
    "application_title": "patent_title", "patent_application_type": "patent_type",
    "application_abstract": "patent_abstract",
}  # fmt: skip


@dataclass(frozen=True)
class Row:
    """A document, or why a row or document is none: problem, the same to count by, and its beginning."""

    document: UsDocument | None
    paragraphs: tuple[tuple[str, str], ...] = ()
    problem: str = ""
    kind_of_problem: str = ""
    where: str = ""
    excerpt: str = ""


def read_tables(tables: Handed, scratch: Path) -> Iterator[Row]:
    """Yield every document of the tables, by number, then every row that could not be read.

    With a table of claims or descriptions, only the documents that it speaks of: those are cut
    by year, the others are not. scratch: a folder for what does not fit into memory. Raises
    BadFile where no table has numbers and titles, or one is of no known kind.
    """
    import duckdb

    scratch.mkdir(parents=True)
    config: dict[str, Any] = {
        "autoinstall_known_extensions": "false",
        "temp_directory": str(scratch / "spill"),
    }
    with closing(duckdb.connect(str(scratch / "join.duckdb"), config=config)) as con:
        kinds = [
            _take_in(con, stream, scratch) for path in tables.paths for stream in streams(path, {}, TABLES)
        ]
        if not {"patents", "publications"} & set(kinds):
            raise BadFile(
                f"{tables.paths[0]}: the tables handed in hold no numbers, days and titles. In one command"
                " with them, load g_patent.tsv (patents) or pg_published_application.tsv (applications)"
            )
        for kind in _COLUMNS:
            _make(con, kind)
        joined = files_of("pipeline.corpus").joinpath("tables.sql").read_text(encoding="utf-8")
        done = con.sql(joined, params={"every": not set(_TEXTS) & set(kinds)})
        for batch in done.to_arrow_reader(_A_BATCH):
            yield from map(_row, batch.to_pylist())
        yield from _orphans(con)
        yield from _rejected(con)


def _make(con: Any, kind: str) -> None:
    columns = ", ".join(f"{_NAMES.get(name, name)} VARCHAR" for name in _COLUMNS[kind])
    con.execute(f"CREATE TABLE IF NOT EXISTS {_table(kind)} ({columns})")


def _table(kind: str) -> str:
    return "abstracts" if kind.startswith("abstracts") else kind


def _take_in(con: Any, stream: Stream, scratch: Path) -> str:
    """Read one table into the join; return its kind."""
    import duckdb

    path = scratch / "table.tsv"
    with path.open("wb") as file:
        while chunk := stream.read(1 << 20):
            file.write(chunk)
    options = (
        "delim = '\t', quote = '\"', escape = '\"', header = true, all_varchar = true, store_rejects = true, "
        f"max_line_size = {LONGEST_LINE}, rejects_table = 'reject', rejects_scan = 'reject_scan'"
    )
    source = f"read_csv('{path}', {options})"
    try:
        named = {row[0] for row in con.execute(f"DESCRIBE SELECT * FROM {source}").fetchall()}  # noqa: S608
    except duckdb.Error as error:
        first = str(error).splitlines()[0]
        raise BadFile(f"{stream.name} can't be read as a tab-separated table: {first}") from error
    kind = next((kind for kind, needed in _KINDS.items() if needed <= named), "")
    if not kind:
        raise BadFile(
            f"{stream.name}: none of the tables known has the columns {', '.join(sorted(named))[:200]}"
        )
    _make(con, kind)
    key = "patent_id" if "patent_id" in named else "pgpub_id"
    parts = []
    for name in _COLUMNS[kind]:
        stated = key if name == "key" else name
        parts.append(f"{stated if stated in named else 'NULL'} AS {_NAMES.get(name, name)}")
    con.execute(f"INSERT INTO {_table(kind)} BY NAME SELECT {', '.join(parts)} FROM {source}")  # noqa: S608
    con.execute(
        "CREATE TABLE IF NOT EXISTS rejected (name VARCHAR, line BIGINT, why VARCHAR, excerpt VARCHAR)"
    )
    con.execute(
        "INSERT INTO rejected SELECT ?, line, any_value(lower(error_type::VARCHAR)), "
        "any_value(left(csv_line, 500)) FROM reject GROUP BY line",
        [stream.name],
    )
    con.execute("DROP TABLE reject; DROP TABLE reject_scan")
    path.unlink()
    return kind


def _row(row: dict[str, Any]) -> Row:
    text = {name: value or "" for name, value in row.items() if not isinstance(value, list)}
    claims = [
        Claim(
            (claim["number"] or "").lstrip("0") or str(at),
            " ".join((claim["text"] or "").split()),
            tuple(dict.fromkeys(re.findall(r"\d+", claim["names"] or ""))),
        )
        for at, claim in enumerate(row["claims"] or (), 1)
        if claim["text"]
    ]
    document = UsDocument(
        publication=Number("US", text["patent_id"], text["wipo_kind"].upper(), text["patent_date"]),
        application=Number("US", text["application_id"], "", text["filing_date"]),
        form="the office's tab-separated tables",
        right=text["patent_type"].lower(),
        language="en",
        title=text["patent_title"],
        abstract=text["abstract"],
        claims=tuple(claims),
        claims_stated=text["num_claims"] if claims else "",
        term=TermFacts(
            text["term_extension"], text["term_grant"], text["term_disclaimer"], text["disclaimer_date"]
        ),
        codes=tuple(filter(None, map(_code, row["classes"] or ()))),
        notes=(("withdrawn", "the office took this number back"),) if text["withdrawn"] == "1" else (),
    )
    if why := why_unreadable(document):
        return Row(None, (), why, why.split(":")[0], f"document {text['patent_id'][:40]}", str(text)[:500])
    described = [text["summary_text"], *filter(None, row["drawings"] or ()), text["description_text"]]
    lines = [line.strip() for part in described for line in part.splitlines()]
    return Row(document, tuple(("", line) for line in lines if line))


def _code(symbol: str | None) -> tuple[str, str] | None:
    """Return the CPC symbol of `A01G25/023`."""
    found = re.fullmatch(r"([A-HY]\d\d[A-Z])\s*(\d{1,4}/\d{2,6})", symbol or "")
    return ("CPC", f"{found[1]} {found[2]}") if found else None


def _orphans(con: Any) -> Iterator[Row]:
    """Yield the documents whose texts came without a number, day and title of theirs."""
    for table in _TEXTS:
        rows = con.execute(
            f"SELECT DISTINCT t.patent_id FROM {table} t "  # noqa: S608
            "WHERE NOT EXISTS (SELECT 1 FROM patents p WHERE p.patent_id = t.patent_id) "
            "AND NOT EXISTS (SELECT 1 FROM publications p WHERE p.patent_id = t.patent_id)"
        ).fetchall()
        for (number,) in rows:
            why = f"{table} of a document that no table of numbers and titles holds"
            yield Row(None, (), why, why, f"document {str(number)[:40]}")


def _rejected(con: Any) -> Iterator[Row]:
    for name, line, why, excerpt in con.execute("FROM rejected ORDER BY ALL").fetchall():
        problem = f"a row of the table can't be read: {why}"
        yield Row(None, (), problem, problem, f"{name}, line {line}", excerpt or "")
