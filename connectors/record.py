"""What one source states about one document: its words beside what was read from them."""

from __future__ import annotations

from dataclasses import dataclass, field

from connectors.days import Days

# Kinds of document, as far as a source tells them apart.
KINDS = (
    "article", "preprint", "conference paper", "chapter", "book", "thesis", "report", "standard",
    "dataset", "software", "web page", "picture", "patent", "patent application", "utility model",
    "design", "other",
)  # fmt: skip

# Kinds of dated event, and whether the event itself makes the document public.
# 'registered' and 'announced or later' bound a public date without proving it.
PUBLIC_EVENTS = {
    "published": True,  # the source says published and no more
    "published online": True,
    "published in print": True,
    "posted": True,  # put on a preprint or web server
    "announced": True,  # first shown by a server that holds submissions back
    "publication of application": True,  # INID 43
    "publication of grant": True,  # INID 45
    "listed": True,  # first in a public index, which shows the title and, where given, the abstract
    "captured": True,  # a third party's copy of that day
    "captured here": True,  # fetched by this program on that day, kept with its hash
    "submitted": False,
    "accepted": False,
    "approved": False,  # a thesis defended; not by itself public
    "registered": False,  # a DOI registered: evidence, not proof
    "indexed": False,  # a third party listed it: it was there to be read, but no copy is kept
    "event held": False,  # the days of a conference
    "filed": False,
    "priority": False,
    "read": False,  # retrieval date
    "updated": False,
    "claimed published": False,  # what a page says of itself, which its owner can change at any time
    "claimed offered": False,  # for sale or released, by the page's own word
    "claimed created": False,
    "claimed date": False,  # a date on a page that does not say of what
    "taken": False,  # a picture, by the clock of the camera
    "stated by hand": True,  # entered by the user, with who and why
}


@dataclass(frozen=True)
class StatedIdentifier:
    """An identifier as the source writes it.

    scheme: doi, arxiv, pmid, pmcid, openalex, isbn, issn, url, publication (patent
    publication number with office and, where known, kind), application (patent
    application number with office), family (a source's family number).
    """

    scheme: str
    text: str


@dataclass(frozen=True)
class StatedDate:
    """A dated event as the source states it.

    kind: a key of PUBLIC_EVENTS. text: word for word. field: where in the source's
    answer. days: what the text allows, source's habits considered (a year written as
    1 January is the whole year). note: why days differ from text, in plain words.
    """

    kind: str
    text: str
    days: Days
    field: str
    note: str = ""


@dataclass(frozen=True)
class Person:
    """A person or organisation named. role: author, inventor, applicant, editor."""

    name: str
    role: str = "author"
    family: str = ""
    given: str = ""


@dataclass(frozen=True)
class Relation:
    """A relation the source states from this document to another.

    kind: version of, preprint of, has preprint, same as, translation of, supplement to,
    part of, other content than (what one address showed at another time), corrects,
    corrected by, retracts, retracted by, cites, cited by, priority (to an application
    number), same application (to a publication number), family.
    """

    kind: str
    identifier: StatedIdentifier
    note: str = ""


@dataclass(frozen=True)
class Record:
    """One source's statement about one document, in one version.

    native_id: the source's own name for it, stable from night to night.
    title, abstract: plain text, markup removed; "" where the source gives none.
    codes: classification symbols (scheme, symbol), symbol written `A01G 25/02`.
    claims: claim texts in order, where the source gives them.
    version: what the source calls this version (`v2`, `A1`), or "".
    venue: journal, proceedings or site. retracted: as the source flags it.
    details: other stated facts worth showing, as (name, text).
    """

    source: str
    native_id: str
    kind: str
    title: str
    abstract: str = ""
    language: str = ""
    people: tuple[Person, ...] = ()
    venue: str = ""
    publisher: str = ""
    volume: str = ""
    issue: str = ""
    pages: str = ""
    version: str = ""
    url: str = ""
    retracted: bool = False
    identifiers: tuple[StatedIdentifier, ...] = ()
    dates: tuple[StatedDate, ...] = ()
    relations: tuple[Relation, ...] = ()
    codes: tuple[tuple[str, str], ...] = ()
    claims: tuple[str, ...] = ()
    details: tuple[tuple[str, str], ...] = field(default=())
