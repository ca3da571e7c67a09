"""The list: what is new, best first, each with why it is there and since when it is public."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import pyarrow as pa
from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from pipeline import cautions
from pipeline.deciding import decided
from pipeline.decisions import CATEGORIES, TAGS, Decision
from pipeline.judging import OUTCOMES
from pipeline.matter import Matter
from pipeline.review.catalogue import Catalogue, Choices
from pipeline.review.filters import (
    FROM_LISTED,
    ORDERS,
    PAGE,
    TAG_CHOICES,
    Filters,
    conditions,
    ordering,
    read_filters,
)
from pipeline.review.judgements import Judgements
from pipeline.review.rows import Row, read_rows
from pipeline.review.site import Site, site_of

router = APIRouter()
CAUTIONS = (cautions.ESTIMATE, cautions.UNDECIDED, cautions.NEVER_PROOF, cautions.MACHINE_TEXT, cautions.DUTY)

# One look at all rows finds, counts and orders them; only those shown are read whole.
_FIND = """
WITH found AS MATERIALIZED (
    SELECT l.rowid AS row, l.reference_id, l.place, l.public_from, l.public_to, m.closeness
    FROM {listed} WHERE {condition}
), shown AS (FROM found ORDER BY {found_order} LIMIT ? OFFSET ?)
SELECT (SELECT count(*) FROM found) AS n, l.* EXCLUDE (text)
FROM shown JOIN listed l ON l.rowid = shown.row ORDER BY {shown_order}
"""


@dataclass(frozen=True)
class HitsPage:
    """What the list shows.

    last: the last decision made, which a change must name to be taken.
    count: references that match; size: all; judged: all that are judged. moved: of those
    listed, judged since the list was made. busy: another program holds the store, and this
    is its last known state. changed: the store was written to since the list was made.
    done: the decision just made; waits: it is kept, but works on the list only later.
    """

    rows: tuple[Row, ...]
    filters: Filters
    count: int
    size: int
    judged: int
    waiting: int
    pages: int
    choices: Choices
    offices: tuple[str, ...]
    outcomes: Mapping[str, str]
    tag_choices: Mapping[str, str]
    orders: Mapping[str, str]
    elements: Mapping[str, str]
    categories: tuple[str, ...]
    tags: tuple[str, ...]
    basis: str
    cautions: tuple[str, ...]
    last: int
    moved: int
    busy: bool
    done: str
    done_number: int
    waits: bool


@router.get("/")
def show_hits(request: Request) -> Response:
    """Show the references that match the filters of the address, best first, 50 a page."""
    site = site_of(request)
    matter = site.matter()
    asked = request.query_params
    filters = read_filters(asked, matter.offices, matter.elements)
    return site.page(request, "hits.html", _page(site, matter, filters, asked))


def _page(site: Site, matter: Matter, filters: Filters, asked: Mapping[str, str]) -> HitsPage:
    memory = site.memory
    catalogue, judgements = memory.catalogue(), memory.judgements()
    filters = replace(filters, as_of=judgements.as_of(filters.as_of))
    judging = memory.judging(matter, site.today)
    if filters.verdict:
        memory.judge_all(catalogue, judging)
    tags, _ = memory.tags(catalogue, judgements, judgements.last)
    _, then = memory.tags(catalogue, judgements, filters.as_of)
    count, found, filters = find(catalogue, filters, then)
    done = _done(judgements, asked)
    return HitsPage(
        rows=read_rows(site, catalogue, judging, judgements, found),
        filters=filters,
        count=count,
        size=catalogue.size,
        judged=len(tags),
        waiting=catalogue.waiting,
        pages=max(1, -(-count // PAGE)),
        choices=catalogue.choices,
        offices=matter.offices,
        outcomes=OUTCOMES,
        tag_choices=TAG_CHOICES,
        orders=ORDERS,
        elements=matter.elements,
        categories=CATEGORIES,
        tags=TAGS,
        basis=judging.basis,
        cautions=CAUTIONS,
        last=judgements.last,
        moved=sum(one.number > filters.as_of for one in judgements.decisions),
        busy=not memory.is_current(catalogue),
        done=decided(done) if done else "",
        done_number=done.number if done else 0,
        waits=asked.get("waits") == "1",
    )


def find(
    catalogue: Catalogue, filters: Filters, tagged: pa.Table
) -> tuple[int, list[dict[str, Any]], Filters]:
    """Return how many match, the rows of the page, and the filters with a page that exists."""
    runs = catalogue.choices.runs
    condition, values = conditions(filters, runs[0][0] if runs else "")
    query = _FIND.format(
        listed=FROM_LISTED,
        condition=condition,
        found_order=ordering(filters, "found"),
        shown_order=ordering(filters, "shown"),
    )
    place = (filters.page - 1) * PAGE
    rows = catalogue.rows(query, [filters.element, *values, PAGE, place], {"tagged": tagged})
    if not rows and filters.page > 1:
        # Past the end: the list has become shorter. The first page says how long it is.
        count = find(catalogue, replace(filters, page=1), tagged)[0]
        return find(catalogue, replace(filters, page=max(1, -(-count // PAGE))), tagged)
    return (rows[0]["n"] if rows else 0), rows, filters


def _done(judgements: Judgements, asked: Mapping[str, str]) -> Decision | None:
    number = asked.get("done", "")
    return next((one for one in reversed(judgements.decisions) if str(one.number) == number), None)
