"""A small invented matter in a store written by hand, and its web asked without a server."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from pipeline.decisions import Decision, Decisions
from pipeline.review.app import create_app
from pipeline.review.site import Settings
from pipeline.store import open_store

MATTER = """
offices = ["US", "EP"]
[invention]
title = "Lid hinge"
summary = "A hinge that holds a lid."
[invention.elements]
A = "a lid"
B = "a friction hinge"
[[concept]]
name = "hinge"
terms = ["hinge"]
[[date]]
kind = "first filing"
day = 2026-03-16
office = "US"
priority_valid = "yes"
"""
# id, second record, source, kind, title, who, earliest public from, to
REFERENCES = (
    (
        "aaaaaaaaaaaa",
        "",
        "crossref",
        "article",
        "Friction hinge for a lid",
        "Ida Moravec",
        "2019-05-04",
        "2019-05-04",
    ),
    (
        "bbbbbbbbbbbb",
        "bbbbbbbbbbb2",
        "openalex",
        "article",
        "Hinge with a spring",
        "Müller, J.",
        "2020-01-01",
        "2020-12-31",
    ),
    (
        "cccccccccccc",
        "",
        "epo_ops",
        "patent application",
        "Lid with torque limiter",
        "Acme",
        "2026-04-01",
        "2026-04-01",
    ),
    ("dddddddddddd", "", "crossref", "preprint", "A note on lids", "Ada Fen", "2026-03-01", "2026-03-31"),
    ("eeeeeeeeeeee", "", "files", "report", "Undated hinge report", "", None, None),
)
RECORD = """INSERT INTO record VALUES (?, ?, ?, ?, 2, 0, ?, 'c', ?, ?, ?, 'en',
    [{name: ?, role: 'author', family: '', given: ''}], 'Journal of Hinges', '', '', '', '', '', ?, FALSE, ?, [])"""
RUN = "2026-11-24T02:00:00Z"


def write_store(folder: Path) -> None:
    """Write the references as a run would have left them."""
    with open_store(folder) as con:
        con.execute("INSERT INTO run VALUES (?, '2026-11-24 02:00', '2026-11-24 02:30', 'complete')", [RUN])
        con.execute(
            "INSERT INTO response VALUES (2, ?, 'crossref', 'hinge', 'GET works?q=hinge', 200, '2026-11-24 02:01',"
            " '44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a', 2, 1, 1, 0)",
            [RUN],
        )
        for place, (key, second, source, kind, title, who, first, last) in enumerate(REFERENCES, 1):
            for number, record in enumerate(filter(None, (key, second))):
                add_record(con, record, place * 10 + number, source, kind, title, who)
                if first or last:
                    con.execute(
                        "INSERT INTO dated_event VALUES (?, 1, 'published', ?, ?, 'as said', 'issued', '', TRUE, 2, TRUE)",
                        [record, first, last],
                    )
                con.execute("INSERT INTO membership VALUES (?, ?, ?, 'same DOI', 1)", [record, key, record])
            con.execute(
                "INSERT INTO reference VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [key, title, kind, key, first, last, key if first else None, 1 if first else None, RUN],
            )
            con.execute("INSERT INTO score VALUES (?, ?, ?, 0.5, 0.5)", [key, place, 1 / place])
            con.execute("INSERT INTO passage VALUES (?, 1, 'abstract', 'The hinge holds.')", [key])
            con.execute(
                "INSERT INTO element_match VALUES (?, 'A', ?, 1), (?, 'B', 0.1, NULL)",
                [key, 0.9 - place / 10, key],
            )
        con.execute(
            "INSERT INTO identifier VALUES ('aaaaaaaaaaaa', 'doi', '10.5555/lid.1', '10.5555/lid.1', '', '')"
        )
        con.execute("INSERT INTO topic VALUES (1, 'lid, hinge', 2)")
        con.execute("INSERT INTO topic_member VALUES ('aaaaaaaaaaaa', 1), ('bbbbbbbbbbbb', 1)")


def add_record(con: Any, record: str, seq: int, source: str, kind: str, title: str, who: str) -> None:
    """Write one record with an abstract that holds the passage, and one claim."""
    abstract = "First. The hinge holds. Last."
    con.execute(
        RECORD,
        [
            record,
            seq,
            source,
            f"native {record}",
            RUN,
            kind,
            title,
            abstract,
            who,
            "https://example.org/x",
            ["1. A lid."],
        ],
    )
    con.execute("INSERT INTO found VALUES (?, ?, 'hinge', ?, 'yes', TRUE)", [record, source, RUN])


@dataclass(frozen=True)
class Web:
    """The matter's web: its folder, and a client that speaks as the browser on this machine does."""

    folder: Path
    client: TestClient

    def get(self, address: str) -> str:
        """Return the page; it must be one."""
        answer = self.client.get(address)
        assert answer.status_code == 200, answer.text
        return str(answer.text)

    def post(self, address: str, follow: bool = True, **fields: Any) -> Any:
        """Send the form as our own page would."""
        headers = {"origin": "http://127.0.0.1:8123"}
        return self.client.post(address, data=fields, headers=headers, follow_redirects=follow)

    def decisions(self) -> list[Decision]:
        """Return what is on the disk."""
        return list(Decisions(self.folder).all())


@pytest.fixture
def empty(tmp_path: Path) -> Web:
    """Give the web of a matter without any run."""
    folder = tmp_path / "lid-hinge"
    folder.mkdir()
    (folder / "matter.toml").write_text(MATTER, encoding="utf-8")
    settings = Settings(folder, 8123, lambda: datetime(2026, 11, 25, 9, tzinfo=UTC), "ida", 0.3)
    client = TestClient(create_app(settings), base_url="http://127.0.0.1:8123", raise_server_exceptions=False)
    return Web(folder, client)


@pytest.fixture
def web(empty: Web) -> Iterator[Web]:
    """Give the web of the small matter."""
    write_store(empty.folder)
    yield empty
