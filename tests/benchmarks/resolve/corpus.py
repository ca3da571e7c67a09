"""A large corpus with truth, made of real records: `python corpus.py FOLDER COUNT`.

Real titles, people and venues of the open labelled sets are taken apart and put together to
as many works as are wanted; each work is then listed by several sources with the noise that
catalogues make. Writes records, identifiers, truth and vectors as Parquet files.
Deterministic: fixed seed, no clock.

What a work is: the head of one real title and the tail of another, the people of one real
paper. Every tenth is a sister of the work before: the same people, one or two long words of
the title replaced or a part number added, its own DOI. One in fifty is a recurring column ("Editorial") that no
likeness may join. Copies: 1 to 6 (mean 2), a third of them of another version (preprint, or
the conference paper a year or two before), which is the same work.
"""

from __future__ import annotations

import csv
import gzip
import json
import random
import re
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

SETS = Path(__file__).resolve().parents[3] / "../shared/benchmarks"
SEED = 11
SOURCES = ("openalex", "crossref", "catalogue", "arxiv", "handed-in")
COLUMNS_TITLES = (
    "Editorial",
    "Front matter",
    "Guest Editor's Introduction",
    "Preface",
    "Book reviews",
    "Index",
)
DIMENSIONS = 384
Row = dict[str, Any]


def real() -> tuple[list[list[str]], list[list[str]], list[str]]:
    """Return the real titles as words, the real lists of people, and the venues."""
    titles, people, venues = [], [], set()
    for name in ("dblp", "acm"):
        with (SETS / f"dedup-dblp-acm/{name}.csv").open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                titles.append(row["title"].split())
                people.append([p.strip() for p in (row["authors"] or "").split(",") if p.strip()])
                venues.add(row["venue"])
    for path in (
        "link-preprints/articles",
        "rank-cranfield/docs",
        "rank-cisi/docs",
        "dedup-releases/records",
    ):
        with gzip.open(SETS / f"{path}.jsonl.gz", "rt", encoding="utf-8") as lines:
            for row in map(json.loads, lines):
                titles.append(row["title"].split())
                names = row.get("authors", [])
                # The older sets name their people in one line ("Goffman, W. Newill, V. A.").
                people.append(
                    re.split(r"(?<=\w\.) +(?=\w{2})", names) if isinstance(names, str) else names[:12]
                )
                venues.add(row.get("venue") or "")
    return (
        [title for title in titles if 4 <= len(title) <= 25],
        [names for names in people if names],
        sorted(venues - {""}),
    )


def works(count: int, rng: random.Random) -> list[Row]:
    """Return invented works of real parts."""
    titles, people, venues = real()
    made: list[Row] = []
    while len(made) < count:
        if made and rng.random() < 0.1:
            made.append(sister(made[-1], rng, titles))
            continue
        head, tail = rng.choice(titles), rng.choice(titles)
        title = head[: max(2, len(head) // 2)] + tail[len(tail) // 2 :]
        if rng.random() < 0.02:
            title = [rng.choice(COLUMNS_TITLES)]
        made.append(
            {"title": title, "people": rng.choice(people), "year": rng.randint(1990, 2024),
             "venue": rng.choice(venues), "topic": rng.randrange(2000), "near": len(made)}
        )  # fmt: skip
    return made


def sister(work: Row, rng: random.Random, titles: list[list[str]]) -> Row:
    """Return another work of the same people: words replaced, or a part number added."""
    title = list(work["title"])
    long = [at for at, word in enumerate(title) if len(word) > 3]
    if rng.random() < 0.2 or not long:
        title += ["Part", rng.choice(("II", "III", "IV"))]
    for at in rng.sample(long, min(len(long), rng.choice((1, 2)))):
        title[at] = rng.choice([word for word in rng.choice(titles) if len(word) > 3] or ["anew"])
    if title == work["title"]:
        title += ["revisited", "anew"]
    return work | {"title": title, "year": work["year"] + rng.randint(0, 3)}


def copies(place: int, work: Row, rng: random.Random) -> list[Row]:
    """Return the work's records as sources list it."""
    many = rng.choices((1, 2, 3, 4, 6), (42, 33, 15, 7, 3))[0]
    numbered = rng.random() < 0.7
    sources = rng.sample(SOURCES, min(many, len(SOURCES))) + [rng.choice(SOURCES)] * (many - len(SOURCES))
    found = []
    for source in sources:
        early = rng.random() < 0.3
        kind = rng.choice(("preprint", "conference paper")) if early else "article"
        year = work["year"] - (rng.choice((0, 1, 1, 2)) if early else 0)
        doi = f"10.{5555 + early}/{'p' if early else 'j'}{place}" if numbered and rng.random() < 0.6 else ""
        names = [initial(name, rng) for name in work["people"] if rng.random() > 0.03] or work["people"]
        venue = "" if kind == "preprint" else work["venue"]
        found.append(
            {"source": source, "kind": kind, "title": noisy(work["title"], rng), "people": names, "doi": doi,
             "year": None if rng.random() < 0.04 else year, "venue": venue, "work": place}
        )  # fmt: skip
    return found


def noisy(title: list[str], rng: random.Random) -> str:
    """Return the title as a catalogue writes it."""
    text = " ".join(title)
    for _ in range(rng.choices((0, 1, 2, 3), (70, 20, 7, 3))[0]):
        at = rng.randrange(len(text))
        text = text[:at] + rng.choice(("", text[at] * 2, rng.choice("aeinrst"))) + text[at + 1 :]
    return rng.choice((text, text, text, text.title(), text.upper(), f"<i>{text}</i>"))


def initial(name: str, rng: random.Random) -> str:
    """Return the name as it is, with initials, or turned round."""
    given, _, family = name.rpartition(" ")
    if not given or rng.random() < 0.5:
        return name
    return rng.choice((f"{given[0]}. {family}", f"{family}, {given}", f"{family}, {given[0]}."))


def vectors(owners: np.ndarray, near: np.ndarray, topics: np.ndarray) -> np.ndarray:
    """Return a unit vector a record: its topic's, its family of sister works', its work's and its own.

    Cosines: copies .96, sisters .87, one topic .4, others about 0: as the model's on real titles.
    """
    rng = np.random.default_rng(SEED)
    centres = rng.standard_normal((int(topics.max()) + 1, DIMENSIONS), np.float32)
    found = np.empty((len(owners), DIMENSIONS), np.float32)
    for start in range(0, len(owners), 50_000):
        rows = slice(start, start + 50_000)
        mixed = 0.65 * centres[topics[rows]]
        for share, name in ((0.68, near[rows]), (0.28, owners[rows])):
            mixed += share * _noise(name)
        mixed += 0.2 * rng.standard_normal(mixed.shape, np.float32)
        found[rows] = mixed / np.linalg.norm(mixed, axis=1, keepdims=True)
    return found


def _noise(names: np.ndarray) -> np.ndarray:
    different, which = np.unique(names, return_inverse=True)
    return np.stack(
        [np.random.default_rng(int(n)).standard_normal(DIMENSIONS, np.float32) for n in different]
    )[which]


def write(folder: Path, count: int) -> None:
    """Write the corpus of count records."""
    rng = random.Random(SEED)  # noqa: S311 - noise, not secrets
    made = works(count * 10 // 19, rng)
    rows = [copy for place, work in enumerate(made) for copy in copies(place, work, rng)][:count]
    order = list(range(len(rows)))
    rng.shuffle(order)
    owners = np.array([rows[i]["work"] for i in order])
    rows = [rows[i] for i in order]
    texts = {
        name: pa.array([row[name] for row in rows], pa.string())
        for name in ("source", "kind", "title", "venue")
    }
    blank = pa.array([""] * len(rows), pa.string())
    years = pa.array([row["year"] for row in rows], pa.int32())
    ids = pa.array([f"r{n:07}" for n in range(len(rows))], pa.string())
    names = pa.array([name for row in rows for name in row["people"]], pa.string())
    empty = pa.array([""] * len(names), pa.string())
    role = pa.array(["author"] * len(names), pa.string())
    starts = pa.array(np.cumsum([0, *(len(row["people"]) for row in rows)]), pa.int32())
    person = pa.StructArray.from_arrays([names, role, empty, empty], ["name", "role", "family", "given"])
    records = pa.table(
        {"record_id": ids, "seq": pa.array(range(1, len(rows) + 1), pa.int64()), **texts,
         "people": pa.ListArray.from_arrays(starts, person), "volume": blank, "issue": blank, "pages": blank,
         "version": blank, "language": blank, "year_from": years, "year_to": years}
    )  # fmt: skip
    numbered = [(f"r{n:07}", row["doi"]) for n, row in enumerate(rows) if row["doi"]]
    dois = pa.array([doi for _, doi in numbered], pa.string())
    identifiers = pa.table(
        {"record_id": pa.array([key for key, _ in numbered], pa.string()), "value": dois, "match_key": dois,
         "scheme": pa.array(["doi"] * len(numbered), pa.string())}
    )  # fmt: skip
    near, topics = (np.array([work[name] for work in made])[owners] for name in ("near", "topic"))
    flat = pa.array(vectors(owners, near, topics).ravel())
    folder.mkdir(parents=True, exist_ok=True)
    pq.write_table(records, folder / "records.parquet")
    pq.write_table(identifiers, folder / "identifiers.parquet")
    pq.write_table(pa.table({"record_id": ids, "work": owners}), folder / "truth.parquet")
    vector = pa.FixedSizeListArray.from_arrays(flat, DIMENSIONS)
    pq.write_table(
        pa.table({"record_id": ids, "vector": vector}), folder / "vectors.parquet", compression="none"
    )


if __name__ == "__main__":
    write(Path(sys.argv[1]), int(sys.argv[2]))
