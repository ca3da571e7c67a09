"""What the journal says of earlier runs: what was asked when, and what was left unfinished."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from connectors.connector import Page, Request
from connectors.fetch import SEARCH
from pipeline.responses import Responses, request_from, request_key

# An unfinished run older than this is not gone on with: its answers are of another day.
RESUME_WITHIN = timedelta(hours=20)


@dataclass(frozen=True)
class Answered:
    """When a sweep last ended complete, and when it last did so asked for everything and not
    for news alone (None: it is not known that it ever did)."""

    at: datetime
    whole_at: datetime | None


@dataclass
class Journal:
    """The state of the journal at the start of a run.

    completed: (source, expression in words) -> when that sweep last ended complete.
    unfinished: the run to go on with, else "". abandoned: one too old for that.
    ended: (source, sweep) of the unfinished run that are done.
    answers: (source, sweep, request) of that run -> the line of the answer kept.
    taken_in: (name, hash) of every file handed in and kept.
    looked_up: (source, request) of every look-up of a sweep that ended complete, so that its
    answer could be read -> when that came. unproved: (source, sweep) -> those of one that has
    not ended so.
    """

    completed: dict[tuple[str, str], Answered] = field(default_factory=dict)
    unfinished: str = ""
    abandoned: str = ""
    ended: set[tuple[str, str]] = field(default_factory=set)
    answers: dict[tuple[str, str, str], dict[str, Any]] = field(default_factory=dict)
    taken_in: set[tuple[str, str]] = field(default_factory=set)
    looked_up: dict[tuple[str, str], datetime] = field(default_factory=dict)
    unproved: dict[tuple[str, str], dict[tuple[str, str], datetime]] = field(default_factory=dict)

    def recall(self, responses: Responses, sweep: str, request: Request) -> Page | None:
        """Return the answer to this request that the unfinished run kept already, if any."""
        line = self.answers.get((request.source, sweep, request_key(request)))
        return responses.page(line) if line else None

    def holds(self, sweep: str, request: Request, since: datetime) -> bool:
        """Say whether the look-up was answered since then: in an earlier run, or for another sweep."""
        key = request_key(request)
        if (request.source, sweep, key) in self.answers:
            return False
        at = self.looked_up.get((request.source, key))
        return at is not None and at >= since


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
            case "answer":
                _answered(journal, line)
            case "sweep ended":
                _sweep_ended(journal, line)
    if journal.unfinished and now - started[journal.unfinished] > RESUME_WITHIN:
        journal.abandoned = journal.unfinished
        journal.unfinished, journal.ended, journal.answers = "", set(), {}
    return journal


def _answered(journal: Journal, line: dict[str, Any]) -> None:
    of_now, is_look_up = line["run"] == journal.unfinished, line["request"]["step"] != SEARCH
    if not (of_now or is_look_up):
        return
    key = request_key(request_from(line["request"]))
    if is_look_up:
        at = datetime.fromisoformat(line["at"])
        journal.unproved.setdefault((line["source"], line["sweep"]), {})[(line["source"], key)] = at
    if of_now:
        journal.answers[(line["source"], line["sweep"], key)] = line


def _sweep_ended(journal: Journal, line: Mapping[str, Any]) -> None:
    look_ups = journal.unproved.pop((line["source"], line["sweep"]), {})
    if line["outcome"] == "complete":
        journal.looked_up |= look_ups
        key, at = (line["source"], line["expression"]), datetime.fromisoformat(line["at"])
        before = journal.completed.get(key)
        # Journals of before this was written down do not say; then it is asked whole once more.
        whole_at = at if line.get("since") == "" else before.whole_at if before else None
        journal.completed[key] = Answered(at, whole_at)
        journal.ended.add((line["source"], line["sweep"]))
