"""One work as its publisher states it to Crossref → a record.

Not read: deposited and indexed (they tell of the metadata, not of the document), counts.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

from connectors.days import Days, days_of_parts
from connectors.json_answer import Node, OddShape
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier

_KINDS = {
    "journal-article": "article", "proceedings-article": "conference paper", "book-chapter": "chapter",
    "book-section": "chapter", "book-part": "chapter", "book-track": "chapter", "reference-entry": "chapter",
    "book": "book", "monograph": "book", "edited-book": "book", "reference-book": "book",
    "dissertation": "thesis", "report": "report", "report-component": "report", "standard": "standard",
    "dataset": "dataset", "database": "dataset",
}  # fmt: skip
_OWN_ISBN = frozenset({"book", "report", "thesis", "standard"})

# Field → kind of dated event, and what a reader must know of it.
_DATES = {
    "posted": ("posted", ""),
    "published-online": ("published online", ""),
    "published-print": ("published in print", ""),
    "published-other": ("published", ""),
    "published": ("published", ""),
    "issued": ("published", "Crossref's earliest of print and online"),
    "approved": ("approved", "the day it was accepted or adopted, which need not have made it public"),
    "accepted": ("accepted", ""),
    "created": ("registered", "the DOI was first registered; it may have led to the document from that day"),
    "content-updated": ("updated", ""),
}
_TOLD_DATES = ("content-created",)

_RELATIONS = {
    "is-preprint-of": "preprint of", "has-preprint": "has preprint",
    "is-version-of": "version of", "has-version": "version of", "new_version": "version of",
    "is-manuscript-of": "version of", "has-manuscript": "version of", "is-format-of": "version of",
    "has-format": "version of", "is-variant-form-of": "version of", "is-original-form-of": "version of",
    "is-replaced-by": "version of", "replaces": "version of",
    "is-identical-to": "same as", "is-same-as": "same as",
    "is-translation-of": "translation of", "has-translation": "translation of",
    "is-supplement-to": "supplement to", "is-part-of": "part of", "is-component-of": "part of",
    "cites": "cites", "references": "cites", "is-cited-by": "cited by", "is-referenced-by": "cited by",
}  # fmt: skip
_SCHEMES = {"doi": "doi", "isbn": "isbn", "issn": "issn", "pmid": "pmid", "pmcid": "pmcid", "arxiv": "arxiv",
            "uri": "url"}  # fmt: skip
_WITHDRAWN = frozenset({"retraction", "withdrawal", "removal"})
_NEW_TEXT = frozenset({"new_version", "new_edition"})


def read_work(work: Node) -> Record:
    """Return the record of a work. Raises OddShape, naming the place, where it is no work."""
    doi = work.at("DOI").text()
    if not doi:
        raise OddShape(work.at("DOI").path, "is missing, so the work has no name to keep it under")
    kind = _kind(work)
    titles = [text for each in work.at("title").each() if (text := each.plain())]
    dates, unclear = _dates(work)
    relations, told = _relations(work)
    updates = _updates(work)
    return Record(
        source="crossref",
        native_id=doi.lower(),
        kind=kind,
        title=titles[0] if titles else "",
        abstract=work.at("abstract").plain() or _first_plain(work.at("description")),
        language=work.at("language").text(),
        people=_people(work),
        venue=_venue(work),
        publisher=work.at("publisher").text(),
        volume=work.at("volume").text(),
        issue=work.at("issue").text(),
        pages=work.at("page").text() or work.at("article-number").text(),
        version=work.at("version").at("version").text(),
        url=work.at("resource").at("primary").at("URL").text() or work.at("URL").text(),
        retracted=any(relation.kind == "retracted by" for relation in updates),
        identifiers=(StatedIdentifier("doi", doi), *(_isbns(work) if kind in _OWN_ISBN else ())),
        dates=dates,
        relations=tuple(dict.fromkeys((*relations, *updates, *_holders(work, kind), *_cited(work)))),
        details=(*_facts(work, titles[1:]), *unclear, *told),
    )


def _kind(work: Node) -> str:
    stated = work.at("type").text()
    if stated == "posted-content":
        return "preprint" if work.at("subtype").text() in ("", "preprint", "working_paper") else "other"
    return _KINDS.get(stated, "other")


def _first_plain(node: Node) -> str:
    """Return the text, or the first of a list of texts; both are found in answers."""
    each = node.each() if isinstance(node.value, list) else [node]
    return next((text for one in each if (text := one.plain())), "")


def _venue(work: Node) -> str:
    places = [work.at("container-title"), work.at("event").at("name"), work.at("group-title")]
    institution = work.at("institution")
    holders = institution.each() if isinstance(institution.value, list) else [institution]
    names = [
        _first_plain(places[0]),
        *(each.at("name").plain() for each in holders),
        *map(_first_plain, places[1:]),
    ]
    return next(filter(None, names), "")


def _people(work: Node) -> tuple[Person, ...]:
    named = []
    for role in ("author", "editor"):
        for person in work.at(role).each():
            family, given = person.at("family").plain(), person.at("given").plain()
            whole = " ".join(filter(None, (given, family, person.at("suffix").text())))
            if name := whole or person.at("name").plain():
                named.append(Person(name, role, family, given))
    return tuple(named)


def _isbns(work: Node) -> tuple[StatedIdentifier, ...]:
    return tuple(StatedIdentifier("isbn", text) for each in work.at("ISBN").each() if (text := each.text()))


def _holders(work: Node, kind: str) -> Iterator[Relation]:
    """Yield the books and journals it is part of: their numbers are not the work's own."""
    if kind not in _OWN_ISBN:
        yield from (Relation("part of", isbn) for isbn in _isbns(work))
    for issn in work.at("ISSN").each():
        if text := issn.text():
            yield Relation("part of", StatedIdentifier("issn", text))


def _cited(work: Node) -> Iterator[Relation]:
    for each in work.at("reference").each():
        if doi := each.at("DOI").text():
            yield Relation("cites", StatedIdentifier("doi", doi))


def _dates(work: Node) -> tuple[tuple[StatedDate, ...], list[tuple[str, str]]]:
    """Return the dated events, and in words what is stated but gives no day."""
    dates, unclear = [], []
    for field, (kind, note) in _DATES.items():
        stated = work.at(field)
        if stated.value is None:
            continue
        parts, days = _days(stated)
        if days is not None:
            dates.append(StatedDate(kind, parts, days, field, note))
        else:
            known = any(
                year.value is not None for span in stated.at("date-parts").each() for year in span.each()
            )
            unclear.append(("unreadable date" if known else "date not known", f"{field} {parts}"))
    event, remark = _event(work)
    told = [(field, _days(work.at(field))[0]) for field in _TOLD_DATES if work.at(field).value is not None]
    return (*dates, *event), [*unclear, *remark, *told]


def _days(stated: Node) -> tuple[str, Days | None]:
    """Return the date-parts word for word and the days they allow, None where they allow none.

    [[Y]] and [[Y, M]] stay whole years and months; a second list ends a span.
    """
    spans = stated.at("date-parts").each()
    parts = [[number.whole() for number in span.each()] for span in spans]
    text = json.dumps(parts)
    known = [days_of_parts([part for part in span if part is not None]) for span in parts]
    if not known or None in (known[0], known[-1]) or len(known) > 2 or any(_gap(span) for span in parts):
        return text, None
    return text, _span(known[0], known[-1])


def _gap(span: list[int | None]) -> bool:
    """Say whether a part is unknown while a finer one is given: no days can be read from that."""
    return None in span[: len([part for part in span if part is not None])]


def _span(start: Days | None, end: Days | None) -> Days | None:
    if start is None or end is None:
        return start or end
    backwards = start.first and end.last and start.first > end.last
    return None if backwards else Days(start.first, end.last)


def _event(work: Node) -> tuple[list[StatedDate], list[tuple[str, str]]]:
    start, end = work.at("event").at("start"), work.at("event").at("end")
    stated = [_days(each) for each in (start, end) if each.value is not None]
    if not stated:
        return [], []
    text = " to ".join(parts for parts, _ in stated)
    days = _span(stated[0][1], stated[-1][1])
    if days is None:
        return [], [("unreadable date", f"event {text}")]
    return [StatedDate("event held", text, days, "event")], []


def _relations(work: Node) -> tuple[list[Relation], list[tuple[str, str]]]:
    """Return the relations that have a kind here; the others (reviews, comments, data) in words."""
    kept, told = [], []
    for name, each in _stated_relations(work):
        scheme, text = each.at("id-type").text().lower(), each.at("id").text()
        by = each.at("asserted-by").text()
        if text and name in _RELATIONS and scheme in _SCHEMES:
            note = f"{name}, asserted by {by or 'no one named'}"
            kept.append(Relation(_RELATIONS[name], StatedIdentifier(_SCHEMES[scheme], text), note))
        else:
            told.append((f"relation {name[:60]}", f"{scheme} {text}".strip()))
    return kept, told


def _stated_relations(work: Node) -> Iterator[tuple[str, Node]]:
    relation = work.at("relation")
    for name in relation.object():
        members = relation.at(name)
        for each in members.each() if isinstance(members.value, list) else [members]:
            yield name, each


def _updates(work: Node) -> list[Relation]:
    """Return corrections and retractions: `update-to` stands on the notice, `updated-by` on the work."""
    found = []
    for field, corrects, retracts in (
        ("update-to", "corrects", "retracts"),
        ("updated-by", "corrected by", "retracted by"),
    ):
        for each in work.at(field).each():
            stated = each.at("type").text()
            kind = retracts if stated in _WITHDRAWN else "version of" if stated in _NEW_TEXT else corrects
            day = _days(each.at("updated"))[0] if each.at("updated").value is not None else ""
            note = ", ".join(filter(None, (stated, each.at("source").text(), day)))
            if doi := each.at("DOI").text():
                found.append(Relation(kind, StatedIdentifier("doi", doi), note))
    return found


def _facts(work: Node, more_titles: list[str]) -> list[tuple[str, str]]:
    facts = [("type", work.at("type").text()), ("subtype", work.at("subtype").text())]
    facts += [("further title", text) for text in more_titles]
    for name in ("subtitle", "original-title"):
        facts += [(name.replace("-", " "), each.plain()) for each in work.at(name).each()]
    for role in ("chair", "translator"):
        for person in work.at(role).each():
            parts = (person.at("given").plain(), person.at("family").plain(), person.at("name").plain())
            facts.append((role, " ".join(filter(None, parts))))
    event = work.at("event")
    facts.append(
        ("event", ", ".join(filter(None, (_first_plain(event.at(n)) for n in ("name", "location")))))
    )
    facts += [("degree", each.plain()) for each in work.at("degree").each()]
    unnumbered = sum(not each.at("DOI").text() for each in work.at("reference").each())
    if unnumbered:
        facts.append(("cited without a DOI", str(unnumbered)))
    return [(name, text) for name, text in facts if text]
