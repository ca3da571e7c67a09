"""Which patent claims of a US document stand alone: by their markup, and by their wording."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from connectors.uspto_facts import Claim

_NUMBERED = re.compile(r"\s*\d+\s*[.)]?\s*")
_NAMES = re.compile(r"\b(?:claims?|clms?\.)\s+(\d+)", re.IGNORECASE)
_LINK = re.compile(
    r"(?:,\s*)?\b(?:as\s+)?(?:(?:claimed|recited|defined|described|set\s+forth|specified|stated)\s+)?"
    r"(?:according\s+to|in\s+accordance\s+with|in|of|by|under|per|with|to)?\s*(?:any\s+(?:one\s+)?of\s+)?$",
    re.IGNORECASE,
)
_ARTICLE = re.compile(r"(?:an?|one\s+or\s+more|the)\s+", re.IGNORECASE)
_HEAD_WORDS = 2


@dataclass(frozen=True)
class Standing:
    """Claim numbers by how they stand.

    independent: name no other claim. dependent: name one and narrow it. doubtful: name one
    but are about something else ("a process for making the composition of claim 1"): by
    markup dependent, in law independent or nearly.
    """

    independent: tuple[str, ...]
    dependent: tuple[str, ...]
    doubtful: tuple[str, ...]


def standing(claims: Sequence[Claim]) -> Standing:
    """Return how each claim stands; every claim is in exactly one of the three.

    A claim names another by markup, or, where a conversion lost that, by its words
    ("as claimed in claim 3").
    """
    by_number = {claim.number: claim for claim in claims}
    groups: dict[str, list[str]] = {"independent": [], "dependent": [], "doubtful": []}
    for claim in claims:
        groups[_stands(claim, by_number)].append(claim.number)
    return Standing(*(tuple(groups[name]) for name in ("independent", "dependent", "doubtful")))


def _stands(claim: Claim, by_number: dict[str, Claim]) -> str:
    body = _NUMBERED.sub("", claim.text, count=1)
    wording = _NAMES.search(body)
    if not claim.names and not wording:
        return "independent"
    if wording is None or body[:4].lower() == "the ":
        return "dependent"
    named = by_number.get(claim.names[0] if claim.names else wording[1])
    own = _head(_LINK.sub("", body[: wording.start()].rstrip() + " "))
    other = _head(_NUMBERED.sub("", named.text, count=1)) if named else []
    return "dependent" if not own or not other or own == other[: len(own)] else "doubtful"


def _head(text: str) -> list[str]:
    """Return the first words of what a claim is about, without its article."""
    bare = _ARTICLE.sub("", text, count=1) if _ARTICLE.match(text) else text
    return re.findall(r"[a-z0-9]+", bare.lower())[:_HEAD_WORDS]
