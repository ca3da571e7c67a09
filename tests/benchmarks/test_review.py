"""The list at 100,000 references: server time by filter, beside reading everything for each page.

python -m pytest tests/benchmarks/test_review.py -m benchmark -s
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient

from pipeline.decisions import Decisions
from pipeline.listing import read_hits
from pipeline.review.app import create_app
from pipeline.review.site import Settings
from pipeline.store import open_store

pytestmark = [pytest.mark.benchmark, pytest.mark.timeout(1800)]
SIZE = int(os.environ.get("ANTEDATE_BENCHMARK_SIZE", "100000"))
JUDGED, ROUNDS = 500, 30
VIEWS = {
    "not judged": "",
    "not judged, page 100": "page=100",
    "all": "tag=all",
    "relevant": "tag=relevant",
    "kind": "kind=preprint",
    "source": "source=openalex",
    "topic": "topic=topic+valve",
    "verdict, counts": "office=US&verdict=prior_art",
    "verdict, undecided": "office=EP&verdict=undecided",
    "element": "element=B&least=50",
    "days": "since=2010&until=2012-06",
    "run": "run=latest",
    "words": "text=friction",
    "two words": "text=torque+limiter",
    "a phrase": "text=%22meets+the+seat%22",
    "a number": "text=10.5555/hinge.77777",
    "no such word": "text=zeppelin",
    "earliest first": "order=oldest",
    "five filters": "kind=article&source=crossref&since=2005&text=hinge&office=JP&verdict=prior_art",
}
MATTER = """
offices = ["US", "EP", "JP"]
[invention]
title = "Lid hinge"
summary = "A hinge that holds a lid open at any angle by friction."
[invention.elements]
A = "a lid"
B = "a friction hinge"
C = "a torque limiter"
D = "a spring"
E = "a cable duct"
[[concept]]
name = "hinge"
terms = ["hinge"]
[[date]]
kind = "first filing"
day = 2026-03-16
office = "US"
"""
# Every third reference has a second record, every fifth is a patent document; days spread
# over 30 years, some known by month or year alone; the best 2,000 are compared by element.
_FILL = """
CREATE TEMP TABLE made AS
SELECT n, 'r' || lpad(n::VARCHAR, 11, '0') AS id, n % 5 = 0 AS patent,
       DATE '1996-01-01' + (hash(n) % 11280)::INTEGER AS day, hash(n + 7) % 10 AS grain,
       ['valve', 'spring', 'hinge', 'duct', 'lid', 'torque', 'friction', 'limiter', 'cable', 'seat'] AS w
FROM range(1, $size + 1) t(n);

INSERT INTO run SELECT '2026-11-' || lpad(d::VARCHAR, 2, '0') || 'T02:00:00Z',
    TIMESTAMP '2026-11-01 02:00:00' + to_days((d - 1)::INTEGER), TIMESTAMP '2026-11-01 02:30:00'
    + to_days((d - 1)::INTEGER), 'complete' FROM range(1, 11) t(d);

INSERT INTO record
SELECT r.id || CASE WHEN copy = 1 THEN 'b' ELSE 'a' END, n * 2 + copy,
       CASE WHEN patent THEN 'epo_ops' WHEN (n + copy) % 2 = 0 THEN 'crossref' ELSE 'openalex' END,
       'native-' || n || '-' || copy, 1, 0, '2026-11-' || lpad((n % 10 + 1)::VARCHAR, 2, '0') || 'T02:00:00Z',
       'c', CASE WHEN patent THEN 'patent application' WHEN n % 7 = 0 THEN 'preprint' ELSE 'article' END,
       'On the ' || w[n % 10 + 1] || ' of a ' || w[(n // 10) % 10 + 1] || ' with a ' || w[(n // 100) % 10 + 1] || ', part ' || n,
       repeat('A ' || w[n % 10 + 1] || ' meets the ' || w[(n // 7) % 10 + 1] || ' where the lid turns. ', 20),
       'en', [{name: 'Ida Moravec ' || n % 5000, role: 'author', family: 'Moravec', given: 'Ida'}],
       'Journal of Hinges ' || n % 200, '', '', '', '', '', '', FALSE, [], []
FROM made r, range(0, 2) c(copy) WHERE copy = 0 OR n % 3 = 0;

INSERT INTO identifier
SELECT record_id, CASE WHEN patent THEN 'publication' ELSE 'doi' END,
       CASE WHEN patent THEN 'EP' || 1000000 + n || 'A1' ELSE '10.5555/hinge.' || n END,
       CASE WHEN patent THEN 'EP' || 1000000 + n ELSE '10.5555/hinge.' || n END, '', ''
FROM record JOIN made ON left(record_id, 12) = id;

INSERT INTO dated_event
SELECT record_id, 1, CASE WHEN patent THEN 'publication of application' ELSE 'published online' END,
       CASE grain WHEN 0 THEN date_trunc('year', day) WHEN 1 THEN date_trunc('month', day) ELSE day END,
       CASE grain WHEN 0 THEN date_trunc('year', day) + INTERVAL 1 YEAR - INTERVAL 1 DAY
                  WHEN 1 THEN date_trunc('month', day) + INTERVAL 1 MONTH - INTERVAL 1 DAY ELSE day END,
       'as stated', 'field', '', TRUE, 1, TRUE
FROM record JOIN made ON left(record_id, 12) = id;
INSERT INTO dated_event
SELECT record_id, 2, 'filed', day - 540, day - 540, 'as stated', 'field', '', FALSE, 1, TRUE
FROM record JOIN made ON left(record_id, 12) = id WHERE patent;

INSERT INTO membership SELECT record_id, id || 'a', id || 'a', 'the same DOI', 1
FROM record JOIN made ON left(record_id, 12) = id;
INSERT INTO reference
SELECT id || 'a', title, record.kind, record_id, day_from, day_to, record_id, 1, first_run
FROM made JOIN record ON record_id = id || 'a' JOIN dated_event e USING (record_id) WHERE e.event = 1;
INSERT INTO found SELECT record_id, source, 'hinge', first_run, 'yes', TRUE FROM record;
INSERT INTO score SELECT id || 'a', n, 1.0 / n, 1.0 / n, 1.0 / n FROM made;
INSERT INTO passage SELECT id || 'a', p, CASE p WHEN 1 THEN 'title' ELSE 'abstract' END,
    'A ' || w[n % 10 + 1] || ' meets the ' || w[(n // 7) % 10 + 1] || ' where the lid turns.'
FROM made, range(1, 12) t(p) WHERE n <= 2000;
INSERT INTO element_match SELECT id || 'a', e, (hash(n || e) % 1000) / 1000.0, hash(n || e) % 11 + 1
FROM made, UNNEST(['A', 'B', 'C', 'D', 'E']) t(e) WHERE n <= 2000;
INSERT INTO topic SELECT t, 'topic ' || w[t], 100 FROM (SELECT w FROM made LIMIT 1), range(1, 11) r(t);
INSERT INTO topic_member SELECT id || 'a', n % 10 + 1 FROM made WHERE n <= 5000;
INSERT INTO response VALUES (1, '2026-11-01T02:00:00Z', 'crossref', 'hinge', 'GET works', 200,
    TIMESTAMP '2026-11-01 02:00:00', 'aa', 2, 1, 1, 0);
INSERT INTO search SELECT run_id, source, 'hinge', 'hinge', started_at, 'complete', '', 1, 1, FALSE, 1, 1, 0, 0
FROM run, UNNEST(['crossref', 'openalex', 'epo_ops']) s(source);
"""


def make_big_matter(folder: Path, size: int) -> Path:
    """Write a matter with `size` references, about a third of them in two records; return the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "matter.toml").write_text(MATTER, encoding="utf-8")
    with open_store(folder) as con:
        for statement in _FILL.replace("$size", str(size)).split(";\n"):
            if statement.strip():
                con.execute(statement)
    return folder


def timed(ask: Callable[[], object]) -> tuple[float, float]:
    """Return the milliseconds it takes by the clock, and those the processor worked, over all threads."""
    start, worked = time.perf_counter(), time.process_time()
    ask()
    return (time.perf_counter() - start) * 1000, (time.process_time() - worked) * 1000


def row(name: str, took: list[tuple[float, float]], peer: float) -> str:
    """Return a line of the table."""
    clock, worked = np.array(took).T
    p50, p95 = np.percentile(clock, [50, 95])
    return f"{name:24}{p50:8.0f}{p95:8.0f}{np.percentile(worked, 50):8.0f}{peer / p95:10.0f}"


def test_the_list_at_size(tmp_path: Path) -> None:
    """Print p50 and p95 of each view, the first page of a fresh process, and a judgement with its page."""
    folder = make_big_matter(tmp_path / "big", SIZE)
    facts = {"tag": "relevant", "note": "", "elements": [], "category": ""}
    for number in range(1, JUDGED + 1):
        record = f"r{number * 7:011d}a"
        Decisions(folder).add("tag", (record,), facts, "ida", datetime(2026, 11, 24, tzinfo=UTC))
    settings = Settings(folder, 8123, lambda: datetime(2026, 11, 25, 9, tzinfo=UTC), "ida")
    app = create_app(settings)
    client = TestClient(app, base_url="http://127.0.0.1:8123")
    peer = min(timed(lambda: read_hits(folder)) for _ in range(2))[0]
    print(f"\n{SIZE:,} references, {JUDGED} judged; reading everything (the peer): {peer:,.0f} ms")
    print(f"first page of a fresh process: {timed(lambda: client.get('/'))[0]:,.0f} ms")
    memory = app.state.site.memory
    matter, today = app.state.site.matter(), app.state.site.today
    all_judged = timed(lambda: memory.judge_all(memory.catalogue(), memory.judging(matter, today)))
    print(
        f"every verdict, once in the background: {all_judged[0]:,.0f} ms, {all_judged[1]:,.0f} of the processor"
    )
    print(f"{'view':24}{'p50 ms':>8}{'p95 ms':>8}{'cpu ms':>8}{'peer/p95':>10}")
    for name, asked in VIEWS.items():
        assert client.get(f"/?{asked}").status_code == 200
        print(row(name, [timed(lambda asked=asked: client.get(f"/?{asked}")) for _ in range(ROUNDS)], peer))
    page = "/reference/r00000000030a"
    print(row("one reference", [timed(lambda: client.get(page)) for _ in range(10)], peer))
    headers = {"origin": "http://127.0.0.1:8123"}
    form = {"tag": "relevant", "last": "9999", "back": "/"}
    took = [
        timed(lambda n=n: client.post(f"/reference/r{n:011d}a/tag", data=form, headers=headers))
        for n in range(10_001, 10_011)
    ]
    print(row("judge, and the list", took, peer))
    assert len(list(Decisions(folder).all())) == JUDGED + len(took)
