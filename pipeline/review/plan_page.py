"""The plan: word for word what the next run would send, and to whom."""

from __future__ import annotations

import os
from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from pipeline import cautions
from pipeline.by_number import plan_run
from pipeline.journal import read_journal
from pipeline.plan_words import SourceWords, plan_in_words, terms_in_words, total_in_words
from pipeline.responses import Responses
from pipeline.review.site import site_of

router = APIRouter()


@dataclass(frozen=True)
class PlanPage:
    """What the plan shows, in the words of the command line.

    terms: (concept, term, forms). again: as if nothing had been answered today. total: how many
    first requests, in words. folder: the matter's, as a command takes it.
    """

    caution: str
    terms: tuple[tuple[str, str, str], ...]
    sources: tuple[SourceWords, ...]
    again: bool
    total: str
    folder: str


@router.get("/plan")
def show_plan(request: Request, again: bool = False) -> Response:
    """Show the plan of a run started now; again: of one that asks everything in full."""
    site = site_of(request)
    matter, now = site.matter(), site.settings.now()
    completed = {} if again else read_journal(Responses(site.folder), now).completed
    sources = plan_in_words(plan_run(matter, os.environ, completed, now))
    page = PlanPage(
        caution=cautions.CONFIDENTIAL,
        terms=tuple(terms_in_words(matter)),
        sources=sources,
        again=again,
        total=total_in_words(sources),
        folder=str(site.folder),
    )
    return site.page(request, "plan.html", page)
