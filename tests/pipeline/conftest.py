"""A small field whose every number can be counted by hand.

place  id  public                 sources               tag        topic  A     B
1      r1  2019-03-04             crossref + openalex   relevant   1      .80   .20
2      r2  2020 (year only)       crossref              -          1      .10   .60
3      r3  not stated             arxiv                 -          2      .30   -
4      r4  by 2018-06-30          crossref + openalex   -          2      -     -
5      r5  not before 2021-01-01  files                 -          -      -     -
-      r6  2022-02                arxiv                 not yet ranked
openalex_again was asked too and brought nothing.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from pipeline.decisions import Decisions
from pipeline.embed import text_key
from pipeline.store import open_store

MATTER = """
offices = ["US", "EP"]
[invention]
title = "Hinge"
summary = "A lid hinge."
[invention.elements]
A = "a hinge"
B = "a spring"
[[concept]]
name = "hinge"
terms = ["hinge"]
[[date]]
kind = "filing"
day = "2020-06-01"
office = "US"
[[date]]
kind = "filing"
day = "2021-06-01"
office = "EP"
"""
HOSTILE = "\u202e<script>alert(1)</script>\x00\x1b " + "long " * 2_000
# id, title, public from and to, sources, place, score, topic
REFERENCES = (
    ("r1", HOSTILE, "2019-03-04", "2019-03-04", ("crossref", "openalex"), 1, 0.9, 1),
    ("r2", "A spring & a lid", "2020-01-01", "2020-12-31", ("crossref",), 2, 0.7, 1),
    ("r3", "", None, None, ("arxiv",), 3, 0.5, 2),
    ("r4", "蝶番", None, "2018-06-30", ("crossref", "openalex"), 4, 0.4, 2),
    ("r5", "Lid", "2021-01-01", None, ("files",), 5, 0.3, None),
    ("r6", "Late", "2022-02-01", "2022-02-28", ("arxiv",), None, None, None),
)
MATCHES = (("r1", "A", 0.8), ("r1", "B", 0.2), ("r2", "A", 0.1), ("r2", "B", 0.6), ("r3", "A", 0.3))
VECTORS = {"r1": (1, 0, 0), "r2": (0.8, 0.6, 0), "r3": (0, 0, 1), "r4": (0, 0.6, 0.8)}
RECORD = """INSERT INTO record VALUES (?, ?, ?, ?, 1, 0, 'run', 'c', 'article', ?, '', '', [], '', '', '',
    '', '', '', '', FALSE, [], [])"""
SEARCH = "INSERT INTO search VALUES ('run', ?, 'all', 'x', NULL, 'complete', '', 1, NULL, FALSE, 0, 0, 0, 0)"


@pytest.fixture(scope="session")
def drawn_up(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the matter drawn up above, to be read only."""
    folder = tmp_path_factory.mktemp("field")
    (folder / "matter.toml").write_text(MATTER, encoding="utf-8")
    with open_store(folder) as con:
        number = 0
        for key, title, first, last, sources, place, score, topic in REFERENCES:
            for source in sources:
                number += 1
                record = key if source == sources[0] else f"{key}-{source}"
                con.execute(RECORD, [record, number, source, record, title])
                con.execute("INSERT INTO membership VALUES (?, ?, ?, '', 1)", [record, key, record])
            con.execute(
                "INSERT INTO reference VALUES (?, ?, 'article', ?, ?, ?, ?, NULL, 'run')",
                [key, title, key, first, last, key if first or last else None],
            )
            if place:
                meaning = score if key in VECTORS else None
                con.execute("INSERT INTO score VALUES (?, ?, ?, 0, ?)", [key, place, score, meaning])
            if topic:
                con.execute("INSERT INTO topic_member VALUES (?, ?)", [key, topic])
        con.executemany("INSERT INTO element_match VALUES (?, ?, ?, NULL)", MATCHES)
        con.execute("INSERT INTO topic VALUES (1, 'spring, lid', 2), (2, 'hinge, <b>axis</b>', 2)")
        for source in ("crossref", "openalex_again"):
            con.execute(SEARCH, [source])
        titles = {row[0]: row[1] for row in REFERENCES}
        for key, vector in VECTORS.items():
            con.execute(
                "INSERT INTO embedding VALUES (?, 'm', ?) ON CONFLICT DO NOTHING",
                [text_key(titles[key]), np.array(vector, np.float32)],
            )
    facts = {"tag": "relevant", "note": "", "elements": ["A"], "category": "X"}
    Decisions(folder).add("tag", ("r1",), facts, "me", datetime(2026, 11, 25, tzinfo=UTC))
    return folder


@pytest.fixture
def field_folder(drawn_up: Path, tmp_path: Path) -> Path:
    """Give a copy of the matter drawn up above that a test may change."""
    return Path(shutil.copytree(drawn_up, tmp_path / "field"))


@pytest.fixture
def empty_folder(tmp_path: Path) -> Path:
    """Give a matter with a store in which nothing is yet."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    with open_store(tmp_path):
        pass
    return tmp_path


@pytest.fixture
def embed_text(field_folder: Path) -> Callable[[str, tuple[float, ...]], None]:
    """Give a function that gives a text its vector in the field's store."""

    def embed(text: str, vector: tuple[float, ...]) -> None:
        with open_store(field_folder) as con:
            values = [text_key(text), np.array(vector, np.float32)]
            con.execute("INSERT INTO embedding VALUES (?, 'm', ?)", values)

    return embed
