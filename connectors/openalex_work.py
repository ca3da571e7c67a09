"""One work as OpenAlex states it → a record.

Not read: created_date (the rewrite of November 2025 set it anew, so it proves no first
sight), updated_date and all counts (they move without the document moving).
"""

from __future__ import annotations

import re

from connectors.days import Days, parse_days
from connectors.json_answer import Node, OddShape
from connectors.markup import plain_text
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier
from queries.words import words

_KINDS = {
    "article": "article", "review": "article", "letter": "article", "editorial": "article",
    "preprint": "preprint", "book-chapter": "chapter", "reference-entry": "chapter", "book": "book",
    "dissertation": "thesis", "report": "report", "standard": "standard", "dataset": "dataset",
    "database": "dataset", "software": "software", "libguides": "web page",
    "conference-paper": "conference paper",
}  # fmt: skip
_CONFERENCE = "proceedings-article"  # in raw_type, while type is 'article'
_WORK_ID = re.compile(r"(?:https?://openalex\.org/)?(W[0-9]{1,15})")
_ARXIV = re.compile(r"pmh:oai:arXiv\.org:(\S+)", re.IGNORECASE)
_PMC = re.compile(
    r"https?://(?:www\.ncbi\.nlm\.nih\.gov|pmc\.ncbi\.nlm\.nih\.gov|europepmc\.org)/\S*?(\d{4,9})/?"
)
_YEAR_ONLY = "1 January stands in OpenAlex for a year alone as well; taken as the whole year"


def read_work(work: Node) -> Record:
    """Return the record of a work. Raises OddShape, naming the place, where it is no work."""
    native = _WORK_ID.fullmatch(work.at("id").raw())
    if native is None:
        raise OddShape(
            work.at("id").path, "is no OpenAlex work number, so the work has no name to keep it under"
        )
    main, names = work.at("primary_location"), _conflicts(work)
    relations, elsewhere = _other_locations(work, bool(names))
    numbers = work.at("biblio")
    return Record(
        source="openalex",
        native_id=native[1],
        kind=_kind(work),
        title=work.at("title").plain() or work.at("display_name").plain(),
        abstract=_abstract(work.at("abstract_inverted_index")),
        language=work.at("language").text(),
        people=_people(work),
        venue=main.at("source").at("display_name").text() or main.at("raw_source_name").text(),
        publisher=main.at("source").at("host_organization_name").text(),
        volume=numbers.at("volume").text(),
        issue=numbers.at("issue").text(),
        pages="-".join(
            dict.fromkeys(filter(None, (numbers.at(n).text() for n in ("first_page", "last_page"))))
        ),
        version=main.at("version").text(),
        url=main.at("landing_page_url").text() or work.at("doi").text() or work.at("id").text(),
        retracted=work.at("is_retracted").flag(),
        identifiers=_identifiers(work),
        dates=_dates(work),
        relations=(*relations, *_cited(work)),
        details=(*_facts(work), *names, *elsewhere),
    )


def _kind(work: Node) -> str:
    kind = _KINDS.get(work.at("type").text(), "other")
    raw = work.at("primary_location").at("raw_type").text()
    return "conference paper" if kind == "article" and raw == _CONFERENCE else kind


def _abstract(index: Node) -> str:
    """Return the abstract put together from the places of its words; "…" where places are missing."""
    placed = []
    for word, places in index.object().items():
        for place in Node(places, f"{index.path}.{word[:40]}").each():
            placed.append((place.whole() or 0, word))
    placed.sort(key=lambda pair: pair[0])
    pieces: list[str] = []
    expected = 0
    for at, word in placed:
        if at > expected:
            pieces.append("…")
        pieces.append(word)
        expected = at + 1
    return plain_text(" ".join(pieces))


def _people(work: Node) -> tuple[Person, ...]:
    """Return the authors as the document names them; by OpenAlex's own name where it does not."""
    named = [
        author.at("raw_author_name").text() or author.at("author").at("display_name").text()
        for author in work.at("authorships").each()
    ]
    return tuple(Person(name) for name in named if name)


def _conflicts(work: Node) -> tuple[tuple[str, str], ...]:
    """Return a line for each author whom document and author list name unlike: a sign of a wrong merge.

    Names in Latin letters only: others are often one name in two scripts.
    """
    lines = []
    for author in work.at("authorships").each():
        stated = author.at("raw_author_name").text()
        listed = author.at("author").at("display_name").text()
        mine, theirs = set(words(stated)), set(words(listed))
        latin = all(word.isascii() for word in mine | theirs)
        if mine and theirs and latin and not mine & theirs:
            lines.append(("names conflict", f"the document names {stated}, OpenAlex's author is {listed}"))
    return tuple(lines)


def _identifiers(work: Node) -> tuple[StatedIdentifier, ...]:
    """Return the numbers of this work: those it is listed under, and its main location's."""
    ids = work.at("ids")
    found = [("openalex", work.at("id").text()), ("doi", work.at("doi").text())]
    found += [(scheme, ids.at(scheme).text()) for scheme in ("doi", "pmid", "pmcid")]
    if (arxiv := _location_id(work.at("primary_location"))) and arxiv[0] == "arxiv":
        found.append(arxiv)
    return tuple(StatedIdentifier(scheme, text) for scheme, text in dict.fromkeys(found) if text)


def _location_id(location: Node) -> tuple[str, str] | None:
    name, page = location.at("id").text(), location.at("landing_page_url").text()
    if name.startswith(("doi:", "pmid:")):
        scheme, _, text = name.partition(":")
        return (scheme, text)
    if arxiv := _ARXIV.fullmatch(name):
        return ("arxiv", arxiv[1])
    if (pmc := _PMC.fullmatch(page)) and ("/pmc/" in page.lower() or "pmc.ncbi" in page):
        return ("pmcid", f"PMC{pmc[1]}")
    return None


def _other_locations(work: Node, doubtful: bool) -> tuple[list[Relation], list[tuple[str, str]]]:
    """Return other copies' numbers as versions of this work, and all other copies in words.

    Where the author names conflict, the copies may be of other documents: then their
    numbers are told in words only, so that nothing is joined on them.
    """
    own = {(each.scheme, _bare(each.text)) for each in _identifiers(work)}
    main = work.at("primary_location").at("id").text()
    relations, told = [], []
    for location in work.at("locations").each():
        number = _location_id(location)
        if number and (number[0], _bare(number[1])) in own:
            continue
        if not number and main and location.at("id").text() == main:
            continue
        if number and not doubtful:
            note = location.at("version").text() or "one of the work's locations"
            relations.append(Relation("version of", StatedIdentifier(*number), note))
        else:
            shown = (
                location.at("id").text(),
                location.at("version").text(),
                location.at("landing_page_url").text(),
            )
            told.append(("also at", " ".join(filter(None, shown))))
    return list(dict.fromkeys(relations)), [line for line in dict.fromkeys(told) if line[1]]


def _bare(text: str) -> str:
    """Return the number without its web address, for comparing the ways in which one answer writes it."""
    return re.sub(r"^(?:https?://[^/]+/(?:pmc/articles/)?)?(?:pmc(?=\d))?", "", text.casefold()).strip("/")


def _dates(work: Node) -> tuple[StatedDate, ...]:
    stated = work.at("publication_date").text()
    days = parse_days(stated)
    if days is not None and days.first is not None:
        if stated.endswith("-01-01"):
            return (
                StatedDate(
                    "published", stated, Days.of_year(days.first.year), "publication_date", _YEAR_ONLY
                ),
            )
        return (StatedDate("published", stated, days, "publication_date"),)
    year = work.at("publication_year").whole()
    whole_year = parse_days(str(year)) if year is not None else None
    return (StatedDate("published", str(year), whole_year, "publication_year"),) if whole_year else ()


def _cited(work: Node) -> tuple[Relation, ...]:
    cited = (each.text() for each in work.at("referenced_works").each())
    return tuple(
        Relation("cites", StatedIdentifier("openalex", text)) for text in dict.fromkeys(cited) if text
    )


def _facts(work: Node) -> list[tuple[str, str]]:
    facts = [
        ("type", work.at("type").text()),
        ("raw type", work.at("primary_location").at("raw_type").text()),
        ("MAG number", str(work.at("ids").at("mag").value or "")),
    ]
    flags = {
        "is_xpac": "in the expansion corpus (repositories and data centres)",
        "is_paratext": "paratext, says OpenAlex (cover, contents, masthead)",
        "is_authors_truncated": "the list of authors is cut",
    }
    facts += [("note", text) for name, text in flags.items() if work.at(name).flag()]
    stated = work.at("publication_date").text()
    if stated and parse_days(stated) is None:
        facts.append(("unreadable date", f"publication_date {stated}"))
    year = work.at("publication_year").whole()
    if stated and year is not None and not stated.startswith(str(year)):
        facts.append(("dates conflict", f"publication_date {stated}, publication_year {year}"))
    return [(name, text) for name, text in facts if text]
