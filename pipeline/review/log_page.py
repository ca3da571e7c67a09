"""The search log: what was asked, of whom, when, with what outcome; every answer one click away."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from pipeline import cautions
from pipeline.decisions import Decisions
from pipeline.responses import Responses
from pipeline.review.site import Site, site_of
from pipeline.search_log import (
    AnswerLine,
    QuarantineLine,
    RunLine,
    SearchLine,
    read_answers,
    read_quarantine,
    read_run,
    read_runs,
    read_search,
    read_searches,
)

router = APIRouter()
RUNS, ANSWERS, QUARANTINE = 30, 50, 200
# The last answer of the first page has no answer before it.
FIRST = 0


@dataclass(frozen=True)
class LogPage:
    """What the search log shows.

    runs: newest first; older: the address of those before them, "" where there are none.
    run: the one whose sweeps are listed, None before the first run. asked, skipped: its
    sweeps, each with the address of its answers, "" where none was kept. more: items not understood beyond
    those listed. torn: log lines cut off by a crash, in words.
    """

    runs: tuple[RunLine, ...]
    older: str
    run: RunLine | None
    asked: tuple[tuple[SearchLine, str], ...]
    skipped: tuple[tuple[SearchLine, str], ...]
    quarantine: tuple[QuarantineLine, ...]
    more: int
    torn: tuple[str, ...]
    caution: str


@dataclass(frozen=True)
class SweepPage:
    """What the page of one sweep shows. later: the address of the answers after these, "" for none."""

    run_id: str
    search: SearchLine
    answers: tuple[AnswerLine, ...]
    later: str


@router.get("/log")
def show_log(request: Request, run: str = "", before: str = "") -> Response:
    """Show the runs, and the sweeps of one: the newest, unless the address names another."""
    site = site_of(request)
    with site.store() as con:
        runs = read_runs(con, RUNS + 1, before)
        chosen = read_run(con, run) if run else next(iter(runs), None)
        searches = read_searches(con, chosen.run_id) if chosen else ()
        quarantine = read_quarantine(con, chosen.run_id, QUARANTINE) if chosen else ()
    lines = [(line, _address(chosen.run_id, line)) for line in searches] if chosen else []
    page = LogPage(
        runs=runs[:RUNS],
        older=f"/log?{urlencode({'before': runs[RUNS - 1].run_id})}" if len(runs) > RUNS else "",
        run=chosen,
        asked=tuple(line for line in lines if line[0].outcome != "skipped"),
        skipped=tuple(line for line in lines if line[0].outcome == "skipped"),
        quarantine=quarantine,
        more=chosen.quarantined - len(quarantine) if chosen else 0,
        torn=_torn(site),
        caution=cautions.NEVER_PROOF,
    )
    return site.page(request, "log.html", page)


@router.get("/log/sweep")
def show_sweep(request: Request, run: str, source: str, sweep: str, after: int = FIRST) -> Response:
    """Show the answers to one sweep in the order received, so many a page."""
    site = site_of(request)
    with site.store() as con:
        search = read_search(con, run, source, sweep)
        answers = read_answers(con, run, source, sweep, after, ANSWERS + 1)
    shown, later = answers[:ANSWERS], ""
    if len(answers) > ANSWERS:
        later = f"{_address(run, search)}&{urlencode({'after': shown[-1].seq})}"
    return site.page(request, "sweep.html", SweepPage(run, search, shown, later))


def _address(run_id: str, line: SearchLine) -> str:
    if not line.answers:
        return ""
    return f"/log/sweep?{urlencode({'run': run_id, 'source': line.source, 'sweep': line.sweep})}"


def _torn(site: Site) -> tuple[str, ...]:
    return tuple(
        f"{log.path.name}: line {', '.join(map(str, torn))} was cut off by a crash before it was "
        "acknowledged, and is left out."
        for log in (Responses(site.folder).journal, Decisions(site.folder).log)
        if (torn := log.torn())
    )
