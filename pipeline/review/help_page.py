"""The help page: the keys, and what the words mean."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from pipeline import cautions
from pipeline.review.site import site_of

router = APIRouter()


@dataclass(frozen=True)
class HelpPage:
    """What the help page shows."""

    cautions: tuple[str, ...]


CAUTIONS = (
    cautions.ESTIMATE,
    cautions.NEVER_PROOF,
    cautions.UNDECIDED,
    cautions.DATE_EVIDENCE,
    cautions.ONE_VERSION,
    cautions.MACHINE_TEXT,
    cautions.DUTY,
    cautions.PERSONAL_DATA,
)


@router.get("/help")
def show_help(request: Request) -> Response:
    """Show the keys and the cautions."""
    return site_of(request).page(request, "help.html", HelpPage(CAUTIONS))
