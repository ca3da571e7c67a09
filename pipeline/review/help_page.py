"""The help page: the keys, and what the words mean."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from pipeline import cautions
from pipeline.review.site import site_of

router = APIRouter()

KEYS = (
    ("In the list", (("j", "next"), ("k", "the one before"), ("o", "open"), ("[", "page before"),
                     ("]", "next page"), ("/", "to the words to filter by"), ("g", "make the list anew"))),
    ("On the one you are at", (("y", "relevant"), ("m", "undecided (maybe)"), ("n", "not relevant"),
                               ("e", "write a note, tick elements, choose a category"),
                               ("z", "take its judgement back"))),
    ("On a reference's page", (("j", "the next one of its list"), ("k", "the one before"))),
    ("Anywhere", (("b", "back to the list"), ("?", "this page"))),
)  # fmt: skip
WORDS = (
    ("hit", "a reference that a run found and nobody has judged yet"),
    ("place", "its place in the ranking by meaning and words; it says what to read first, no more"),
    ("closeness", "0 to 1: how alike an element and the best passage for it are; likeness, not disclosure"),
    (
        "day stated, month only, year only",
        "how exactly the public day is known; a year alone is the whole year",
    ),
    ("counts", "public before the cutoff of that office, by the rule shown"),
    ("undecided", "it hangs on something not known; the reference's page says what would settle it"),
    ("earlier filing", "filed before, published after: at some offices it counts for novelty"),
    ("version", "a document of its own with its own dates: preprint, article, A1, B2, family member"),
    ("decided since", "the list does not move while you judge; make it anew when you like"),
)
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


@dataclass(frozen=True)
class HelpPage:
    """What the help page shows: keys by group, words with their meaning, cautions."""

    keys: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    words: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


@router.get("/help")
def show_help(request: Request) -> Response:
    """Show the keys and the cautions."""
    return site_of(request).page(request, "help.html", HelpPage(KEYS, WORDS, CAUTIONS))
