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
from tests.benchmarks.big_matter import make_big_matter

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
