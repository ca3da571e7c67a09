"""Which texts of a document are searched, and how they are kept for it."""

from __future__ import annotations

from collections.abc import Iterable

from connectors.uspto_facts import UsDocument
from queries.expression import run_of


def searched_texts(document: UsDocument) -> tuple[str, ...]:
    """Return title, abstract and each claim: a phrase is found within one of them."""
    return (document.title, document.abstract, *(claim.text for claim in document.claims))


def searched_runs(document: UsDocument) -> str:
    """Return the words of the searched texts, a line for each text that has any (see matches_runs)."""
    return joined_runs(searched_texts(document))


def joined_runs(texts: Iterable[str]) -> str:
    """Return the runs of words of the texts, a line for each that has any."""
    return "\n".join(run for text in texts if (run := run_of(text)).strip())
