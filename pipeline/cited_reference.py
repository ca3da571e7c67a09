"""One line of the cited-reference list, whatever the file it is written to."""

from __future__ import annotations

from dataclasses import dataclass

from connectors.days import Days

US_PATENTS = "US patents"
US_APPLICATIONS = "US application publications"
FOREIGN = "foreign patent documents"
OTHER = "other publications"
# In the order of 37 CFR 1.98(b); US documents stand apart from the rest (1.98(a)(1)).
SECTIONS = (US_PATENTS, US_APPLICATIONS, FOREIGN, OTHER)


@dataclass(frozen=True)
class Name:
    """A person or organisation named. family, given: only where a source tells them apart."""

    text: str
    family: str = ""
    given: str = ""


@dataclass(frozen=True)
class CitedReference:
    """A document to be listed, as its sources state it; "" and () mean not stated.

    section: one of SECTIONS. kind: as connectors.record.KINDS. number: publication number in
    normal form, or as stated where it has none. printed: the number as its office prints it,
    without office (ST.3) and kind code (ST.16). published: the days on one of which the document
    became public; None where no date is stated. public_says: who says so. read: the days it was
    read at its address. issns, isbns: as identified. copy, translation: what 37 CFR 1.98(a)(2)-(3)
    asks for. others: the numbers of other versions of the same reference. flags: what is to be
    checked before the list is used, each a sentence.
    """

    reference_id: str
    section: str
    kind: str
    title: str
    number: str = ""
    office: str = ""
    printed: str = ""
    kind_code: str = ""
    application: str = ""
    published: Days | None = None
    public_says: str = ""
    filed: Days | None = None
    priority: Days | None = None
    read: Days | None = None
    inventors: tuple[Name, ...] = ()
    applicants: tuple[Name, ...] = ()
    authors: tuple[Name, ...] = ()
    editors: tuple[Name, ...] = ()
    container: str = ""
    publisher: str = ""
    volume: str = ""
    issue: str = ""
    pages: str = ""
    version: str = ""
    language: str = ""
    doi: str = ""
    arxiv: str = ""
    issns: tuple[str, ...] = ()
    isbns: tuple[str, ...] = ()
    url: str = ""
    copy: str = ""
    translation: str = ""
    others: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()

    @property
    def is_patent(self) -> bool:
        """True for a document of a patent office."""
        return self.section != OTHER

    @property
    def name(self) -> str:
        """Return the shortest thing that names it: number, DOI, arXiv number, title or id."""
        arxiv = f"arXiv:{self.arxiv}" if self.arxiv else ""
        return self.number or self.doi or arxiv or self.title or self.reference_id


def date_text(reference: CitedReference) -> str:
    """Return the public date as well as it is known, in ISO 8601; in words where it is open."""
    return days_text(reference.published) if reference.published else "date unknown"


def days_text(days: Days) -> str:
    """Return 2021, 2021-03, 2021-03-04, 2021-03-04/2021-04-03, or words for an open end."""
    if days.first is None and days.last is None:
        return "date unknown"
    if days.first is None:
        return f"on or before {days.last}"
    if days.last is None:
        return f"on or after {days.first}"
    return days.text().replace("..", "/")
