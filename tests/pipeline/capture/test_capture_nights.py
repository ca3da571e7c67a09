"""A capture and the nightly run beside it: neither hides nor ends the other's."""

from __future__ import annotations

from datetime import timedelta

import pytest

from pipeline.cli import main
from pipeline.journal import read_journal
from pipeline.responses import Responses
from pipeline.review.troubles import read_troubles
from pipeline.store import open_store
from tests.pipeline.capture.world import Bench


def test_a_capture_leaves_an_unfinished_nightly_run_as_it_was(bench: Bench) -> None:
    """The next run still goes on where the one that was cut off stopped."""
    responses = Responses(bench.folder)
    at = bench.now.isoformat()
    responses.journal.append({"line": "run started", "run": "night", "at": at})
    bench.capture("/flusher", pictures=0)
    assert read_journal(responses, bench.now).unfinished == "night"


def test_a_capture_hides_no_trouble_of_the_night_and_adds_none(
    bench: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a source still owes stays in sight; a page that could not be captured is no debt of the next run."""
    responses = Responses(bench.folder)
    at, run = (bench.now - timedelta(days=1)).isoformat(), "2026-11-24T02:00:00Z"
    end = {"source": "crossref", "sweep": "all", "expression": "x", "outcome": "failed", "reason": "503", "requests": 1,
           "items": 0, "records": 0, "quarantined": 0, "stated_total": None, "total_is_floor": False, "waited_s": 0.0}  # fmt: skip
    for line in (
        {"line": "run started"},
        {"line": "sweep ended", **end},
        {"line": "run ended", "outcome": "incomplete"},
    ):
        responses.journal.append({**line, "run": run, "at": at})
    bench.capture("/flusher", "/none", pictures=0)
    bench.hits()
    with open_store(bench.folder, read_only=True) as con:
        assert [(one.source, one.sweep) for one in read_troubles(con)] == [("crossref", "all")]
    assert main(["status", str(bench.folder)]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"run {run}: incomplete") and "capture of 2026-11-25" in said
    assert main(["status", str(bench.folder), "--run", "2026-11-25T00:00:00Z"]) == 0
    assert "no such page" in capsys.readouterr().out
