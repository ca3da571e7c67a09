"""One paper as Semantic Scholar states it → a record.

Not read: counts, fields of study and machine summaries (they tell nothing the document says).
"""

from __future__ import annotations

import re

from connectors.days import Days, parse_days
from connectors.json_answer import Node, OddShape
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier

_PAPER_ID = re.compile(r"[0-9a-f]{40}")
_ARXIV_DOI = "10.48550/arxiv."
# The first that is among a paper's types names its kind; the rest is told in the details.
_KINDS = (
    ("Conference", "conference paper"), ("Book", "book"), ("BookSection", "chapter"), ("Dataset", "dataset"),
    ("JournalArticle", "article"), ("Review", "article"), ("LettersAndComments", "article"),
    ("Editorial", "article"), ("CaseReport", "article"), ("ClinicalTrial", "article"),
    ("MetaAnalysis", "article"), ("Study", "article"),
)  # fmt: skip
_NOT_SAID = "of the preprint or of the article: Semantic Scholar keeps one day for both"
_MONTH_ONLY = "the first of a month may stand for the month alone; taken as the whole month"
_YEAR_ONLY = "1 January may stand for the year alone; taken as the whole year"
_UNLIKE = "year and publicationDate disagree; taken as the days from the one to the other"


def read_paper(paper: Node) -> Record:
    """Return the record of a paper. Raises OddShape, naming the place, where it has no number."""
    native = paper.at("paperId").raw()
    if not _PAPER_ID.fullmatch(native):
        raise OddShape(
            paper.at("paperId").path,
            "is no Semantic Scholar paper number, so the paper has no name to keep it under",
        )
    journal, numbers, relations = paper.at("journal"), *_numbers(paper.at("externalIds"))
    return Record(
        source="semanticscholar",
        native_id=_corpus_number(paper) or native,
        kind=_kind(paper, numbers),
        title=paper.at("title").plain(),
        abstract=paper.at("abstract").plain(),
        people=_people(paper),
        venue=_venue(paper),
        volume=journal.at("volume").text(),
        pages=journal.at("pages").text(),
        url=paper.at("url").text() or f"https://www.semanticscholar.org/paper/{native}",
        identifiers=numbers,
        dates=_dates(paper),
        relations=relations,
        details=_facts(paper),
    )


def _people(paper: Node) -> tuple[Person, ...]:
    named = (author.at("name").text() for author in paper.at("authors").each())
    return tuple(Person(name) for name in named if name)


def _venue(paper: Node) -> str:
    places = (paper.at("journal").at("name"), paper.at("publicationVenue").at("name"), paper.at("venue"))
    return next((text for place in places if (text := place.text())), "")


def _corpus_number(paper: Node) -> str:
    """Return the corpus number: it stays when paper numbers are merged. "" where none is stated."""
    number = paper.at("corpusId").whole() or paper.at("externalIds").at("CorpusId").whole()
    return f"CorpusId:{number}" if number is not None else ""


def _numbers(stated: Node) -> tuple[tuple[StatedIdentifier, ...], tuple[Relation, ...]]:
    """Return the paper's own numbers, and the preprint's as a version where a publisher's DOI is there.

    One paper here is preprint and article together, so their numbers are not of one document.
    """
    doi, arxiv = stated.at("DOI").text(), stated.at("ArXiv").text()
    own = [
        ("doi", doi),
        ("pmid", stated.at("PubMed").text()),
        ("pmcid", _pmc(stated.at("PubMedCentral").text())),
    ]
    relations: tuple[Relation, ...] = ()
    if arxiv and doi and not doi.lower().startswith(_ARXIV_DOI):
        note = "one paper with it, says Semantic Scholar"
        relations = (Relation("version of", StatedIdentifier("arxiv", arxiv), note),)
    else:
        own.append(("arxiv", arxiv))
    return tuple(StatedIdentifier(scheme, text) for scheme, text in own if text), relations


def _pmc(text: str) -> str:
    return f"PMC{text}" if text.isdigit() else text


def _kind(paper: Node, numbers: tuple[StatedIdentifier, ...]) -> str:
    stated = {each.text() for each in paper.at("publicationTypes").each()}
    schemes = {number.scheme for number in numbers}
    if "arxiv" in schemes and schemes <= {"arxiv", "doi"}:
        return "preprint"
    return next((kind for name, kind in _KINDS if name in stated), "other")


def _dates(paper: Node) -> tuple[StatedDate, ...]:
    """Return the one dated event: by the day, widened where it may stand for less; else by the year."""
    stated, year = paper.at("publicationDate").text(), paper.at("year").whole()
    whole_year = parse_days(str(year)) if year is not None else None
    days, note = _widened(stated)
    if days is None or days.first is None or days.last is None:
        return (StatedDate("published", str(year), whole_year, "year", _NOT_SAID),) if whole_year else ()
    if whole_year and whole_year.first and whole_year.last and days.first.year != year:
        hull = Days(min(days.first, whole_year.first), max(days.last, whole_year.last))
        text = f"{stated}, year {year}"
        return (StatedDate("published", text, hull, "publicationDate, year", _UNLIKE),)
    says = "; ".join(filter(None, (note, _NOT_SAID)))
    return (StatedDate("published", stated, days, "publicationDate", says),)


def _widened(stated: str) -> tuple[Days | None, str]:
    days = parse_days(stated) if stated else None
    if days is None or not days.exact or days.first is None or days.first.day != 1:
        return days, ""
    if days.first.month == 1:
        return Days.of_year(days.first.year), _YEAR_ONLY
    return Days.of_month(days.first.year, days.first.month), _MONTH_ONLY


def _facts(paper: Node) -> tuple[tuple[str, str], ...]:
    numbers = paper.at("externalIds")
    facts = [("paper number", paper.at("paperId").text())]
    facts += [("type", each.text()) for each in paper.at("publicationTypes").each()]
    facts += [(f"{name} number", str(numbers.at(name).value or "")) for name in ("MAG", "DBLP", "ACL")]
    free = paper.at("openAccessPdf")
    facts += [("free copy", free.at("url").text()), ("licence of the copy", free.at("license").text())]
    stated = paper.at("publicationDate").text()
    if stated and parse_days(stated) is None:
        facts.append(("unreadable date", f"publicationDate {stated}"))
    return tuple((name, text) for name, text in facts if text)
