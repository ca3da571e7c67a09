"""What is new, best first."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from pipeline.review.site import site_of

router = APIRouter()


@dataclass(frozen=True)
class HitsPage:
    """What the list shows. count: the references."""

    count: int


@router.get("/")
def show_hits(request: Request) -> Response:
    """Show the references, best first."""
    site = site_of(request)
    with site.store() as con:
        count = con.execute("SELECT count(*) FROM reference").fetchall()[0][0]
    return site.page(request, "hits.html", HitsPage(count))
