"""Sweeps × sources → raw answers and the search log. One source failing stops no other."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, Protocol

from connectors import files
from connectors.connector import Page, Request
from connectors.errors import SourceError
from connectors.fetch import SEARCH, FetchResult, Progress, fetch
from connectors.session import Session
from connectors.waiting import Clock, Limits
from pipeline.journal import Journal
from pipeline.plan import NumberSweep, PlannedSource, PlannedSweep
from pipeline.responses import Responses, request_key
from queries.expression_json import expression_data
from queries.sweep import Sweep

# Every source spaces its requests; only longer waits are news.
WORTH_TELLING_S = 5.0


@dataclass(frozen=True)
class Desk:
    """Where a run works: its raw answers, what earlier runs left, and who is told.

    clock: now, in UTC. say: told of progress, a line each. pace, limits: how the sessions
    wait and what one request may cost.
    """

    responses: Responses
    journal: Journal
    run_id: str
    clock: Callable[[], datetime]
    say: Callable[[str], None]
    pace: Clock = field(default_factory=Clock)
    limits: Limits = field(default_factory=Limits)

    @property
    def today(self) -> date:
        """Return the day, in UTC."""
        return self.clock().date()

    def write(self, line: str, **facts: Any) -> None:
        """Add a line to the journal."""
        at = self.clock().astimezone(UTC).isoformat()
        self.responses.journal.append({"line": line, "run": self.run_id, "at": at, **facts})


def harvest_source(planned: PlannedSource, desk: Desk) -> tuple[str, ...]:
    """Ask the source every sweep of the plan and keep what comes; return the outcomes.

    Each sweep ends complete, incomplete, failed or skipped, with its numbers, in the
    journal. Once the source refuses or stays busy, its remaining sweeps are not sent.
    """
    if planned.skipped:
        for sweep in planned.sweeps:
            end_sweep(desk, planned.name, sweep, "skipped", planned.skipped)
        return ("skipped",)

    def told_of_wait(wait_s: float, why: str) -> None:
        if wait_s >= WORTH_TELLING_S:
            desk.say(f"{planned.name}: waiting {wait_s:.0f} s, {why}")

    session = _session(planned, desk, told_of_wait)
    outcomes, given_up = [], ""
    with closing(session):
        for sweep in planned.sweeps:
            if (planned.name, sweep.sweep.name) in desk.journal.ended:
                continue
            if sweep.skipped or given_up:
                outcome = "skipped" if sweep.skipped else "failed"
                end_sweep(desk, planned.name, sweep, outcome, sweep.skipped or given_up)
            else:
                result = _ask(planned, sweep, session, desk)
                outcome = result.outcome
                given_up = _gives_up(result.error)
            outcomes.append(outcome)
    return tuple(outcomes)


class _Asker(Protocol):
    """What answers requests: a service's session, or a corpus on this machine."""

    @property
    def waited_s(self) -> float: ...

    def send(self, request: Request) -> Page: ...

    def close(self) -> None: ...


def _session(planned: PlannedSource, desk: Desk, told_of_wait: Callable[[float, str], None]) -> _Asker:
    if planned.connector.SOURCE.local:
        from pipeline.corpus.search import CorpusSession

        return CorpusSession(Path(planned.base_url), desk.today)
    return Session(
        planned.connector,
        planned.base_url,
        planned.setting.contact,
        planned.keys,
        replace(desk.pace, on_wait=told_of_wait),
        desk.limits,
    )


def _ask(planned: PlannedSource, sweep: PlannedSweep, session: _Asker, desk: Desk) -> FetchResult:
    name = sweep.sweep.name
    desk.write("sweep asked", source=planned.name, sweep=name, **_asked(planned, sweep.sweep))
    waited_before = session.waited_s
    looked_up: dict[tuple[str, str], datetime] = {}

    def keep(page: Page) -> None:
        desk.responses.keep(page, desk.run_id, name, desk.clock())
        if page.request.step != SEARCH:
            looked_up[(planned.name, request_key(page.request))] = desk.clock()

    days = planned.connector.SOURCE.look_up_again_days
    since = desk.clock() - timedelta(days=days)
    result = fetch(
        planned.connector,
        session.send,
        sweep.compiled.requests,
        keep=keep,
        recall=lambda request: desk.journal.recall(desk.responses, name, request),
        held=lambda request: bool(days) and desk.journal.holds(name, request, since),
        today=desk.today,
        progress=lambda progress: desk.say(_progress(name, progress)),
        most=sweep.sweep.most if isinstance(sweep.sweep, NumberSweep) else None,
    )
    if result.outcome == "complete":  # else an answer among them may be unreadable
        desk.journal.looked_up |= looked_up
    numbers = {name: value for name, value in asdict(result).items() if name in NUMBERS}
    numbers["waited_s"] = round(session.waited_s - waited_before, 1)
    end_sweep(desk, planned.name, sweep, result.outcome, result.reason, **numbers)
    return result


def _asked(planned: PlannedSource, sweep: Sweep | NumberSweep) -> dict[str, Any]:
    """Return what a sweep asks as the journal keeps it: an expression, or of what kind and whose numbers."""
    if isinstance(sweep, NumberSweep):
        return {"kind": sweep.kind, "origin": sweep.origin}
    ranks_only = bool(planned.connector.SOURCE.ranked_depth)
    return {"tree": expression_data(sweep.expression), "checked_here": ranks_only}


def _progress(sweep: str, now: Progress) -> str:
    of = f" of {now.stated_total:,} stated" if now.stated_total is not None else ""
    return (
        f"{now.source}: '{sweep}': {now.pages} pages, {now.items} items{of}, {now.waiting} requests waiting"
    )


def _gives_up(error: SourceError | None) -> str:
    """Return why the source's other sweeps are not worth sending, or "" to go on.

    Anything but a changed or oversized answer is about the source, not about one sweep.
    """
    if error is None or type(error).__name__ in ("SourceChanged", "AnswerTooLarge"):
        return ""
    return f"not sent, since an earlier sweep failed: {error.what}"


NUMBERS: dict[str, Any] = {
    "requests": 0,
    "items": 0,
    "records": 0,
    "quarantined": 0,
    "stated_total": None,
    "total_is_floor": False,
    "waited_s": 0.0,
}


def end_sweep(
    desk: Desk, source: str, sweep: PlannedSweep, outcome: str, reason: str, **numbers: Any
) -> None:
    """Write how the sweep ended into the journal, with its numbers and the day since which news was
    asked for ("" for everything)."""
    facts = {"since": f"{sweep.window.added_since or ''}", "outcome": outcome, "reason": reason, **numbers}
    write_end(desk, source, sweep.sweep.name, sweep.expression, **facts)


def write_end(desk: Desk, source: str, sweep: str, expression: str, **facts: Any) -> None:
    """Write how something asked ended: outcome, reason and numbers, those not given being 0 or unknown."""
    named = {"source": source, "sweep": sweep, "expression": expression}
    desk.write("sweep ended", **named, **{**NUMBERS, **facts})


def take_in_files(folder: Path, desk: Desk) -> tuple[str, ...]:
    """Keep each file in folder that was not taken in before, byte for byte; return the outcomes.

    A file that can't be read ends failed, with the reason, and is asked again next time.
    """
    outcomes = []
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if path.is_file() and not path.name.startswith("."):
            outcomes += _take_in(path, desk)
    return tuple(outcomes)


def _take_in(path: Path, desk: Desk) -> list[str]:
    request = Request(files.SOURCE.name, path.name, step="file")
    try:
        body = files.bounded_bytes(path)
        if (path.name, hashlib.sha256(body).hexdigest()) in desk.journal.taken_in:
            return []
        parsed = files.read_file(path.name, body)
    except (SourceError, OSError) as error:
        what = error.what if isinstance(error, SourceError) else f"can't be read: {error.strerror}"
        _end_file(desk, path.name, "failed", what, (0, 0, 0))
        return ["failed"]
    desk.responses.keep(Page(request, 200, {}, body, desk.today), desk.run_id, path.name, desk.clock())
    counts = (parsed.items, len(parsed.records), len(parsed.quarantined))
    _end_file(desk, path.name, "complete", "", counts)
    return ["complete"]


def _end_file(desk: Desk, name: str, outcome: str, reason: str, counts: tuple[int, int, int]) -> None:
    items, records, quarantined = counts
    numbers = {"requests": 1, "items": items, "records": records, "quarantined": quarantined}
    write_end(desk, files.SOURCE.name, name, "handed in", outcome=outcome, reason=reason, **numbers)
