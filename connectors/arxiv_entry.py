"""One entry of an arXiv feed → what it states."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

from connectors.arxiv_announcement import announcement, id_month
from connectors.days import Days
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier
from connectors.xml import clean_text, find_text, text_of

# Matched by name, not by prefix or place: recordings of 2026 differ from the manual in both.
ATOM = {
    "a": "http://www.w3.org/2005/Atom",
    "o": "http://a9.com/-/spec/opensearch/1.1/",
    "x": "http://arxiv.org/schemas/atom",
}
_ADDRESS = re.compile(r"https?://arxiv\.org/abs/(.+?)(?:v(\d{1,4}))?", re.ASCII)
_WITHDRAWN = re.compile(r"\bwithdrawn\b", re.IGNORECASE)
_SAYS_WITHDRAWN = re.compile(
    r"\b(?:paper|article|manuscript|submission|preprint|work)\b.{0,40}\bwithdrawn\b", re.IGNORECASE
)


def read_entry(source: str, entry: Any) -> Record | str:
    """Return the entry's record, or why it can't be one: no arXiv identifier in it."""
    address = find_text(entry, "a:id", ATOM)
    match = _ADDRESS.fullmatch(address)
    if match is None or id_month(match[1]) is None:
        return f"its id is not the address of an arXiv paper: {address[:100] or 'none'}"
    arxiv_id, version = match[1], int(match[2] or 1)
    return Record(
        source=source,
        native_id=arxiv_id,
        kind="preprint",
        title=find_text(entry, "a:title", ATOM),
        abstract=find_text(entry, "a:summary", ATOM),
        people=_people(entry),
        venue="arXiv",
        publisher="arXiv",
        version=f"v{version}",
        url=f"https://arxiv.org/abs/{arxiv_id}v{version}",
        identifiers=(
            StatedIdentifier("arxiv", arxiv_id),
            # Not in the feed: arXiv registers this DOI for each of its papers.
            StatedIdentifier("doi", f"10.48550/arXiv.{arxiv_id}"),
        ),
        dates=_dates(entry, arxiv_id, version),
        relations=_relations(entry),
        details=_details(entry, version),
    )


def _people(entry: Any) -> tuple[Person, ...]:
    names = (find_text(author, "a:name", ATOM) for author in entry.findall("a:author", ATOM))
    return tuple(Person(name) for name in names if name)


def _dates(entry: Any, arxiv_id: str, version: int) -> tuple[StatedDate, ...]:
    published, updated = find_text(entry, "a:published", ATOM), find_text(entry, "a:updated", ATOM)
    submitted, handed_in = _instant(published), _instant(updated)
    when = announcement(arxiv_id, submitted)
    dates = [
        StatedDate("announced", published or arxiv_id, when.days, "entry/published, entry/id", when.note)
    ]
    if submitted:
        note = "version 1 was handed in; it was not public before its announcement"
        dates.insert(0, StatedDate("submitted", published, _day(submitted), "entry/published", note))
    if handed_in and version > 1:
        note = f"version {version} was handed in"
        dates.append(StatedDate("updated", updated, _day(handed_in), "entry/updated", note))
    return tuple(dates)


def _instant(text: str) -> datetime | None:
    """Return the moment that an RFC 3339 stamp with its zone names, else None."""
    try:
        moment = datetime.fromisoformat(text)
        return moment.astimezone(UTC) if moment.tzinfo and 1991 <= moment.year <= 9000 else None
    except (ValueError, OverflowError):
        return None


def _day(moment: datetime) -> Days:
    return Days.of_day(moment.astimezone(UTC).date())


def _relations(entry: Any) -> tuple[Relation, ...]:
    """Return the published article's DOIs: the authors state them, several part by blanks."""
    texts = (text_of(element) for element in entry.findall("x:doi", ATOM))
    dois = dict.fromkeys(doi for text in texts for doi in re.split(r"[\s,;]+", text) if doi)
    return tuple(
        Relation("preprint of", StatedIdentifier("doi", doi), "DOI of the article, as the authors state it")
        for doi in dois
    )


def _details(entry: Any, version: int) -> tuple[tuple[str, str], ...]:
    comment = find_text(entry, "x:comment", ATOM)
    terms = [clean_text(element.get("term", "")) for element in entry.findall("a:category", ATOM)]
    places = [text_of(element) for element in entry.iterfind("a:author/x:affiliation", ATOM)]
    stamps = [
        ("submission stamp not read", text)
        for name in ("published", "updated")
        if _instant(text := find_text(entry, f"a:{name}", ATOM)) is None
    ]
    older = f"The title and abstract are those of v{version}; those of v1 may differ." if version > 1 else ""
    details = [
        ("text", older),
        ("withdrawal notice", _withdrawal(comment, find_text(entry, "a:summary", ATOM))),
        ("journal reference", find_text(entry, "x:journal_ref", ATOM)),
        ("comment", comment),
        ("categories", " ".join(term for term in terms if term)),
        ("affiliations", "; ".join(dict.fromkeys(place for place in places if place))),
    ]
    return tuple((name, text) for name, text in details if text) + tuple(
        (name, text or "none given") for name, text in stamps
    )


def _withdrawal(comment: str, summary: str) -> str:
    """Return the sentence that says a version was withdrawn, else "".

    The feed has no flag for it; the reason stands in the comment. Earlier versions stay public.
    """
    if _WITHDRAWN.search(comment):
        said = comment
    elif _SAYS_WITHDRAWN.search(summary[:300]):
        said = summary[:300]
    else:
        return ""
    return f"A version was withdrawn, earlier ones stay public. It says: {said}"
