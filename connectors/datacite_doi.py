"""One DOI as its depositor states it to DataCite → a record.

Not read: `published` (made from the year), `created` (may be an unseen draft), `updated` (moves
with any edit), counts, and the community's enriched layer.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from connectors.days import Days, parse_days
from connectors.json_answer import Node, OddShape
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier

_KINDS = {
    "JournalArticle": "article", "DataPaper": "article", "Preprint": "preprint",
    "ConferencePaper": "conference paper", "ConferenceProceeding": "book", "BookChapter": "chapter",
    "Book": "book", "Dissertation": "thesis", "Report": "report", "Standard": "standard",
    "Dataset": "dataset", "Software": "software", "ComputationalNotebook": "software", "Image": "picture",
}  # fmt: skip
# What the free words beside the kind 'Text' say.
_KINDS_IN_WORDS = (
    ("thesis", "thesis"), ("dissertation", "thesis"), ("conference", "conference paper"),
    ("chapter", "chapter"), ("book", "book"), ("report", "report"), ("preprint", "preprint"),
    ("article", "article"),
)  # fmt: skip
# Issued and Available are public acts; a day of making, collecting or copyright is none.
_EVENTS = {
    "Issued": ("published", ""),
    "Available": ("published", "from when the content is available; its title may have been public before"),
    "Submitted": ("submitted", ""),
    "Accepted": ("accepted", ""),
    "Updated": ("updated", ""),
}
_YEAR_ONLY = "1 January may stand for the year alone; taken as the whole year"
_REGISTERED = "the DOI became resolvable: a page about it existed by then; the work may be much older"
_ARXIV = "10.48550/arxiv."
_RELATIONS = {
    "IsVersionOf": "version of", "HasVersion": "version of", "IsNewVersionOf": "version of",
    "IsPreviousVersionOf": "version of", "IsVariantFormOf": "version of", "IsOriginalFormOf": "version of",
    "IsIdenticalTo": "same as", "IsTranslationOf": "translation of", "HasTranslation": "translation of",
    "IsSupplementTo": "supplement to", "IsPartOf": "part of", "IsPublishedIn": "part of",
    "Cites": "cites", "References": "cites", "IsCitedBy": "cited by", "IsReferencedBy": "cited by",
}  # fmt: skip
_SCHEMES = {"DOI": "doi", "ISBN": "isbn", "ISSN": "issn", "EISSN": "issn", "PMID": "pmid", "arXiv": "arxiv",
            "URL": "url"}  # fmt: skip
# An abstract first; what other description there is rather than none.
_DESCRIPTIONS = ("Abstract", "Other", "Methods", "TechnicalInfo", "TableOfContents")
_TIME = re.compile(r"(\d{4}-\d{2}-\d{2})T[\d:.]+(?:Z|[+-]\d{2}:?\d{2})?")


def read_doi(item: Node) -> Record:
    """Return the record of a DOI. Raises OddShape, naming the place, where it has none."""
    work = item.at("attributes")
    doi = work.at("doi").text() or item.at("id").text()
    if not doi.startswith("10."):
        raise OddShape(work.at("doi").path, "is missing or no DOI, so the work has no name to keep it under")
    titles, abstract = _titles(work), _description(work)
    dates, told = _dates(work)
    holder = work.at("container")
    return Record(
        source="datacite",
        native_id=doi.lower(),
        kind=_kind(work),
        title=titles[0] if titles else "",
        abstract=abstract[1],
        language=work.at("language").text(),
        people=_people(work),
        venue=holder.at("title").text() or _publisher(work),
        publisher=_publisher(work),
        volume=holder.at("volume").text(),
        issue=holder.at("issue").text(),
        pages="-".join(filter(None, (holder.at(name).text() for name in ("firstPage", "lastPage")))),
        version=_version(work, doi),
        url=work.at("url").text() or f"https://doi.org/{doi}",
        retracted=any(each.at("dateType").text() == "Withdrawn" for each in work.at("dates").each()),
        identifiers=_identifiers(doi),
        dates=dates,
        relations=_relations(work),
        details=tuple((name, text) for name, text in (*_facts(work, titles[1:], abstract[0]), *told) if text),
    )  # fmt: skip


def _titles(work: Node) -> list[str]:
    """Return the titles, the main one (without a type) first."""
    stated = [(each.at("titleType").text(), each.at("title").plain()) for each in work.at("titles").each()]
    return [text for _, text in sorted(stated, key=lambda pair: bool(pair[0])) if text]


def _description(work: Node) -> tuple[str, str]:
    """Return the kind and text of the description that stands as the abstract; "" for none."""
    stated: dict[str, str] = {}
    for each in work.at("descriptions").each():
        if text := each.at("description").plain():
            stated.setdefault(each.at("descriptionType").text() or "Other", text)
    return next(((kind, stated[kind]) for kind in _DESCRIPTIONS if kind in stated), ("", ""))


def _kind(work: Node) -> str:
    general, words = (work.at("types").at(name).text() for name in ("resourceTypeGeneral", "resourceType"))
    if general != "Text":
        return _KINDS.get(general, "other")
    return next((kind for word, kind in _KINDS_IN_WORDS if word in words.casefold()), "other")


def _publisher(work: Node) -> str:
    """Return the publisher: a text, or an object with its name."""
    stated = work.at("publisher")
    return stated.at("name").text() if isinstance(stated.value, dict) else stated.text()


def _people(work: Node) -> tuple[Person, ...]:
    named = []
    for creator in work.at("creators").each():
        family, given = creator.at("familyName").text(), creator.at("givenName").text()
        name = " ".join((given, family)) if family and given else creator.at("name").text()
        named.append(Person(name, family=family, given=given))
    return tuple(person for person in named if person.name)


def _version(work: Node, doi: str) -> str:
    stated = work.at("version").text()
    return f"v{stated}" if doi.lower().startswith(_ARXIV) and stated.isdigit() else stated


def _identifiers(doi: str) -> tuple[StatedIdentifier, ...]:
    """Return the DOI and, for arXiv's own DOIs, the number in it. Other numbers may be of other things."""
    found = [StatedIdentifier("doi", doi)]
    if doi.lower().startswith(_ARXIV):
        found.append(StatedIdentifier("arxiv", doi[len(_ARXIV) :]))
    return tuple(found)


def _dates(work: Node) -> tuple[tuple[StatedDate, ...], list[tuple[str, str]]]:
    """Return the dated events, and in words the dates that are none or can't be read."""
    dates, told = [], []
    for each in work.at("dates").each():
        text, kind = each.at("date").text(), each.at("dateType").text()
        about = " ".join(filter(None, (kind, each.at("dateInformation").text())))
        days, note = _days(text)
        if kind not in _EVENTS:
            told.append((f"date {about}".strip(), text))
        elif days is None:
            told.append(("unreadable date", f"{about} {text}"))
        else:
            event, says = _EVENTS[kind]
            dates.append(
                StatedDate(event, text, days, f"dates {about}", "; ".join(filter(None, (says, note))))
            )
    year = work.at("publicationYear").whole()
    of_year = parse_days(str(year)) if year is not None else None
    public = [stated.days for stated in dates if stated.kind == "published"]
    if of_year and not public:
        dates.append(StatedDate("published", str(year), of_year, "publicationYear"))
    elif of_year and not any(_meets(days, of_year) for days in public):
        told.append(("dates conflict", f"publicationYear {year}, and no stated day of that year"))
    registered = work.at("registered").text()
    if (days := _days(registered)[0]) is not None:
        dates.append(StatedDate("registered", registered, days, "registered", _REGISTERED))
    return tuple(dict.fromkeys(dates)), told


def _meets(a: Days, b: Days) -> bool:
    return not ((a.last and b.first and a.last < b.first) or (b.last and a.first and b.last < a.first))


def _days(text: str) -> tuple[Days | None, str]:
    """Return the days of a date, a time or a range `a/b` (an end may be open), and why they are wider."""
    start, slash, end = text.partition("/")
    if not slash:
        return _days_of_one(text)
    first, last = _days_of_one(start)[0], _days_of_one(end)[0]
    if (first is None and start.strip()) or (last is None and end.strip()) or not (first or last):
        return None, ""
    span = (first.first if first else None, last.last if last else None)
    if span[0] and span[1] and span[0] > span[1]:
        return None, ""
    return Days(*span), "a range: some day in it"


def _days_of_one(text: str) -> tuple[Days | None, str]:
    time = _TIME.fullmatch(text.strip())
    if time:
        return parse_days(time[1]), ""
    days = parse_days(text) if text.strip() else None
    if days and days.exact and days.first and (days.first.month, days.first.day) == (1, 1):
        return Days.of_year(days.first.year), _YEAR_ONLY
    return days, ""


def _relations(work: Node) -> tuple[Relation, ...]:
    found = []
    for each in work.at("relatedIdentifiers").each():
        kind = _RELATIONS.get(each.at("relationType").text())
        scheme = _SCHEMES.get(each.at("relatedIdentifierType").text())
        if kind and scheme and (text := each.at("relatedIdentifier").text()):
            found.append(Relation(kind, StatedIdentifier(scheme, text), each.at("relationType").text()))
    return tuple(dict.fromkeys(found))


def _facts(work: Node, more_titles: list[str], described: str) -> Iterator[tuple[str, str]]:
    types = work.at("types")
    yield "type", types.at("resourceTypeGeneral").text()
    yield "type in words", types.at("resourceType").text()
    yield from (("further title", text) for text in more_titles)
    if described not in ("", "Abstract"):
        yield "abstract", f"none is stated; shown is the description of kind {described}"
    for each in work.at("contributors").each():
        yield each.at("contributorType").text() or "contributor", each.at("name").text()
    for each in work.at("rightsList").each():
        yield "licence", each.at("rights").text()
    for each in work.at("subjects").each():
        yield "subject", each.at("subject").text()
    for each in work.at("relatedIdentifiers").each():
        known = each.at("relationType").text() in _RELATIONS
        if not known or each.at("relatedIdentifierType").text() not in _SCHEMES:
            parts = (
                each.at(n).text() for n in ("relationType", "relatedIdentifierType", "relatedIdentifier")
            )
            yield "related", " ".join(filter(None, parts))
