"""What the journal says of earlier runs: what was asked when, and what was left unfinished."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from connectors.connector import Page, Request
from pipeline.responses import Responses, request_from, request_key

# An unfinished run older than this is not gone on with: its answers are of another day.
RESUME_WITHIN = timedelta(hours=20)


@dataclass
class Journal:
    """The state of the journal at the start of a run.

    completed: (source, expression in words) -> when that sweep last ended complete.
    unfinished: the run to go on with, else "". abandoned: one too old for that.
    ended: (source, sweep) of the unfinished run that are done.
    answers: (source, sweep, request) of that run -> the line of the answer kept.
    taken_in: (name, hash) of every file handed in and kept.
    """

    completed: dict[tuple[str, str], datetime] = field(default_factory=dict)
    unfinished: str = ""
    abandoned: str = ""
    ended: set[tuple[str, str]] = field(default_factory=set)
    answers: dict[tuple[str, str, str], dict[str, Any]] = field(default_factory=dict)
    taken_in: set[tuple[str, str]] = field(default_factory=set)

    def recall(self, responses: Responses, sweep: str, request: Request) -> Page | None:
        """Return the answer to this request that the unfinished run kept already, if any."""
        line = self.answers.get((request.source, sweep, request_key(request)))
        return responses.page(line) if line else None


def read_journal(responses: Responses, now: datetime) -> Journal:
    """Read the journal once. Cost grows with its lines, about 1 µs a byte."""
    journal = Journal()
    started: dict[str, datetime] = {}
    for _, line in responses.journal.lines():
        match line["line"]:
            case "run started" | "run ended" if line.get("does"):
                pass  # not a nightly run (a capture): the one it came between stays unfinished
            case "run started":
                journal.unfinished, journal.ended, journal.answers = line["run"], set(), {}
                started[line["run"]] = datetime.fromisoformat(line["at"])
            case "run ended":
                journal.unfinished, journal.ended, journal.answers = "", set(), {}
            case "answer" if line["request"]["step"] == "file":
                journal.taken_in.add((line["sweep"], line["sha256"]))
            case "answer" if line["run"] == journal.unfinished:
                key = request_key(request_from(line["request"]))
                journal.answers[(line["source"], line["sweep"], key)] = line
            case "sweep ended":
                _sweep_ended(journal, line)
    if journal.unfinished and now - started[journal.unfinished] > RESUME_WITHIN:
        journal.abandoned = journal.unfinished
        journal.unfinished, journal.ended, journal.answers = "", set(), {}
    return journal


def _sweep_ended(journal: Journal, line: Mapping[str, Any]) -> None:
    if line["outcome"] == "complete":
        journal.completed[(line["source"], line["expression"])] = datetime.fromisoformat(line["at"])
        journal.ended.add((line["source"], line["sweep"]))
