"""From one reference to the next of the list it was opened from, in that list's order and filters."""

from __future__ import annotations

from dataclasses import dataclass, replace
from urllib.parse import parse_qsl, urlencode, urlsplit

from pipeline.errors import NotFound
from pipeline.matter import Matter
from pipeline.review.filters import FROM_LISTED, PAGE, Filters, conditions, ordering, read_filters
from pipeline.review.site import Site

_PLACE = """
WITH found AS (
    SELECT l.reference_id, l.place, l.public_from, l.public_to, m.closeness FROM {listed} WHERE {condition}
), walked AS (
    SELECT reference_id, row_number() OVER walk AS n, count(*) OVER () AS size,
           lag(reference_id) OVER walk AS before, lead(reference_id) OVER walk AS after
    FROM found WINDOW walk AS (ORDER BY {order})
)
SELECT n, size, coalesce(before, '') AS before, coalesce(after, '') AS after
FROM walked WHERE reference_id = ?
"""


@dataclass(frozen=True)
class Walk:
    """A reference's place in the list. back: the list's address. n: 0 where it is not in the list.

    before, after: the addresses of its neighbours' pages, "" at an end of the list.
    """

    back: str
    n: int = 0
    size: int = 0
    before: str = ""
    after: str = ""


def walk_from(site: Site, matter: Matter, name: str, back: str) -> Walk:
    """Return where the reference stands in the list at that address; in none for another page's.

    The list is that of the decision in its address, or of the last one made: the addresses
    given out name it, so that judging on the way moves nothing.
    """
    parts = urlsplit(back)
    if parts.path != "/":
        return Walk(back)
    try:
        filters = read_filters(dict(parse_qsl(parts.query)), matter.offices, matter.elements)
    except NotFound:  # the list itself says so, to whoever goes back to it
        return Walk(back)
    catalogue, judgements = site.memory.catalogue(), site.memory.judgements()
    filters = replace(filters, as_of=judgements.as_of(filters.as_of))
    if filters.verdict:
        site.memory.judge_all(catalogue, site.memory.judging(matter, site.today))
    _, tagged = site.memory.tags(catalogue, judgements, filters.as_of)
    runs = catalogue.choices.runs
    condition, values = conditions(filters, runs[0][0] if runs else "")
    query = _PLACE.format(listed=FROM_LISTED, condition=condition, order=ordering(filters, "found"))
    found = catalogue.rows(query, [filters.element, *values, name], {"tagged": tagged})
    if not found:
        return Walk(filters.address())
    n, size, before, after = found[0].values()
    return Walk(_list(filters, n), n, size, _page_of(filters, before, n - 1), _page_of(filters, after, n + 1))


def _list(filters: Filters, n: int) -> str:
    """Return the address of the list's page on which its n-th reference stands."""
    return filters.address(page=(n - 1) // PAGE + 1)


def _page_of(filters: Filters, name: str, n: int) -> str:
    return f"/reference/{name}?{urlencode({'from': _list(filters, n)})}" if name else ""
