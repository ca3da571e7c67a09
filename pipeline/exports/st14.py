"""A citation in one line, as WIPO ST.14 orders its elements."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.cited_reference import CitedReference, Name, date_text, days_text

_MOST_AUTHORS = 3


def citation(reference: CitedReference) -> str:
    """Return the line; what no source states is left out, an unknown date is said to be unknown.

    Patent documents: office (ST.3), number, kind (ST.16), applicant or first inventor, date.
    Others: author, title, where it appeared, date, volume, issue, pages, identifiers, address.
    """
    return _patent(reference) if reference.is_patent else _publication(reference)


def _patent(one: CitedReference) -> str:
    named = one.applicants or one.inventors
    who = f"({named[0].text.upper()}{' et al.' if len(named) > 1 else ''})" if named else ""
    return " ".join(filter(None, (one.office, one.printed, one.kind_code, who, date_text(one))))


def _publication(one: CitedReference) -> str:
    read = f" [retrieved on {days_text(one.read)}]" if one.read else ""
    online = "[online]" if one.url and not one.pages else ""
    where = ", ".join(
        filter(
            None,
            (
                one.container,
                one.publisher,
                online,
                date_text(one) + read,
                f"vol. {one.volume}" if one.volume else "",
                f"no. {one.issue}" if one.issue else "",
                f"pages {one.pages}" if one.pages else "",
            ),
        )
    )
    parts = [
        authors(one.authors),
        one.title or "[no title stated]",
        where,
        *(f"ISSN: {number}" for number in one.issns),
        *(f"ISBN: {number}" for number in one.isbns),
        f"DOI: {one.doi}" if one.doi else "",
        f"arXiv: {one.arxiv}" if one.arxiv else "",
    ]
    line = " ".join(part if part.endswith(("?", "!", ".")) else f"{part}." for part in parts if part)
    return line + (f" Retrieved from the Internet: <URL:{one.url}>" if online else "")


def authors(names: Sequence[Name]) -> str:
    """Return the first authors, family names in capitals; past three the first and 'et al.'."""
    shown = names if len(names) <= _MOST_AUTHORS else names[:1]
    written = "; ".join(f"{n.family.upper()}, {n.given}" if n.family and n.given else n.text for n in shown)
    return written + (" et al." if len(shown) < len(names) else "")
