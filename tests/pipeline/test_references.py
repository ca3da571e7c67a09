"""Night by night equals once over everything, and nothing is lost on the way: held on the real store."""

from __future__ import annotations

import random
from collections.abc import Iterable
from datetime import UTC, date, datetime
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.connector import Parsed
from connectors.days import Days
from connectors.record import Person, Record, StatedDate, StatedIdentifier
from pipeline.decisions import Decisions
from pipeline.embed import text_key
from pipeline.normalise import ReadPage, normalise_pages, record_id
from pipeline.references import resolve_references
from pipeline.resolve import links_of
from pipeline.store import open_store
from pipeline.vectors import text_of

NOW = datetime(2026, 11, 25, tzinfo=UTC)
MODEL = "m"
WORDS = [
    "valve",
    "emitter",
    "spring",
    "drip",
    "soil",
    "root",
    "pump",
    "filter",
    "tube",
    "clay",
    "sun",
    "heat",
    "flow",
    "salt",
    "leaf",
]
Facts = dict[str, list[tuple[Any, ...]]]


def stated(source: str, name: str, title: str, people: str, year: int, doi: str, kind: str) -> Record:
    """Return one record as its source states it."""
    when = Days(date(year, 1, 1), date(year, 12, 31))
    ids = (StatedIdentifier("doi", doi),) if doi else ()
    named = tuple(Person(person) for person in people.split(", ") if person)
    dated = (StatedDate("published", str(year), when, "year"),)
    return Record(source, name, kind, title, people=named, identifiers=ids, dates=dated)


def works(rng: random.Random, count: int) -> list[Record]:
    """Return records of invented works, several sources each, in no order."""
    rows = []
    for work in range(count):
        title = " ".join(rng.sample(WORDS, rng.randint(2, 4)))
        people = ", ".join(rng.sample(("Ada Quill", "Bo Marsh", "Cy Holt"), rng.randint(1, 2)))
        for copy in range(rng.randint(1, 4)):
            doi = f"10.{5555 + copy % 2}/{work}" if rng.random() < 0.4 else ""
            kind = rng.choice(("article", "article", "preprint"))
            year = rng.choice((2018, 2019, 2019))
            rows.append(stated(rng.choice("xyz"), f"{work}-{copy}", title, people, year, doi, kind))
    rng.shuffle(rows)
    return rows


def keep(folder: Path, night: int, records: Iterable[Record]) -> None:
    """Store what one night brought."""
    held = tuple(records)
    page = ReadPage(night, f"run {night}", "files", "handed in", "file", Parsed(len(held), held))
    with open_store(folder) as con:
        for name, table in normalise_pages([page]).items():
            con.register(f"new_{name}", table)
        for name in ("response", "quarantine"):
            con.execute(f"CREATE TEMP TABLE new_{name} AS FROM {name} LIMIT 0")
        con.execute(files("pipeline").joinpath("load.sql").read_text(encoding="utf-8"))


def embed(folder: Path, ids: list[str]) -> None:
    """Give the records' texts a vector, the same for the same title, and mark them."""
    with open_store(folder) as con:
        con.register("wanted", pa.table({"record_id": pa.array(ids, pa.string())}))
        rows = con.execute("SELECT title, abstract FROM record WHERE record_id IN (FROM wanted)").fetchall()
        for title, abstract in sorted(set(rows)):
            vector = np.random.default_rng(len(title)).standard_normal(384)
            values = [text_key(text_of(title, abstract)), MODEL, (vector / np.linalg.norm(vector)).tolist()]
            con.execute("INSERT INTO embedding VALUES (?, ?, ?) ON CONFLICT DO NOTHING", values)
        con.execute("INSERT INTO unresolved FROM wanted ANTI JOIN unresolved USING (record_id)")


def facts(folder: Path) -> Facts:
    """Return what was made of the records; keys without order, since they are a set."""
    with open_store(folder) as con:
        return {
            name: con.execute(f"SELECT * FROM {name} ORDER BY ALL").fetchall()
            for name in ("link", "membership", "reference", "block", "unresolved")
        }


@settings(max_examples=6, derandomize=True, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_nights_rulings_and_changes_equal_one_run_and_lose_nothing(seed: int, tmp_path_factory: Any) -> None:
    """Issue 4 point 4: after any nights, changes, withdrawals, vectors, rulings and undone rulings, the
    store holds what one run over everything makes; every tag's record and every id once shown is there.
    """
    rng = random.Random(seed)  # noqa: S311 - planted examples
    nightly, whole = (tmp_path_factory.mktemp(name) for name in ("nightly", "whole"))
    left, known, shown = works(rng, 10), [], set[str]()
    ids: list[str] = []
    for night in range(1, 5):
        size = rng.randint(0, 8)
        brought = left[:size] + [changed(record, rng) for record in known if rng.random() < 0.1]
        left, known = left[size:], known + left[:size]
        ids = [record_id(record.source, record.native_id) for record in known]
        for folder in (nightly, whole):
            keep(folder, night, brought)
        decide(nightly, rng, ids)
        withdraw((nightly, whole), rng, ids)
        resolve_references(nightly, MODEL)
        if rng.random() < 0.5:
            some = [key for key in ids if rng.random() < 0.5]
            for folder in (nightly, whole):
                embed(folder, some)
            resolve_references(nightly, MODEL)
        shown |= {row[0] for row in facts(nightly)["reference"]}
    (whole / "decisions.jsonl").write_bytes(
        (nightly / "decisions.jsonl").read_bytes() if (nightly / "decisions.jsonl").exists() else b""
    )
    resolve_references(whole, MODEL)
    found = facts(nightly)
    assert found == facts(whole)
    inside = {row[0] for row in found["membership"]}
    with open_store(nightly) as con:
        assert inside == {
            row[0] for row in con.execute("SELECT record_id FROM found WHERE inside").fetchall()
        }
        every = {row[0] for row in con.execute("SELECT record_id FROM record").fetchall()}
    assert shown <= every
    assert not found["unresolved"]
    rulings_hold(nightly, found)


def changed(record: Record, rng: random.Random) -> Record:
    """Return what the source says of the document now."""
    title = rng.choice((record.title, f"{record.title} {rng.choice(WORDS)}"))
    return stated(record.source, record.native_id, title, "Ada Quill", 2019, "", record.kind)


def decide(folder: Path, rng: random.Random, ids: list[str]) -> None:
    """Rule on two records, and now and then take the ruling before back."""
    if len(ids) > 1 and rng.random() < 0.6:
        Decisions(folder).add("ruling", tuple(rng.sample(ids, 2)), {"same": rng.random() < 0.5}, "ada", NOW)
        made = list(Decisions(folder).all())
        if rng.random() < 0.4:
            Decisions(folder).add("undo", (), {"undoes": rng.choice(made).number}, "ada", NOW)


def withdraw(folders: Iterable[Path], rng: random.Random, ids: list[str]) -> None:
    """Let the user's expressions hold no longer for one record, as loading does (test_load.py)."""
    if ids and rng.random() < 0.3:
        gone = rng.choice(ids)
        for folder in folders:
            with open_store(folder) as con:
                con.execute("UPDATE found SET inside = FALSE WHERE record_id = ?", [gone])
                con.execute("INSERT INTO unresolved SELECT ? EXCEPT FROM unresolved", [gone])


def rulings_hold(folder: Path, found: Facts) -> None:
    """Every standing "different" keeps its records apart."""
    reference = {row[0]: row[1] for row in found["membership"]}
    for decision in Decisions(folder).standing():
        a, b = decision.records
        latest = [d for d in Decisions(folder).standing() if set(d.records) == {a, b}][-1]
        if not latest.facts["same"] and a in reference and b in reference:
            assert reference[a] != reference[b]


def test_a_night_compares_what_one_run_over_everything_compares(tmp_path: Path, monkeypatch: Any) -> None:
    """Words that many titles bear, some of them twice: the nights' pairs are those of one run."""
    rng = random.Random(7)  # noqa: S311 - planted examples
    titles = [" ".join(rng.choices(WORDS, k=4)) for _ in range(900)]
    records = [stated("x", str(n), title, "Ada Quill", 2019, "", "article") for n, title in enumerate(titles)]
    compared: list[tuple[int, int]] = []

    def noted(found: pa.Table, *rest: Any) -> pa.Table:
        compared.extend(zip(found["seq_a"].to_pylist(), found["seq_b"].to_pylist(), strict=True))
        return links_of(found, *rest)

    monkeypatch.setattr("pipeline.references.links_of", noted)
    pairs = []
    for name, parts in (("nightly", (0, 700, 800, 900)), ("whole", (0, 900))):
        (tmp_path / name).mkdir()
        compared.clear()
        for night, (start, end) in enumerate(pairwise(parts), 1):
            keep(tmp_path / name, night, records[start:end])
            resolve_references(tmp_path / name, MODEL)
        pairs.append(sorted(compared))
    assert pairs[0] == pairs[1]
