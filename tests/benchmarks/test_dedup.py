"""De-duplication measured on open labelled sets, beside the best simple method on each.

Run with `python -m pytest -m benchmark -s tests/benchmarks/test_dedup.py`. One setting for all sets; the
weights were learned from another set (train_likeness.py). No vectors are used: titles,
people, years, venues and identifiers alone.
"""

from __future__ import annotations

import csv
import gzip
import itertools
import json
import re
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

from pipeline.resolve import group, links

SETS = Path(__file__).resolve().parents[2] / "../shared/benchmarks"
pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(not SETS.is_dir(), reason="the benchmark sets are not beside the checkout"),
]
PERSON = pa.struct([(n, pa.string()) for n in ("name", "role", "family", "given")])
TYPES = {"seq": pa.int64(), "people": pa.list_(PERSON), "year_from": pa.int32(), "year_to": pa.int32()}
COLUMNS = ("record_id", "seq", "source", "kind", "title", "people", "venue", "volume", "issue", "pages",
           "version", "language", "year_from", "year_to")  # fmt: skip
Row = dict[str, Any]


def record(record_id: str, title: str, people: Iterable[str], year: str | int | None, **more: Any) -> Row:
    """Return a row of the records table."""
    number = int(year) if year not in (None, "") else None
    row: Row = dict.fromkeys(COLUMNS, "") | {"record_id": record_id, "title": title, "source": "catalogue"}
    row["people"] = [
        {"name": n.strip(), "role": "author", "family": "", "given": ""} for n in people if n.strip()
    ]
    return row | {"kind": "other", "year_from": number, "year_to": number} | more


def resolve(rows: list[Row], ids: list[tuple[str, str, str]]) -> pa.Table:
    """Return the memberships of the rows with identifiers (record_id, scheme, key)."""
    for seq, row in enumerate(rows):
        row["seq"] = seq
    records = pa.table({n: pa.array([r[n] for r in rows], TYPES.get(n, pa.string())) for n in COLUMNS})
    names = ("record_id", "scheme", "match_key")
    identifiers = pa.table({n: pa.array([i[c] for i in ids], pa.string()) for c, n in enumerate(names)})
    identifiers = identifiers.append_column("value", identifiers["match_key"])
    relations = pa.table({n: pa.array([], pa.string()) for n in ("record_id", "kind", "scheme", "match_key")})
    vectors = pa.table(
        {"record_id": pa.array([], pa.string()), "vector": pa.array([], pa.list_(pa.float32(), 384))}
    )
    rulings = pa.table({"record_a": pa.array([], pa.string()), "record_b": pa.array([], pa.string()),
                        "same": pa.array([], pa.bool_())})  # fmt: skip
    found = links(records["record_id"].to_pylist(), records, identifiers, relations, vectors, rulings)
    return group(found, records, identifiers, rulings)


def pairs_within(memberships: pa.Table, column: str) -> set[tuple[str, str]]:
    """Return all pairs of records in one set."""
    sets: dict[str, list[str]] = {}
    for record_id, root in zip(
        memberships["record_id"].to_pylist(), memberships[column].to_pylist(), strict=True
    ):
        sets.setdefault(root, []).append(record_id)
    return {pair for members in sets.values() for pair in itertools.combinations(sorted(members), 2)}


def measure(found: set[Any], true: set[Any]) -> tuple[float, float, float]:
    """Return precision, recall, F1."""
    right = len(found & true)
    precision, recall = right / max(len(found), 1), right / max(len(true), 1)
    return precision, recall, 2 * precision * recall / max(precision + recall, 1e-9)


def show(name: str, question: str, measured: tuple[float, float, float], baseline: float) -> None:
    """Print one row of the table."""
    p, r, f = measured
    print(f"\n{name:<24} {question:<22} P {p:.3f}  R {r:.3f}  F1 {f:.4f}  best baseline {baseline:.3f}")


def test_the_same_paper_in_two_catalogues_is_one_document() -> None:
    """DBLP-ACM asks for documents: a conference paper and its journal version are two there."""
    folder = SETS / "dedup-dblp-acm"
    rows = []
    for name in ("dblp", "acm"):
        with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            for r in csv.DictReader(file):
                people = (r["authors"] or "").split(",")
                rows.append(record(r["id"], r["title"], people, r["year"], venue=r["venue"], source=name))
    with (folder / "matches.csv").open(encoding="utf-8", newline="") as file:
        true = {(r["acm_id"], r["dblp_id"]) for r in csv.DictReader(file)}
    found = {
        (a, b) for a, b in pairs_within(resolve(rows, []), "version_id") if a[:3] == "acm" and b[:4] == "dblp"
    }
    measured = measure(found, true)
    show("dedup-dblp-acm", "same document", measured, 0.977)
    assert measured[2] >= 0.977


def cora_people(text: str) -> list[str]:
    """Return the names in a citation's author field, surname first or last."""
    text = re.sub(
        r"\bet\.? al\.?|\bin (press|preparation)\b|\(.*?\)|\beds?\.", "", text.replace("&", " and ")
    )
    names: list[str] = []
    for part in re.split(r"\band\b|;", text):
        for piece in part.split(","):
            initials = not re.search(r"\w{2,}", piece)
            if piece.strip(" .") and not (initials and names):
                names.append(piece)
    return names


def test_messy_citations_of_one_work_come_together() -> None:
    """Cora asks for works; judged by B-cubed, which its three largest clusters do not rule."""
    rows, cluster = [], {}
    with (SETS / "dedup-cora/records.csv").open(encoding="utf-8", newline="") as file:
        for r in csv.DictReader(file):
            year = re.search(r"(19|20)\d\d", f"{r['year']} {r['date']}")
            cluster[r["id"]] = r["cluster"]
            venue = r["journal"] or r["booktitle"] or r["institution"]
            volume, page = (re.search(r"\d+", r[name]) for name in ("volume", "pages"))
            more = {
                "venue": venue,
                "volume": volume.group() if volume else "",
                "pages": page.group() if page else "",
            }
            rows.append(
                record(r["id"], r["title"], cora_people(r["author"]), year and int(year.group()), **more)
            )
    memberships = resolve(rows, [])
    found = dict(
        zip(memberships["record_id"].to_pylist(), memberships["reference_id"].to_pylist(), strict=True)
    )
    both = Counter((found[i], cluster[i]) for i in found)
    ours, truth = Counter(found.values()), Counter(cluster.values())
    precision = sum(both[found[i], cluster[i]] / ours[found[i]] for i in found) / len(found)
    recall = sum(both[found[i], cluster[i]] / truth[cluster[i]] for i in found) / len(found)
    measured = precision, recall, 2 * precision * recall / (precision + recall)
    show("dedup-cora", "same work, B-cubed", measured, 0.899)
    assert measured[2] >= 0.899


KINDS = {"article-journal": "article", "article": "preprint", "paper-conference": "conference paper",
         "chapter": "chapter", "dataset": "dataset", "standard": "standard", "post": "preprint", "book": "book",
         "component": "dataset", "graphic": "picture"}  # fmt: skip


def test_catalogue_entries_of_one_work_come_together_and_look_alikes_do_not() -> None:
    """The release pairs ask for works, among look-alikes; undecidable pairs count for nothing."""
    rows, ids = [], []
    with gzip.open(SETS / "dedup-releases/records.jsonl.gz", "rt", encoding="utf-8") as lines:
        for r in map(json.loads, lines):
            title = f"{r['title']}: {r['subtitle']}" if r.get("subtitle") else r["title"]
            kind = "preprint" if r.get("stage") == "submitted" else KINDS.get(r.get("type", ""), "other")
            more = {
                n: str(r.get(n) or "") for n in ("venue", "volume", "issue", "pages", "version", "language")
            }
            rows.append(record(r["id"], title, r.get("authors", ()), r.get("year"), kind=kind, **more))
            ids += [(r["id"], s, re.sub(r"v\d+$", "", r[s]) if s == "arxiv" else r[s].casefold())
                    for s in ("doi", "pmid", "pmcid", "arxiv") if r.get(s)]  # fmt: skip
    with (SETS / "dedup-releases/pairs.csv").open(encoding="utf-8", newline="") as file:
        verdicts = {
            (min(r["id_a"], r["id_b"]), max(r["id_a"], r["id_b"])): r["verdict"] for r in csv.DictReader(file)
        }
    joined = pairs_within(resolve(rows, ids), "reference_id")
    decided = {pair for pair, verdict in verdicts.items() if verdict != "ambiguous"}
    true = {pair for pair in decided if verdicts[pair] != "different"}
    measured = measure(joined & decided, true)
    show("dedup-releases", "same work", measured, 0.844)
    left = [pair for pair, verdict in verdicts.items() if verdict == "ambiguous"]
    print(f"{'':<24} undecidable pairs left apart: {sum(p not in joined for p in left)} of {len(left)}")
    assert measured[2] >= 0.844
